"""The stroke that is being gathered, as :mod:`listener.hearing.gathering` keeps it. Times are ticks of the grid."""

from __future__ import annotations

from dataclasses import dataclass
from operator import attrgetter
from typing import Final

from listener.hearing.events import NoteOn, Place

ONSET: Final = attrgetter("time_s")


@dataclass(slots=True)
class OpenStroke:
    """``fulfilled`` is when its plucked notes were all of the target and nothing else, None while they are not or when
    more came after; ``in_order`` whether they came in the order of their onsets."""

    opened: int
    last: int
    struck: dict[Place, NoteOn]
    widest_gap: int = 0
    fulfilled: int | None = None
    was_fulfilled: bool = False
    announced: bool = False
    clean: bool = False
    in_order: bool = True

    def join(self, place: Place, note: NoteOn, now: int) -> None:
        """One note more."""
        self.struck[place] = note
        gap = now - self.last
        if gap < 0:  # it had been in doubt
            self.opened, self.in_order = min(self.opened, now), False
        else:
            self.last = now
            if gap > self.widest_gap:
                self.widest_gap = gap
        self.fulfilled = None

    def put_in_place(self, mistaken: Place, place: Place) -> None:
        """What was taken for another pitch is of this one."""
        if mistaken in self.struck:
            self.struck.setdefault(place, self.struck.pop(mistaken))
            self.in_order = False

    def notes(self) -> tuple[NoteOn, ...]:
        """By onset; notes that had been in doubt come late."""
        notes = self.struck.values()
        return tuple(notes) if self.in_order else tuple(sorted(notes, key=ONSET))
