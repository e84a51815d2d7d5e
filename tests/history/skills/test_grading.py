"""How a take becomes a grade: the table of rules, and laws that hold whatever the rules are."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.history.skills.grading import AGAIN, EASY, GOOD, HARD, Showing, grade_of

COUNTS = st.integers(0, 12)
SHOWINGS = st.builds(
    Showing,
    hits=COUNTS,
    nears=COUNTS,
    misses=COUNTS,
    movement_score=st.none() | st.floats(0, 100),
    tempo_share=st.none() | st.floats(0.2, 2),
).filter(lambda one: one.tries > 0)


@pytest.mark.parametrize(
    ("showing", "grade"),
    [
        (Showing(0, misses=1), AGAIN),
        (Showing(1, misses=2), AGAIN),
        (Showing(0, nears=1), HARD),  # half
        (Showing(1, misses=1), HARD),
        (Showing(4, misses=1), HARD),  # four in five
        (Showing(5, misses=1), GOOD),  # five in six
        (Showing(10, misses=2), GOOD),
        (Showing(4, nears=2), GOOD),  # worth five in six
        (Showing(1), GOOD),
        (Showing(1, tempo_share=1.2), GOOD),  # once may be luck
        (Showing(4), GOOD),  # at the own pace
        (Showing(4, tempo_share=0.9), GOOD),
        (Showing(4, tempo_share=1.0), EASY),
        (Showing(4, tempo_share=1.0, movement_score=90.0), EASY),
        (Showing(4, tempo_share=1.0, movement_score=89.9), GOOD),
        (Showing(4, nears=1, tempo_share=1.5), GOOD),
    ],
)
def test_the_rules(showing: Showing, grade: int) -> None:
    """The rules as the docstring has them, at their edges."""
    assert grade_of(showing) == grade


@given(SHOWINGS)
def test_one_more_miss_is_never_better(showing: Showing) -> None:
    """Nor is a hit that becomes a near miss, or a near miss that becomes a miss."""
    grade = grade_of(showing)
    assert grade in (AGAIN, HARD, GOOD, EASY)
    assert grade_of(replace(showing, misses=showing.misses + 1)) <= grade
    if showing.hits:
        assert grade_of(replace(showing, hits=showing.hits - 1, nears=showing.nears + 1)) <= grade
    if showing.nears:
        assert grade_of(replace(showing, nears=showing.nears - 1, misses=showing.misses + 1)) <= grade


@given(SHOWINGS)
def test_one_more_hit_is_never_worse(showing: Showing) -> None:
    """Whatever came before."""
    assert grade_of(replace(showing, hits=showing.hits + 1)) >= grade_of(showing)


@given(SHOWINGS, st.floats(0, 100), st.floats(0.2, 2))
def test_slower_and_wider_is_never_better(showing: Showing, movement: float, tempo: float) -> None:
    """Less tempo, or more movement than was needed, never raises a grade; the own pace counts as slow."""
    both = replace(showing, movement_score=movement, tempo_share=tempo)
    assert grade_of(replace(both, tempo_share=tempo / 2)) <= grade_of(both)
    assert grade_of(replace(both, movement_score=movement / 2)) <= grade_of(both)
    assert grade_of(replace(both, tempo_share=None)) <= grade_of(both)


def test_nothing_tried_has_no_grade() -> None:
    """A bug of ours, not of the player's."""
    with pytest.raises(ValueError, match="was not tried"):
        grade_of(Showing(0))
