"""The small neck of what was played."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from listener.judging.verdict import HIT, MISS, NEAR
from listener.planning.plan import Plan
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.played import played_rows, where
from listener.screen.theme import Theme
from listener.session.take.state import COUNT_IN, FINISHED

#: E4 B3 G3 D3 A2 E2, string 1 first.
OPENS = (64, 59, 55, 50, 45, 40)
Make = Callable[..., Any]


@pytest.mark.parametrize(
    ("heard", "lies"),
    [
        ((54, 60, 62, 69), {4: 4, 3: 5, 2: 3, 1: 5}),  # all of it
        ((54, 60, 61, 69), {4: 4, 3: 5, 2: 2, 1: 5}),  # a fret too low on string 2
        ((54, 60, 69), {4: 4, 3: 5, 1: 5}),  # string 2 left out
        ((45, 54, 60, 62, 69), {5: 0, 4: 4, 3: 5, 2: 3, 1: 5}),  # an open string more
        ((40, 41, 42, 54, 60, 62, 69), {5: 0, 4: 4, 3: 5, 2: 3, 1: 5}),  # more notes than strings
        ((100,), {}),  # beyond every neck but string 1's end
    ],
)
def test_where_it_lies(verse: Plan, heard: tuple[int, ...], lies: dict[int, int]) -> None:
    """The shape of D7 on strings 4 to 1, xx4535, with what fingers do to it."""
    found = where(heard, verse.steps[1].fingering, OPENS)
    if len(heard) <= 6:
        assert found == lies
    assert len(set(found)) == len(found) <= 6
    assert all(OPENS[string - 1] + fret in heard for string, fret in found.items())


def test_right_wrong_and_missing(verse: Plan, verdict_on: Make, moment: Make) -> None:
    """A finger's number where it is right, a sign where it is wrong, another where it should have been."""
    near = verdict_on(verse, 1, NEAR, heard=(45, 54, 60, 61))
    rows = played_rows(moment(verse, verdict=near), 13, 1, Theme(ascii_only=True))
    text = ["".join(part.text for part in row) for row in rows]
    assert text == ["D7 2fr", "  |-+-+-+%|", "  |!+%+-+-|", "  |-+-+-+3|", "  |-+-+2+-|", "! |-+-+-+-|", "x |-+-+-+-|"]
    mirrored = played_rows(moment(verse, verdict=near), 13, 1, Theme(ascii_only=True, left_handed=True))
    assert "".join(part.text for part in mirrored[2]) == "|-+-+%+!|  "


def test_it_is_there_only_when_something_is_to_be_seen(
    verse: Plan, verdict_on: Make, moment: Make, printed: Callable[..., list[str]]
) -> None:
    """Not for a hit, for silence, in a count-in or when the take is over; on every size of screen."""
    wrong = verdict_on(verse, 1, MISS, heard=(54, 60, 61, 69))
    shown = moment(verse, verdict=wrong)
    for width, height in ((80, 24), (100, 30), (140, 40)):
        for theme in (Theme(), Theme(ascii_only=True), Theme(left_handed=True)):
            text = "\n".join(printed(dashboard(shown, width=width, height=height, theme=theme), width))
            assert " played " in text
            for hidden in (
                replace(shown, verdict=verdict_on(verse, 1, HIT)),
                replace(shown, verdict=verdict_on(verse, 1, MISS, heard=())),
                replace(shown, verdict=None),
                replace(shown, phase=COUNT_IN),
                replace(shown, phase=FINISHED, step=8),
            ):
                text = "\n".join(printed(dashboard(hidden, width=width, height=height, theme=theme), width))
                assert " played " not in text
