"""Listening without a drill: every stroke gets a name, and the movement from the one before."""

from __future__ import annotations

from dataclasses import dataclass

from listener.hearing.ears import Ears
from listener.hearing.events import Stroke
from listener.hearing.gathering import as_plucked, window_for
from listener.hearing.pickup import Pickup
from listener.hearing.take_file import Take
from listener.music.movement import Movement, movement
from listener.music.naming import name_pitches
from listener.music.pitch import spell


@dataclass(frozen=True, slots=True)
class HeardChord:
    """One stroke with its best name; ``chord``, ``kind`` and ``inversion`` are None when it has none."""

    onset_s: float
    spread_ms: float
    pitches: tuple[int, ...]
    held: tuple[int, ...]
    names: tuple[str, ...]
    chord: str | None
    kind: str | None
    inversion: int | None
    movement: Movement | None

    def as_json(self) -> dict[str, object]:
        """A ``strokes`` entry of the ``hear`` contract."""
        return {
            "onset_s": self.onset_s,
            "spread_ms": self.spread_ms,
            "pitches": list(self.pitches),
            "held": list(self.held),
            "names": list(self.names),
            "chord": self.chord,
            "kind": self.kind,
            "inversion": self.inversion,
            "top": self.names[-1],
            "movement": self.movement.as_json() if self.movement else None,
        }


class FreeListener:
    """Strokes in, named chords out. What still rings belongs to the chord: a comped bass note often does."""

    def __init__(self) -> None:
        self._before: tuple[int, ...] | None = None

    def feed(self, stroke: Stroke) -> HeardChord:
        """Name one settled stroke."""
        pitches = tuple(sorted({*stroke.struck_pitches, *stroke.held_pitches}))
        names = name_pitches(pitches) if len({note % 12 for note in pitches}) > 1 else ()
        best = names[0].voicing if names else None
        change = movement(self._before, pitches) if self._before else None
        self._before = pitches
        return HeardChord(
            onset_s=stroke.onset_s,
            spread_ms=stroke.spread_ms,
            pitches=pitches,
            held=stroke.held_pitches,
            names=best.names if best else tuple(str(spell(note)) for note in pitches),
            chord=best.chord.symbol if best else None,
            kind=best.kind if best else None,
            inversion=best.inversion if best else None,
            movement=change,
        )


def hear_freely(take: Take, pickup: Pickup) -> list[HeardChord]:
    """Every stroke of a take, named."""
    ears, listener = Ears(pickup, window_for(None)), FreeListener()
    strokes = [stroke for message in take.messages for stroke in ears.feed(message)] + ears.flush()
    return [listener.feed(as_plucked(stroke, pickup)) for stroke in strokes if stroke.settled]
