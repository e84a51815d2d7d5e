"""What ``today`` needs to know from the history: skills that are due, changes that are weak, drills that were played.

Three small tables are read, however many years of strokes lie behind them.
"""

from __future__ import annotations

import json
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from datetime import UTC, datetime, timedelta
from typing import Any, Final

from listener.drill.making.skill_drill import Shape
from listener.history.skills.memory import REVIEW, recall
from listener.history.skills.skills import is_change, keys_of, sides
from listener.history.store.accounts import ACCOUNT, account_from
from listener.history.store.backend import Rows
from listener.history.store.rows import utc_moment, utc_text
from listener.judging.account import Account

#: What falls due within this time counts as due today: nobody practises at the same minute every day. Our own choice.
AHEAD: Final = timedelta(hours=12)
#: How pressing a skill is at least while it is still being learned, when it was played a moment ago. Our own choice.
FRESH_URGENCY: Final = 0.3
#: A change is weak when lately fewer than this share were hits, after so many tries. Our own choice.
WEAK_BELOW: Final = 0.7
WEAK_TRIES: Final = 4
#: So many chords are taken as examples of a skill.
_EXAMPLES: Final = 4

SKILLS: Final = """
    SELECT key, stability_days, stage, reviewed_at, due_at, recent, tries, route, step
    FROM skill WHERE player = :player
"""
DRILLS: Final = f"""
    SELECT played.drill, played.title, played.route, take.tempo, played.drill_tempo, played.beats, played.strain,
        played.played_at, {ACCOUNT}
    FROM drill_played AS played JOIN take ON take.id = played.take JOIN route ON route.id = take.route
    WHERE played.player = :player ORDER BY played.played_at, played.drill
"""
TARGETS: Final = """
    SELECT route, step, skill FROM target WHERE route IN (SELECT route FROM drill_played WHERE player = :player)
"""
_EXAMPLE: Final = "SELECT chord, kind, strings, pitches FROM target WHERE route = :route AND step = :step"
_SAME: Final = """
    SELECT chord, kind, strings, pitches FROM target
    WHERE skill = :skill GROUP BY chord, kind, strings, pitches ORDER BY min(route), min(step) LIMIT :most
"""


@dataclass(frozen=True, slots=True)
class KnownSkill:
    """A skill as ``today`` sees it: how pressing it is (0 to 1, the chance that it has gone), when it is due, the
    share of hits lately, and the step that asked for it last."""

    key: str
    urgency: float
    due_at: datetime
    recent: float
    tries: int
    route: int
    step: int


@dataclass(frozen=True, slots=True)
class PlayedDrill:
    """A drill by the newest take of all of it, or where there is none by the newest: tempo of the take and of the drill
    in beats per minute (None at the own pace, and where it was not kept), its length in beats, mean strain (0 to 1),
    what the take came to, and the skills it shows. ``played_at`` is when any of it was played last."""

    drill: str
    title: str
    route: int
    tempo: float | None
    drill_tempo: float | None
    beats: float
    strain: float
    played_at: datetime
    account: Account
    covers: frozenset[str]


@dataclass(frozen=True, slots=True)
class Standpoint:
    """``due`` most pressing first, ``weak`` changes weakest first, ``drills`` longest ago first. ``skills`` is how many
    there are, ``next_due`` when the first of those falls due that are not due yet, None without any."""

    skills: int = 0
    due: tuple[KnownSkill, ...] = ()
    weak: tuple[KnownSkill, ...] = ()
    drills: tuple[PlayedDrill, ...] = ()
    next_due: datetime | None = None


def standpoint(db: Rows, player: str, now: datetime) -> Standpoint:
    """Where a player stands at this moment."""
    now = now.astimezone(UTC)
    horizon = utc_text(now + AHEAD)
    due, weak, later, count = [], [], [], 0
    for row in db.rows(SKILLS, player=player):
        count += 1
        key, due_at, recent, tries = row[0], row[4], row[5], row[6]
        if due_at <= horizon:
            due.append(_known(row, now))
        else:
            later.append(due_at)
        if recent < WEAK_BELOW and tries >= WEAK_TRIES and is_change(key):
            weak.append(_known(row, now))
    return Standpoint(
        skills=count,
        due=tuple(sorted(due, key=lambda one: (-one.urgency, one.due_at, one.key))),
        weak=tuple(sorted(weak, key=lambda one: (one.recent, -one.tries, one.key))),
        drills=_drills(db, player),
        next_due=utc_moment(min(later)) if later else None,
    )


def examples(db: Rows, skill: KnownSkill) -> tuple[tuple[Shape, ...], ...]:
    """Shapes to practise a skill with: of a change the one that was asked for last, both sides together; of a shape all
    chords that were asked for in it, each by itself."""
    if is_change(skill.key):
        both = [_shape(row) for step in (skill.step - 1, skill.step) for row in _at(db, skill.route, step)]
        # The same shape once more is no change that could be practised.
        return (tuple(both),) if len(both) == len(sides(skill.key)) == len(set(both)) else ()
    return tuple((_shape(row),) for row in db.rows(_SAME, skill=skill.key, most=_EXAMPLES))


def _at(db: Rows, route: int, step: int) -> Sequence[Sequence[Any]]:
    return db.rows(_EXAMPLE, route=route, step=step)


def _known(row: Sequence[Any], now: datetime) -> KnownSkill:
    key, stability, stage, reviewed_at, due_at, recent, tries, route, step = row
    gone = 1.0 - recall(stability, (now - utc_moment(reviewed_at)) / timedelta(days=1))
    urgency = gone if stage == REVIEW else max(gone, FRESH_URGENCY)
    return KnownSkill(key, urgency, utc_moment(due_at), recent, tries, route, step)


def _drills(db: Rows, player: str) -> tuple[PlayedDrill, ...]:
    skills: dict[int, dict[int, str | None]] = {}
    for route, step, skill in db.rows(TARGETS, player=player):
        skills.setdefault(route, {})[step] = skill
    return tuple(_drill(row, keys_of(skills.get(row[2], {}))) for row in db.rows(DRILLS, player=player))


def _drill(row: Iterable[Any], covers: frozenset[str]) -> PlayedDrill:
    drill, title, route, tempo, own, beats, strain, played_at, *sums = row
    account = account_from(sums) or Account()
    return PlayedDrill(drill, title, route, tempo, own, beats, strain, utc_moment(played_at), account, covers)


def _shape(row: Sequence[Any]) -> Shape:
    chord, kind, strings, pitches = row
    return Shape(chord, kind, tuple(json.loads(strings)), tuple(json.loads(pitches)))
