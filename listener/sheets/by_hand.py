"""A plan as a guitarist would let somebody hear it, string by string, in seconds.

Patterns are played as they stand (:mod:`listener.sheets.played`). A chord without one is struck from the lowest string
up, quickly, or note by note where the drill asks for that; what is held is plucked again softly, and where only the top
note is new the others ring on.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from dataclasses import replace
from fractions import Fraction
from typing import Final

from listener.music.pattern import exact
from listener.planning.plan import Plan, PlannedStep
from listener.sheets.played import STRING_S, VELOCITY, Sounding, by_pattern
from listener.sounding.string_sound import StringSound, stopped

#: How loud what is held is plucked again (MIDI velocity; our choice).
_HELD_VELOCITY: Final = 56
#: The most of a chord's time that the way from its first string to its last takes (our choice).
_MOST_OF_CHORD: Final = Fraction(1, 4)


def by_hand(plan: Plan, tempo: float) -> tuple[StringSound, ...]:
    """Every note of a plan at this tempo (beats a minute), in order, from its first chord on; no string has two."""
    if not plan.steps:
        return ()
    beats_a_second = Fraction(tempo).limit_denominator(1000) / 60
    first = exact(plan.steps[0].step.start_beats)
    return stopped(
        StringSound(
            one.string,
            one.pitch,
            float((one.start_beats - first) / beats_a_second),
            float((one.end_beats - first) / beats_a_second),
            one.velocity,
        )
        for one in _struck(plan, beats_a_second)
    )


def _struck(plan: Plan, beats_a_second: Fraction) -> Iterator[Sounding]:
    ringing: dict[tuple[int, int], Sounding] = {}
    for planned in plan.steps:
        if planned.step.pattern is not None:
            yield from ringing.values()
            ringing = {}
            yield from by_pattern(planned, planned.step.pattern, beats_a_second)
            continue
        chord = {(one.string, one.pitch): one for one in _chord(planned, plan.drill.arpeggio, beats_a_second)}
        kept = _rung_on(ringing, planned) if planned.step.under else {}
        yield from (one for place, one in ringing.items() if place not in kept)
        ringing = chord | kept
    yield from ringing.values()


def _rung_on(ringing: Mapping[tuple[int, int], Sounding], planned: PlannedStep) -> dict[tuple[int, int], Sounding]:
    """What still sounds of the chord before and belongs to this one, to the end of this one."""
    start = exact(planned.step.start_beats)
    end = start + exact(planned.step.length_beats)
    places = zip(planned.fingering.strings, planned.fingering.pitches, strict=True)
    return {
        place: replace(ringing[place], end_beats=end)
        for place in places
        if place in ringing and ringing[place].end_beats == start
    }


def _chord(planned: PlannedStep, one_by_one: bool, beats_a_second: Fraction) -> Iterator[Sounding]:
    """A chord without a pattern, all strings."""
    step, fingering = planned.step, planned.fingering
    start, length = exact(step.start_beats), exact(step.length_beats)
    places = sorted(zip(fingering.strings, fingering.pitches, strict=True), reverse=True)
    share = length / max(1, len(places))
    gap = share if one_by_one else min(STRING_S * beats_a_second, _MOST_OF_CHORD * share)
    for number, (string, pitch) in enumerate(places):
        velocity = _HELD_VELOCITY if pitch in step.hold else VELOCITY
        yield Sounding(string, pitch, start + number * gap, start + length, velocity)
