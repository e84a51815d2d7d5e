"""How it went: what the kept takes say about each drill, and which changes of chord are weak. Pure.

Conventions, the same as those of a single take's summary (:mod:`listener.judging.score`):

- Only first attempts at a step count, for grades, faults, movement and timing alike.
- *accuracy* is the share of them that were hits; near misses are not hits.
- *top note*: right when the highest note heard is the planned one, or when the stroke was a hit (a drill may accept
  other octaves). A step at which nothing was heard counts as wrong.
- *timing* has two numbers that mean different things and are never added: the mean offset from the click (the player's
  own place before or after it, which may well be meant) and the spread about that mean (how steady). People tap ahead
  of a click by habit (B. H. Repp, "Sensorimotor synchronization", Psychonomic Bulletin & Review 12(6), 2005), hence a
  spread about the player's own mean. Misses are left out: their offset belongs to another chord.
- *tempo reached* is the highest tempo of a take with the click in which every step of the drill was tried and at least
  90 % were hits. The threshold is our own choice.
- a *change* is a first attempt together with the stroke just before it in the take, when their steps follow each other
  in the drill and the earlier one did sound; it went well when the later one is a hit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from itertools import pairwise
from statistics import fmean, pstdev
from typing import Final

from listener.history.rows import KeptStroke, PlayedTake
from listener.history.summary import ChangeProgress, DrillProgress, FaultCount, Grades, Progress, TakeSummary, Timing
from listener.judging.verdict import HIT, MISS, NEAR

#: Share of hits that a take needs for its tempo to count as reached. Our own choice.
REACHED: Final = 0.9
#: A change is only called weak after this many attempts. Our own choice.
LEAST_ATTEMPTS: Final = 3


def summarise(played: Sequence[PlayedTake]) -> Progress:
    """Progress over these takes, which come oldest first."""
    by_drill: dict[str, list[PlayedTake]] = {}
    for take in played:
        by_drill.setdefault(take.drill, []).append(take)
    drills = [_drill(name, takes) for name, takes in by_drill.items()]
    drills.sort(key=lambda drill: drill.last.started_at, reverse=True)
    return Progress(
        sessions=len({take.session for take in played}),
        takes=len(played),
        strokes=sum(len(take.strokes) for take in played),
        drills=tuple(drills),
        weak_changes=weak_changes(played),
    )


def weak_changes(played: Iterable[PlayedTake], least_attempts: int = LEAST_ATTEMPTS) -> tuple[ChangeProgress, ...]:
    """Changes that were tried at least so often and did not always succeed, weakest first."""
    tried: Counter[tuple[str, str, str, str]] = Counter()
    hits: Counter[tuple[str, str, str, str]] = Counter()
    for take in played:
        for before, after in pairwise(take.strokes):
            source, goal = take.targets.get(before.step), take.targets.get(after.step)
            if source is None or goal is None or not _is_change(before, after):
                continue
            change = (source.chord, source.kind, goal.chord, goal.kind)
            tried[change] += 1
            hits[change] += after.grade == HIT
    found = [
        ChangeProgress(*change, attempts, hits[change])
        for change, attempts in tried.items()
        if attempts >= least_attempts and hits[change] < attempts
    ]
    return tuple(sorted(found, key=lambda change: (change.hit_rate, -change.attempts, change.from_chord)))


def _is_change(before: KeptStroke, after: KeptStroke) -> bool:
    return after.step == before.step + 1 and after.attempt == 1 and before.top is not None


def take_summary(take: PlayedTake) -> TakeSummary:
    """One take's numbers."""
    first = _first_attempts(take)
    scores = [stroke.movement_score for stroke in first if stroke.movement_score is not None]
    return TakeSummary(
        take=take.id,
        started_at=take.started_at,
        tempo=take.tempo,
        grades=_grades(first),
        complete=take.step_count > 0 and len({stroke.step for stroke in first}) >= take.step_count,
        movement_score=fmean(scores) if scores else None,
        top_accuracy=_top_accuracy([take]),
        timing=_timing(first),
    )


def _drill(name: str, played: Sequence[PlayedTake]) -> DrillProgress:
    takes = tuple(map(take_summary, played))
    first = [stroke for take in played for stroke in _first_attempts(take)]
    reached = [
        take.tempo for take in takes if take.tempo is not None and take.complete and take.grades.accuracy >= REACHED
    ]
    return DrillProgress(
        drill=name,
        takes=takes,
        grades=_grades(first),
        tempo_reached=max(reached, default=None),
        top_accuracy=_top_accuracy(played),
        timing=_timing(first),
        commonest_fault=_commonest_fault(first),
    )


def _first_attempts(take: PlayedTake) -> list[KeptStroke]:
    return [stroke for stroke in take.strokes if stroke.attempt == 1]


def _grades(strokes: Iterable[KeptStroke]) -> Grades:
    counts = Counter(stroke.grade for stroke in strokes)
    return Grades(counts[HIT], counts[NEAR], counts[MISS])


def _timing(strokes: Iterable[KeptStroke]) -> Timing | None:
    offsets = [stroke.offset_ms for stroke in strokes if stroke.offset_ms is not None and stroke.grade != MISS]
    if not offsets:
        return None
    return Timing(fmean(offsets), pstdev(offsets) if len(offsets) > 1 else None, len(offsets))


def _top_accuracy(played: Iterable[PlayedTake]) -> float | None:
    right = [
        stroke.grade == HIT or stroke.top == take.targets[stroke.step].top
        for take in played
        for stroke in _first_attempts(take)
        if stroke.step in take.targets and take.targets[stroke.step].top is not None
    ]
    return sum(right) / len(right) if right else None


def _commonest_fault(strokes: Iterable[KeptStroke]) -> FaultCount | None:
    faults = Counter(code for stroke in strokes for code in set(stroke.fault_codes))
    if not faults:
        return None
    # Ties go to the first in the alphabet, so that the answer does not depend on the order of a set.
    return FaultCount(*min(faults.items(), key=lambda item: (-item[1], item[0])))
