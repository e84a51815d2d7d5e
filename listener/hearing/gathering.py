"""From notes to strokes: which notes were played as one chord.

A stroke opens with its first onset and closes when no further onset has come for ``window_s`` (see
:func:`window_for`), or after :data:`LONGEST_S`, or at once when one of its strings is plucked again. The same string
plucked again within :data:`RETRIGGER_S` is the pickup correcting itself: the note keeps its onset and takes the newer
pitch. Where strings are not told apart, a pitch stands for its string.

With a target (:meth:`Gatherer.expect`) a stroke is given out, unsettled, at the very onset that fulfils it. When
every tone of the target was plucked and nothing else, it closes ``settle_s`` after that, or :data:`PATIENCE` times the
widest gap between its onsets if that is longer (a slow strum's next string comes later), unless another string comes.
When held tones complete it, they may still be about to be plucked again, so its window runs to the end.

Every decision depends on the times of the notes alone, counted in ticks of the grid, so that neither rounding nor the
hour changes it. :meth:`Gatherer.tick` only makes known earlier what the next note would have made known, so a replay
gives the same strokes as the live take, however often either ticks. One thing is the caller's: where a settled stroke
changes what is expected next, call ``tick(event.time_s)`` and act on what it returns before ``feed(event)``, in live
and replay alike.

With ``patience_s`` a stroke whose plucked notes are all wanted, but not all that is wanted, waits that long for a tone
that it lacks; any other onset after the window opens the next stroke as usual. And a stroke that was the target once
waits ``settle_s`` for a string that spoils it, though the window be shorter.

The pickup's typical errors are set right before (:mod:`listener.hearing.cleaning`). A note that was in doubt comes
late, with its own onset, and takes its place in the open stroke; until it is certain (:attr:`Gatherer.certain_tick`) no
stroke is settled by the passing of time.
"""

from __future__ import annotations

from dataclasses import replace
from math import inf
from typing import Final

from listener.hearing.events import (
    TICK_US,
    NoteEvent,
    NoteOff,
    NoteOn,
    Place,
    Stroke,
    new_stroke,
    on_grid,
    place_of,
    ticks,
)
from listener.hearing.open_stroke import ONSET, OpenStroke
from listener.hearing.pickup import Pickup
from listener.music.pitch import frequency_hz

#: A string plucked again sooner than this is a double trigger (our choice: pickups retrigger up to about 60 ms late).
RETRIGGER_S: Final = 0.060
#: No stroke is longer than this, first onset to closing.
LONGEST_S: Final = 0.300
#: A tone of the target that ended less than this before the stroke still counts as held: pickups drop notes early.
JUST_ENDED_S: Final = 0.050
#: How much longer than its widest gap so far a strum may let wait for the next string (our choice).
PATIENCE: Final = 1.5
#: Window at the player's own pace.
OWN_PACE_S: Final = 0.070

RETRIGGER: Final = ticks(RETRIGGER_S)
_LONGEST: Final = ticks(LONGEST_S)
_JUST_ENDED: Final = ticks(JUST_ENDED_S)
#: Notes that end so near each other in time were damped by one hand (notes of a plucked chord are let go over 57 ms,
#: the median of 48 in one take of GuitarSet, seldom over more than 200).
_TOGETHER: Final = ticks(0.200)


def window_for(beat_s: float | None) -> float:
    """How long, in seconds, a stroke waits for a further onset. ``beat_s`` is the time between neighbouring chords
    that the click leads to expect (a beat, or the shortest step where steps are shorter); None at own pace.

    The least that must fit, if the highest string is plucked first and all add up: the low E of a guitar is known
    18.2 ms after the high E (two periods each: 24.27 - 6.07 ms), six note-ons on a 31,250-baud wire spread 4.8 ms, and
    people spread a plucked chord by 21.1 ms (90th percentile of 48 chords in one take of GuitarSet, Xi et al., ISMIR
    2018, CC BY 4.0): 44 ms. The next chord came 68 ms after the last at the soonest in that take. Strums are wider, so
    the window is generous, 70 ms, and with a click half the step between 40 and 80 ms (our choice).

    >>> window_for(None), window_for(0.5), round(window_for(0.12), 3), window_for(0.05)
    (0.07, 0.08, 0.06, 0.04)
    """
    if beat_s is None:
        return OWN_PACE_S
    return min(0.080, max(0.040, 0.5 * beat_s))


