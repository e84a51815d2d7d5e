"""What a whole take comes to.

Hits, nears and misses count first attempts; ``put_right`` counts steps whose later attempt was a hit. Timing is
reported as the player's own mean and the spread about it: a steady offset is a style, not a fault.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from statistics import fmean, pstdev

from listener.judging.verdict import HIT, MISS, NEAR, Verdict


@dataclass(frozen=True, slots=True)
class Summary:
    """Counts over steps, mean movement score (0 to 100), timing in ms (None without a click)."""

    steps: int
    hits: int
    nears: int
    misses: int
    put_right: int
    movement_score: float | None
    total_movement: int
    timing_mean_ms: float | None
    timing_spread_ms: float | None
    faults: tuple[tuple[str, int], ...]

    def as_json(self) -> dict[str, object]:
        """The ``summary`` of the ``hear`` contract."""
        return {
            "steps": self.steps,
            "hits": self.hits,
            "nears": self.nears,
            "misses": self.misses,
            "put_right": self.put_right,
            "movement_score": self.movement_score,
            "total_movement": self.total_movement,
            "timing_mean_ms": self.timing_mean_ms,
            "timing_spread_ms": self.timing_spread_ms,
            "faults": dict(self.faults),
        }


def summarise(verdicts: Sequence[Verdict], steps: int) -> Summary:
    """The summary of a take's settled verdicts; ``steps`` is the number of steps of its plan."""
    first = [verdict for verdict in verdicts if verdict.attempt == 1]
    later = {verdict.step for verdict in verdicts if verdict.attempt > 1 and verdict.grade == HIT}
    scores = [verdict.movement_score for verdict in first if verdict.movement_score is not None]
    offsets = [verdict.offset_ms for verdict in first if verdict.offset_ms is not None and verdict.grade != MISS]
    counts = Counter(fault.code for verdict in first for fault in verdict.faults)
    return Summary(
        steps=steps,
        hits=sum(verdict.grade == HIT for verdict in first),
        nears=sum(verdict.grade == NEAR for verdict in first),
        misses=sum(verdict.grade == MISS for verdict in first),
        put_right=len(later),
        movement_score=round(fmean(scores), 1) if scores else None,
        total_movement=sum(verdict.movement.semitones for verdict in first if verdict.movement),
        timing_mean_ms=round(fmean(offsets), 1) if offsets else None,
        timing_spread_ms=round(pstdev(offsets), 1) if len(offsets) > 1 else None,
        faults=tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0]))),
    )
