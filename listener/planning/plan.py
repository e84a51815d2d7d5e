"""A planned drill: one fingering for every step, and how the voices move between them."""

from __future__ import annotations

from dataclasses import dataclass, field
from functools import cached_property

from listener.drill.drill import Drill, Step
from listener.guitar.fingering import Fingering
from listener.guitar.instrument import Instrument
from listener.music.movement import Movement
from listener.music.pitch import parse_pitch
from listener.music.voicing import Voicing


@dataclass(frozen=True)
class PlannedStep:
    """A step with its voicing, its place on the neck and the movement from the step before (None for the first)."""

    step: Step
    voicing: Voicing
    fingering: Fingering
    movement: Movement | None

    def as_json(self) -> dict[str, object]:
        """The ``steps`` entry of the ``plan`` contract."""
        return {
            "index": self.step.index,
            "passage": self.step.passage,
            "bar": self.step.bar,
            "beat": self.step.beat,
            "beats": self.step.length_beats,
            "chord": str(self.voicing.chord),
            "kind": self.voicing.kind,
            "inversion": self.voicing.inversion,
            "pitches": list(self.voicing.midi),
            "names": list(self.voicing.names),
            "degrees": list(self.voicing.degrees),
            "strings": list(self.fingering.strings),
            "frets": list(self.fingering.frets),
            "fingers": list(self.fingering.fingers),
            "barre": self.fingering.barre.as_json() if self.fingering.barre else None,
            "stretch_mm": round(self.fingering.stretch_mm, 1),
            "strain": round(self.fingering.strain, 3),
            "movement": self.movement.as_json() if self.movement else None,
            "pattern": self.step.pattern.as_json() if self.step.pattern else None,
        }


@dataclass(frozen=True)
class Plan:
    """The route through a drill on one instrument with one hand. ``tuning`` names the open strings, low to high.

    ``options`` holds, for every step, all different pitch sets (MIDI, low to high) that a playable fingering of its
    wish can sound: what the judge measures movement against. ``way_back`` is the change from the last step to the first
    of a drill that loops, None otherwise. ``instrument`` is what it was planned for, whole.
    """

    drill: Drill
    steps: tuple[PlannedStep, ...]
    tuning: tuple[str, ...]
    string_count: int
    capo: int
    hand: str
    cost: float
    options: tuple[tuple[tuple[int, ...], ...], ...] = field(default=(), repr=False)
    way_back: Movement | None = None
    instrument: Instrument | None = field(default=None, repr=False)

    @property
    def left_handed(self) -> bool:
        """Whether necks should be drawn the other way round."""
        return self.instrument is not None and self.instrument.left_handed

    @cached_property
    def open_midi(self) -> tuple[int, ...]:
        """What each string sounds open, capo on: MIDI notes by string number, string 1 first."""
        return tuple(parse_pitch(name).midi + self.capo for name in reversed(self.tuning))

    @property
    def total_movement(self) -> int:
        """Semitones over all changes."""
        return sum(change.semitones for change in self.changes)

    @property
    def changes(self) -> tuple[Movement, ...]:
        """Every change in order, the way back of a loop last."""
        found = [*(planned.movement for planned in self.steps), self.way_back]
        return tuple(change for change in found if change is not None)

    def as_json(self) -> dict[str, object]:
        """The ``plan`` contract."""
        return {
            "drill": self.drill.name,
            "title": self.drill.title,
            "key": self.drill.key,
            "tempo": self.drill.tempo,
            "meter": list(self.drill.meter),
            "tuning": list(self.tuning),
            "capo": self.capo,
            "hand": self.hand,
            "total_movement": self.total_movement,
            "way_back": self.way_back.as_json() if self.way_back else None,
            "steps": [planned.as_json() for planned in self.steps],
        }
