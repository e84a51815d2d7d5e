"""Chord symbols against the MusicXML 4.0 schema, music21, Harte's labels and the npm package tonal.

Sources: tables/SOURCES.md.
"""

from __future__ import annotations

import re
import warnings

import pytest
from outside.tables.reading import table_rows

from listener.errors import MusicError
from listener.music.chord import parse_chord
from listener.music.quality import qualities
from listener.music.voicing import tone_sets


def _classes(text: str) -> set[int]:
    return {int(word) for word in text.split()}


#: Kinds of the schema that name no set of tones or no chord of ours, with the reason.
NOT_OURS = {
    "Neapolitan": "a chord on the lowered second: a major triad for us, written N6",
    "pedal": "a bass note, no chord",
    "Tristan": "one famous chord, the tones of a half-diminished seventh",
    "other": "no tones",
    "none": "no chord",
}
SIXTHS = ("Italian", "French", "German")


def test_every_musicxml_kind() -> None:
    """Each kind of the MusicXML schema has one quality with exactly its tones (chord_kinds.csv)."""
    ours = {quality.musicxml: quality for quality in qualities() if quality.musicxml}
    rows = {row["musicxml_kind"]: row for row in table_rows("chord_kinds.csv")}
    assert len(rows) == 33
    assert set(rows) - set(ours) == set(NOT_OURS)
    assert set(ours) <= set(rows)
    for kind, quality in ours.items():
        if kind not in SIXTHS:
            assert quality.interval_set == _classes(rows[kind]["xsd_pcs_root_C"]), kind


def test_augmented_sixths_count_from_the_bass() -> None:
    """music21 puts C on the raised fourth; from our root, the bass eight semitones above it, the tones are the same."""
    ours = {quality.musicxml: quality for quality in qualities()}
    for row in table_rows("chord_kinds.csv"):
        if row["musicxml_kind"] in SIXTHS:
            theirs = {(pitch_class - 8) % 12 for pitch_class in _classes(row["music21_pcs"])}
            assert ours[row["musicxml_kind"]].interval_set == theirs


#: What tonal leaves out that the schema and we have, and why it is no disagreement about the chord.
TONAL_OMITS = {
    "C11": ({4}, "tonal leaves the third out, as many players do; the schema keeps it, and so do we"),
    "C13": ({5}, "tonal leaves the eleventh out; for us it is the first tone to go after the fifth"),
    "Cm13": ({5}, "same"),
    "Cmaj13": ({5}, "same"),
    "C7b13": ({7}, "tonal leaves the fifth out beside its neighbour; for us it may go"),
    "C9b13": ({7}, "same"),
    "C13b9": ({5}, "as C13"),
    "C13#9": ({5}, "as C13"),
}


@pytest.mark.parametrize("row", table_rows("tonal_chords.csv"), ids=lambda row: row["symbol"])
def test_symbols_as_tonal_reads_them(row: dict[str, str]) -> None:
    """The tones of 36 symbols are tonal's, but for the listed omissions, all of which our policy allows or explains."""
    chord = parse_chord(row["symbol"])
    omitted, _ = TONAL_OMITS.get(row["symbol"], (set(), ""))
    assert chord.pitch_classes == _classes(row["tonal_pcs"]) | omitted
    assert not omitted & _classes(row["tonal_pcs"])
    if row["symbol"] != "C11":
        assert {chord.degree_of(tone) for tone in omitted} <= set(chord.quality.optional)


@pytest.mark.parametrize("row", table_rows("guitar_symbols.csv"), ids=lambda row: row["symbol"])
def test_symbols_as_guitarists_write_them(row: dict[str, str]) -> None:
    """However it is written, the chord has tonal's tones, but for the listed omissions (guitar_symbols.csv)."""
    chord = parse_chord(row["symbol"])
    omitted, _ = TONAL_OMITS.get(row["symbol"], (set(), ""))
    assert chord.pitch_classes == _classes(row["tonal_pcs"]) | omitted
    assert not omitted & _classes(row["tonal_pcs"])
    assert {chord.degree_of(tone) for tone in omitted} <= set(chord.quality.optional)


