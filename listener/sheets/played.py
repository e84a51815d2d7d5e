"""What sounds of a plan from when to when, as its patterns play it: strums string by string, picks, accents, rests."""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from listener.music.pattern import UP, Pattern, exact
from listener.planning.plan import Plan, PlannedStep

#: How loud a note is, and how much louder with an accent (MIDI velocity; our choice).
VELOCITY: Final = 80
_ACCENT: Final = 22
#: From string to string of a strum, in seconds, and the most of a place that a whole strum takes (our choice: a quick
#: hand, so that the beat stays clear).
STRING_S: Final = Fraction(8, 1000)
_MOST_OF_PLACE: Final = Fraction(2, 5)


@dataclass(frozen=True, slots=True)
class Sounding:
    """One note on a string, in beats from the beginning of the drill."""

    string: int
    pitch: int
    start_beats: Fraction
    end_beats: Fraction
    velocity: int = VELOCITY


def sounding(plan: Plan, tempo: float) -> Iterator[Sounding]:
    """Every note of a plan at this tempo (beats a minute); a string may be struck again before its note ends."""
    for planned in plan.steps:
        if planned.step.pattern is not None:
            yield from by_pattern(planned, planned.step.pattern, Fraction(tempo).limit_denominator(1000) / 60)
            continue
        start = exact(planned.step.start_beats)
        end = start + exact(planned.step.length_beats)
        for string, pitch in zip(planned.fingering.strings, planned.fingering.pitches, strict=True):
            yield Sounding(string, pitch, start, end)


def by_pattern(planned: PlannedStep, pattern: Pattern, beats_a_second: Fraction) -> Iterator[Sounding]:
    """A chord as its pattern strikes it.

    Each string rings until it is struck again (which is left to the reader), stopped, or the chord is over.
    """
    step, fingering = planned.step, planned.fingering
    start = exact(step.start_beats)
    end = start + exact(step.length_beats)
    stops = [start + one.start_beats for one in step.placed if one.place.rests]
    for one in step.placed:
        begins = start + one.start_beats
        over = next((stop for stop in stops if stop > begins), end)
        ranks = pattern.voices(one.place, len(fingering.strings))
        ordered = sorted(ranks, key=lambda rank: fingering.strings[rank], reverse=one.place.strum != UP)
        gap = min(STRING_S * beats_a_second, _MOST_OF_PLACE * one.length_beats / max(1, len(ordered)))
        for number, rank in enumerate(ordered):
            delay = number * gap if one.place.strum else 0
            velocity = VELOCITY + _ACCENT * one.place.accent
            yield Sounding(fingering.strings[rank], fingering.pitches[rank], begins + delay, over, velocity)
