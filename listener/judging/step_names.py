"""What the chords that were played are called, one after the other, in the harmony that they stand in."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from math import inf
from operator import attrgetter

from listener.drill.making.played import PlayedChord
from listener.judging.free.harmony import HarmonyChord
from listener.music.chord import Chord
from listener.music.naming import name_pitches


def symbols_of(steps: Sequence[PlayedChord], harmony: Sequence[HarmonyChord]) -> tuple[str | None, ...]:
    """A chord symbol for each step, in order; None where its notes have no name.

    Of several names the one is taken that has the root of the harmony; two tones of the chord that governs, which have
    no name of their own, are that chord. ``harmony`` is in order of time.
    """
    return tuple(_symbol(step, _governing(step, harmony)) for step in steps)


def _symbol(step: PlayedChord, governs: Chord | None) -> str | None:
    readings = name_pitches(step.pitches)
    if governs is not None:
        root = governs.root.pitch_class
        same = next((one for one in readings if one.chord.root.pitch_class == root), None)
        if same is not None:
            return same.chord.symbol
        if not readings and all(governs.degree_of(pitch) is not None for pitch in step.pitches):
            return Chord(governs.root, governs.quality).symbol
    return readings[0].chord.symbol if readings else None


def _governing(step: PlayedChord, harmony: Sequence[HarmonyChord]) -> Chord | None:
    """What governs for the longest part of a chord."""
    longest, found = 0.0, None
    number = max(0, bisect_right(harmony, step.onset_s, key=attrgetter("onset_s")) - 1)
    while number < len(harmony) and harmony[number].onset_s < step.end_s:
        end_s = harmony[number + 1].onset_s if number + 1 < len(harmony) else inf
        lasts = min(end_s, step.end_s) - max(harmony[number].onset_s, step.onset_s)
        if lasts > longest:
            longest, found = lasts, harmony[number].chord
        number += 1
    return found
