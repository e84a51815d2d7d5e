"""Progress over years: the sums are made where the strokes lie, and only sums come here.

The statements are plain SQL for SQLite and PostgreSQL alike; :mod:`listener.history.progress` says what the numbers
mean, and tests hold both to the same answer.
"""

from __future__ import annotations

import json
from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from listener.history.backend import Rows
from listener.history.progress import Part, progress_of, weak_ones
from listener.history.reviews import PLAYER, SIMULATED
from listener.history.rows import utc_moment
from listener.history.summary import ChangeProgress, Progress
from listener.history.tally import UNIT, Tally

_FIRST: Final = "stroke.attempt = 1"
_TIMED: Final = f"{_FIRST} AND stroke.grade <> 'miss' AND stroke.offset_ms IS NOT NULL"
_SCORED: Final = f"{_FIRST} AND stroke.movement_score IS NOT NULL"
_TOPPED: Final = f"{_FIRST} AND target.top IS NOT NULL"


def _thousandths(column: str) -> str:
    return f"CAST(round({UNIT} * {column}) AS BIGINT)"


def _count(condition: str) -> str:
    return f"sum(CASE WHEN {condition} THEN 1 ELSE 0 END)"


def _sum(condition: str, value: str) -> str:
    return f"sum(CASE WHEN {condition} THEN {value} ELSE 0 END)"


_OFFSET: Final = _thousandths("stroke.offset_ms")
#: For each take: how many strokes, how many steps were tried, and the fields of :class:`Tally` in order.
_COLUMNS: Final = (
    "count(*)",
    f"count(DISTINCT CASE WHEN {_FIRST} THEN stroke.step END)",
    *(_count(f"{_FIRST} AND stroke.grade = '{grade}'") for grade in ("hit", "near", "miss")),
    _count(_SCORED),
    _sum(_SCORED, _thousandths("stroke.movement_score")),
    _count(_TOPPED),
    _count(f"{_TOPPED} AND (stroke.grade = 'hit' OR stroke.top = target.top)"),
    _count(_TIMED),
    _sum(_TIMED, _OFFSET),
    _sum(_TIMED, f"{_OFFSET} * {_OFFSET}"),
)
TAKES: Final = """
    SELECT take.id, take.session, take.drill, take.tempo, take.started_at, route.step_count
    FROM take JOIN route ON route.id = take.route {0}
    ORDER BY take.started_at, take.id
"""
TALLIES: Final = f"""
    SELECT stroke.take, {", ".join(_COLUMNS)}
    FROM stroke JOIN take ON take.id = stroke.take
        LEFT JOIN target ON target.route = take.route AND target.step = stroke.step
    {{0}} GROUP BY stroke.take
"""
FAULTS: Final = f"""
    SELECT take.drill, stroke.fault_codes, count(*)
    FROM stroke JOIN take ON take.id = stroke.take
    {{0}} {{1}} {_FIRST} AND stroke.fault_codes <> '[]' GROUP BY take.drill, stroke.fault_codes
"""
#: A change: a first attempt straight after a stroke that sounded at the step before.
CHANGES: Final = """
    SELECT take.route, stroke.step, count(*), sum(CASE WHEN stroke.grade = 'hit' THEN 1 ELSE 0 END)
    FROM stroke JOIN take ON take.id = stroke.take
        JOIN stroke AS earlier ON earlier.take = stroke.take AND earlier.number = stroke.number - 1
    {0} {1} stroke.attempt = 1 AND earlier.step = stroke.step - 1 AND earlier.top IS NOT NULL
    GROUP BY take.route, stroke.step
"""
TARGETS: Final = "SELECT route, step, chord, kind FROM target WHERE route IN (SELECT route FROM take {0})"


#: Takes with a stroke.
COUNT: Final = "SELECT count(DISTINCT take.id) FROM take JOIN stroke ON stroke.take = take.id {0}"

#: One such take, if there is any.
ANY: Final = "SELECT take.id FROM take JOIN stroke ON stroke.take = take.id {0} LIMIT 1"


def progress(db: Rows, drill: str | None, player: str = PLAYER) -> Progress:
    """A player's progress on all drills, or on one."""
    by = {"player": player}
    return progress_of(parts(db, drill, **by), faults(db, drill, **by), weak_ones(_changes(db, drill, player)))


def simulated(db: Rows, drill: str | None, since: str | None = None) -> int:
    """How many takes with a stroke the simulated guitarist played."""
    return int(ask(db, COUNT, drill, since, player=SIMULATED)[0][0])


def has_takes(db: Rows) -> bool:
    """Whether there is a take with a stroke that the simulated guitarist did not play."""
    return bool(ask(db, ANY, None))


def parts(db: Rows, drill: str | None, since: str | None = None, *, player: str = PLAYER) -> list[Part]:
    """What each take of the player with a stroke brings to progress, oldest first."""
    by = {"player": player}
    tallies = {int(row[0]): [int(value) for value in row[1:]] for row in ask(db, TALLIES, drill, since, **by)}
    return [
        Part(
            take=number,
            session=session,
            drill=name,
            tempo=tempo,
            started_at=utc_moment(started),
            strokes=tallies[number][0],
            complete=steps > 0 and tallies[number][1] >= steps,
            tally=Tally(*tallies[number][2:]),
        )
        for number, session, name, tempo, started, steps in ask(db, TAKES, drill, since, **by)
        if number in tallies
    ]


def ask(
    db: Rows, statement: str, drill: str | None, since: str | None = None, *, player: str = PLAYER, **values: object
) -> Sequence[Sequence[Any]]:
    """Run one of the statements above for all drills, or for one; for takes from ``since`` on (UTC, as it is kept).

    The takes are the player's own or the simulated guitarist's, never both: whose a take is stands at the end of its
    source (:func:`listener.history.reviews.player_of`).
    """
    is_whose = "take.source LIKE :whose" if player == SIMULATED else "take.source NOT LIKE :whose"
    wanted = {
        is_whose: ("whose", f"%{SIMULATED}"),
        "take.drill = :drill": ("drill", drill),
        "take.started_at >= :since": ("since", since),
    }
    given = {condition: pair for condition, pair in wanted.items() if pair[1] is not None}
    return db.rows(statement.format(f"WHERE {' AND '.join(given)}", "AND"), **dict(given.values()), **values)


def faults(db: Rows, drill: str | None, since: str | None = None, *, player: str = PLAYER) -> dict[str, Counter[str]]:
    """How many strokes had which fault, for each drill."""
    found: dict[str, Counter[str]] = {}
    for name, codes, strokes in ask(db, FAULTS, drill, since, player=player):
        counter = found.setdefault(name, Counter())
        for code in set(json.loads(codes)):
            counter[code] += strokes
    return found


def _changes(db: Rows, drill: str | None, player: str) -> list[ChangeProgress]:
    targets = {(route, step): (chord, kind) for route, step, chord, kind in ask(db, TARGETS, drill, player=player)}
    tried: Counter[tuple[str, str, str, str]] = Counter()
    hits: Counter[tuple[str, str, str, str]] = Counter()
    for route, step, attempts, right in ask(db, CHANGES, drill, player=player):
        source, goal = targets.get((route, step - 1)), targets.get((route, step))
        if source is not None and goal is not None:
            tried[(*source, *goal)] += attempts
            hits[(*source, *goal)] += int(right)
    return [ChangeProgress(*change, attempts, hits[change]) for change, attempts in tried.items()]
