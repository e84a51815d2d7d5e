"""From notes to strokes: which notes were played as one chord.

A stroke opens with its first onset and closes when no further onset has come for ``window_s`` (see
:func:`window_for`), or after :data:`LONGEST_S`, or at once when one of its strings is plucked again. The same string
plucked again within :data:`RETRIGGER_S` is the pickup correcting itself: the note keeps its onset and takes the newer
pitch. Where strings are not told apart, a pitch stands for its string. Nothing is expected here: whose chord a stroke
is, and whether it is right, is the judge's to say, who may watch it grow.

Every decision depends on the times of the notes alone, counted in ticks of the grid, so that neither rounding nor the
hour changes it. :meth:`Gatherer.tick` only makes known earlier what the next note would have made known, so a replay
gives the same strokes as the live take, however often either ticks.

The pickup's typical errors are set right before (:mod:`listener.hearing.cleaning`). A note that was in doubt comes
late, with its own onset, and takes its place in the open stroke; until it is certain (:attr:`Gatherer.certain_tick`) no
stroke is settled by the passing of time.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass
from math import inf
from operator import attrgetter
from typing import Final

from listener.hearing.events import NoteEvent, NoteOff, NoteOn, Place, Stroke, place_of, seconds, ticks
from listener.hearing.rings import Rings

#: A string plucked again sooner than this is a double trigger (our choice: pickups retrigger up to about 60 ms late).
RETRIGGER_S: Final = 0.060
#: No stroke is longer than this, first onset to closing.
LONGEST_S: Final = 0.300
#: Window at the player's own pace.
OWN_PACE_S: Final = 0.070

_RETRIGGER: Final = ticks(RETRIGGER_S)
_LONGEST: Final = ticks(LONGEST_S)
_ONSET: Final = attrgetter("time_s")


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


@dataclass(slots=True)
class _OpenStroke:
    """The stroke that is being gathered: ticks of its first and last onset, when silence closes it, and its notes, in
    the order in which they became known; ``in_order`` when that is the order of their onsets."""

    opened: int
    last: int
    due: int
    struck: dict[Place, NoteOn]
    rang: tuple[int, ...]
    in_order: bool = True

    def notes(self) -> tuple[NoteOn, ...]:
        """By onset."""
        notes = self.struck.values()
        return tuple(notes) if self.in_order else tuple(sorted(notes, key=_ONSET))


class Gatherer:
    """Feed it notes in order of time; see the module's text for the rules.

    ``as_they_grow``: whenever a note joins the open stroke, or is corrected in it, the stroke as it stands is given out
    too, not settled. ``rings`` is told how long each note rings, where somebody wants to know.
    """

    def __init__(self, window_s: float, *, as_they_grow: bool = False, rings: Rings | None = None) -> None:
        self._window = ticks(window_s)
        self._as_they_grow = as_they_grow
        self._rings = rings
        #: No stroke is settled by the passing of time before this tick: a note of it may still be in doubt.
        self.certain_tick = 0
        self._open: _OpenStroke | None = None
        self._ringing: dict[Place, NoteOn] = {}
        #: The newest onset of each place that was no double trigger, in ticks and in seconds.
        self._onsets: dict[Place, tuple[int, float]] = {}

    @property
    def window_s(self) -> float:
        """How long a stroke waits for a further onset; may be changed between strokes."""
        return seconds(self._window)

    @window_s.setter
    def window_s(self, window_s: float) -> None:
        self._window = ticks(window_s)

    @property
    def since_s(self) -> float:
        """When the first note of the stroke that is being gathered began, or the pitch of one that was slid to arrived;
        infinity between strokes."""
        stroke = self._open
        return inf if stroke is None else min(note.began_s for note in stroke.struck.values())

    @property
    def sounding(self) -> tuple[int, ...]:
        """Pitches that ring now, low to high."""
        return tuple(sorted({note.pitch for note in self._ringing.values()}))

    def feed(self, event: NoteEvent) -> list[Stroke]:
        """The strokes that had closed before this note, those that it closes, and the one that it makes grow."""
        now = ticks(event.time_s)
        stroke = self._open
        strokes = self._until(now) if stroke is not None and now >= stroke.due else []
        place = place_of(event)
        if isinstance(event, NoteOff):
            self._let_go(place, event)
            return strokes
        stroke = self._open
        if stroke is not None and now >= stroke.due:
            strokes.append(self._close(stroke, stroke.due))
        self._begin(place, event, now, strokes)
        return strokes

    def tick(self, now_s: float) -> list[Stroke]:
        """The strokes that have closed by now. Never needed for correctness, only to be told in time."""
        if self._open is None:
            return []
        return self._until(inf if now_s == inf else ticks(now_s))

    def _until(self, now: float) -> list[Stroke]:
        stroke, certain = self._open, self.certain_tick
        if stroke is None or stroke.due > now or certain > now:
            return []
        return [self._close(stroke, certain if certain > stroke.due else stroke.due)]

    def flush(self) -> list[Stroke]:
        """No note will come any more: what silence for ever would give."""
        return self.tick(inf)

    def _begin(self, place: Place, note: NoteOn, now: int, strokes: list[Stroke]) -> None:
        if note.instead_of is not None:
            self._put_in_place(note.instead_of, place)
        before = self._onsets.get(place)
        if before is not None and now - before[0] < _RETRIGGER:
            grown = self._correct(place, note, before[1])
        else:
            stroke = self._open
            if stroke is not None and place in stroke.struck:
                strokes.append(self._close(stroke, now))
            grown = self._join(place, note, now)
        if grown is not None and self._as_they_grow:
            known = now if note.sure_s is None else ticks(note.sure_s)
            strokes.append(self._stroke(grown, False, known))

    def _join(self, place: Place, note: NoteOn, now: int) -> _OpenStroke:
        """The note is one more of the stroke, or opens one."""
        self._onsets[place] = (now, note.time_s)
        stroke = self._open
        rang = self._ringing.items() if stroke is None else ()
        pitches = tuple(sorted(one.pitch for other, one in rang if other != place))
        self._ringing[place] = note
        if self._rings is not None:
            self._rings.begin(place, note)
        if stroke is None:
            stroke = self._open = _OpenStroke(now, now, 0, {place: note}, pitches)
        else:
            stroke.struck[place] = note
            if now < stroke.last:  # it had been in doubt
                stroke.opened, stroke.in_order = min(stroke.opened, now), False
            else:
                stroke.last = now
        silence, longest = stroke.last + self._window, stroke.opened + _LONGEST
        stroke.due = silence if silence < longest else longest
        return stroke

    def _put_in_place(self, mistaken: Place, place: Place) -> None:
        """What was taken for another pitch is this note: its onset, and its place in the stroke."""
        if mistaken in self._onsets:
            self._onsets[place] = self._onsets.pop(mistaken)
        stroke = self._open
        if stroke is not None and mistaken in stroke.struck:
            stroke.struck.setdefault(place, stroke.struck.pop(mistaken))
            stroke.in_order = False

    def _correct(self, place: Place, note: NoteOn, onset_s: float) -> _OpenStroke | None:
        """A double trigger: the earlier note with the newer pitch; the stroke that it is in. One that comes after its
        stroke only rings."""
        stroke = self._open
        earlier = stroke.struck.get(place) if stroke is not None else None
        loudest = max(note.velocity, earlier.velocity if earlier is not None else 0)
        corrected = note._replace(time_s=onset_s, velocity=loudest)
        self._ringing[place] = corrected
        if self._rings is not None:
            self._rings.correct(place, corrected, note.instead_of)
        if stroke is None or earlier is None:
            return None
        stroke.struck[place] = corrected
        return stroke

    def _let_go(self, place: Place, end: NoteOff) -> None:
        """The end of a note, if it is the one that rings there."""
        note = self._ringing.get(place)
        if note is not None and note.pitch == end.pitch:
            del self._ringing[place]
            if self._rings is not None:
                self._rings.end(place, end.time_s)

    def _close(self, stroke: _OpenStroke, closed: int) -> Stroke:
        self._open = None
        return self._stroke(stroke, True, closed)

    def _stroke(self, stroke: _OpenStroke, settled: bool, now: int) -> Stroke:
        struck = stroke.struck
        held = _in_order(note for place, note in self._ringing.items() if place not in struck)
        gone = tuple(note for place, note in struck.items() if self._ringing.get(place) is not note)
        return Stroke(stroke.notes(), held, settled, seconds(now), gone, stroke.rang)


def _in_order(notes: Iterable[NoteOn]) -> tuple[NoteOn, ...]:
    return tuple(sorted(notes, key=lambda note: (note.time_s, note.pitch, note.string or 0)))
