"""How often the harmony of free playing is what somebody else wrote over the music."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Any

import mir_eval
import numpy as np

from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.judging.free.free import FreeJudge
from listener.music.chord import Chord, parse_chord

_WRITTEN = replace(make_pickup("single"), delay_periods=0.0, lag_ms=0.0)
#: Start in seconds and chord; it lasts until the next.
Line = Sequence[tuple[float, Chord | None]]
#: Start and end in seconds, and the chord as Harte writes it.
Labels = Sequence[tuple[float, float, str]]
NO_CHORD = "N"


def heard(messages: Sequence[Message], hindsight_s: float) -> tuple[Line, Line]:
    """The harmony, and every stroke's own name, which stands until the next."""
    judge = FreeJudge(_WRITTEN, hindsight_s=hindsight_s)
    for message in messages:
        judge.feed(message)
    strokes = [(one.onset_s, parse_chord(one.chord) if one.chord else None) for one in judge.finish()]
    return [(one.onset_s, one.chord) for one in judge.harmony], strokes


def label(chord: Chord | None) -> str:
    """In Harte's syntax, with the tones spelled out."""
    if chord is None:
        return NO_CHORD
    return f"{chord.root}:({','.join(degree for degree in chord.quality.degrees)})"


def scores(line: Line, labels: Labels) -> np.ndarray[Any, np.dtype[np.float64]]:
    """Seconds with the root, with root and third, and all of them in which there is a chord.

    Scores are those of mir_eval.chord (C. Raffel and others, ISMIR 2014).
    """
    first_s, end_s = labels[0][0], labels[-1][1]
    starts = [start_s for start_s, _ in line]
    held = [(start, min(end, end_s)) for start, end in zip(starts, [*starts[1:], end_s], strict=True) if start < end_s]
    intervals, ours = mir_eval.util.adjust_intervals(
        np.array(held), [label(chord) for _, chord in line[: len(held)]], first_s, end_s, NO_CHORD, NO_CHORD
    )
    theirs = np.array([(start_s, end_s) for start_s, end_s, _ in labels])
    times, reference, estimated = mir_eval.util.merge_labeled_intervals(
        theirs, [written for _, _, written in labels], intervals, ours
    )
    lasts = mir_eval.util.intervals_to_durations(times) * [written != NO_CHORD for written in reference]
    root, third = mir_eval.chord.root(reference, estimated), mir_eval.chord.thirds(reference, estimated)
    return np.array([lasts[root > 0].sum(), lasts[third > 0].sum(), lasts.sum()])
