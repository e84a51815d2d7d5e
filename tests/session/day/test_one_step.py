"""The step that a day offers: what it may be, on which days it comes, and when the hand ought to rest instead."""

from __future__ import annotations

from datetime import UTC, date, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.history.vocabulary.vocabulary import OFTEN, Used, Vocabulary
from listener.planning.shapes.cells import INVERSION, STRINGS, Cell, cells_there_are, step_between
from listener.session.day.one_step import (
    DAYS,
    ROOT,
    OneStep,
    chords_for,
    in_order,
    is_done,
    load_has_jumped,
    of_day,
    rest_is_due,
    steps_from,
)

THERE_ARE = cells_there_are(make_instrument(), make_hand("medium"))
NOW = datetime(2031, 5, 6, 18, 0, tzinfo=UTC)
#: C spread in root position on 6-4-2, in four keys, and a little of something else.
HOME = Cell("spread", 0, (6, 4, 2))
MINE = Vocabulary(
    (
        *(Used(HOME, "maj", root, chords) for root, chords in ((0, 40), (7, 20), (5, 10))),
        Used(HOME, "m", 2, 5),
        Used(Cell("close", 0, (3, 2, 1)), "maj", 0, 2),
    ),
    takes=3,
)
USED = st.lists(
    st.builds(
        Used,
        st.sampled_from(sorted(THERE_ARE, key=lambda cell: cell.order)),
        st.sampled_from(["maj", "m"]),
        st.integers(0, 11),
        st.integers(1, 60),
    ),
    max_size=12,
)


@given(USED)
def test_every_step_changes_one_thing(used: list[Used]) -> None:
    """From a cell that is used a lot to one that never came and lies beside it, or to a root that it never had; each
    cell once."""
    mine = Vocabulary(tuple(used))
    steps = steps_from(mine, THERE_ARE)
    assert len({(step.cell, step.root) for step in steps}) == len(steps)
    for step in steps:
        assert mine.level(step.source) == OFTEN
        assert step.chords == mine.cells[step.source]
        if step.differs == ROOT:
            assert step.cell == step.source
            assert step.root not in {one.root for one in mine.of_cell(step.cell)}
        else:
            assert step.cell in THERE_ARE - set(mine.cells)
            assert step_between(step.source, step.cell) == step.differs
            assert step.root is None


def test_steps_of_a_player() -> None:
    """Next inversion, next strings, next key; nothing from what is used a little, nothing for who has hardly played."""
    steps = steps_from(MINE, THERE_ARE)
    found = {(step.differs, step.cell) for step in steps}
    assert (INVERSION, Cell("spread", 1, (6, 4, 2))) in found
    assert (STRINGS, Cell("spread", 0, (5, 3, 1))) in found
    assert {step.source for step in steps} == {HOME}
    (new,) = (step for step in steps if step.differs == ROOT)
    assert new.root == 10  # B flat, a fifth below F; D is there in minor
    assert steps_from(Vocabulary(), THERE_ARE) == ()
    assert steps_from(Vocabulary((Used(HOME, "maj", 0, 3),)), THERE_ARE) == ()


def test_chords_for_a_step() -> None:
    """What the player has most first, then other roots; a new root after the one beside it."""
    step = OneStep(INVERSION, HOME, 75, Cell("spread", 1, (6, 4, 2)))
    first, second = chords_for(step, MINE)
    assert first[:3] == ("C", "G", "F")
    assert len(set(first)) == len(set(second)) == 12
    assert second[0] == "Dm"
    assert list(chords_for(OneStep(ROOT, HOME, 75, HOME, 10), MINE)) == [("F", "Bb")]
    assert in_order(["C", "Am", "G", "D7"]) == ("Am", "D7", "G", "C")


@given(USED, st.dates(date(2025, 1, 1), date(2045, 1, 1)))
def test_an_offer_comes_once_in_a_fortnight(used: list[Used], first: date) -> None:
    """Over any fourteen days each step has exactly one day, and the order of that day is the order of all."""
    steps = steps_from(Vocabulary(tuple(used)), THERE_ARE)
    days = [of_day(steps, first + timedelta(days=number)) for number in range(DAYS)]
    assert sorted(map(repr, steps)) == sorted(repr(step) for day in days for step in day)
    for day in days:
        assert list(day) == [step for step in steps if step in day]


def test_days_are_those_of_every_machine() -> None:
    """They do not hang on the process: an offer stays the same from one start to the next."""
    assert [OneStep(ROOT, HOME, 1, HOME, root).day for root in range(4)] == [
        OneStep(STRINGS, HOME, 9, HOME, root).day for root in range(4)
    ]
    assert OneStep(INVERSION, HOME, 75, Cell("spread", 1, (6, 4, 2))).day == 0


def test_a_step_that_was_taken() -> None:
    """It is done when the cell was used, for a new root when that was."""
    there = Cell("spread", 1, (6, 4, 2))
    assert not is_done(OneStep(INVERSION, HOME, 75, there), MINE)
    assert is_done(OneStep(INVERSION, HOME, 75, there), Vocabulary((Used(there, "m", 3, 1),)))
    assert is_done(OneStep(ROOT, HOME, 75, HOME, 7), MINE)
    assert not is_done(OneStep(ROOT, HOME, 75, HOME, 10), MINE)


def minutes_ago(start: float, end: float) -> tuple[datetime, datetime]:
    return NOW - timedelta(minutes=start), NOW - timedelta(minutes=end)


@pytest.mark.parametrize(
    ("played", "due"),
    [
        ([], False),
        ([minutes_ago(30, 1)], True),
        ([minutes_ago(20, 1)], False),
        ([minutes_ago(30, 16), minutes_ago(14, 2)], True),
        ([minutes_ago(14, 2), minutes_ago(30, 16)], True),
        ([minutes_ago(60, 8), minutes_ago(2, 1)], False),
        ([minutes_ago(60, 6)], False),
        ([minutes_ago(20, 1), minutes_ago(20, 1)], False),  # the same take twice is no longer
        ([minutes_ago(300, 200)], False),
    ],
)  # fmt: skip
def test_when_a_rest_is_due(played: list[tuple[datetime, datetime]], due: bool) -> None:
    """After 25 minutes without five of rest, as long as the hand has not rested since."""
    assert rest_is_due(played, NOW, 25 * 60) == due


def evenings(minutes: list[int]) -> list[tuple[datetime, datetime]]:
    """A take on the Tuesday of each week up to this one, the newest last, so many minutes long."""
    ends = [NOW - timedelta(weeks=back, hours=6) for back in reversed(range(len(minutes)))]
    return [(end - timedelta(minutes=long), end) for end, long in zip(ends, minutes, strict=True)]


@pytest.mark.parametrize(
    ("minutes", "jumped"),
    [
        ([], False),
        ([300], False),  # of the first two weeks nothing is known
        ([60, 60, 60, 60, 61], False),
        ([60, 60, 60, 60, 95], True),
        ([60, 60, 60, 95, 60], True),  # and in the week after it
        ([60, 60, 95, 60, 60], False),
        ([20, 20, 20, 20, 50], False),  # light weeks are never too much
    ],
)
def test_when_the_load_has_jumped(minutes: list[int], jumped: bool) -> None:
    """More than half as much again as the mean of the four weeks before, in this week or the last."""
    assert load_has_jumped(evenings(minutes), NOW) == jumped
