"""Hard spots."""

from __future__ import annotations

from collections.abc import Callable

from listener.judging.verdict import HIT, MISS, NEAR, Verdict
from listener.planning.plan import Plan
from listener.session.spots import CLEAN_TIMES, HardSpot, hard_spots


def verdicts(grades: str) -> list[Verdict]:
    word = {"h": HIT, "n": NEAR, "m": MISS}
    return [Verdict(step, 1, word[grade], (), (), (), 0.0, 0.0) for step, grade in enumerate(grades)]


def test_the_chord_before_leads_in(make_plan: Callable[..., Plan]) -> None:
    """A miss and a near far apart: two spots, each with the chord that leads into it; the first chord has none."""
    plan = make_plan([("C", (48, 55, 64))] * 8)
    assert hard_spots(plan, verdicts("hhmhhhnh")) == (HardSpot(1, 2), HardSpot(5, 6))
    assert hard_spots(plan, verdicts("mhhhhhhh")) == (HardSpot(0, 0),)
    assert hard_spots(plan, verdicts("hhhhhhhh")) == ()


def test_neighbours_are_one_spot(make_plan: Callable[..., Plan]) -> None:
    """Three wrong in a row, or two with one right between them, are looped together."""
    plan = make_plan([("C", (48, 55, 64))] * 8)
    assert hard_spots(plan, verdicts("hmmmhhhh")) == (HardSpot(0, 3),)
    assert hard_spots(plan, verdicts("hmhmhhhh")) == (HardSpot(0, 3),)


def test_until_clean_three_times_in_a_row() -> None:
    """A slip in between starts the count again."""
    spot = HardSpot(1, 2)
    for grades, clean in (("hhh", 1), ("hhh", 2), ("hhn", 0), ("hhh", 1), ("hhh", 2), ("hhh", 3)):
        spot = spot.after(verdicts(grades))
        assert spot.clean == clean
    assert spot.done
    assert CLEAN_TIMES == 3
