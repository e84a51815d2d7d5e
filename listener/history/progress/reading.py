"""The facts behind the pictures of progress, summed where the strokes lie (:mod:`listener.history.progress.sums`)."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from typing import Any, Final

from listener.guitar.instrument import string_names
from listener.history.progress import sums
from listener.history.progress.facts import (
    LONGEST_HELD_MS,
    ChangeTotals,
    Neck,
    NeckSpot,
    ProgressFacts,
    Worked,
    split_at,
)
from listener.history.progress.progress import progress_of, weak_ones
from listener.history.progress.summary import ChangeProgress, TakeSummary
from listener.history.safekeeping.sense import sound_plan
from listener.history.skills.reviews import PLAYER, SIMULATED
from listener.history.skills.reviews import whose as of_player
from listener.history.store.backend import Rows
from listener.history.store.rows import utc_text
from listener.history.vocabulary import rows as vocabulary_rows

_HELD_MS: Final = "CAST(round(1000 * (stroke.onset_s - earlier.onset_s)) AS BIGINT)"
#: For each of some takes and each step whose chord was in the hand: for how long, in ms. The step is NULL where nothing
#: sounded, and for the time before the first chord, which is none.
WORK: Final = f"""
    SELECT stroke.take, CASE WHEN earlier.top IS NOT NULL THEN earlier.step END,
        sum(CASE WHEN {_HELD_MS} > {LONGEST_HELD_MS} THEN {LONGEST_HELD_MS} WHEN {_HELD_MS} > 0 THEN {_HELD_MS}
            ELSE 0 END)
    FROM stroke JOIN take ON take.id = stroke.take
        LEFT JOIN stroke AS earlier ON earlier.take = stroke.take AND earlier.number = stroke.number - 1
    {{0}} AND take.id BETWEEN :first AND :last GROUP BY 1, 2
"""
#: Takes that are asked about at once: there are as many rows as chords, and all of ten years' would fill the memory.
_TAKES_AT_ONCE: Final = 2000


def _count(condition: str) -> str:
    return f"sum(CASE WHEN {condition} THEN 1 ELSE 0 END)"


#: For each step of each route: chords that sounded there, and the change to it: attempts and hits, in all and lately.
PLACES: Final = f"""
    SELECT take.route, stroke.step, {_count("stroke.grade <> 'miss'")},
        {_count(sums.CHANGE)}, {_count(f"{sums.CHANGE} AND stroke.grade = 'hit'")},
        {_count(f"{sums.CHANGE} AND take.started_at >= :split")},
        {_count(f"{sums.CHANGE} AND take.started_at >= :split AND stroke.grade = 'hit'")}
    FROM stroke JOIN take ON take.id = stroke.take
        LEFT JOIN stroke AS earlier ON earlier.take = stroke.take AND earlier.number = stroke.number - 1
    {{0}} GROUP BY take.route, stroke.step
