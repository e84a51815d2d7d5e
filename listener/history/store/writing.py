"""What is written into the history, as functions in a transaction that :mod:`listener.history.store.store` opens."""

from __future__ import annotations

import hashlib
from collections.abc import Mapping, Sequence
from datetime import datetime
from typing import Any, Final

from listener.hearing.events import Message
from listener.hearing.take_file import Mark
from listener.history.safekeeping.seals import SEALED, sealed
from listener.history.skills.skill_key import quality_of, skill_key
from listener.history.store.accounts import settle
from listener.history.store.backend import Rows
from listener.history.store.kept_settings import hand_text, instrument_text, pickup_text
from listener.history.store.rows import (
    STROKE_COLUMNS,
    TakeInfo,
    compact,
    header_text,
    pack_messages,
    utc_text,
    verdict_row,
)
from listener.history.store.touches import put_touch
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Verdict

_COLUMNS: Final = ", ".join(STROKE_COLUMNS)
_VALUES: Final = ", ".join(f":{name}" for name in STROKE_COLUMNS)
_NEXT: Final = "SELECT coalesce(max(number), 0) + 1 FROM {0} WHERE take = :take"
_PUT_STROKE: Final = f"INSERT INTO stroke (take, number, {_COLUMNS}, seal) VALUES (:take, :number, {_VALUES}, :seal)"
_PUT_CHUNK: Final = (
    "INSERT INTO chunk (take, number, messages, marks, seal) VALUES (:take, :number, :messages, :marks, :seal)"
)
#: A server may have kept what it could not say any more that it kept; then the same comes once more.
_UNLESS_THERE: Final = " ON CONFLICT (take, number) DO NOTHING"
_TARGET_COLUMNS: Final = SEALED["target"]


def add_session(db: Rows, started_at: datetime) -> int:
    """One sitting; gives its number."""
    values = sealed("session", {"started_at": utc_text(started_at)})
    return _number(db.rows("INSERT INTO session (started_at, seal) VALUES (:started_at, :seal) RETURNING id", **values))


def add_take(db: Rows, info: TakeInfo, owner: str, number: int | None = None) -> int:
    """A take that runs in the program with this token; gives its number, which is ``number`` where one is asked for."""
    values = _take_values(info, _route(db, info), owner)
    if number is not None:
        values["id"] = number
    return _number(db.rows(f"INSERT INTO take ({', '.join(values)}) VALUES ({_places(values)}) RETURNING id", **values))


def add_stroke(db: Rows, take_id: int, verdict: Verdict, number: int | None = None) -> None:
    """The next verdict of a take, or the one of this number (from 1), which stays as it is when it is there."""
    place = number if number is not None else _next(db, "stroke", take_id)
    unless = _UNLESS_THERE if number is not None else ""
    db.rows(_PUT_STROKE + unless, **_stroke_values(take_id, place, verdict))


def _next(db: Rows, table: str, take_id: int) -> int:
    return _number(db.rows(_NEXT.format(table), take=take_id))


def add_chunk(
    db: Rows, take_id: int, messages: Sequence[Message], marks: Sequence[Mark], number: int | None = None
) -> None:
    """The raw MIDI since the chunk before; ``number`` as for strokes."""
    if messages or marks:
        words = compact([[mark.time_s, mark.word] for mark in marks])
        place = number if number is not None else _next(db, "chunk", take_id)
        unless = _UNLESS_THERE if number is not None else ""
        chunk = {"take": take_id, "number": place, "messages": pack_messages(messages), "marks": words}
        db.rows(_PUT_CHUNK + unless, **sealed("chunk", chunk))


def finish_take(
    db: Rows,
    take_id: int,
    file: str,
    data: bytes,
    ended: datetime,
    *,
    recovered: bool,
    touch: TouchAccount | None = None,
) -> None:
    """The take's file is durable now, whole: note it and what the take came to, and let go of the MIDI in here.
    ``touch`` is what its touch came to, None where nobody knows.

    A program that was taken for gone (a server that could not be reached for a while) and comes back with its whole
    take replaces what had been put together in its place.
    """
    db.rows(
        "UPDATE take SET finished_at = :ended, file = :file, file_sha256 = :digest, recovered = :recovered "
        "WHERE id = :take AND (finished_at IS NULL OR recovered > :recovered)",
        take=take_id,
        ended=utc_text(ended),
        file=file,
        digest=hashlib.sha256(data).hexdigest(),
        recovered=int(recovered),
    )
    db.rows("DELETE FROM chunk WHERE take = :take", take=take_id)
    put_touch(db, take_id, touch)
    settle(db, [take_id])