class Gatherer:
    """Feed it notes in order of time; see the module's text for the rules."""

    def __init__(self, window_s: float, settle_s: float = 0.03, patience_s: float = 0.0) -> None:
        self._window = ticks(window_s)
        #: No stroke is settled by the passing of time before this tick: a note of it may still be in doubt.
        self.certain_tick = 0
        self._settle = ticks(settle_s)
        self._patience = ticks(patience_s)
        self._target: frozenset[int] | None = None
        self._open: OpenStroke | None = None
        #: When silence closes it; no matter while there is none.
        self._due = 0
        self._ringing: dict[Place, NoteOn] = {}
        #: Tones that counted as held though they had just ended.
        self.died_early = 0
        #: Notes that are over, with the tick of their end.
        self._ended: dict[Place, tuple[NoteOn, int]] = {}
        #: The newest onset of each place that was no double trigger, in ticks and in seconds.
        self._onsets: dict[Place, tuple[int, float]] = {}
        self._waiting: list[Stroke] = []

    @property
    def window_s(self) -> float:
        """How long a stroke waits for a further onset; may be changed between strokes."""
        return _seconds(self._window)

    @window_s.setter
    def window_s(self, window_s: float) -> None:
        self._window = ticks(window_s)

    @property
    def opened_s(self) -> float | None:
        """When the stroke that is being gathered began; None between strokes."""
        return _seconds(self._open.opened) if self._open is not None else None

    @property
    def sounding(self) -> tuple[int, ...]:
        """Pitches that ring now, low to high."""
        return tuple(sorted({note.pitch for note in self._ringing.values()}))

    def expect(self, target: tuple[int, ...] | None) -> None:
        """From now on a stroke is given out at once when it is these MIDI notes; None expects nothing.

        A stroke that is open already is weighed anew; if it fulfils the target, the next call gives it out.
        """
        wanted = frozenset(target) if target else None
        if wanted == self._target:
            return
        self._target = wanted
        stroke = self._open
        if stroke is not None:
            stroke.fulfilled, stroke.was_fulfilled, stroke.announced = None, False, False
            stroke.clean = False
            self._waiting = self._weigh(stroke, stroke.last)
            self._due = self._deadline(stroke)

    def feed(self, event: NoteEvent) -> list[Stroke]:
        """The strokes that had closed before this note and those that it closes or fulfils."""
        now = round(event.time_s * 1_000_000 / TICK_US)
        stroke = self._open
        strokes: list[Stroke] = []
        if stroke is not None and (now >= self._due or self._waiting):
            strokes = self._until(now)
            stroke = self._open
        if isinstance(event, NoteOff):
            self._let_go(event.pitch if event.string is None else -event.string, event.pitch, now)
            return strokes
        if stroke is not None:
            last_call = self._last_call(stroke, event) if self._patience else self._due
            if now >= last_call:
                strokes.append(self._close(stroke, last_call))
        self._begin(event, now, strokes)
        if self._open is not None:
            self._due = self._deadline(self._open)
        return strokes

    def tick(self, now_s: float) -> list[Stroke]:
        """The strokes that have closed by now. Never needed for correctness, only to be told in time."""
        if self._open is None:
            return []
        now = inf if now_s == inf else round(now_s * 1_000_000 / TICK_US)
        return self._until(now) if now >= self._due or self._waiting else []

    def _until(self, now: float) -> list[Stroke]:
        strokes, self._waiting = self._waiting, []
        stroke = self._open
        if stroke is not None and self._due <= now and self.certain_tick <= now:
            certain = self.certain_tick
            strokes.append(self._close(stroke, certain if certain > self._due else self._due))
        return strokes

    def flush(self) -> list[Stroke]:
        """No note will come any more: what silence for ever would give."""
        return self.tick(inf)

    def _begin(self, note: NoteOn, now: int, strokes: list[Stroke]) -> None:
        place = note.pitch if note.string is None else -note.string
        if note.instead_of is not None:
            self._put_in_place(note.instead_of, place)
        before = self._onsets.get(place)
        if before is not None and now - before[0] < RETRIGGER:
            strokes += self._correct(place, note, before[1], now)
            return
        stroke = self._open
        if stroke is not None and place in stroke.struck:
            strokes.append(self._close(stroke, now))
        stroke = self._join(place, note, now)
        if self._target is not None:
            strokes += self._weigh(stroke, stroke.last if note.sure_s is None else ticks(note.sure_s))

    def _join(self, place: Place, note: NoteOn, now: int) -> OpenStroke:
        """The note is one more of the stroke, or opens one."""
        self._onsets[place] = (now, note.time_s)
        self._ringing[place] = note
        stroke = self._open
        if stroke is None:
            stroke = self._open = OpenStroke(now, now, {place: note})
        else:
            stroke.join(place, note, now)
        return stroke

    def _put_in_place(self, mistaken: Place, place: Place) -> None:
        """What was taken for another pitch is this note: its onset, and its place in the stroke."""
        if mistaken in self._onsets:
            self._onsets[place] = self._onsets.pop(mistaken)
        self._ended.pop(mistaken, None)
        if self._open is not None:
            self._open.put_in_place(mistaken, place)

    def _correct(self, place: Place, note: NoteOn, onset_s: float, now: int) -> list[Stroke]:
        """A double trigger: the earlier note with the newer pitch. One that comes after its stroke only rings."""
        stroke = self._open
        earlier = stroke.struck.get(place) if stroke is not None else None
        loudest = max(note.velocity, earlier.velocity if earlier is not None else 0)
        corrected = replace(note, time_s=onset_s, velocity=loudest)
        self._ringing[place] = corrected
        if stroke is None or earlier is None:
            return []
        stroke.struck[place] = corrected
        return self._weigh(stroke, now)

    def _let_go(self, place: Place, pitch: int, now: int) -> None:
        """The end of a note, if it is the one that rings there."""
        note = self._ringing.get(place)
        if note is not None and note.pitch == pitch:
            del self._ringing[place]
            self._ended[place] = (note, now)

    def _weigh(self, stroke: OpenStroke, now: int) -> list[Stroke]:
        """Whether the stroke is the target now; if so for the first time, give it out unsettled."""
        if self._target is None:
            return []
        struck = {note.pitch for note in stroke.struck.values()}
        clean = stroke.clean = struck <= self._target
        if clean and struck == self._target:
            if not stroke.was_fulfilled:
                stroke.fulfilled, stroke.was_fulfilled = now, True
        else:
            stroke.fulfilled = None
        if not clean or stroke.announced:
            return []
        held = self._held(stroke)
        if not self._target <= struck | {note.pitch for note in held}:
            return []
        stroke.announced = True
        return [Stroke(stroke.notes(), held, settled=False, closed_s=_seconds(now))]

    def _held(self, stroke: OpenStroke) -> tuple[NoteOn, ...]:
        """What rang before the stroke and still does, or is a tone of the target that has only just ended."""
        struck = stroke.struck
        held = [note for place, note in self._ringing.items() if place not in struck]
        if self._target:
            for place, (note, ended) in self._ended.items():
                recent = ended > stroke.opened - _JUST_ENDED and self._alone(place, ended)
                if recent and note.pitch in self._target and place not in self._ringing and place not in struck:
                    held.append(note)
        if len(held) > 1:
            held.sort(key=lambda note: (note.time_s, note.pitch, note.string or 0))
        return tuple(held)

    def _alone(self, place: Place, ended: int) -> bool:
        """No other note ended about then: a hand that damps strings damps several, a pickup drops one."""
        return not any(abs(end - ended) < _TOGETHER for other, (_, end) in self._ended.items() if other != place)

    def _last_call(self, stroke: OpenStroke, note: NoteOn) -> int:
        """Until when this note would be the stroke's: a tone that it does not lack is not waited for so long."""
        deadline = self._due
        if not self._lacking(stroke):
            return deadline
        sounding = {struck.pitch for struck in stroke.struck.values()}
        wanted = (
            note.pitch in (self._target or ()) and note.pitch not in sounding and place_of(note) not in stroke.struck
        )
        return deadline if wanted else min(deadline, stroke.last + self._window)

    def _lacking(self, stroke: OpenStroke) -> bool:
        """Everything plucked is wanted, but not everything wanted was plucked or sounds."""
        return bool(self._patience and self._target) and stroke.clean and not stroke.announced

    def _deadline(self, stroke: OpenStroke) -> int:
        window = self._window
        if self._patience:
            if self._lacking(stroke):
                window = max(window, self._patience)
            elif stroke.announced:
                window = max(window, self._settle)
        silence, longest = stroke.last + window, stroke.opened + _LONGEST
        deadline = silence if silence < longest else longest
        if stroke.fulfilled is not None:
            patience = max(self._settle, round(PATIENCE * stroke.widest_gap))
            deadline = min(deadline, stroke.fulfilled + patience)
        return deadline

    def _close(self, stroke: OpenStroke, closed: int) -> Stroke:
        self._open = None
        held = self._held(stroke)
        if held and self._target:
            self.died_early += sum(place_of(note) not in self._ringing for note in held)
        return new_stroke(stroke.notes(), held, True, _seconds(closed))


def as_plucked(stroke: Stroke, pickup: Pickup) -> Stroke:
    """The stroke with its onsets moved from when the notes arrived to when the strings were plucked.

    A converter knows a low note later than a high one; the profile says by how much (``delay_periods``, ``lag_ms``).
    Six strings plucked at once have a spread of 0 then. A note that was slid to begins when its pitch arrived.
    """
    slid = any(note.arrived_s is not None for note in stroke.struck)
    if not pickup.delay_periods and not pickup.lag_ms and not slid:
        return stroke
    moved = [
        replace(note, time_s=max(0.0, on_grid(_arrived_s(note) - pickup.delay_s(frequency_hz(note.pitch)))))
        for note in stroke.struck
    ]
    return replace(stroke, struck=tuple(sorted(moved, key=ONSET)))


def _arrived_s(note: NoteOn) -> float:
    return note.time_s if note.arrived_s is None else min(note.time_s, note.arrived_s)


def _seconds(tick: int) -> float:
    return tick * TICK_US / 1_000_000