"""
ROUTES: Final = "SELECT id, plan FROM route WHERE id IN (SELECT route FROM take {0})"
#: Which route a take follows.
FOLLOWED: Final = "SELECT take.id, take.route, take.drill FROM take {0} ORDER BY take.started_at, take.id"


@dataclass(frozen=True, slots=True)
class _Shape:
    """What a kept plan says about its steps: chord and kind, places, and strain, where it was kept."""

    steps: Mapping[int, Mapping[str, Any]]
    strains: Mapping[int, float]
    tuning: tuple[str, ...]

    def load_s(self, held_ms: Mapping[int | None, int]) -> float | None:
        """Seconds that these steps were in the hand, weighted by their strain; None where one of them has none."""
        if not self.strains or any(step is not None and step not in self.strains for step in held_ms):
            return None
        return sum(ms * self.strains[step] for step, ms in held_ms.items() if step is not None) / 1000


def read_facts(db: Rows, drill: str | None = None, since: str | None = None) -> ProgressFacts:
    """All of it within one transaction, for all drills or one, from a moment on (UTC, as kept) or from the start.

    The simulated guitarist's takes are only counted, unless there are no others at all: whoever has seen the demo and
    not yet played sees with them what there will be to see.
    """
    whose = PLAYER if sums.has_takes(db) or vocabulary_rows.has_any(db, of_player(PLAYER)) else SIMULATED
    by = {"player": whose}
    takes = sums.takes(db, drill, since, **by)
    split = split_at(takes)
    shapes = {number: _shape(sound_plan(plan)) for number, plan in sums.ask(db, ROUTES, drill, since, **by)}
    followed = {row[0]: (row[1], row[2]) for row in sums.ask(db, FOLLOWED, drill, since, **by)}
    rows = sums.ask(db, PLACES, drill, since, **by, split=utc_text(split)) if split else []
    changes = _changes(rows, shapes, dict(followed.values()))
    return ProgressFacts(
        progress=progress_of(takes, weak_ones(change.whole for change in changes)),
        takes=_worked(db, takes, shapes, followed, drill, since, whose),
        changes=changes,
        neck=_neck(rows, shapes),
        split_at=split,
        simulated=sums.simulated(db, drill, since),
        demo_only=whose == SIMULATED and bool(takes),
        vocabulary=vocabulary_rows.read(db, of_player(whose), drill=drill, since=since),
    )


def _shape(plan: Mapping[str, Any]) -> _Shape:
    steps = {int(step["index"]): step for step in plan.get("steps", ())}
    strains = {index: float(step["strain"]) for index, step in steps.items() if step.get("strain") is not None}
    return _Shape(steps, strains, tuple(plan.get("tuning", ())))


def _worked(
    db: Rows,
    played: Sequence[TakeSummary],
    shapes: Mapping[int, _Shape],
    followed: Mapping[int, tuple[int, str]],
    drill: str | None,
    since: str | None,
    player: str,
) -> tuple[Worked, ...]:
    found = []
    takes = sorted(one.take for one in played)
    held: dict[int, dict[int | None, int]] = {take: {} for take in takes}
    for begin in range(0, len(takes), _TAKES_AT_ONCE):
        some = takes[begin : begin + _TAKES_AT_ONCE]
        for take, step, ms in sums.ask(db, WORK, drill, since, player=player, first=some[0], last=some[-1]):
            held[take][step] = int(ms)
    for one in played:
        shape, work = shapes[followed[one.take][0]], held.pop(one.take)
        found.append(Worked(one, sum(work.values()) / 1000, shape.load_s(work)))
    return tuple(found)


def _changes(
    rows: Sequence[Sequence[Any]], shapes: Mapping[int, _Shape], drills: Mapping[int, str]
) -> tuple[ChangeTotals, ...]:
    counts: dict[tuple[str, str, str, str], list[int]] = {}
    asked: dict[tuple[str, str, str, str], Counter[str]] = {}
    for route, step, _, *tried in rows:
        steps = shapes[route].steps
        if not tried[0] or step not in steps or step - 1 not in steps:
            continue
        source, goal = steps[step - 1], steps[step]
        change = (source["chord"], source["kind"], goal["chord"], goal["kind"])
        sofar = counts.setdefault(change, [0, 0, 0, 0])
        counts[change] = [one + int(more) for one, more in zip(sofar, tried, strict=True)]
        asked.setdefault(change, Counter())[drills[route]] += int(tried[0])
    found = []
    for change, (attempts, hits, late_attempts, late_hits) in sorted(counts.items()):
        drill = min(asked[change].items(), key=lambda item: (-item[1], item[0]))[0]
        found.append(ChangeTotals(ChangeProgress(*change, attempts, hits), late_attempts, late_hits, drill))
    return tuple(found)


def _neck(rows: Sequence[Sequence[Any]], shapes: Mapping[int, _Shape]) -> Neck:
    spots: Counter[tuple[int, int]] = Counter()
    for route, step, sounded, *_ in rows:
        planned = shapes[route].steps.get(step)
        if planned is not None and sounded:
            for place in zip(planned.get("strings", ()), planned.get("frets", ()), strict=False):
                spots[place] += int(sounded)
    used = {shapes[route].tuning for route, *_ in rows}
    count = max((*map(len, used), *(string for string, _ in spots)), default=0)
    (tuning,) = used if len(used) == 1 else ((),)
    names = tuple(name or str(number) for number, name in enumerate(string_names(tuning, count), 1))
    return Neck(names, tuple(NeckSpot(*place, strokes) for place, strokes in sorted(spots.items())))
