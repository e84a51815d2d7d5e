"""The harmony of free playing against what others wrote over the music.

Sources: the two lead sheets and the file of the Nottingham collection with chord symbols that come with music21 10.5.1
(BSD; the tunes are in the public domain), comped here in several ways (``tests/lab/people/comping.py``); chorales by
J. S. Bach with the Roman-numeral analyses of the same corpus (RomanText, by D. Tymoczko and others). Scored is for how
long the root is the same, and the root and the third (``tests/support/harmony_scores.py``).
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
import pytest
from harmony_scores import Labels, heard, label, scores
from how_many import THOROUGH
from lab.people.comping import WAYS, Written, comped
from lead_sheets import folder, with_symbols

from listener.following.harmony import FILE_S, LIVE_S
from listener.hearing.events import Message, on_grid
from listener.music.chord import Chord, parse_chord
from listener.tunes.melody_file import from_first_bar

SEEDS = (1, 2, 3) if THOROUGH else (1,)


@pytest.fixture(scope="module")
def sheets(music21: Any, tmp_path_factory: pytest.TempPathFactory) -> list[list[tuple[float, float, Chord]]]:
    """The chords of four lead sheets, in beats."""
    found = []
    for melody in with_symbols(music21, tmp_path_factory.mktemp("sheets")):
        chords = from_first_bar(melody).chords
        found.append([(float(start), float(start + length), chord) for start, length, chord in chords])
    return found


def labels(truth: Sequence[Written]) -> Labels:
    return [(one.start_s, one.end_s, label(one.chord)) for one in truth]


def changes(truth: Sequence[Written]) -> int:
    return 1 + sum(one.chord != other.chord for one, other in pairwise(truth))


@pytest.mark.parametrize("hindsight_s", [LIVE_S, FILE_S])
def test_lead_sheets_comped(sheets: list[list[tuple[float, float, Chord]]], hindsight_s: float) -> None:
    """Live and from a file: the root is right for 92 % of the time over all ways and 87 % in each, and names are as
    many as chords, or a seventh more or less."""
    total, own = np.zeros(3), np.zeros(3)
    names = chords = 0
    assert len(sheets) == 4
    for way in WAYS:
        here = np.zeros(3)
        for sheet in sheets:
            for seed in SEEDS:
                messages, truth = comped(sheet, way, seed)
                line, strokes = heard(messages, hindsight_s)
                here += scores(line, labels(truth))
                own += scores(strokes, labels(truth))
                names += len(line)
                chords += changes(truth)
        print(f"{way}: root {here[0] / here[2]:.1%}, root and third {here[1] / here[2]:.1%}")
        assert here[0] / here[2] >= 0.87, way
        total += here
    print(f"all: root {total[0] / total[2]:.1%}, root and third {total[1] / total[2]:.1%}, ", end="")
    print(f"{names / chords:.2f} names a chord; every stroke alone: root {own[0] / own[2]:.1%}")
    assert total[0] / total[2] >= 0.92
    assert total[1] / total[2] >= 0.90
    assert 0.85 <= names / chords <= 1.15
    assert total[0] > own[0]


def chorale(music21: Any, number: int) -> tuple[list[Message], list[Written]] | None:
    """A chorale at 60 quarters a minute, and its analysis as chords; None where the two differ in length."""
    analysis = music21.converter.parse(
        folder(music21) / "bach" / "choraleAnalyses" / f"riemenschneider{number:03d}.rntxt"
    )
    score = next(iter(music21.corpus.chorales.Iterator(number, number, numberingSystem="riemenschneider")))
    if abs(score.highestTime - analysis.highestTime) > 1:
        return None
    events = []
    for note in score.flatten().notes:
        start_s = 1.0 + float(note.offset)
        for pitch in note.pitches:
            events += [
                (start_s, 1, (0x90, pitch.midi, 80)),
                (start_s + float(note.quarterLength) * 0.95, 0, (0x80, pitch.midi, 0)),
            ]
    found = list(analysis.recurse().getElementsByClass("RomanNumeral"))
    starts = [1.0 + float(one.getOffsetInHierarchy(analysis)) for one in found]
    truth = []
    for start_s, end_s, one in zip(starts, [*starts[1:], 1.0 + float(score.highestTime)], found, strict=True):
        third = one.third
        minor = third is not None and (third.pitchClass - one.root().pitchClass) % 12 == 3
        if end_s > start_s:
            root = one.root().name.replace("-", "b")
            truth.append(Written(start_s, end_s, parse_chord(f"{root}{'m' if minor else ''}")))
    return [Message(on_grid(time_s), data) for time_s, _, data in sorted(events)], truth


@pytest.mark.slow
def test_chorales(music21: Any) -> None:
    """Four voices that change their chord on every beat, with passing notes: the harmony has the root that the analysis
    has for longer than the names of the strokes alone, and flickers less."""
    total, own = np.zeros(3), np.zeros(3)
    names = strokes = chords = pieces = 0
    for number in range(1, 21):
        found = chorale(music21, number)
        if found is None:
            continue
        messages, truth = found
        line, alone = heard(messages, FILE_S)
        total += scores(line, labels(truth))
        own += scores(alone, labels(truth))
        names, strokes, chords, pieces = names + len(line), strokes + len(alone), chords + changes(truth), pieces + 1
    print(f"{pieces} chorales: root {total[0] / total[2]:.1%}, with third {total[1] / total[2]:.1%}, ", end="")
    print(f"{names / chords:.2f} names a chord; every stroke alone: root {own[0] / own[2]:.1%}, ", end="")
    print(f"with third {own[1] / own[2]:.1%}, {strokes / chords:.2f} names")
    assert pieces >= 15
    assert total[0] > own[0]
    assert names < strokes