def test_tonal_plays_no_eleventh_over_a_major_third() -> None:
    """The thirteenths without eleventh are tonal's, and none of the sets that stand for ours has one."""
    rows = {row["symbol"]: row for row in table_rows("tonal_chords.csv") + table_rows("guitar_symbols.csv")}
    for symbol in ("C13", "Cmaj13", "C13b9", "C13#9"):
        chord = parse_chord(symbol)
        played = [{chord.tones[degree].pitch_class for degree in tones} for tones in tone_sets(chord)]
        assert max(played, key=len) == _classes(rows[symbol]["tonal_pcs"])


#: Abbreviations of music21 that are no chord symbols, or that players would not read as it does, with the reason.
MUSIC21_ONLY = {
    **dict.fromkeys(("N6", "It+6", "It", "Fr+6", "Fr", "Gr+6", "Ger"), "counted from another tone, see above"),
    "pedal": "a bass note, no chord",
    "power": "a word that nobody writes after a root; players write C5",
    "tristan": "one famous chord",
    "ob9": "music21 adds a diminished seventh that the symbol does not ask for",
    "dom7dim5": "a word for C7b5 that nobody writes",
}


def test_every_abbreviation_of_music21() -> None:
    """Each abbreviation that music21 knows for a kind of chord (93 of them) has the same tones for us."""
    with warnings.catch_warnings():
        warnings.simplefilter("ignore")
        from music21 import harmony
    words = [word for _, abbreviations in harmony.CHORD_TYPES.values() for word in abbreviations]
    assert len(words) == 93
    assert set(MUSIC21_ONLY) <= set(words)
    for word in words:
        theirs = {pitch.pitchClass for pitch in harmony.ChordSymbol(f"C{word}").pitches}
        try:
            agrees = parse_chord(f"C{word}").pitch_classes == theirs
        except MusicError:
            agrees = False
        assert agrees == (word not in MUSIC21_ONLY), word


HARTE_WORDS = {"maj": "", "min7": "m7", "min": "m", "hdim7": "m7b5", "maj7": "maj7", "7": "7", "sus4": "sus4", "5": "5"}
#: mir_eval leaves extensions out (its documentation says so for 9, 11 and 13), so these labels say less than ours.
HARTE_SMALLER = {"C:maj(9)": "Cadd9", "Bb:7(#9)": "Bb7#9", "Ab:13": "Ab13", "C:11": "C11"}
#: Labels without a chord symbol: no chord, unknown, a bare root, and chords spelled out or with tones crossed out.
HARTE_NO_SYMBOL = {"N", "X", "C:1", "E:(1,b3,5)", "C:min(*b3)/5", "D:9(*5)/1", "G:sus4(b7)"}


HARTE_ROWS = [row for row in table_rows("harte_examples.csv") if row["harte_label"] not in HARTE_NO_SYMBOL]


@pytest.mark.parametrize("row", HARTE_ROWS, ids=lambda row: row["harte_label"])
def test_harte_labels(row: dict[str, str]) -> None:
    """Root, tones and bass of Harte's labels as mir_eval encodes them (harte_examples.csv)."""
    label = row["harte_label"]
    theirs = _classes(row["abs_pcs"])
    if label in HARTE_SMALLER:
        chord = parse_chord(HARTE_SMALLER[label])
        assert chord.root.pitch_class == int(row["root_pc"])
        assert theirs < chord.pitch_classes
        return
    root, word, bass = re.fullmatch(r"([A-G][#b]?):?([^/]*)(?:/(.*))?", label).groups()  # type: ignore[union-attr]
    plain = parse_chord(root + HARTE_WORDS[word or "maj"])
    chord = parse_chord(f"{plain.symbol}/{plain.root.at(bass)}") if bass else plain
    assert chord.root.pitch_class == int(row["root_pc"])
    assert chord.pitch_classes == theirs
    lowest = chord.bass or chord.root
    assert (lowest.pitch_class - chord.root.pitch_class) % 12 == int(row["bass_interval_from_root"])


def test_the_crossed_out_tones() -> None:
    """D:9(*5) is D9 without its fifth and G:sus4(b7) is G7sus4, written as symbols (harte_examples.csv)."""
    rows = {row["harte_label"]: _classes(row["abs_pcs"]) for row in table_rows("harte_examples.csv")}
    assert parse_chord("G7sus4").pitch_classes == rows["G:sus4(b7)"]
    assert parse_chord("Em").pitch_classes == rows["E:(1,b3,5)"]
    # mir_eval leaves the ninth out, as above.
    assert parse_chord("D9(no5)").pitch_classes - {parse_chord("D").root.at("9").pitch_class} == rows["D:9(*5)/1"]
