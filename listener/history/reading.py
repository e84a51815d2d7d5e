"""What can be asked of the history, as functions of an open connection; :class:`Store` gives them names and errors."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Iterator
from itertools import groupby
from operator import itemgetter
from typing import Any, Final

from listener.hearing.events import Message
from listener.hearing.take_file import Mark
from listener.history.rows import (
    STROKE_COLUMNS,
    KeptStroke,
    KeptTake,
    PlayedTake,
    TakeInfo,
    Target,
    header_from,
    unpack_messages,
    utc_moment,
    verdict_from,
)
from listener.judging.verdict import Verdict

_TAKE: Final = """
    SELECT take.*, route.drill_text, route.plan, route.step_count
    FROM take JOIN route ON route.id = take.route
"""


def takes(db: sqlite3.Connection, drill: str | None) -> tuple[KeptTake, ...]:
    """All takes, or those of one drill, oldest first."""
    cursor = db.execute(f"{_TAKE} WHERE ?1 IS NULL OR take.drill = ?1 ORDER BY started_at, take.id", (drill,))
    return tuple(map(_take_from, _named(cursor)))


def take(db: sqlite3.Connection, number: int) -> KeptTake | None:
    """One take, or None."""
    cursor = db.execute(f"{_TAKE} WHERE take.id = ?", (number,))
    return next(map(_take_from, _named(cursor)), None)


def verdicts(db: sqlite3.Connection, number: int) -> tuple[Verdict, ...]:
    """The settled verdicts of a take in the order of playing."""
    columns = ", ".join(STROKE_COLUMNS)
    return tuple(
        map(verdict_from, db.execute(f"SELECT {columns} FROM stroke WHERE take = ? ORDER BY number", (number,)))
    )


def chunks(db: sqlite3.Connection, number: int) -> tuple[tuple[Message, ...], tuple[Mark, ...]]:
    """Raw messages and marks of a take that is not finished; ValueError when they are damaged."""
    messages: list[Message] = []
    marks: list[Mark] = []
    for packed, words in db.execute("SELECT messages, marks FROM chunk WHERE take = ? ORDER BY number", (number,)):
        messages.extend(unpack_messages(packed))
        marks.extend(Mark(time_s, word) for time_s, word in json.loads(words))
    return tuple(messages), tuple(marks)


def played(db: sqlite3.Connection, drill: str | None) -> tuple[PlayedTake, ...]:
    """What progress is reckoned from: takes with at least one stroke, oldest first."""
    targets = _targets(db, drill)
    cursor = db.execute(
        """
        SELECT take.id, take.session, take.drill, take.tempo, take.started_at, take.finished_at,
            take.route, route.step_count,
            step, attempt, grade, onset_s, offset_ms, top, movement_score, fault_codes
        FROM take JOIN route ON route.id = take.route JOIN stroke ON stroke.take = take.id
        WHERE ?1 IS NULL OR take.drill = ?1
        ORDER BY take.started_at, take.id, stroke.number
        """,
        (drill,),
    )
    found = []
    for (number, session, name, tempo, started, finished, route, steps), rows in groupby(cursor, itemgetter(slice(8))):
        strokes = tuple(_stroke_from(*row[8:]) for row in rows)
        found.append(
            PlayedTake(
                id=number,
                session=session,
                drill=name,
                tempo=tempo,
                started_at=utc_moment(started),
                finished_at=utc_moment(finished) if finished else None,
                step_count=steps,
                targets=targets.get(route, {}),
                strokes=strokes,
            )
        )
    return tuple(found)


def _stroke_from(
    step: int,
    attempt: int,
    grade: str,
    onset_s: float,
    offset_ms: float | None,
    top: int | None,
    movement_score: float | None,
    fault_codes: str,
) -> KeptStroke:
    codes = tuple(json.loads(fault_codes))
    return KeptStroke(step, attempt, grade, onset_s, offset_ms, top, movement_score, codes)


def _targets(db: sqlite3.Connection, drill: str | None) -> dict[int, dict[int, Target]]:
    found: dict[int, dict[int, Target]] = {}
    cursor = db.execute(
        """
        SELECT route, step, chord, kind, inversion, strings, pitches, top FROM target
        WHERE route IN (SELECT route FROM take WHERE ?1 IS NULL OR drill = ?1)
        """,
        (drill,),
    )
    for route, step, chord, kind, inversion, strings, pitches, top in cursor:
        target = Target(step, chord, kind, inversion, tuple(json.loads(strings)), tuple(json.loads(pitches)), top)
        found.setdefault(route, {})[step] = target
    return found


def _named(cursor: sqlite3.Cursor) -> Iterator[dict[str, Any]]:
    names = [column[0] for column in cursor.description]
    return (dict(zip(names, row, strict=True)) for row in cursor)


def _take_from(row: dict[str, Any]) -> KeptTake:
    return KeptTake(
        id=row["id"],
        info=TakeInfo(
            session=row["session"],
            drill=row["drill"],
            drill_text=row["drill_text"],
            plan=json.loads(row["plan"]),
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
        ),
        step_count=row["step_count"],
        finished_at=utc_moment(row["finished_at"]) if row["finished_at"] else None,
        recovered=bool(row["recovered"]),
        file=row["file"],
    )
