"""Roman numerals against a table run in music21 (tables/roman_numerals.csv, tables/SOURCES.md)."""

from __future__ import annotations

import pytest
from outside.tables.reading import table_rows

from listener.music.chord import Chord
from listener.music.pitch import Tone, parse_tone
from listener.music.roman import parse_roman
from listener.music.scale import parse_key

KEYS = {"C": parse_key("C major"), "a": parse_key("A minor")}


def _tones(text: str) -> list[Tone]:
    return [parse_tone(word.replace("-", "b")) for word in text.split()]


def _bass_up(chord: Chord) -> list[Tone]:
    """The spelled tones from the bass up, as the table lists them."""
    tones = sorted(chord.tones.values(), key=lambda tone: (tone.pitch_class - chord.root.pitch_class) % 12)
    start = tones.index(chord.bass or chord.root)
    return tones[start:] + tones[:start]


#: Every numeral that we read in another way, with our tones from the bass up and the reason.
DIFFERENT = {
    ("C", "I7"): ("C E G B-", "a blues seventh, as guitarists write it; the seventh of the key is Imaj7"),
    ("C", "IV7"): ("F A C E-", "same"),
    ("a", "VI7"): ("F A C E-", "same; the seventh of the key is VImaj7"),
    ("C", "Vsus4"): ("G C D", "music21 loses the fifth of suspended numerals"),
}
#: Same tones over the same bass, another tone called root: we count augmented sixths from their bass.
OTHER_ROOT = {("C", "It6"), ("C", "Fr43"), ("C", "Ger65"), ("a", "Ger65")}


def test_the_table_is_whole() -> None:
    """All 67 numerals are there, and each listed difference is one of them."""
    found = {(row["key"], row["figure"]) for row in table_rows("roman_numerals.csv")}
    assert len(table_rows("roman_numerals.csv")) == 67
    assert set(DIFFERENT) | OTHER_ROOT <= found


@pytest.mark.parametrize("row", table_rows("roman_numerals.csv"), ids=lambda row: f"{row['key']} {row['figure']}")
def test_numerals_as_music21_reads_them(row: dict[str, str]) -> None:
    """Spelling, bass and root of each numeral are music21's, but for the listed differences."""
    place = (row["key"], row["figure"])
    chord = parse_roman(row["figure"], KEYS[row["key"]])
    theirs = _tones(row["spelling_bass_up"])
    if place in DIFFERENT:
        assert _bass_up(chord) == _tones(DIFFERENT[place][0]) != theirs
        return
    # music21 lists a ninth last and an added ninth in scale order; the tones and the bass are what counts.
    assert set(_bass_up(chord)) == set(theirs)
    assert _bass_up(chord)[0] == theirs[0] == parse_tone(row["bass"].replace("-", "b"))
    if len(theirs) < 5 and "add" not in row["figure"]:
        assert _bass_up(chord) == theirs
    if place in OTHER_ROOT:
        assert chord.root == theirs[0] != parse_tone(row["root"].replace("-", "b"))
    else:
        assert chord.root == parse_tone(row["root"].replace("-", "b"))
