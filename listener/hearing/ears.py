"""Messages to strokes when nothing in particular is expected: notes, cleaning and gathering in one."""

from __future__ import annotations

from collections.abc import Iterable
from math import inf

from listener.hearing.cleaning import Cleaner
from listener.hearing.events import Message, NoteEvent, Stroke
from listener.hearing.gathering import OWN_PACE_S, Gatherer
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import Pickup
from listener.hearing.short_way import hear_plainly


def strokes_of(messages: Iterable[Message], pickup: Pickup, window_s: float = OWN_PACE_S) -> list[Stroke]:
    """All strokes of a take or file when nothing in particular is expected."""
    ears = Ears(pickup, window_s)
    return [stroke for message in messages for stroke in ears.feed(message)] + ears.flush()


class Ears:
    """Feed it messages in order of time, get strokes."""

    def __init__(self, pickup: Pickup, window_s: float = OWN_PACE_S) -> None:
        self._tracker = NoteTracker(pickup)
        self.cleaner = Cleaner(pickup)
        self._gatherer = Gatherer(window_s)

    def feed(self, message: Message) -> list[Stroke]:
        """The strokes that this message closes, and those that its time closed."""
        time_s = message.time_s
        # What was over before this message is closed before a note of it can be in doubt.
        cleaner, gatherer = self.cleaner, self._gatherer
        found = self.tick(time_s) if cleaner.due_s <= time_s else gatherer.tick(time_s)
        # As in `_hear`, written out: files have millions of messages.
        for event in self._tracker.feed(message):
            for note in cleaner.feed(event):
                found += gatherer.feed(note)
            gatherer.certain_tick = cleaner.certain_tick
        return found

    def feed_block(self, ticks: Iterable[int], messages: Iterable[tuple[int, ...]]) -> list[Stroke]:
        """The same for many messages of a file at once, in half the time: their ticks on the grid, and their bytes, as
        :attr:`listener.hearing.take_file.TakeStream.blocks` has them."""
        return hear_plainly(self._tracker, self.cleaner, self._gatherer, zip(ticks, messages, strict=True), self.feed)

    def tick(self, now_s: float) -> list[Stroke]:
        """Time has passed."""
        found: list[Stroke] = []
        for event in self._tracker.tick(now_s):
            self._hear(event, found)
        for note in self.cleaner.tick(now_s):
            found += self._gatherer.feed(note)
        self._gatherer.certain_tick = self.cleaner.certain_tick
        return found + self._gatherer.tick(now_s)

    def flush(self) -> list[Stroke]:
        """No message will come any more: what silence for ever would bring about."""
        found: list[Stroke] = []
        for note in self.cleaner.tick(inf):
            found += self._gatherer.feed(note)
        self._gatherer.certain_tick = self.cleaner.certain_tick
        return found + self._gatherer.flush()

    def _hear(self, event: NoteEvent, found: list[Stroke]) -> None:
        for note in self.cleaner.feed(event):
            found += self._gatherer.feed(note)
        self._gatherer.certain_tick = self.cleaner.certain_tick
