"""Melodies and chord symbols read from files against music21's own reading of the same files.

Source: music21 10.5.1 (BSD) and the corpus that comes with it: Ryan's Mammoth Collection (1883; ABC transcriptions),
Essen folk songs, lead sheets, a test file of chord symbols, and two- and three-part songs of the 14th century. Tunes
are picked by number, not by name; music21 writes each as MusicXML, compressed MusicXML and MIDI, and we read what it
wrote.
"""

from __future__ import annotations

import random
from dataclasses import replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest

from listener.errors import SourceError
from listener.tunes.melody import Melody, read_melody

#: (MIDI note, name, start, length), times in quarter notes
Row = tuple[int, str, Fraction, Fraction]
QUICK = 8
TUNES = 60


def corpus(music21: Any, folder: str, pattern: str = "*") -> list[Path]:
    """The files of one folder of the corpus."""
    root = Path(music21.__file__).parent / "corpus" / folder
    return sorted(path for path in root.glob(pattern) if path.suffix in (".abc", ".mxl", ".xml"))


def quarters(value: Any) -> Fraction:
    """music21's time as an exact fraction."""
    return Fraction(value).limit_denominator(10_080)


def theirs(part: Any) -> list[Row]:
    """Every note that music21 hears in a part, of chords the highest, ties merged, without grace notes."""
    rows: list[Row] = []
    for note in part.stripTies().flatten().notes:
        if "ChordSymbol" in note.classes or note.duration.isGrace:
            continue
        pitch = max(note.pitches, key=lambda one: one.midi)
        rows.append((pitch.midi, pitch.name.replace("-", "b"), quarters(note.offset), quarters(note.quarterLength)))
    return rows


def ours(melody: Melody) -> list[Row]:
    """The same of our reading."""
    return [(n.pitch.midi, str(n.pitch.tone), n.start_beats, n.length_beats) for n in melody.notes]


def without_names(rows: list[Row]) -> list[tuple[int, Fraction, Fraction]]:
    """MIDI has no names."""
    return [(midi, start, length) for midi, _, start, length in rows]


def compare(music21: Any, score: Any, folder: Path, *, packed: bool = False) -> int:
    """Write a score of one part two or three ways, read all back, and compare; how many notes there were.

    Grace notes are taken out first; repeats before MIDI is written, which would play them.
    """
    for note in list(score.recurse().notes):
        if note.duration.isGrace:
            note.activeSite.remove(note)
    if packed:
        smaller = Path(score.write("mxl", folder / "packed.mxl"))
    xml = Path(score.write("musicxml", folder / "tune.musicxml"))
    again = music21.converter.parse(xml, forceSource=True)
    wanted = theirs(again.parts[0])
    plain = read_melody(xml.read_bytes(), "tune")
    assert ours(plain) == wanted
    if packed:
        assert replace(read_melody(smaller.read_bytes(), "tune"), remarks=()) == replace(plain, remarks=())
    signature = again.recurse().getElementsByClass("KeySignature").first()
    if plain.key is not None and signature is not None:
        assert plain.key.signature == signature.sharps
    meter = again.recurse().getElementsByClass("TimeSignature").first()
    assert plain.meter == (meter.numerator, meter.denominator)
    without_repeats(music21, again)
    midi = read_melody(Path(again.write("midi", folder / "tune.mid")).read_bytes(), "tune")
    assert without_names(ours(midi)) == without_names(wanted)
    return len(wanted)


def without_repeats(music21: Any, score: Any) -> None:
    """Every bar stands once."""
    for measure in score.parts[0].getElementsByClass("Measure"):
        for side in ("leftBarline", "rightBarline"):
            if isinstance(getattr(measure, side), music21.bar.Repeat):
                setattr(measure, side, None)
        for mark in list(measure.getElementsByClass(music21.repeat.RepeatMark)):
            measure.remove(mark)
    for spanner in list(score.recurse().getElementsByClass("RepeatBracket")):
        spanner.activeSite.remove(spanner)


def mammoth(music21: Any, folder: Path, numbers: slice) -> tuple[int, int]:
    """Tunes of the collection, spread over all of it; how many tunes and notes were compared."""
    paths = corpus(music21, "ryansMammoth", "*.abc")
    random.Random(7).shuffle(paths)
    tunes = notes = 0
    for path in paths[numbers]:
        score = music21.converter.parse(path)
        notes += compare(music21, score, folder, packed=tunes < QUICK)
        tunes += 1
    return tunes, notes


