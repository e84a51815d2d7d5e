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
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import datetime
from itertools import pairwise
from typing import Final

from listener.history.rows import KeptStroke, PlayedTake
from listener.history.summary import ChangeProgress, DrillProgress, FaultCount, Progress, TakeSummary
from listener.history.tally import Tally, tally, total
from listener.judging.verdict import HIT

#: Share of hits that a take needs for its tempo to count as reached. Our own choice.
REACHED: Final = 0.9
#: A change is only called weak after this many attempts. Our own choice.
LEAST_ATTEMPTS: Final = 3


@dataclass(frozen=True, slots=True)
class Part:
    """What one take brings to progress. ``strokes`` are all of them, also later attempts; ``complete`` when every step
    of the drill was tried; ``tempo`` in beats per minute, None at the player's own pace."""

    take: int
    session: int
    drill: str
    tempo: float | None
    started_at: datetime
    strokes: int
    complete: bool
    tally: Tally


def summarise(played: Sequence[PlayedTake]) -> Progress:
    """Progress over these takes, which come oldest first."""
    faults: dict[str, Counter[str]] = {}
    for take in played:
        counter = faults.setdefault(take.drill, Counter())
        counter.update(code for stroke in take.strokes if stroke.attempt == 1 for code in set(stroke.fault_codes))
    return progress_of([_part(take) for take in played], faults, weak_changes(played))


def progress_of(
    parts: Sequence[Part], faults: Mapping[str, Counter[str]], weak: tuple[ChangeProgress, ...]
) -> Progress:
    """Progress from the sums of its takes, which come oldest first, and each drill's faults."""
    by_drill: dict[str, list[Part]] = {}
    for part in parts:
        by_drill.setdefault(part.drill, []).append(part)
    drills = [_drill(name, takes, faults.get(name, Counter())) for name, takes in by_drill.items()]
    drills.sort(key=lambda drill: drill.last.started_at, reverse=True)
    return Progress(
        sessions=len({part.session for part in parts}),
        takes=len(parts),
        strokes=sum(part.strokes for part in parts),
        drills=tuple(drills),
        weak_changes=weak,
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
    return weak_ones([ChangeProgress(*change, tried[change], hits[change]) for change in tried], least_attempts)


def weak_ones(changes: Iterable[ChangeProgress], least_attempts: int = LEAST_ATTEMPTS) -> tuple[ChangeProgress, ...]:
    """Those of these changes, weakest first; equal ones by the alphabet, so that the order is always the same."""
    found = [change for change in changes if change.attempts >= least_attempts and change.hits < change.attempts]
    return tuple(sorted(found, key=lambda one: (one.hit_rate, -one.attempts, *_names(one))))


def _names(change: ChangeProgress) -> tuple[str, str, str, str]:
    return change.from_chord, change.from_kind, change.to_chord, change.to_kind


def _is_change(before: KeptStroke, after: KeptStroke) -> bool:
    return after.step == before.step + 1 and after.attempt == 1 and before.top is not None


def take_summary(take: PlayedTake) -> TakeSummary:
    """One take's numbers."""
    return _summary(_part(take))


def _part(take: PlayedTake) -> Part:
    tried = {stroke.step for stroke in take.strokes if stroke.attempt == 1}
    return Part(
        take=take.id,
        session=take.session,
        drill=take.drill,
        tempo=take.tempo,
        started_at=take.started_at,
        strokes=len(take.strokes),
        complete=take.step_count > 0 and len(tried) >= take.step_count,
        tally=tally(take.strokes, take.targets),
    )


def _summary(part: Part) -> TakeSummary:
    return TakeSummary(
        take=part.take,
        started_at=part.started_at,
        tempo=part.tempo,
        grades=part.tally.grades,
        complete=part.complete,
        movement_score=part.tally.movement_score,
        top_accuracy=part.tally.top_accuracy,
        timing=part.tally.timing,
    )


def _drill(name: str, parts: Sequence[Part], faults: Counter[str]) -> DrillProgress:
    takes = tuple(map(_summary, parts))
    whole = total(part.tally for part in parts)
    reached = [
        take.tempo for take in takes if take.tempo is not None and take.complete and take.grades.accuracy >= REACHED
    ]
    return DrillProgress(
        drill=name,
        takes=takes,
        grades=whole.grades,
        tempo_reached=max(reached, default=None),
        top_accuracy=whole.top_accuracy,
        timing=whole.timing,
        commonest_fault=_commonest(faults),
    )


def _commonest(faults: Counter[str]) -> FaultCount | None:
    if not faults:
        return None
    # Ties go to the first in the alphabet, so that the answer does not depend on the order of a set.
    return FaultCount(*min(faults.items(), key=lambda item: (-item[1], item[0])))
