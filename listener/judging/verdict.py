"""What is said about one attempt at one step."""

from __future__ import annotations

from dataclasses import dataclass, field
from typing import Final

from listener.music.movement import Movement

HIT: Final = "hit"
NEAR: Final = "near"
MISS: Final = "miss"
GRADES: Final = (HIT, NEAR, MISS)


@dataclass(frozen=True, slots=True)
class Fault:
    """One thing that was not as meant. ``code`` is for programs, ``text`` for players; ``pitch`` (MIDI) is the
    note that was played, ``wanted`` the note that the plan has, where the fault is about one note; ``ms`` for timing.
    """

    code: str
    text: str
    pitch: int | None = None
    wanted: int | None = None
    ms: float | None = None

    def as_json(self) -> dict[str, object]:
        """Only the fields that apply."""
        row: dict[str, object] = {"code": self.code, "text": self.text}
        for name in ("pitch", "wanted", "ms"):
            value = getattr(self, name)
            if value is not None:
                row[name] = value
        return row


@dataclass(frozen=True, slots=True)
class Verdict:
    """``heard`` are all pitches that counted (plucked, and held ones that the target has), ``held`` those of them
    that only rang on. ``offset_ms`` is late (+) or early (-) against the click, None without one. Like ``onset_s`` and
    ``spread_ms`` it counts from when the strings were plucked, the pickup's delay taken off
    (:mod:`listener.hearing.plucks`). ``own_offset_ms`` is the same against the player's own mean so far,
    where the drill asks for that (:mod:`listener.judging.own_time`). ``movement`` is from what was heard
    before, ``least`` the smallest movement that any playable voicing of the wish would have needed from there.
    ``settled`` is False while the stroke can still be spoilt (:class:`listener.hearing.events.Stroke`).
    """

    step: int
    attempt: int
    grade: str
    faults: tuple[Fault, ...]
    heard: tuple[int, ...]
    held: tuple[int, ...]
    onset_s: float
    spread_ms: float
    offset_ms: float | None = None
    movement: Movement | None = None
    least: int | None = None
    movement_score: float | None = None
    settled: bool = field(default=True)
    own_offset_ms: float | None = None

    @property
    def top(self) -> int | None:
        """The highest note that was heard, None for silence."""
        return max(self.heard, default=None)

    @property
    def movement_semitones(self) -> int | None:
        """How far the voices moved in all, None where nobody moved from one chord to the next."""
        return self.movement.semitones if self.movement else None

    @property
    def fault_codes(self) -> tuple[str, ...]:
        """The codes of all faults."""
        return tuple(fault.code for fault in self.faults)

    def as_json(self) -> dict[str, object]:
        """The ``attempts`` entry of the ``hear`` contract."""
        return {
            "step": self.step,
            "attempt": self.attempt,
            "grade": self.grade,
            "faults": [fault.as_json() for fault in self.faults],
            "heard": list(self.heard),
            "held": list(self.held),
            "onset_s": self.onset_s,
            "spread_ms": self.spread_ms,
            "offset_ms": self.offset_ms,
            "own_offset_ms": self.own_offset_ms,
            "movement": self.movement.as_json() if self.movement else None,
            "least": self.least,
            "movement_score": self.movement_score,
        }
