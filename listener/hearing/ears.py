"""Messages to strokes: notes, cleaning and gathering in one, for files, free listening and the judge alike."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

from listener.hearing.cleaning import Cleaner
from listener.hearing.events import Message, NoteEvent, Stroke, on_grid
from listener.hearing.gathering import OWN_PACE_S, Gatherer
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import Pickup
from listener.hearing.plucks import Plucks
from listener.hearing.rings import Rings


def strokes_of(messages: Iterable[Message], pickup: Pickup, window_s: float = OWN_PACE_S) -> list[Stroke]:
    """All strokes of a take or file."""
    ears = Ears(pickup, window_s)
    return [stroke for message in messages for stroke in ears.feed(message)] + ears.flush()


class Ears:
    """Feed it messages in order of time, get strokes, with the times of the plucks (:mod:`listener.hearing.plucks`).

    ``window_s`` is how long a stroke waits for a further onset. ``as_they_grow``: a stroke is given out, not settled,
    with each of its notes, and once more, settled, when it has closed. What is given out, and in which order, depends
    on the messages alone, not on how often :meth:`tick` is called. ``keep_notes``: :meth:`notes` has the notes, too;
    ``rings`` is told how long each one rings.
    """

    def __init__(
        self,
        pickup: Pickup,
        window_s: float = OWN_PACE_S,
        *,
        as_they_grow: bool = False,
        keep_notes: bool = False,
        rings: Rings | None = None,
    ) -> None:
        self._tracker = NoteTracker(pickup)
        self._cleaner = Cleaner(pickup)
        self._plucks = Plucks(pickup)
        self._notes: list[NoteEvent] | None = [] if keep_notes else None
        self._gatherer = Gatherer(window_s, as_they_grow=as_they_grow, rings=rings)

    @property
    def window_s(self) -> float:
        """How long a stroke waits for a further onset; may be changed between strokes."""
        return self._gatherer.window_s

    @window_s.setter
    def window_s(self, window_s: float) -> None:
        self._gatherer.window_s = window_s

    @property
    def sounding(self) -> tuple[int, ...]:
        """MIDI notes that ring now, low to high."""
        return self._gatherer.sounding

    @property
    def cleaned(self) -> dict[str, int]:
        """How often each kind of the pickup's errors was set right: the kinds of :mod:`listener.hearing.cleaning`."""
        return dict(self._cleaner.counts)

    def notes(self) -> list[NoteEvent]:
        """The notes behind the strokes, as they were heard since this was last asked, where they are kept.

        A note that only a pedal holds ends twice: when it was let go, and when it ceases to sound.
        """
        notes, self._notes = self._notes or [], [] if self._notes is not None else None
        return notes

    def known_s(self, now_s: float) -> float:
        """Nothing that was plucked before this time can still become known or change; with no stroke open, all of it
        has been given out settled.

        That is now less the greatest delay of a low string, and earlier while a stroke is open, a soft note is in
        doubt, or a bent note is about to arrive at another pitch. It never falls.
        """
        return self._plucks.known_s(
            min(now_s, self._gatherer.since_s, self._cleaner.doubtful_since_s, self._tracker.arriving_s)
        )

    def feed(self, message: Message) -> list[Stroke]:
        """The strokes that this message closes or makes grow, and those that its time closed."""
        found = self._until(message.time_s)
        for event in self._tracker.feed(message):
            self._hear(event, found)
        if self._tracker.let_go:
            if self._notes is not None:
                self._notes += self._tracker.let_go
            self._tracker.let_go.clear()
        return self._plucked(found)

    def tick(self, now_s: float) -> list[Stroke]:
        """Time has passed."""
        return self._plucked(self._until(on_grid(now_s)))

    def flush(self) -> list[Stroke]:
        """No message will come any more: what silence for ever would bring about."""
        return self._plucked(self._until(inf))

    def _until(self, now_s: float) -> list[Stroke]:
        """What has become known by a time on the grid, or for ever."""
        found: list[Stroke] = []
        if self._tracker.due_s <= now_s:
            for event in self._tracker.tick(now_s):
                self._hear(event, found)
        if self._cleaner.due_s <= now_s:
            for note in self._cleaner.tick(now_s):
                self._gather(note, found)
        found += self._gatherer.tick(now_s)
        return found

    def _hear(self, event: NoteEvent, found: list[Stroke]) -> None:
        for note in self._cleaner.feed(event):
            self._gather(note, found)
        self._gatherer.certain_tick = self._cleaner.certain_tick

    def _gather(self, note: NoteEvent, found: list[Stroke]) -> None:
        if self._notes is not None:
            self._notes.append(note)
        found += self._gatherer.feed(note)

    def _plucked(self, strokes: list[Stroke]) -> list[Stroke]:
        return [self._plucks.stroke(stroke) for stroke in strokes] if strokes else strokes
