"""What strokes are together that a hand plays one after the other: their waits, a roll, a tone with its ornament."""

from __future__ import annotations

from dataclasses import replace
from itertools import pairwise
from operator import attrgetter
from typing import Final

from listener.hearing.events import NoteOn, Stroke

#: Strings that come so soon after the others are part of the same slow strum (our choice).
SAME_STRUM_S: Final = 0.150
#: Strings that follow each other so fast are a roll; who tries a grip string by string is slower (our choice).
_ROLLS_S: Final = 0.250
#: A foreign string goes with the chord before it when it comes no later than this many of its widest gap (our choice).
IN_RHYTHM: Final = 1.5
#: A note that gives way so soon to one a step higher or lower on its string is an ornament of that (our choice).
ORNAMENT_S: Final = 0.180
#: So many frets at most, there and where a finger is mended.
STEP: Final = 2
_TIME: Final = attrgetter("time_s")


def without_graces(stroke: Stroke) -> Stroke:
    """The stroke with tones hammered on or pulled off in it as what they arrive at."""
    for grace in stroke.gone:
        note = next((one for one in stroke.struck if _arrives(grace, one)), None)
        if note is not None:
            meant = note._replace(time_s=grace.time_s)
            struck = (meant if one == note else one for one in stroke.struck if one != grace)
            gone = tuple(meant if one == note else one for one in stroke.gone if one != grace)
            return without_graces(replace(stroke, struck=tuple(sorted(struck, key=_TIME)), gone=gone))
    return stroke


def last_s(stroke: Stroke) -> float:
    """When its last string was plucked, in seconds."""
    return stroke.struck[-1].time_s


def wait_s(before: Stroke, stroke: Stroke) -> float:
    """From the last string of the one to the first of the other, in seconds."""
    return stroke.onset_s - last_s(before)


def waits_of(stroke: Stroke) -> list[float]:
    """From note to note, in seconds."""
    return [two.time_s - one.time_s for one, two in pairwise(stroke.struck)]


def is_roll(stroke: Stroke) -> bool:
    """Several strings, fast enough for one movement of the hand."""
    waits = waits_of(stroke)
    return bool(waits) and max(waits) < IN_RHYTHM * _ROLLS_S and sum(waits) < len(waits) * _ROLLS_S


def roll_goes_on(before: Stroke, stroke: Stroke) -> bool:
    """Whether this is one string more of a roll."""
    return len(stroke.struck) == 1 and is_roll(joined_with(before, stroke))


def may_come_next(before: Stroke, pitch: int) -> bool:
    """Whether a hand that goes over the strings may come to this one next: down from the highest, or from the bass to
    any above it, a roll always upwards. A tune above a chord that is not rolled is none of its strings."""
    played = [note.pitch for note in before.struck]
    if pitch >= max(played) and not is_roll(before):
        return False
    if len(played) > 1 and max(played) == played[0]:
        return pitch < min(played)
    if min(played) == played[0] and pitch < played[0]:
        return False
    return not (is_roll(before) and played == sorted(played)) or pitch > played[-1]


def stopped_before(before: Stroke, stroke: Stroke) -> bool:
    """Whether the player stopped in between: longer than from string to string."""
    waits = waits_of(before)
    return bool(waits) and wait_s(before, stroke) > max(IN_RHYTHM * max(waits), SAME_STRUM_S)


def rest_of(before: Stroke, stroke: Stroke) -> Stroke:
    """What was struck before and still rang when this began."""
    rings = {*stroke.rang, *stroke.held_pitches}
    return replace(before, struck=tuple(note for note in before.struck if note.pitch in rings))


def joined_with(before: Stroke, stroke: Stroke) -> Stroke:
    """Both as one; what rang on is what rang when it began."""
    return replace(stroke, struck=(*before.struck, *stroke.struck), held=before.held)


def without_held(stroke: Stroke, before: Stroke) -> Stroke:
    """The stroke, as if what was struck in the one before had not rung on."""
    struck = set(before.struck_pitches)
    return replace(stroke, held=tuple(note for note in stroke.held if note.pitch not in struck))


def rung_on(stroke: Stroke, tones: frozenset[int]) -> Stroke:
    """A broken chord without its first notes that the chord before has too (``tones``): they may as well be the last of
    that one, picked on, and have rung on."""
    first = next((place for place, note in enumerate(stroke.struck) if note.pitch not in tones), 0)
    return replace(stroke, struck=stroke.struck[first:], held=(*stroke.held, *stroke.struck[:first]))


def in_time_of(before: Stroke, stroke: Stroke) -> Stroke:
    """Timing is that of the stroke that was most of the chord, not of a mended finger."""
    if len(stroke.struck) > len(before.struck):
        return stroke
    return replace(stroke, struck=(stroke.struck[0]._replace(time_s=before.onset_s), *stroke.struck[1:]))


def ornamented(before: Stroke, stroke: Stroke) -> Stroke | None:
    """``before`` as it was meant, where one of its notes gave way to the single note of ``stroke`` a step beside it."""
    if len(stroke.struck) != 1:
        return None
    note = stroke.struck[0]
    grace = next((one for one in before.struck if _arrives(one, note) and not _rings(one, stroke)), None)
    if grace is None:
        return None
    meant = note._replace(time_s=grace.time_s)
    return replace(before, struck=tuple(meant if one == grace else one for one in before.struck))


def _rings(note: NoteOn, stroke: Stroke) -> bool:
    return any((held.pitch, held.string) == (note.pitch, note.string) for held in stroke.held)


def _arrives(grace: NoteOn, note: NoteOn) -> bool:
    near = 0 < abs(note.pitch - grace.pitch) <= STEP and 0 < note.time_s - grace.time_s < ORNAMENT_S
    return near and note.string == grace.string
