"""A first guess at chords: the rule, point by point."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.music.pitch import parse_pitch
from listener.music.roman import parse_roman
from listener.music.scale import Key, parse_key
from listener.tunes.harmonise import CHOICE, harmonise
from listener.tunes.tune import Melody, MelodyNote


def tune(*notes: tuple[str, Fraction | float], pickup: Fraction | int = 0) -> Melody:
    """Notes one after the other, (name, quarters); a rest has an empty name."""
    found, at = [], Fraction(0)
    for name, lasts in notes:
        length = Fraction(lasts)
        if name:
            found.append(MelodyNote(parse_pitch(name), at, length))
        at += length
    return Melody("t", "p", tuple(found), at, pickup_beats=Fraction(pickup))


def names(melody: Melody, key: str, meter: tuple[int, int] = (4, 4)) -> list[str]:
    return [one.chord.symbol for one in harmonise(melody, parse_key(key), meter)]


def test_a_tune_by_hand() -> None:
    """Eight bars worked out by hand with I, IV and V: every bar's notes belong to one of them only."""
    notes = "C4 E4 G4 E4 | F4 A4 C5 A4 | G4 B4 D5 B4 | C5 G4 E4 C4".replace("|", "").split()
    assert names(tune(*((name, 1) for name in notes)), "C") == ["C", "F", "G", "C"]


def test_half_bars_change_only_when_it_is_worth_it() -> None:
    """Two clear halves get two chords; one passing note in the second half does not."""
    halves = tune(*((name, 1) for name in ("E4", "C4", "B4", "D4", "C4", "E4", "G4", "C4")))
    assert names(halves, "C") == ["C", "G", "C"]
    passing = tune(("E4", 1), ("G4", 1), ("E4", Fraction(3, 2)), ("F4", Fraction(1, 2)), ("C4", 4))
    assert names(passing, "C") == ["C", "C"]


def test_strong_beats_win() -> None:
    """Of notes equally long, the one on the bar line decides."""
    assert names(tune(("A4", Fraction(3, 2)), ("B4", Fraction(1, 2)), ("C5", 1), ("E4", 3)), "C", (3, 4))[0] in (
        "Am",
        "F",
    )


def test_the_end_goes_home() -> None:
    """G over the last bar could be V; the tune ends on I, with V or V7 before it where the notes allow both."""
    assert names(tune(("E4", 4), ("D4", 4), ("G4", 4)), "C")[-2:] in (["G", "C"], ["G7", "C"])


def test_the_cadence_may_come_in_the_last_bar_but_one() -> None:
    """V goes home there, and stays home, although its B speaks for V."""
    notes = "G4 D4 G4 A4 | D4 G4 C4 B4 | C4 G4 A4 E4".replace("|", "").split()
    assert names(tune(*((name, 1) for name in notes)), "C") == ["G", "G", "C", "C"]


def test_the_seventh_brings_the_seventh_chord() -> None:
    """Fourth, second and seventh degree together are V7."""
    notes = tune(("C4", 4), ("F4", 1), ("D4", 1), ("B4", 1), ("F4", 1), ("C4", 4))
    assert names(notes, "C") == ["C", "G7", "C"]


def test_minor_has_its_own() -> None:
    """i, iv and V with the raised seventh."""
    notes = tune(("A4", 2), ("C5", 2), ("D5", 2), ("F5", 2), ("G#4", 2), ("B4", 2), ("A4", 4))
    assert names(notes, "A minor") == ["Am", "Dm", "E", "Am"]


def test_six_eight_has_half_bars() -> None:
    """Three eighths each."""
    names_of_eighths = "C4 E4 G4 D4 G4 B4 C4 E4 C4 C4 G4 E4"
    notes = tune(*((name, Fraction(1, 2)) for name in names_of_eighths.split()))
    chords = harmonise(notes, parse_key("C"), (6, 8))
    assert [(one.chord.symbol, str(one.start_beats), str(one.length_beats)) for one in chords] == [
        ("C", "0", "3/2"),
        ("G", "3/2", "3/2"),
        ("C", "3", "3"),
    ]


def test_the_upbeat_has_no_chord() -> None:
    """Chords begin with the first full bar."""
    notes = tune(("G4", 1), ("C5", 4), ("C5", 4), pickup=1)
    assert [one.start_beats for one in harmonise(notes, parse_key("C"), (4, 4))] == [1, 5]


def test_rests_go_on() -> None:
    """A bar without notes has no opinion; the chord of its neighbours does."""
    assert len(names(tune(("C4", 4), ("", 4), ("C4", 4)), "C")) == 3
    assert harmonise(Melody("t", "p", (), Fraction(8)), parse_key("C"), (4, 4)) == ()


LENGTHS = st.sampled_from([Fraction(1, 2), Fraction(1), Fraction(3, 2), Fraction(2), Fraction(1, 3)])
PITCHES = "C4 D4 E4 F4 F#4 G4 G#4 A4 Bb4 B4 C5"
NOTES = st.tuples(st.sampled_from([*PITCHES.split(), ""]), LENGTHS)


@given(
    st.lists(NOTES, max_size=30),
    st.sampled_from([(4, 4), (3, 4), (6, 8), (2, 4), (5, 4)]),
    st.sampled_from(["C", "A minor"]),
)
def test_chords_fill_the_bars(notes: list[tuple[str, Fraction]], meter: tuple[int, int], key: str) -> None:
    """One after the other from the start, none over a bar line, to the end of the last bar; all of the key's choice."""
    melody = tune(*notes)
    home: Key = parse_key(key)
    bar = Fraction(4 * meter[0], meter[1])
    at = Fraction(0)
    allowed = {parse_roman(numeral, home) for numeral in CHOICE[home.mode]}
    for start, length, chord in harmonise(melody, home, meter):
        assert start == at
        assert start // bar == (start + length - Fraction(1, 1000)) // bar
        assert chord in allowed
        at = start + length
    end = melody.notes[-1].end_beats if melody.notes else Fraction(0)
    assert at == -(-end // bar) * bar or (meter in ((4, 4), (6, 8)) and at - end < bar / 2)


@pytest.mark.parametrize(
    ("notes", "key", "others", "other"),
    [
        ("C4 E4 F4 D4 G4 B4 A4 C4", "C", "G4 B4 C5 A4 D5 F#5 E5 G4", "G"),
        ("A4 C5 D5 F5 G#4 B4 G4 A4", "A minor", "F#4 A4 B4 D5 E#4 G#4 E4 F#4", "F# minor"),
    ],
)
def test_the_key_only_moves_it(notes: str, key: str, others: str, other: str) -> None:
    """A tune and its chords in another key are the same tune and chords."""
    away = parse_key(other).tonic.pitch_class - parse_key(key).tonic.pitch_class
    here = harmonise(tune(*((name, 2) for name in notes.split())), parse_key(key), (4, 4))
    there = harmonise(tune(*((name, 2) for name in others.split())), parse_key(other), (4, 4))
    assert [(one.chord.root.pitch_class + away) % 12 for one in here] == [one.chord.root.pitch_class for one in there]
    assert [one.chord.quality for one in here] == [one.chord.quality for one in there]
