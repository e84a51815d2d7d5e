"""The pattern on the dashboard: one line, the present place in brackets, in ASCII and without colour too."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st

from listener.music.pattern import Pattern
from listener.music.pattern_text import read_picks, read_strums
from listener.planning.plan import Plan
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.pattern_line import pattern_row
from listener.screen.rows import Row, row_width
from listener.screen.theme import Theme
from listener.session.take.state import FINISHED, Snapshot

FOLK = Pattern(read_strums(">d . d u - u d u"))
PLAIN, ASCII = Theme(), Theme(ascii_only=True)


def with_pattern(plan: Plan, pattern: Pattern) -> Plan:
    """The plan with a pattern in all its steps."""
    return replace(plan, steps=tuple(replace(one, step=replace(one.step, pattern=pattern)) for one in plan.steps))


def text(row: Row) -> str:
    return "".join(segment.text for segment in row)


@pytest.fixture
def folk(verse: Plan, moment: Callable[..., Snapshot]) -> Snapshot:
    return moment(with_pattern(verse, FOLK))


@pytest.mark.parametrize(
    ("place", "theme", "shown"),
    [
        (None, PLAIN, " >▾ · ▾ ▴ - ▴ ▾ ▴ "),
        (0, PLAIN, "[>▾]· ▾ ▴ - ▴ ▾ ▴ "),
        (3, PLAIN, " >▾ · ▾[▴]- ▴ ▾ ▴ "),
        (7, PLAIN, " >▾ · ▾ ▴ - ▴ ▾[▴]"),
        (None, ASCII, " >d . d u - u d u "),
        (1, ASCII, " >d[.]d u - u d u "),
    ],
)
def test_the_place_that_is_due_stands_in_brackets(folk: Snapshot, place: int | None, theme: Theme, shown: str) -> None:
    """Without a click none does."""
    assert text(pattern_row(replace(folk, place=place), 40, theme)) == shown


def test_picks(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """As they are written."""
    snapshot = moment(with_pattern(verse, Pattern(read_picks("1 3 2+4 ."))), place=2)
    assert text(pattern_row(snapshot, 40, PLAIN)) == " 1 3[2+4]· "


def test_no_blanks_where_there_is_no_room(folk: Snapshot) -> None:
    """Then part by part, with signs that there is more."""
    snapshot = replace(folk, place=3)
    assert text(pattern_row(snapshot, 12, PLAIN)) == ">▾·▾[▴]-▴▾▴"
    assert text(pattern_row(snapshot, 10, PLAIN)) == " … ▾[▴]… "
    assert text(pattern_row(replace(folk, place=6), 10, PLAIN)) == " …[▾]▴ "


SIGNS = st.lists(st.sampled_from(["d", "u", ".", "-", ">d"]), min_size=2, max_size=24)


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture])  # they only make what each example is made of
@given(SIGNS.filter(lambda signs: not {"d", "u", ">d"}.isdisjoint(signs)), st.data())
def test_it_never_takes_more_room_and_always_shows_where(
    verse: Plan, moment: Callable[..., Snapshot], signs: list[str], data: st.DataObject
) -> None:
    """Whatever the length: with the click exactly one place is in brackets, the right one; the others keep their place
    whether there is a click or not, with blanks between them where there is room, and without where there is not."""
    now = data.draw(st.integers(0, len(signs) - 1))
    snapshot = moment(with_pattern(verse, Pattern(read_strums(" ".join(signs)), Fraction(1, 24))))

    def shown(place: int | None, room: int) -> str:
        return text(pattern_row(replace(snapshot, place=place), room, ASCII))

    wide, close = shown(now, 80), len("".join(signs)) + 2
    for line in (wide, shown(now, close)):
        assert line.count("[") == line.count("]") == 1
        assert line[line.index("[") + 1 : line.index("]")] == signs[now]
    assert wide.replace("[", " ").replace("]", " ") == shown(None, 80)
    assert shown(None, 80).split() == signs
    assert shown(now, close).replace("[", "").replace("]", "") == "".join(signs)


@pytest.mark.parametrize("room", [9, 12, 20, 30])
@pytest.mark.parametrize("length", [1, 8, 16, 24])
def test_long_patterns_fit(verse: Plan, moment: Callable[..., Snapshot], room: int, length: int) -> None:
    """At every place of every length the row is narrow enough, and says where."""
    pattern = Pattern(read_strums("d . d u " * 6)[:length], Fraction(1, 24))
    snapshot = moment(with_pattern(verse, pattern))
    for place in range(length):
        shown = pattern_row(replace(snapshot, place=place), room, PLAIN)
        assert row_width(shown) <= room
        inside = text(shown)
        assert inside[inside.index("[") + 1] in "▾▴·"


@pytest.mark.parametrize("theme", [PLAIN, ASCII], ids=["unicode", "ascii"])
@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (140, 40)])
def test_it_is_on_the_dashboard(
    folk: Snapshot, printed: Callable[..., list[str]], width: int, height: int, theme: Theme
) -> None:
    """On the rule over what is to be played, and not when the take is over; a drill without one looks as before."""
    mark = "[>d]" if theme.ascii_only else "[>▾]"
    lines = printed(dashboard(replace(folk, place=0), width=width, height=height, theme=theme), width)
    assert mark in lines[2]
    assert "play" in lines[2]
    assert "heard" in lines[2]
    assert all(len(line) == width for line in lines)
    over = replace(folk, phase=FINISHED, place=None)
    assert mark not in "\n".join(printed(dashboard(over, width=width, height=height, theme=theme), width))


def test_without_a_pattern_there_is_no_row(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """Any way of playing is accepted, so nothing is said."""
    assert pattern_row(moment(verse), 30, PLAIN) == []
