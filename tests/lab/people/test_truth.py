"""The truth about small cases, worked out by hand."""

from __future__ import annotations

import pytest

from lab.people.hands import Plucked
from lab.people.scene import Prepared
from lab.people.truth import (
    HIT_TRUTH,
    NO_HIT,
    NOT_PLAYED,
    Attempt,
    Quiet,
    Span,
    Truth,
    Try,
    attempts_of,
    outcomes,
)

C = ((5, 48), (4, 55), (2, 64))


def pluck(
    onset_s: float, string: int, pitch: int, *, end_s: float = 99.0, attempt: int | None = 0, counts: bool = True
) -> Plucked:
    return Plucked(string, pitch, 80, onset_s, end_s, end_s, visit=0, attempt=attempt, counts=counts)


def judged(small: Prepared, plucks: list[Plucked], *tries: Try) -> tuple[Attempt, ...]:
    plucks.sort(key=lambda one: one.onset_s)
    return attempts_of(
        tries or (Try(0, 0, None),), plucks, small.targets, timing_ms=small.plan.drill.timing_ms, tells_strings=False
    )


def test_together_it_is_a_hit(small: Prepared) -> None:
    (found,) = judged(small, [pluck(1.0 + 0.01 * number, *place) for number, place in enumerate(C)])
    assert found == Attempt(0, 1.0, 1.0, 1.02, True, C, (), None, 0)


def test_however_long_the_roll_takes(small: Prepared) -> None:
    (found,) = judged(small, [pluck(1.0 + number, *place) for number, place in enumerate(C)])
    assert found.hit
    assert found.complete_s == 3.0


def test_a_tone_too_few_or_too_many_is_none(small: Prepared) -> None:
    (few,) = judged(small, [pluck(1.0, *place) for place in C[:2]])
    (many,) = judged(small, [pluck(1.0, *place) for place in (*C, (1, 65))])
    assert not few.hit
    assert not many.hit


@pytest.mark.parametrize(("end_s", "is_held"), [(1.3, True), (1.01, False), (0.9, False)])
def test_what_is_held_over_must_still_sound(small: Prepared, end_s: float, is_held: bool) -> None:
    """The chord is complete at 1.02 s."""
    before = pluck(0.2, 5, 48, end_s=end_s, attempt=None)
    (found,) = judged(small, [before, pluck(1.0, 4, 55), pluck(1.02, 2, 64)])
    assert found.hit == is_held
    assert found.held == (((5, 48),) if is_held else ())


def test_in_a_long_roll_a_quarter_of_a_second_is_enough(small: Prepared) -> None:
    (found,) = judged(small, [pluck(0.2, 5, 48, end_s=1.26, attempt=None), pluck(1.0, 4, 55), pluck(2.0, 2, 64)])
    assert found.hit


def test_other_strings_that_ring_on_count_for_nothing(small: Prepared) -> None:
    ringing = pluck(0.2, 1, 65, attempt=None)
    (found,) = judged(small, [ringing, *(pluck(1.0, *place) for place in C)])
    assert found.hit
    assert found.held == ((1, 65),)


def test_a_tone_hammered_on_is_the_one_it_arrives_at(small: Prepared) -> None:
    """It began with the tone that led to it."""
    grace = pluck(0.95, 2, 62, end_s=1.05, counts=False)
    (found,) = judged(small, [grace, pluck(1.0, 5, 48), pluck(1.0, 4, 55), pluck(1.05, 2, 64)])
    assert found.hit
    assert found.onset_s == 0.95
    assert found.held == ()


def test_the_grip_tried_before_leads_to_it(small: Prepared) -> None:
    tried = pluck(0.2, 5, 48, end_s=0.6, attempt=None, counts=False)
    (found,) = judged(small, [tried, *(pluck(1.0, *place) for place in C)])
    assert (found.from_s, found.onset_s, found.hit) == (0.2, 1.0, True)


@pytest.mark.parametrize(("due_s", "hit"), [(1.0, True), (0.925, True), (1.075, True), (0.9, False), (1.1, False)])
def test_with_the_click_the_first_note_decides(small: Prepared, due_s: float, hit: bool) -> None:
    """The drill forgives 80 ms; the last note comes 200 ms after the first."""
    plucks = [pluck(1.0 + 0.1 * number, *place) for number, place in enumerate(C)]
    (found,) = judged(small, plucks, Try(0, 0, due_s))
    assert found.hit == hit
    assert found.late_ms == pytest.approx(1000 * (1.0 - due_s))


def test_the_first_attempt_is_the_outcome() -> None:
    def attempt(step: int, onset_s: float, hit: bool) -> Attempt:
        return Attempt(step, onset_s, onset_s, onset_s, hit, (), (), None, 0)

    attempts = [attempt(0, 1.0, True), attempt(2, 2.0, False), attempt(2, 3.0, True), attempt(0, 4.0, False)]
    assert outcomes(attempts, 4) == (HIT_TRUTH, NOT_PLAYED, NO_HIT, NOT_PLAYED)


def test_where_the_player_is() -> None:
    spans = (Span(1.0, frozenset({0}), "chord"), Span(2.0, frozenset(), "noodling"), Span(3.0, frozenset({1}), "chord"))
    truth = Truth((), (NOT_PLAYED,) * 2, spans, (Quiet(2.0, 3.0),))
    assert [truth.at(time_s) for time_s in (0.5, 1.0, 2.5, 9.0)] == [set(), {0}, set(), {1}]
    assert truth.near(2.9, 0.35) == {1}
    assert truth.near(2.2, 0.35) == {0}
    assert truth.near(2.5, 0.35) == set()
