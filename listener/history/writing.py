"""What is written into the history, as functions within an open transaction; :class:`Store` opens and ends it."""

from __future__ import annotations

import hashlib
import sqlite3
from collections.abc import Sequence
from datetime import datetime
from typing import Any, Final

from listener.hearing.events import Message
from listener.hearing.take_file import Mark
from listener.history.rows import (
    STROKE_COLUMNS,
    TakeInfo,
    compact,
    header_text,
    pack_messages,
    utc_text,
    verdict_row,
)
from listener.judging.verdict import Verdict

_NEXT: Final = "(SELECT coalesce(max(number), 0) + 1 FROM {0} WHERE take = ?1)"
_ADD_STROKE: Final = (
    f"INSERT INTO stroke (take, number, {', '.join(STROKE_COLUMNS)}) "
    f"VALUES (?1, {_NEXT.format('stroke')}, {', '.join(f'?{n}' for n in range(2, len(STROKE_COLUMNS) + 2))})"
)
_ADD_CHUNK: Final = f"INSERT INTO chunk (take, number, messages, marks) VALUES (?1, {_NEXT.format('chunk')}, ?2, ?3)"


def add_session(db: sqlite3.Connection, started_at: datetime) -> int:
    """One sitting; gives its number."""
    return _row_id(db.execute("INSERT INTO session (started_at) VALUES (?)", (utc_text(started_at),)))


def add_take(db: sqlite3.Connection, info: TakeInfo, owner: str) -> int:
    """A take that runs in the program with this token; gives its number."""
    values = _take_values(info, _route(db, info), owner)
    columns, places = ", ".join(values), ", ".join("?" * len(values))
    return _row_id(db.execute(f"INSERT INTO take ({columns}) VALUES ({places})", tuple(values.values())))


def add_stroke(db: sqlite3.Connection, take_id: int, verdict: Verdict) -> None:
    """The next verdict of a take."""
    db.execute(_ADD_STROKE, (take_id, *verdict_row(verdict)))


def add_chunk(db: sqlite3.Connection, take_id: int, messages: Sequence[Message], marks: Sequence[Mark]) -> None:
    """The raw MIDI since the chunk before."""
    if messages or marks:
        words = compact([[mark.time_s, mark.word] for mark in marks])
        db.execute(_ADD_CHUNK, (take_id, pack_messages(messages), words))


def _route(db: sqlite3.Connection, info: TakeInfo) -> int:
    """The number of this drill text and plan, kept now if they are new."""
    plan = compact(info.plan)
    digest = hashlib.sha256(f"{info.drill_text}\0{plan}".encode()).hexdigest()
    known = db.execute("SELECT id FROM route WHERE digest = ?", (digest,)).fetchone()
    if known is not None:
        return int(known[0])
    steps = info.plan.get("steps", [])
    route = _row_id(
        db.execute(
            "INSERT INTO route (digest, drill_text, plan, step_count) VALUES (?, ?, ?, ?)",
            (digest, info.drill_text, plan, len(steps)),
        )
    )
    db.executemany("INSERT INTO target VALUES (?, ?, ?, ?, ?, ?, ?, ?)", [_target(route, step) for step in steps])
    return route


def _target(route: int, step: dict[str, Any]) -> tuple[object, ...]:
    return (
        route,
        step["index"],
        step["chord"],
        step["kind"],
        step["inversion"],
        compact(step["strings"]),
        compact(step["pitches"]),
        max(step["pitches"], default=None),
    )


def _take_values(info: TakeInfo, route: int, owner: str) -> dict[str, object]:
    return {
        "session": info.session,
        "route": route,
        "drill": info.drill,
        "program_version": info.program_version,
        "tuning": compact(info.tuning),
        "capo": info.capo,
        "hand": info.hand,
        "pickup": info.pickup,
        "pace": info.pace,
        "tempo": info.tempo,
        "first_beat_s": info.first_beat_s,
        "source": info.source,
        "seed": info.seed,
        "header": header_text(info.header),
        "started_at": utc_text(info.started_at),
        "owner": owner,
    }


def finish_take(db: sqlite3.Connection, take_id: int, file: str, data: bytes, ended: datetime, recovered: bool) -> None:
    """The take's file is on the disk now, whole: note it, and let go of the copy of the MIDI in here."""
    db.execute(
        "UPDATE take SET finished_at = ?, file = ?, file_sha256 = ?, recovered = ? "
        "WHERE id = ? AND finished_at IS NULL",
        (utc_text(ended), file, hashlib.sha256(data).hexdigest(), recovered, take_id),
    )
    db.execute("DELETE FROM chunk WHERE take = ?", (take_id,))


def _row_id(cursor: sqlite3.Cursor) -> int:
    assert cursor.lastrowid is not None
    return cursor.lastrowid