def test_eight_tunes(music21: Any, tmp_path: Path) -> None:
    """Eight fiddle tunes come back from MusicXML, .mxl and MIDI as music21 reads them: pitch, name, start, length."""
    tunes, notes = mammoth(music21, tmp_path, slice(QUICK))
    assert tunes == QUICK
    assert notes > 500


@pytest.mark.slow
def test_fifty_more_tunes(music21: Any, tmp_path: Path) -> None:
    """The same of fifty-two more."""
    tunes, notes = mammoth(music21, tmp_path, slice(QUICK, TUNES))
    assert tunes == TUNES - QUICK
    assert notes > 5000


@pytest.mark.slow
def test_folk_songs(music21: Any, tmp_path: Path) -> None:
    """Fifteen folk songs, with changing meters and pickups."""
    file = corpus(music21, "essenFolksong", "*.abc")[0]
    opus = music21.converter.parse(file, number=None)
    compared = 0
    for score in opus.scores[::21]:
        try:
            compared += compare(music21, score, tmp_path) > 0
        except music21.exceptions21.Music21Exception:
            continue  # music21 cannot write some of the songs that it can read
    assert compared >= 12


def chords_of(melody: Melody) -> list[tuple[Fraction, int, frozenset[int], int]]:
    """Start, root, all pitch classes and bass of every chord symbol."""
    found = []
    for start, _, chord in melody.chords:
        bass = chord.bass or chord.root
        found.append((start, chord.root.pitch_class, chord.pitch_classes, bass.pitch_class))
    return found


def their_chords(score: Any) -> list[tuple[Fraction, int, frozenset[int], int]]:
    """The same of music21; of symbols at one time the last counts, N.C. has no tones."""
    found = {}
    for symbol in score.parts[0].flatten().getElementsByClass("ChordSymbol"):
        at = quarters(symbol.offset)
        if "NoChord" in symbol.classes:
            found.pop(at, None)
            continue
        classes = frozenset(symbol.pitchClasses)
        found[at] = (at, symbol.root().pitchClass, classes, symbol.bass().pitchClass)
    return [found[at] for at in sorted(found)]


def test_lead_sheets(music21: Any) -> None:
    """Both lead sheets of the corpus, as they lie there: every note and every chord symbol is music21's."""
    paths = corpus(music21, "leadSheet", "*.mxl")
    assert len(paths) == 2
    for path in paths:
        score = music21.converter.parse(path)
        melody = read_melody(path.read_bytes(), path.name)
        assert ours(melody) == theirs(score.parts[0])
        assert len(melody.chords) >= 19
        assert chords_of(melody) == their_chords(score)


@pytest.mark.slow
def test_old_songs_in_parts(music21: Any) -> None:
    """Songs of two and three voices as other programs wrote them: each part is a choice, none is taken unasked."""
    compared = 0
    for path in corpus(music21, "trecento", "*.xml")[:40:8]:
        score = music21.converter.parse(path)
        data = path.read_bytes()
        if len(score.parts) > 1:
            with pytest.raises(SourceError, match="say which one is the melody"):
                read_melody(data, path.name)
        for number, part in enumerate(score.parts, start=1):
            assert ours(read_melody(data, path.name, part=str(number))) == theirs(part)
            compared += 1
    assert compared >= 10


def test_every_kind_of_chord_symbol(music21: Any) -> None:
    """The corpus's test file of chord symbols: all kinds with their tones and bass, degrees added, altered and taken
    away; the symbols that name a function in a key are left out and said."""
    path = corpus(music21, "demos", "Comprehensive*")[0]
    score = music21.converter.parse(path)
    melody = read_melody(path.read_bytes(), path.name)
    wanted = {row[0]: row for row in their_chords(score)}
    # music21 knows no kind "minor-major"; its Neapolitan, Tristan and Italian are the functions.
    unknown = {row[0] for row in wanted.values() if len(row[2]) == 1}
    functions = {
        quarters(symbol.offset)
        for symbol in score.parts[0].flatten().getElementsByClass("ChordSymbol")
        if symbol.chordKind in ("Neapolitan", "Tristan", "tristan", "Italian", "French", "German", "pedal")
    }
    found = {row[0]: row for row in chords_of(melody)}
    compared = set(wanted) - unknown - functions
    assert len(compared) >= 50
    assert len(unknown - functions) <= 1
    assert {at: found.get(at) for at in compared} == {at: wanted[at] for at in compared}
    assert not functions & set(found)
    assert len(melody.remarks) == len(functions)
