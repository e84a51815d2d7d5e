"""The short way for plain notes: what a file has by the million.

Nearly all notes of a file are plain: nothing is bent, no pedal is down, nothing rings where they begin, they are not
soft, and nothing came so shortly before them that it could be an error. None of the rules of
:mod:`~listener.hearing.notes`, :mod:`~listener.hearing.cleaning` and :mod:`~listener.hearing.gathering` has anything to
say about such a note but that it begins and ends. So here it is only asked whether a note is plain, which needs to
know the insides of the three. What then happens is written where it is written for every note, and whatever is not
plain takes the long way, :meth:`listener.hearing.ears.Ears.feed`. That both ways give the same strokes is tested with
messages of all kinds.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable
from math import inf

from listener.hearing.cleaning import Cleaner
from listener.hearing.events import TICK_US, Message, Stroke, new_message, new_note
from listener.hearing.gathering import RETRIGGER, Gatherer
from listener.hearing.notes import NoteTracker


def hear_plainly(
    tracker: NoteTracker,
    cleaner: Cleaner,
    gatherer: Gatherer,
    messages: Iterable[tuple[int, tuple[int, ...]]],
    long_way: Callable[[Message], list[Stroke]],
) -> list[Stroke]:
    """The strokes that these channel messages close. ``messages`` are whole, each with its tick on the take's grid, in
    order of time; ``gatherer`` has no target and no patience. ``long_way`` hears one message."""
    channels, loose, pedalled = tracker._channels, tracker._loose, tracker._pedalled
    ended, believe, pass_end = cleaner._ended, cleaner._believe, cleaner._pass_end
    onsets, join, let_go, deadline = gatherer._onsets, gatherer._join, gatherer._let_go, gatherer._deadline
    loud = max(tracker._floor, cleaner._loud)
    apart = max(cleaner._retrigger, RETRIGGER)
    found: list[Stroke] = []
    for tick, data in messages:
        # While nothing is about to become known by the passing of time, but the end of a stroke.
        if tick < cleaner._due and tracker._next_s == inf and data[0] < 0xA0:
            stroke = gatherer._open
            if stroke is not None and tick >= gatherer._due:
                found += gatherer._until(tick)
                stroke = gatherer._open
            status, note, velocity = data
            channel = channels[status & 0x0F]
            string, voices = channel.string, channel.voices
            if status >= 0x90 and velocity:
                place = note if string is None else -string
                shift = channel.shift
                before, onset = ended.get(place), onsets.get(place)
                if (
                    velocity >= loud
                    and not (loose[note] if string is None else voices)
                    and not (shift.semitones or shift.bent)
                    and (before is None or tick - before[1] >= apart)
                    and (onset is None or tick - onset[0] >= apart)
                    and tick > cleaner._short_until
                    and (stroke is None or (tick < gatherer._due and place not in stroke.struck))
                ):
                    time_s = tick * TICK_US / 1_000_000
                    shift.onset_s = time_s
                    channel.velocities[note] = velocity
                    voices[note] = note
                    if string is None:
                        loose[note] = 1
                    plain = new_note(time_s, note, velocity, string)
                    believe(place, plain, tick, tick)
                    gatherer._due = deadline(join(place, plain, tick))
                    continue
            elif note not in voices:
                continue
            elif not (channel.pedal or channel.waiting or (channel.manager and pedalled(channel))):
                pitch = voices.pop(note)
                if string is None:
                    loose[pitch] -= 1
                    if loose[pitch]:
                        continue
                    place = pitch
                else:
                    place = -string
                if pass_end(place, pitch, tick):
                    let_go(place, pitch, tick)
                gatherer.certain_tick = cleaner.certain_tick
                continue
        found += long_way(new_message(tick * TICK_US / 1_000_000, data))
    return found
