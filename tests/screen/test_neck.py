"""Neck diagrams: every string, every finger, nothing invented; written out by hand for comparison."""

from __future__ import annotations

from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st

from listener.guitar.fingering import Fingering, fret_window
from listener.guitar.instrument import string_names
from listener.planning.plan import Plan
from listener.screen.neck import neck_rows, neck_width, widest_cell
from listener.screen.rows import row_width
from listener.screen.theme import Theme


def _lines(fingering: Fingering, strings: int, theme: Theme, cell: int = 3) -> list[str]:
    return ["".join(part.text for part in cells).rstrip() for cells in neck_rows(fingering, strings, theme, cell=cell)]


def test_a_spread_triad_by_hand(verse: Plan) -> None:
    """C spread, x 3 5 x 5 x with fingers 1 3 4, as one would draw it: position marked by fret numbers, no nut."""
    assert _lines(verse.steps[3].fingering, 6, Theme()) == [
        "    3   4   5   6",
        "x │───┼───┼───┼───┤",
        "  │───┼───┼[4]┼───┤",
        "x │───┼───┼───┼───┤",
        "  │───┼───┼(3)┼───┤",
        "  │(1)┼───┼───┼───┤",
        "x │───┼───┼───┼───┤",
    ]


def test_open_strings_by_hand(verse: Plan) -> None:
    """E minor, 0 2 2 0 0 0: the nut is drawn, open strings carry an o."""
    assert _lines(verse.steps[6].fingering, 6, Theme(ascii_only=True), cell=1) == [
        "   1 2 3 4",
        "o H-+-+-+-|",
        "o H-+-+-+-|",
        "o H-+-+-+-|",
        "  H-+3+-+-|",
        "  H-+2+-+-|",
        "o H-+-+-+-|",
    ]


def test_left_handed_is_the_mirror_image(verse: Plan) -> None:
    """The nut is on the right, frets run to the left, strings keep their order."""
    assert _lines(verse.steps[3].fingering, 6, Theme(left_handed=True)) == [
        "  6   5   4   3",
        "├───┼───┼───┼───│ x",
        "├───┼[4]┼───┼───│",
        "├───┼───┼───┼───│ x",
        "├───┼(3)┼───┼───│",
        "├───┼───┼───┼(1)│",
        "├───┼───┼───┼───│ x",
    ]


@st.composite
def _fingerings(draw: st.DrawFn) -> tuple[Fingering, int]:
    count = draw(st.integers(4, 8))
    sounding = draw(st.lists(st.integers(1, count), min_size=1, max_size=6, unique=True))
    low = draw(st.integers(1, 18))
    frets = [draw(st.one_of(st.just(0), st.integers(low, low + 5))) for _ in sounding]
    fingers = [draw(st.integers(1, 4)) if fret else 0 for fret in frets]
    pitches = sorted(draw(st.lists(st.integers(28, 90), min_size=len(sounding), max_size=len(sounding), unique=True)))
    made = Fingering(tuple(pitches), tuple(sounding), tuple(frets), tuple(fingers), None, 0.0, 0.0, None)
    return made, count


@given(_fingerings(), st.sampled_from([1, 3, 5, 7]), st.booleans(), st.booleans())
def test_every_note_is_drawn_once(made: tuple[Fingering, int], cell: int, ascii_only: bool, left: bool) -> None:
    """On each string: x when muted, o when open, else one finger between the right two wires; all rows equally wide."""
    fingering, count = made
    theme = Theme(ascii_only=ascii_only, left_handed=left)
    rows = neck_rows(fingering, count, theme, cell=cell)
    first, last = fret_window(fingering.frets)
    assert {row_width(cells) for cells in rows} == {neck_width(fingering, cell)}
    for string in range(1, count + 1):
        text = "".join(part.text for part in rows[string])
        line = text[::-1] if left else text
        digits = [char for char in text if char.isdigit()]
        if string not in fingering.strings:
            assert line[0] == "x"
            assert not digits
            continue
        note = fingering.strings.index(string)
        fret = fingering.frets[note]
        assert line[0] == ("o" if fret == 0 else " ")
        if fret:
            assert digits == [str(fingering.fingers[note])]
            assert first + line[3 : line.index(digits[0])].count(theme.signs.cross) == fret
            assert first <= fret <= last


@given(_fingerings(), st.integers(12, 90))
def test_the_widest_cell_fits(made: tuple[Fingering, int], width: int) -> None:
    """The chosen fret width fits the room whenever any does, and is odd so that fingers stand in the middle."""
    fingering, _ = made
    cell = widest_cell(fingering, width)
    assert cell % 2 == 1
    assert neck_width(fingering, cell) <= max(width, neck_width(fingering, 1))


def test_string_names_from_the_highest() -> None:
    """Names lose their octave and come highest first, as strings are numbered."""
    assert string_names(("E2", "A2", "D3", "G3", "B3", "E4"), 6) == ("E", "B", "G", "D", "A", "E")
    assert string_names(("F#1", "Bb1"), 2) == ("Bb", "F#")


def test_unknown_finger_is_still_a_dot(plan_from: Callable[..., Plan]) -> None:
    """A pressed string without a finger number is marked all the same."""
    plan = plan_from([("C", (None, 3, 5, None, 5, None), (0, 0, 0))])
    assert _lines(plan.steps[0].fingering, 6, Theme())[2] == "  │───┼───┼[•]┼───┤"
