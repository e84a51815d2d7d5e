"""Progressions on one line: what is read, and how what cannot be read is shown."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import MusicError
from listener.music.scale import parse_key
from listener.tunes.chord_line import CHORDS, NUMERALS, read_chord_line
from listener.tunes.chord_line_text import in_lines, written_out
from listener.tunes.tune import TimedChord

C, G, A_MINOR = parse_key("C"), parse_key("G"), parse_key("A minor")


def symbols(text: str, key: str | None = None) -> list[tuple[str, str, str]]:
    line = read_chord_line(text, parse_key(key) if key else None)
    return [(one.chord.symbol, str(one.start), str(one.length)) for one in line.chords]


def test_chords_in_bars() -> None:
    """Bars by |, several chords share one evenly, % repeats a bar, N.C. rests, a dot makes longer."""
    assert symbols("C | Am7 D7/F# | % | N.C. G | F . . G") == [
        ("C", "0", "1"),
        ("Am7", "1", "1/2"),
        ("D7/F#", "3/2", "1/2"),
        ("Am7", "2", "1/2"),
        ("D7/F#", "5/2", "1/2"),
        ("G", "7/2", "1/2"),
        ("F", "4", "3/4"),
        ("G", "19/4", "1/4"),
    ]


@pytest.mark.parametrize(
    ("text", "key", "wanted"),
    [
        ("I | vi7 V65/V | V", "G", ["G", "Em7", "A7/C#", "D"]),
        ("bVII | IV | I", "C", ["Bb", "F", "C"]),
        ("iiø7 | V7 | i", "A minor", ["Bm7b5", "E7", "Am"]),
        ("Ger65 | V", "C", ["AbGer6", "G"]),
    ],
)
def test_numerals_in_a_key(text: str, key: str, wanted: list[str]) -> None:
    """Numerals are told from symbols by themselves; they mean what they do in the key."""
    line = read_chord_line(text, parse_key(key))
    assert line.notation == NUMERALS
    assert [one.chord.symbol for one in line.chords] == wanted


def test_symbols_are_no_numerals() -> None:
    """Roots are A to G; the key changes nothing about them."""
    assert read_chord_line("Ebm7b5 | Bb | Dm", C).notation == CHORDS


#: text, key, what the first line says, the index of the mark
FAULTS = {
    "no root": ("C | Hm7 | G", None, "bar 2: 'Hm7' does not begin with a root", 4),
    "inside a symbol": ("C | Am7x", None, "cannot be read from 'x'", 7),
    "slashes for beats": ("C / G", None, "a chord that lasts on is written with a dot", 2),
    "a repeat sign": ("C | F :", None, "repeat signs are not read", 6),
    "a comma": ("C , F", None, "write | between bars", 2),
    "the meter in the line": ("C 3/4 F", None, "the meter is given apart", 2),
    "nothing to repeat": ("% | C", None, "no bar before it", 0),
    "a symbol among numerals": ("I | Am", "C", "a numeral from I to VII", 4),
    "an empty bar": ("C | | F", None, "bar 2 is empty", 3),
    "on the second line": ("C | G\n  F | Q", None, "'Q' does not begin", 8 + 4),
}


@pytest.mark.parametrize("story", FAULTS)
def test_faults_are_shown_where_they_are(story: str) -> None:
    """What is wrong, the line it is in, and a mark under the place."""
    text, key, said, index = FAULTS[story]
    with pytest.raises(MusicError) as caught:
        read_chord_line(text, parse_key(key) if key else None)
    assert caught.value.position == index
    first, *rest = str(caught.value).splitlines()
    assert said in first
    line, mark = rest
    written = text.splitlines()[text[:index].count("\n")]
    assert line.strip() == written.strip()
    column = index - (text.rfind("\n", 0, index) + 1)
    assert mark == " " * (2 + column) + "^"


def test_all_faults_at_once() -> None:
    """Each with its own mark; a repeated bar does not say the same twice."""
    with pytest.raises(MusicError) as caught:
        read_chord_line("C | H | % | Y")
    text = str(caught.value)
    assert text.startswith("2 places in the chords cannot be read")
    assert text.count("^") == 2
    assert "bar 2: 'H'" in text
    assert "bar 4: 'Y'" in text


def test_long_lines_show_the_part_that_matters() -> None:
    """The mark is under the fault although the line is cut on both sides."""
    with pytest.raises(MusicError) as caught:
        read_chord_line(" | ".join(["C"] * 40 + ["X7"] + ["D"] * 40))
    _, line, mark = str(caught.value).splitlines()
    assert len(line) < 84
    assert line[mark.index("^")] == "X"


@pytest.mark.parametrize("text", ["", "  ", "|||", "N.C.", "N.C. | N.C."])
def test_no_chord_at_all(text: str) -> None:
    """An example of what to write."""
    with pytest.raises(MusicError, match=r"there is no chord; write for example"):
        read_chord_line(text)


def test_numerals_without_a_key() -> None:
    """The key is asked for."""
    with pytest.raises(MusicError, match="Roman numerals need a key"):
        read_chord_line("I | IV")


@given(st.text(st.sampled_from("ABCGHIV mb#7/|%.N\t\x1béあ\n"), max_size=40), st.sampled_from([None, C, A_MINOR]))
def test_no_text_crashes_it(text: str, key: object) -> None:
    """Whatever is typed, there is a line of chords or a MusicError without control characters."""
    try:
        line = read_chord_line(text, key)  # type: ignore[arg-type]
    except MusicError as error:
        line, said = None, str(error)
    assert line is not None or (said and all(part.isprintable() for part in said.splitlines()))
    if line is not None:
        assert line.chords
        assert read_chord_line(line.text, key).chords == line.chords  # type: ignore[arg-type]


SHARES = st.lists(st.integers(1, 8), min_size=1, max_size=12)


@st.composite
def progressions(draw: st.DrawFn) -> tuple[list[TimedChord], Fraction]:
    """Chords in quarters, with gaps, in bars of some length."""
    bar = draw(st.sampled_from([Fraction(4), Fraction(3), Fraction(3, 2), Fraction(2)]))
    found, at = [], Fraction(0)
    for share in draw(SHARES):
        length = share * bar / draw(st.sampled_from([1, 2, 4]))
        if draw(st.integers(0, 3)):
            chord = read_chord_line(draw(st.sampled_from(["C", "Am7", "D7/F#", "Bb6"]))).chords[0].chord
            found.append(TimedChord(at, length, chord))
        at += length
    return found, bar


@given(progressions())
def test_written_and_read_again(progression: tuple[list[TimedChord], Fraction]) -> None:
    """Chords written out in bars are the same chords at the same times when they are read."""
    chords, bar = progression
    if not chords:
        return
    line = read_chord_line(written_out(chords, bar))
    assert [(one.start * bar, one.length * bar, one.chord) for one in line.chords] == [tuple(one) for one in chords]


def test_odd_places_move_to_a_grid() -> None:
    """A chord that no share of the bar can hold goes to the nearest sixteenth of the bar."""
    c = read_chord_line("C").chords[0].chord
    odd = [TimedChord(Fraction(1001, 1000), Fraction(3), c)]
    line = read_chord_line(written_out(odd, Fraction(4), 2))
    assert line.chords[0].start * 4 == 1


def test_four_bars_on_a_line() -> None:
    """Bars stand under each other."""
    assert in_lines(["C", "Am7 D7", "G", "C", "F"]) == "C      | Am7 D7 | G      | C\nF"
    assert in_lines(["C", "Am7 D7"]) == "C | Am7 D7"
