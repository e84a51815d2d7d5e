"""How it went: what the kept takes say about each drill, and which changes of chord are weak. Pure.

What a take came to is its account (:mod:`listener.judging.account`); here accounts are only added up. Besides:

- *tempo reached* is the highest tempo of a take with the click that was the whole drill with at least 90 % hits
  (:data:`listener.history.progress.summary.REACHED`).
- a *change* is a first attempt together with the stroke just before it in the take, when their steps follow each other
  in the drill and the earlier one did sound; it went well when the later one is a hit.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from itertools import pairwise
from typing import Final

from listener.history.progress.summary import ChangeProgress, DrillProgress, Progress, TakeSummary
from listener.history.store.rows import TakeInfo
from listener.judging.account import Account
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import HIT, Verdict

#: A change is only called weak after this many attempts. Our own choice.
LEAST_ATTEMPTS: Final = 3


@dataclass(frozen=True, slots=True)
class PlayedTake:
    """A take verdict by verdict, in the order of playing; ``chords`` are chord and kind of each step of its plan."""

    summary: TakeSummary
    chords: tuple[tuple[str, str], ...]
    verdicts: tuple[Verdict, ...]

    @classmethod
    def of(
        cls, info: TakeInfo, verdicts: Sequence[Verdict], take: int, session: int, touch: TouchAccount | None = None
    ) -> PlayedTake:
        """Counted afresh, under these numbers of take and sitting; ``touch`` as it is known."""
        steps = info.plan.get("steps", ())
        account = Account.of(verdicts, len(steps), [max(step["pitches"], default=None) for step in steps])
        summary = TakeSummary(take, session, info.drill, info.tempo, info.started_at, account, touch)
        return cls(summary, tuple((step["chord"], step["kind"]) for step in steps), tuple(verdicts))


def summarise(played: Sequence[PlayedTake]) -> Progress:
    """Progress over these takes, which come oldest first."""
    return progress_of([take.summary for take in played], weak_changes(played))


def progress_of(takes: Sequence[TakeSummary], weak: tuple[ChangeProgress, ...]) -> Progress:
    """Progress from what its takes came to; they come oldest first."""
    by_drill: dict[str, list[TakeSummary]] = {}
    for take in takes:
        by_drill.setdefault(take.drill, []).append(take)
    drills = [
        DrillProgress(name, tuple(found), Account.total(take.account for take in found))
        for name, found in by_drill.items()
    ]
    drills.sort(key=lambda drill: drill.last.started_at, reverse=True)
    return Progress(
        sessions=len({take.session for take in takes}),
        takes=len(takes),
        strokes=sum(take.account.strokes for take in takes),
        drills=tuple(drills),
        weak_changes=weak,
    )


def weak_changes(played: Iterable[PlayedTake], least_attempts: int = LEAST_ATTEMPTS) -> tuple[ChangeProgress, ...]:
    """Changes that were tried at least so often and did not always succeed, weakest first."""
    tried: Counter[tuple[str, str, str, str]] = Counter()
    hits: Counter[tuple[str, str, str, str]] = Counter()
    for take in played:
        for before, after in pairwise(take.verdicts):
            if after.step < len(take.chords) and _is_change(before, after):
                change = (*take.chords[before.step], *take.chords[after.step])
                tried[change] += 1
                hits[change] += after.grade == HIT
    return weak_ones([ChangeProgress(*change, tried[change], hits[change]) for change in tried], least_attempts)


def weak_ones(changes: Iterable[ChangeProgress], least_attempts: int = LEAST_ATTEMPTS) -> tuple[ChangeProgress, ...]:
    """Those of these changes, weakest first; equal ones by the alphabet, so that the order is always the same."""
    found = [change for change in changes if change.attempts >= least_attempts and change.hits < change.attempts]
    return tuple(sorted(found, key=lambda one: (one.hit_rate, -one.attempts, *_names(one))))


def _names(change: ChangeProgress) -> tuple[str, str, str, str]:
    return change.from_chord, change.from_kind, change.to_chord, change.to_kind


def _is_change(before: Verdict, after: Verdict) -> bool:
    return after.step == before.step + 1 and after.attempt == 1 and before.top is not None
