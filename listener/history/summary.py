"""What progress consists of: the numbers of takes, drills and changes, and their JSON.

Accuracies and rates run from 0 to 1; times of day are ISO 8601 in UTC in JSON.
"""

from __future__ import annotations

from dataclasses import asdict, dataclass
from datetime import datetime


@dataclass(frozen=True, slots=True)
class Grades:
    """How many strokes got which grade."""

    hits: int
    nears: int
    misses: int

    @property
    def strokes(self) -> int:
        """All of them."""
        return self.hits + self.nears + self.misses

    @property
    def accuracy(self) -> float:
        """Share of hits; 0 without strokes."""
        return self.hits / self.strokes if self.strokes else 0.0

    def as_json(self) -> dict[str, object]:
        """The counts with the accuracy."""
        return {**asdict(self), "accuracy": _share(self.accuracy)}


@dataclass(frozen=True, slots=True)
class Timing:
    """Offsets from the click in ms: their mean (late is positive), and their standard deviation about that mean, None
    for a single stroke."""

    mean_ms: float
    spread_ms: float | None
    strokes: int

    def as_json(self) -> dict[str, object]:
        """Rounded to hundredths of a millisecond."""
        return {"mean_ms": round(self.mean_ms, 2), "spread_ms": _rounded(self.spread_ms, 2), "strokes": self.strokes}


@dataclass(frozen=True, slots=True)
class TakeSummary:
    """One take. ``complete`` when every step of the drill was tried; ``movement_score`` is the mean over its changes
    (0 to 100), ``tempo`` in beats per minute, None at the player's own pace."""

    take: int
    started_at: datetime
    tempo: float | None
    grades: Grades
    complete: bool
    movement_score: float | None
    top_accuracy: float | None
    timing: Timing | None

    def as_json(self) -> dict[str, object]:
        """One entry of a drill's ``takes``."""
        return {
            "take": self.take,
            "started_at": self.started_at.isoformat(),
            "tempo": self.tempo,
            **self.grades.as_json(),
            "complete": self.complete,
            "movement_score": _rounded(self.movement_score, 1),
            "top_accuracy": _share(self.top_accuracy),
            "timing": self.timing.as_json() if self.timing else None,
        }


@dataclass(frozen=True, slots=True)
class FaultCount:
    """A fault's code and the number of strokes that had it."""

    code: str
    strokes: int


@dataclass(frozen=True, slots=True)
class DrillProgress:
    """One drill over all its takes, oldest take first."""

    drill: str
    takes: tuple[TakeSummary, ...]
    grades: Grades
    tempo_reached: float | None
    top_accuracy: float | None
    timing: Timing | None
    commonest_fault: FaultCount | None

    @property
    def last(self) -> TakeSummary:
        """The newest take."""
        return self.takes[-1]

    def as_json(self) -> dict[str, object]:
        """One entry of ``drills``."""
        return {
            "drill": self.drill,
            "last_played": self.last.started_at.isoformat(),
            **self.grades.as_json(),
            "tempo_reached": self.tempo_reached,
            "top_accuracy": _share(self.top_accuracy),
            "timing": self.timing.as_json() if self.timing else None,
            "commonest_fault": asdict(self.commonest_fault) if self.commonest_fault else None,
            "takes": [take.as_json() for take in self.takes],
        }


@dataclass(frozen=True, slots=True)
class ChangeProgress:
    """From one chord and kind to another: how often it was tried, how often the second chord was a hit."""

    from_chord: str
    from_kind: str
    to_chord: str
    to_kind: str
    attempts: int
    hits: int

    @property
    def hit_rate(self) -> float:
        """Share of hits."""
        return self.hits / self.attempts

    def as_json(self) -> dict[str, object]:
        """One entry of ``weak_changes``."""
        return {**asdict(self), "hit_rate": _share(self.hit_rate)}


@dataclass(frozen=True, slots=True)
class Progress:
    """Everything. Drills by when they were played last, newest first; ``weak_changes`` weakest first."""

    sessions: int
    takes: int
    strokes: int
    drills: tuple[DrillProgress, ...]
    weak_changes: tuple[ChangeProgress, ...]

    def as_json(self) -> dict[str, object]:
        """The document that ``widehand progress --json`` prints."""
        return {
            "sessions": self.sessions,
            "takes": self.takes,
            "strokes": self.strokes,
            "drills": [drill.as_json() for drill in self.drills],
            "weak_changes": [change.as_json() for change in self.weak_changes],
        }


def _share(value: float | None) -> float | None:
    return _rounded(value, 4)


def _rounded(value: float | None, places: int) -> float | None:
    return None if value is None else round(value, places)