def drop_take(db: Rows, take_id: int) -> None:
    """A take of which nothing was kept goes without a trace; any other stays."""
    db.rows(
        "DELETE FROM take WHERE id = :take AND NOT EXISTS (SELECT 1 FROM stroke WHERE take = :take) "
        "AND NOT EXISTS (SELECT 1 FROM chunk WHERE take = :take)",
        take=take_id,
    )


def replace_strokes(
    db: Rows,
    take_id: int,
    verdicts: Sequence[Verdict],
    at: datetime,
    program_version: str,
    touch: TouchAccount | None = None,
) -> None:
    """Other verdicts for a finished take, by this version of the program; those from before stay as its history."""
    judged_by = "SELECT coalesce(judged_by, program_version) FROM take WHERE id = :take"
    before = str(db.rows(judged_by, take=take_id)[0][0])
    judgement = _number(
        db.rows(
            "INSERT INTO judgement (take, program_version, replaced_at, seal) "
            "VALUES (:take, :program_version, :replaced_at, :seal) RETURNING id",
            **sealed("judgement", {"take": take_id, "program_version": before, "replaced_at": utc_text(at)}),
        )
    )
    db.rows(
        f"INSERT INTO former_stroke (judgement, number, {_COLUMNS}, seal) "
        f"SELECT CAST(:judgement AS BIGINT), number, {_COLUMNS}, seal FROM stroke WHERE take = :take",
        judgement=judgement,
        take=take_id,
    )
    db.rows("DELETE FROM stroke WHERE take = :take", take=take_id)
    numbered = enumerate(verdicts, 1)
    db.many(_PUT_STROKE, [_stroke_values(take_id, number, verdict) for number, verdict in numbered])
    db.rows("UPDATE take SET judged_by = :version WHERE id = :take", take=take_id, version=program_version)
    if touch is not None:
        put_touch(db, take_id, touch)
    settle(db, [take_id])


def route_digest(drill_text: str, plan: str) -> str:
    """What a route is known by: the digest of its drill's text and its plan."""
    return hashlib.sha256(f"{drill_text}\0{plan}".encode()).hexdigest()


def _stroke_values(take_id: int, number: int, verdict: Verdict) -> dict[str, object]:
    values = dict(zip(STROKE_COLUMNS, verdict_row(verdict), strict=True))
    return sealed("stroke", {"take": take_id, "number": number, **values})


def _route(db: Rows, info: TakeInfo) -> int:
    """The number of this drill text and plan, kept now if they are new."""
    plan = compact(info.plan)
    digest = route_digest(info.drill_text, plan)
    steps: Sequence[Mapping[str, Any]] = info.plan.get("steps", [])
    added = db.rows(
        "INSERT INTO route (digest, drill_text, plan, step_count, seal) "
        "VALUES (:digest, :drill_text, :plan, :step_count, :seal) ON CONFLICT (digest) DO NOTHING RETURNING id",
        digest=digest,
        **sealed("route", {"step_count": len(steps), "plan": plan, "drill_text": info.drill_text}),
    )
    if not added:
        return _number(db.rows("SELECT id FROM route WHERE digest = :digest", digest=digest))
    route = _number(added)
    put_targets(db, route, steps)
    return route


def put_targets(db: Rows, route: int, steps: Sequence[Mapping[str, Any]]) -> None:
    """What each step of a plan asks for; none of them is there yet."""
    columns = (*_TARGET_COLUMNS, "seal")
    statement = f"INSERT INTO target ({', '.join(columns)}) VALUES ({', '.join(f':{name}' for name in columns)})"
    rows = [sealed("target", dict(zip(_TARGET_COLUMNS, _target(route, step), strict=True))) for step in steps]
    if rows:
        db.many(statement, rows)


def _target(route: int, step: Mapping[str, Any]) -> tuple[object, ...]:
    quality = quality_of(step["chord"])
    return (
        route,
        step["index"],
        step["chord"],
        step["kind"],
        step["inversion"],
        compact(step["strings"]),
        compact(step["pitches"]),
        max(step["pitches"], default=None),
        quality,
        skill_key(step["kind"], quality, step["inversion"], step["strings"]),
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
        "instrument": instrument_text(info.instrument),
        "hand_model": hand_text(info.hand_model),
        "pickup_profile": pickup_text(info.pickup_profile),
    }


def _places(names: Mapping[str, object]) -> str:
    return ", ".join(f":{name}" for name in names)


def _number(rows: Sequence[Sequence[Any]]) -> int:
    return int(rows[0][0])
