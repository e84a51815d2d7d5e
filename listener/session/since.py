"""What improved since the last take of a drill, or within a take; only that, never what did not. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from listener.history.summary import TakeSummary
from listener.judging.score import Summary
from listener.judging.verdict import HIT, Verdict

#: Smaller differences say nothing (our choice): points of movement score, milliseconds of spread.
_POINTS: Final = 1.0
_STEADIER_MS: Final = 3.0
#: Fewer chords in half a take, or fewer hits more, say nothing (our choice).
_HALF: Final = 4
_MORE: Final = 2
#: Share of hits from which a higher tempo counts as reached, as in :mod:`listener.history.progress`.
_REACHED: Final = 0.9


@dataclass(frozen=True, slots=True)
class Standing:
    """One whole take: ``tempo`` in beats per minute (None at own pace), ``hits`` of ``steps``, mean movement score
    (0 to 100), spread of the timing in ms; None where there is nothing to measure."""

    tempo: float | None
    hits: int
    steps: int
    movement_score: float | None
    spread_ms: float | None

    @classmethod
    def of_summary(cls, summary: Summary, tempo: float | None) -> Standing | None:
        """A take that was just played; None when not all of it was."""
        if not summary.steps or summary.hits + summary.nears + summary.misses < summary.steps:
            return None
        return cls(tempo, summary.hits, summary.steps, summary.movement_score, summary.timing_spread_ms)

    @classmethod
    def of_take(cls, take: TakeSummary) -> Standing | None:
        """A take of the history; None when not all of it was played."""
        if not take.complete:
            return None
        spread = take.timing.spread_ms if take.timing is not None else None
        return cls(take.tempo, take.grades.hits, take.grades.strokes, take.movement_score, spread)


def improved(before: Standing | None, now: Standing | None) -> str:
    """``Since last time: 3 more hits (14 of 16), the movement score up from 84 to 91.``; empty when there is no such
    thing, or nothing to compare."""
    if before is None or now is None or before.steps != now.steps:
        return ""
    found: list[str] = []
    more = now.hits - before.hits
    if more > 0:
        found.append(f"{more} more hit{'s' if more > 1 else ''} ({now.hits} of {now.steps})")
    if _gain(before.movement_score, now.movement_score) >= _POINTS:
        found.append(f"the movement score up from {before.movement_score:.0f} to {now.movement_score:.0f}")
    if _gain(before.tempo, now.tempo) > 0 and now.hits >= min(before.hits, _REACHED * now.steps):
        found.append(f"{now.tempo:g} beats a minute instead of {before.tempo:g}")
    if _gain(now.spread_ms, before.spread_ms) >= _STEADIER_MS:
        found.append(f"steadier (give or take {now.spread_ms:.0f} ms instead of {before.spread_ms:.0f})")
    return f"Since last time: {', '.join(found)}." if found else ""


def grown(verdicts: Sequence[Verdict]) -> str:
    """What got better within a take: chords put right at once, or a second half with more hits than the first; empty
    when there is no such thing, or too few chords to say so."""
    first = [verdict for verdict in verdicts if verdict.attempt == 1]
    right = {verdict.step for verdict in verdicts if verdict.attempt > 1 and verdict.grade == HIT}
    if right:
        return f"{len(right)} chord{'s' if len(right) > 1 else ''} put right at once."
    half = len(first) // 2
    early, late = (sum(verdict.grade == HIT for verdict in part) for part in (first[:half], first[len(first) - half :]))
    if half < _HALF or late - early < _MORE:
        return ""
    return f"It grew while you played: {late} of the last {half} chords were hits, after {early} of the first {half}."


def _gain(before: float | None, now: float | None) -> float:
    """How much more it is; 0 where there is nothing to compare."""
    return 0.0 if before is None or now is None else now - before
