"""Guessed keys and chords against what others wrote down.

Sources, all from music21 10.5.1 (BSD) and the corpus that comes with it: Roman-numeral analyses (RomanText, by
D. Tymoczko and others) of chorales by J. S. Bach in the Riemenschneider numbering, whose sopranos are harmonised here;
two lead sheets and a file of the Nottingham collection with chord symbols of their own; the key signatures and modes
of O'Neill's tunes as their transcribers wrote them; music21's own Krumhansl-Kessler profiles.

A guess is no reconstruction. A chorale changes its chord on every beat, a guess every half bar, and a tune can be
harmonised in many ways; so agreement is printed (pytest -s), and only has to be better than one chord all the way.
"""

from __future__ import annotations

import random
import re
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from pathlib import Path
from typing import Any

import pytest
from lead_sheets import folder, with_symbols

from listener.music.roman import parse_roman
from listener.music.scale import Key, parse_key
from listener.tunes.harmonise import harmonise
from listener.tunes.likely_key import PROFILES, key_of_melody
from listener.tunes.melody import read_melody
from listener.tunes.melody_file import from_first_bar
from listener.tunes.tune import Melody, TimedChord

#: Start, end (quarter notes) and root of each chord that somebody else wrote.
Roots = Sequence[tuple[Fraction, Fraction, int]]


@dataclass(frozen=True)
class Agreement:
    """Quarter notes: with the same root, with the tonic's root there, and all of them."""

    same: Fraction = Fraction(0)
    tonic: Fraction = Fraction(0)
    all: Fraction = Fraction(0)

    def __add__(self, other: Agreement) -> Agreement:
        return Agreement(self.same + other.same, self.tonic + other.tonic, self.all + other.all)


def agreement(guess: Iterable[TimedChord], theirs: Roots, tonic: int) -> Agreement:
    """For how long roots agree."""
    total = Agreement()
    for start, length, chord in guess:
        for begin, end, root in theirs:
            over = min(start + length, end) - max(start, begin)
            if over > 0:
                total += Agreement(over * (chord.root.pitch_class == root), over * (tonic == root), over)
    return total


def quarters(value: Any) -> Fraction:
    return Fraction(value).limit_denominator(10_080)


def analysed(music21: Any, number: int) -> tuple[Melody, Key, Roots] | None:
    """A chorale's soprano with the roots of its analysis; None where the two are not of one length,
    or the score is in a format that is not ours to read."""
    path = folder(music21) / "bach" / "choraleAnalyses" / f"riemenschneider{number:03d}.rntxt"
    analysis = music21.converter.parse(path)
    numbering = "riemenschneider"
    score = next(iter(music21.corpus.chorales.Iterator(number, number, numberingSystem=numbering)))
    if abs(score.highestTime - analysis.highestTime) > 1:
        return None
    file = folder(music21) / score.metadata.corpusFilePath
    if file.suffix not in (".mxl", ".xml"):
        return None
    melody = read_melody(file.read_bytes(), file.name, part="1")
    found = list(analysis.recurse().getElementsByClass("RomanNumeral"))
    starts = [quarters(one.getOffsetInHierarchy(analysis)) for one in found]
    ends = [*starts[1:], melody.length_beats]
    roots = [(start, end, one.root().pitchClass) for start, end, one in zip(starts, ends, found, strict=True)]
    tonic = found[0].key
    return melody, parse_key(f"{tonic.tonic.name.replace('-', 'b')} {tonic.mode}"), roots


@pytest.mark.slow
def test_chorale_sopranos(music21: Any) -> None:
    """Roots of guessed chords and of the analyses agree for longer than the tonic alone would."""
    total = Agreement()
    chorales = 0
    for number in range(1, 21):
        found = analysed(music21, number)
        if found is None:
            continue
        melody, key, roots = found
        assert melody.meter is not None
        total += agreement(harmonise(melody, key, melody.meter), roots, key.tonic.pitch_class)
        chorales += 1
    print(f"{chorales} chorales: same root {float(total.same / total.all):.1%}, ", end="")
    print(f"tonic alone {float(total.tonic / total.all):.1%}")
    assert chorales >= 15
    assert total.same > total.tonic


def test_tunes_with_chord_symbols(music21: Any, tmp_path: Path) -> None:
    """The same of tunes whose own chords are hidden from the guess."""
    total = Agreement()
    tunes = 0
    for melody in with_symbols(music21, tmp_path):
        whole = from_first_bar(melody)
        theirs = [(start, start + length, chord.root.pitch_class) for start, length, chord in whole.chords]
        key = key_of_melody(whole)
        guess = harmonise(replace(whole, chords=()), key, melody.meter or (4, 4))
        here = agreement(guess, theirs, key.tonic.pitch_class)
        total += here
        tunes += 1
        print(f"{key}: same root {float(here.same / here.all):.1%}")
    print(f"{tunes} tunes: same root {float(total.same / total.all):.1%}, ", end="")
    print(f"tonic alone {float(total.tonic / total.all):.1%}")
    assert tunes == 4
    assert total.same > total.tonic


def test_profiles_are_the_published_ones(music21: Any) -> None:
    """The same twenty-four numbers as music21's."""
    theirs = music21.analysis.discrete.KrumhanslKessler()
    for mode in ("major", "minor"):
        assert list(PROFILES[mode]) == list(theirs.getWeights(mode))


@pytest.mark.slow
def test_keys_of_tunes(music21: Any, tmp_path: Path) -> None:
    """Keys that transcribers wrote over folk tunes in major and minor, against the guess from the notes alone; the
    guess is right more often than music21's from the same profiles, which does not look at the last note."""
    paths = sorted((folder(music21) / "oneills1850").glob("*.abc"))
    draw = random.Random(5)
    draw.shuffle(paths)
    ours = theirs = tunes = 0
    for path in paths[:12]:
        pieces = re.split(r"(?m)^(?=X:)", path.read_text(encoding="utf-8", errors="replace"))[1:]
        for piece in draw.sample(pieces, min(3, len(pieces))):
            named = re.search(r"(?m)^K:\s*([A-G][#b]?)(m|min|minor|maj|major)?\s*$", piece)
            if named is None:
                continue
            try:
                score = music21.converter.parse(piece, format="abc")
                data = Path(score.write("musicxml", tmp_path / "tune.musicxml")).read_bytes()
                melody = read_melody(data, "tune")
            except Exception:
                continue  # music21 cannot write every tune that it reads, and writes some bars in sixths
            key = parse_key(
                f"{named[1]} {'minor' if (named[2] or '').startswith('mi') or named[2] == 'm' else 'major'}"
            )
            guess = key_of_melody(melody)
            other = score.analyze("key.krumhanslkessler")
            ours += (guess.tonic.pitch_class, guess.mode) == (key.tonic.pitch_class, key.mode)
            theirs += (other.tonic.pitchClass, other.mode) == (key.tonic.pitch_class, key.mode)
            tunes += 1
    print(f"{tunes} tunes: key as written for {ours}, without the last note's say for {theirs}")
    assert tunes >= 20
    assert ours >= theirs


def test_the_tonic_alone_would_be_a_poorer_guess() -> None:
    """The yardstick itself: one chord all the way through agrees with itself and with nothing else."""
    home = parse_roman("I", parse_key("C"))
    guess = [TimedChord(Fraction(0), Fraction(4), home)]
    assert agreement(guess, [(Fraction(0), Fraction(4), 0)], 0) == Agreement(Fraction(4), Fraction(4), Fraction(4))
    assert agreement(guess, [(Fraction(0), Fraction(4), 7)], 0) == Agreement(Fraction(0), Fraction(0), Fraction(4))
