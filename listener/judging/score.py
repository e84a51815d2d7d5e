"""What a whole take comes to.

Hits, nears and misses count first attempts; ``put_right`` counts steps whose later attempt was a hit. Timing is
reported as the player's own mean and the spread about it: a steady offset is a style, not a fault (laid back, on the
beat and pushed are all meant that way in groove guitar: G. Câmara and others, JASA 147, 2020).
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from statistics import fmean, pstdev
from typing import Final

from listener.judging.verdict import HIT, MISS, NEAR, Verdict

#: Spread (standard deviation) up to which timing is called very steady: which of two sounds came first is heard from
#: about 20 ms apart (C. Watson, Seminars in Hearing 25, 2004, summarising I. Hirsh 1959); trained players who tap along
#: at 120 beats a minute spread by 10 to 20 ms (B. Repp, Psychonomic Bulletin & Review 12, 2005; value from memory).
VERY_STEADY_MS: Final = 20.0
#: Up to here it is called steady: players of good ensembles are apart by 30 to 50 ms (R. Rasch, Acustica 43, 1979).
STEADY_MS: Final = 50.0
#: Fewer onsets say nothing about steadiness (our choice).
_ENOUGH: Final = 4


@dataclass(frozen=True, slots=True)
class Timing:
    """Onsets against the click: how many, their mean (late is positive) and the spread (standard deviation) about that
    mean, in ms; the spread is None for a single onset."""

    onsets: int
    mean_ms: float
    spread_ms: float | None

    @property
    def word(self) -> str | None:
        """How steady, whatever the mean: ``very steady``, ``steady``, ``not steady yet``; None for too few onsets."""
        if self.spread_ms is None or self.onsets < _ENOUGH:
            return None
        if self.spread_ms <= VERY_STEADY_MS:
            return "very steady"
        return "steady" if self.spread_ms <= STEADY_MS else "not steady yet"


def timing_of(verdicts: Iterable[Verdict]) -> Timing | None:
    """The timing of all chords that were not a miss; None without a click, or when there are none."""
    return timing(
        [verdict.offset_ms for verdict in verdicts if verdict.offset_ms is not None and verdict.grade != MISS]
    )


def timing(offsets: Sequence[float]) -> Timing | None:
    """The timing of offsets from the click in ms, None when there are none."""
    if not offsets:
        return None
    spread = round(pstdev(offsets), 1) if len(offsets) > 1 else None
    return Timing(len(offsets), round(fmean(offsets), 1), spread)


@dataclass(frozen=True, slots=True)
class Summary:
    """Counts over steps, mean movement score (0 to 100), timing in ms and how steady it was (None without a click)."""

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
    steadiness: str | None = None

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
            "steadiness": self.steadiness,
            "faults": dict(self.faults),
        }


def summarise(verdicts: Sequence[Verdict], steps: int) -> Summary:
    """The summary of a take's settled verdicts; ``steps`` is the number of steps of its plan."""
    first = [verdict for verdict in verdicts if verdict.attempt == 1]
    later = {verdict.step for verdict in verdicts if verdict.attempt > 1 and verdict.grade == HIT}
    scores = [verdict.movement_score for verdict in first if verdict.movement_score is not None]
    time = timing_of(first)
    counts = Counter(fault.code for verdict in first for fault in verdict.faults)
    return Summary(
        steps=steps,
        hits=sum(verdict.grade == HIT for verdict in first),
        nears=sum(verdict.grade == NEAR for verdict in first),
        misses=sum(verdict.grade == MISS for verdict in first),
        put_right=len(later),
        movement_score=round(fmean(scores), 1) if scores else None,
        total_movement=sum(verdict.movement.semitones for verdict in first if verdict.movement),
        timing_mean_ms=time.mean_ms if time else None,
        timing_spread_ms=time.spread_ms if time else None,
        faults=tuple(sorted(counts.items(), key=lambda item: (-item[1], item[0]))),
        steadiness=time.word if time else None,
    )
