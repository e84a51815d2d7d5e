"""Progress over years: the accounts of takes lie ready, and changes are counted where the strokes lie.

The statements are plain SQL for SQLite and PostgreSQL alike; :mod:`listener.history.progress.progress` says what a
change is, and tests hold both to the same answer.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from typing import Any, Final

from listener.history.progress.progress import progress_of, weak_ones
from listener.history.progress.summary import ChangeProgress, Progress, TakeSummary
from listener.history.skills.reviews import PLAYER, SIMULATED, whose
from listener.history.store.accounts import ACCOUNT, account_from
from listener.history.store.backend import Rows
from listener.history.store.rows import utc_moment
from listener.history.store.touches import touch_from

TAKES: Final = f"""
    SELECT take.id, take.session, take.drill, take.tempo, take.started_at, take.touch, {ACCOUNT}
    FROM take JOIN route ON route.id = take.route {{0}}
    ORDER BY take.started_at, take.id
"""
#: A change: a first attempt straight after a stroke that sounded at the step before.
CHANGE: Final = "stroke.attempt = 1 AND earlier.step = stroke.step - 1 AND earlier.top IS NOT NULL"
CHANGES: Final = f"""
    SELECT take.route, stroke.step, count(*), sum(CASE WHEN stroke.grade = 'hit' THEN 1 ELSE 0 END)
    FROM stroke JOIN take ON take.id = stroke.take
        JOIN stroke AS earlier ON earlier.take = stroke.take AND earlier.number = stroke.number - 1
    {{0}} AND {CHANGE}
    GROUP BY take.route, stroke.step
"""
TARGETS: Final = "SELECT route, step, chord, kind FROM target WHERE route IN (SELECT route FROM take {0})"
COUNT: Final = "SELECT count(*) FROM take {0}"
#: One such take, if there is any.
ANY: Final = "SELECT take.id FROM take {0} LIMIT 1"


def progress(db: Rows, drill: str | None, player: str = PLAYER) -> Progress:
    """A player's progress on all drills, or on one."""
    return progress_of(takes(db, drill, player=player), weak_ones(_changes(db, drill, player)))


def simulated(db: Rows, drill: str | None, since: str | None = None) -> int:
    """How many takes the simulated guitarist played."""
    return int(ask(db, COUNT, drill, since, player=SIMULATED)[0][0])


def has_takes(db: Rows) -> bool:
    """Whether there is a take that the simulated guitarist did not play."""
    return bool(ask(db, ANY, None))


def takes(db: Rows, drill: str | None, since: str | None = None, *, player: str = PLAYER) -> list[TakeSummary]:
    """What each take of the player came to, oldest first."""
    return [
        TakeSummary(number, session, name, tempo, utc_moment(started), account, touch_from(touch))
        for number, session, name, tempo, started, touch, *sums in ask(db, TAKES, drill, since, player=player)
        if (account := account_from(sums)) is not None
    ]


def ask(
    db: Rows, statement: str, drill: str | None, since: str | None = None, *, player: str = PLAYER, **values: object
) -> Sequence[Sequence[Any]]:
    """Run a statement for all drills, or for one; for takes from ``since`` on (UTC, as it is kept): its ``{0}`` becomes
    ``WHERE`` with what the takes must be.

    They have ended and have a stroke, and are the player's own or the simulated guitarist's, never both: whose a take
    is stands at the end of its source (:func:`listener.history.skills.reviews.player_of`).
    """
    is_whose, pattern = whose(player)
    wanted = {
        is_whose: ("whose", pattern),
        "take.drill = :drill": ("drill", drill),
        "take.started_at >= :since": ("since", since),
    }
    given = {condition: pair for condition, pair in wanted.items() if pair[1] is not None}
    where = " AND ".join(("take.strokes > 0", *given))
    return db.rows(statement.format(f"WHERE {where}"), **dict(given.values()), **values)


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
