"""What can be asked of the history; :mod:`listener.history.store.store` gives it names, a transaction and errors."""

from __future__ import annotations

import json
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final, NamedTuple

from listener.errors import StoreError
from listener.hearing.events import Message
from listener.hearing.take_file import Mark
from listener.history.safekeeping.sense import sound_plan
from listener.history.store import accounts
from listener.history.store.backend import Rows
from listener.history.store.kept_settings import hand_from, instrument_from, pickup_from
from listener.history.store.rows import (
    STROKE_COLUMNS,
    FormerJudgement,
    KeptTake,
    TakeInfo,
    header_from,
    unpack_messages,
    utc_moment,
    verdict_from,
)
from listener.history.store.touches import touch_from
from listener.judging.verdict import Verdict

_TAKE_COLUMNS: Final = (
    *("id", "session", "drill", "program_version", "tuning", "capo", "hand", "pickup", "pace", "tempo"),
    *("first_beat_s", "source", "seed", "header", "started_at", "finished_at", "recovered", "file", "file_sha256"),
    *("route", "instrument", "hand_model", "pickup_profile", "judged_by"),
    *accounts.COLUMNS,
    "touch",
)
_TAKE: Final = f"SELECT {', '.join(_TAKE_COLUMNS)} FROM take"
#: Apart from the takes: drill text and plan are long, and the same for many of them.
_ROUTE: Final = "SELECT id, drill_text, plan, step_count FROM route"
_STROKE: Final = ", ".join(STROKE_COLUMNS)
_DRILL: Final = "WHERE take.drill = :drill"


def takes(db: Rows, drill: str | None) -> tuple[KeptTake, ...]:
    """All takes, or those of one drill, oldest first."""
    rows = _of_drill(db, f"{_TAKE} {{0}} ORDER BY started_at, id", drill)
    routes = _routes(_of_drill(db, f"{_ROUTE} WHERE id IN (SELECT route FROM take {{0}})", drill))
    return tuple(_take_from(row, routes) for row in rows)


def take(db: Rows, number: int) -> KeptTake | None:
    """One take, or None."""
    rows = db.rows(f"{_TAKE} WHERE id = :take", take=number)
    routes = _routes(db.rows(f"{_ROUTE} WHERE id = (SELECT route FROM take WHERE id = :take)", take=number))
    return _take_from(rows[0], routes) if rows else None


def unfinished(db: Rows) -> tuple[tuple[int, str], ...]:
    """Takes without an end, each with the token of the program that plays or played it."""
    rows = db.rows("SELECT id, owner FROM take WHERE finished_at IS NULL ORDER BY id")
    return tuple((number, owner) for number, owner in rows)


def sitting(db: Rows, number: int) -> datetime:
    """When the sitting began that a take belongs to."""
    statement = "SELECT started_at FROM session WHERE id = (SELECT session FROM take WHERE id = :take)"
    return utc_moment(db.rows(statement, take=number)[0][0])


def drills(db: Rows) -> tuple[str, ...]:
    """The names of all drills of which a take with a stroke has ended, by the alphabet."""
    rows = db.rows("SELECT DISTINCT drill FROM take WHERE strokes > 0")
    return tuple(sorted(name for (name,) in rows))


def verdicts(db: Rows, number: int) -> tuple[Verdict, ...]:
    """The settled verdicts of a take in the order of playing; StoreError when what was kept makes no sense any more."""
    rows = db.rows(f"SELECT {_STROKE} FROM stroke WHERE take = :take ORDER BY number", take=number)
    try:
        return tuple(map(verdict_from, rows))
    except (AttributeError, LookupError, TypeError, ValueError) as error:
        raise StoreError(f"a stroke of take {number} is damaged and cannot be read; put back a copy") from error


def former_judgements(db: Rows, number: int) -> tuple[FormerJudgement, ...]:
    """What the take was judged to be before, oldest first."""
    rows = db.rows("SELECT id, program_version, replaced_at FROM judgement WHERE take = :take ORDER BY id", take=number)
    statement = f"SELECT {_STROKE} FROM former_stroke WHERE judgement = :judgement ORDER BY number"
    return tuple(
        FormerJudgement(version, utc_moment(at), tuple(map(verdict_from, db.rows(statement, judgement=judgement))))
        for judgement, version, at in rows
    )


def chunks(db: Rows, number: int) -> tuple[tuple[Message, ...], tuple[Mark, ...]]:
    """Raw messages and marks of a take that is not finished; ValueError when they are damaged."""
    messages: list[Message] = []
    marks: list[Mark] = []
    for packed, words in db.rows("SELECT messages, marks FROM chunk WHERE take = :take ORDER BY number", take=number):
        messages.extend(unpack_messages(bytes(packed)))
        marks.extend(Mark(time_s, word) for time_s, word in json.loads(words))
    return tuple(messages), tuple(marks)


def _of_drill(db: Rows, statement: str, drill: str | None) -> Sequence[Sequence[Any]]:
    """Run a statement for all drills, or for one: its ``{0}`` becomes the condition."""
    return db.rows(statement.format("")) if drill is None else db.rows(statement.format(_DRILL), drill=drill)


class _Route(NamedTuple):
    drill_text: str
    plan: Mapping[str, Any]
    step_count: int


def _routes(rows: Sequence[Sequence[Any]]) -> dict[int, _Route]:
    return {number: _Route(text, sound_plan(plan), steps) for number, text, plan, steps in rows}


def _take_from(values: Sequence[Any], routes: Mapping[int, _Route]) -> KeptTake:
    row = dict(zip(_TAKE_COLUMNS, values, strict=True))
    route = routes[row["route"]]
    return KeptTake(
        id=row["id"],
        info=TakeInfo(
            session=row["session"],
            drill=row["drill"],
            drill_text=route.drill_text,
            plan=route.plan,
            tuning=tuple(json.loads(row["tuning"])),
            capo=row["capo"],
            hand=row["hand"],
            pickup=row["pickup"],
            pace=row["pace"],
            source=row["source"],
            started_at=utc_moment(row["started_at"]),
            tempo=row["tempo"],
            first_beat_s=row["first_beat_s"],
            seed=row["seed"],
            header=header_from(row["header"]),
            program_version=row["program_version"],
            instrument=instrument_from(row["instrument"]),
            hand_model=hand_from(row["hand_model"]),
            pickup_profile=pickup_from(row["pickup_profile"]),
        ),
        step_count=route.step_count,
        finished_at=utc_moment(row["finished_at"]) if row["finished_at"] else None,
        recovered=bool(row["recovered"]),
        file=row["file"],
        sha256=row["file_sha256"],
        route=row["route"],
        judged_by=row["judged_by"] or row["program_version"],
        account=accounts.account_from([route.step_count, *(row[name] for name in accounts.COLUMNS)]),
        touch=touch_from(row["touch"]),
    )
