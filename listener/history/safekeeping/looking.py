"""A history looked through when it is opened: what is not what was kept is put right, or set aside and said.

Whoever reads afterwards finds only rows that are what they were when they were written. A single bit that fell over is
turned back by the row's seal (:mod:`listener.history.safekeeping.seals`); what follows from other rows is made anew;
anything else goes into the table ``aside``, and the player is told once.

Small histories are looked through whole. Of a large one it is the newest takes and some others, different ones each
time; when something is found there, all of it.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from typing import Any, Final

from listener.history.safekeeping import sense
from listener.history.safekeeping.mending import (
    SAME,
    SPOILT,
    TURNED,
    UNSEALED,
    Mend,
    Row,
    Work,
    held_against_seals,
    looked_at,
)
from listener.history.safekeeping.seals import SEALED, put_right, seal
from listener.history.store import accounts, touches
from listener.history.store.sqlite_rows import SqliteRows
from listener.history.store.writing import put_targets, route_digest

#: Files up to this size are looked through whole at every opening: some 20,000 strokes, measured 0.25 s.
WHOLE_BYTES: Final = 6_000_000
#: Takes that are looked at of a larger one: the newest, and some in a row from anywhere.
_NEWEST, _SOME = 20, 300
#: Tables with an index besides their key, and those that are one: SQLite's quick look does not hold an index against
#: its table, and does not see whether rows lie in order.
_INDEXED: Final = ("session", "route", "take", "judgement", "skill")
_IN_ORDER: Final = ("target", "stroke", "chunk", "former_stroke", "review", "drill_played", "vocabulary")
#: The digest of a route whose drill and plan are lost begins so.
LOST: Final = "lost "

#: Numbers of takes, first and last.
Ranges = Sequence[tuple[int, int]]
_ALL: Final[Ranges] = ()


def look_through(db: sqlite3.Connection, *, whole: bool, chance: Callable[[int, int], int]) -> tuple[str, ...]:
    """Put right, make anew or set aside what is not what was kept; gives lines for the player.

    ``whole`` looks at everything; ``chance(first, last)`` draws a number from there. The connection must be one that
    may write, outside a transaction. :class:`Broken` when that cannot be done row by row.
    """
    texts = db.text_factory
    db.text_factory = lenient
    try:
        return () if _is_sound(db, whole, chance) else _mended(db)
    finally:
        db.text_factory = texts


def is_sound(db: sqlite3.Connection, *, whole: bool, chance: Callable[[int, int], int]) -> bool:
    """Whether :func:`look_through` would find nothing; also where nothing may be written."""
    texts = db.text_factory
    db.text_factory = lenient
    try:
        return _is_sound(db, whole, chance)
    finally:
        db.text_factory = texts


def lenient(data: bytes) -> str:
    """A text with a byte in it that no text has must not keep the others from being read."""
    return data.decode("utf-8", "surrogateescape")


def _is_sound(db: sqlite3.Connection, whole: bool, chance: Callable[[int, int], int]) -> bool:
    db.execute("BEGIN")
    try:
        ranges = _ALL if whole else _some(db, chance)
        tables = (*_INDEXED, *(_IN_ORDER if whole else ()))
        return not _trouble_with_indexes(db, tables) and next(_faults(db, ranges), None) is None
    finally:
        db.execute("ROLLBACK")


def _some(db: sqlite3.Connection, chance: Callable[[int, int], int]) -> Ranges:
    (last,) = db.execute("SELECT coalesce(max(id), 0) FROM take").fetchone()
    if last <= _NEWEST + _SOME:
        return _ALL
    first = chance(1, last)
    return ((first, first + _SOME), (max(last - _NEWEST, first + _SOME + 1), last))


class Broken(Exception):
    """Rows do not lie where they belong, so that single ones cannot be put right; the text says what was found."""


def _trouble_with_indexes(db: sqlite3.Connection, tables: Sequence[str]) -> str:
    for table in tables:
        (found,) = db.execute(f"PRAGMA integrity_check('{table}')").fetchone()
        if found != "ok":
            return str(found)
    return ""


def _mended(db: sqlite3.Connection) -> tuple[str, ...]:
    db.execute("BEGIN IMMEDIATE")
    try:
        db.execute("PRAGMA defer_foreign_keys = ON")  # numbers of rows are put right one after the other
        work = Work(db)
        if _trouble_with_indexes(db, _INDEXED):
            db.execute("REINDEX")
            work.said.append("an index of the history was damaged and has been made again; nothing is lost")
        trouble = _trouble_with_indexes(db, (*_INDEXED, *_IN_ORDER))
        if trouble:
            raise Broken(trouble)
        for stage in _STAGES:
            for mend in list(stage(db, _ALL)):
                mend(work)
        work.finish()
        db.execute("COMMIT")
    except BaseException:
        if db.in_transaction:
            db.execute("ROLLBACK")
        raise
    return work.lines()


def _faults(db: sqlite3.Connection, ranges: Ranges) -> Iterator[Mend]:
    for stage in _STAGES:
        yield from stage(db, ranges)


def _rows(
    db: sqlite3.Connection, table: str, more: Sequence[str] = (), of_takes: str = "", ranges: Ranges = _ALL
) -> Iterator[Row]:
    """Rows of a table with their seals and more columns; ``of_takes`` is the column with the take's number."""
    names = list(dict.fromkeys((*more, *SEALED[table], "seal")))
    source, columns = table, [f"{table}.{name}" for name in names]
    if table == "former_stroke":
        source = "former_stroke LEFT JOIN judgement ON judgement.id = former_stroke.judgement"
        columns = [name.replace("former_stroke.take", "judgement.take") for name in columns]
    statement = f"SELECT {', '.join(columns)} FROM {source}"
    for found in _within(db, statement, ranges if of_takes else _ALL, of_takes):
        yield dict(zip(names, found, strict=True))


def _within(db: sqlite3.Connection, statement: str, ranges: Ranges, of_takes: str) -> Iterator[Sequence[Any]]:
    """Run a statement for these takes; ``of_takes`` is the column with the take's number."""
    if not ranges:
        yield from db.execute(statement)
    for first, last in ranges:
        yield from db.execute(f"{statement} WHERE {of_takes} BETWEEN {first} AND {last}")


# -- the stages, in the order in which one needs the other


def _sessions(db: sqlite3.Connection, _: Ranges) -> Iterator[Mend]:
    def spoilt(row: Row) -> Mend:
        def mend(work: Work) -> None:
            work.aside("session", row)
            first = _first_take(work.db, row["id"])
            if first is None:
                work.delete("session", row, ("id",))
            else:
                work.update("session", row, ("id",), {"started_at": first})
            work.said.append("the start of a sitting was damaged; its first take now says when it began")

        return mend

    def lost(number: int) -> Mend:
        def mend(work: Work) -> None:
            first = _first_take(work.db, number)
            if first is not None:
                values = (number, first, seal("session", {"started_at": first}))
                work.db.execute("INSERT INTO session (id, started_at, seal) VALUES (?, ?, ?)", values)
                work.said.append("a sitting was lost from the history; its takes are still there")

        return mend

    yield from held_against_seals("session", ("id",), _rows(db, "session", ("id",)), spoilt)
    gone = "SELECT DISTINCT session FROM take WHERE session NOT IN (SELECT id FROM session)"
    yield from (lost(number) for (number,) in db.execute(gone) if isinstance(number, int))


def _first_take(db: sqlite3.Connection, session: int) -> str | None:
    for (text,) in db.execute("SELECT started_at FROM take WHERE session = ? ORDER BY started_at", (session,)):
        if not sense.trouble("session", {"started_at": text}):
            return str(text)
    return None


def _routes(db: sqlite3.Connection, _: Ranges) -> Iterator[Mend]:
    """The digest covers text and plan, the seal those and the number of steps: they check each other."""
    for row in _rows(db, "route", ("id", "digest")):
        state, turned = looked_at("route", row)
        right = {**row, **turned}
        digest_fits = _digest(right) == right["digest"] or str(row["digest"]).startswith(LOST)
        if state == UNSEALED and not digest_fits:  # before there were seals, the digest was one
            state = SPOILT
        if state == SPOILT and digest_fits and row["seal"] is not None:  # only the number of steps, or the seal
            right["step_count"] = len(sense.sound_plan(row["plan"]).get("steps", ()))
            state = SPOILT if sense.trouble("route", right) else TURNED
        if state == SPOILT:
            yield _lost_route(row)
        elif state != SAME or not digest_fits:
            changed = {name: right[name] for name in ("step_count", "plan", "drill_text") if right[name] != row[name]}
            digest = right["digest"] if digest_fits else _digest(right)
            yield _right_route(row, {**changed, "digest": digest}, mends=state != UNSEALED)
    gone = "SELECT DISTINCT route FROM take WHERE route NOT IN (SELECT id FROM route)"
    yield from (_stand_in(number) for (number,) in db.execute(gone) if isinstance(number, int))


def _digest(row: Row) -> str | None:
    try:
        return route_digest(row["drill_text"], row["plan"])
    except (TypeError, UnicodeEncodeError):
        return None


def _right_route(row: Row, changed: Row, *, mends: bool) -> Mend:
    def mend(work: Work) -> None:
        try:
            work.update("route", row, ("id",), changed)
        except sqlite3.IntegrityError:  # the same drill and plan once more
            work.update("route", row, ("id",), {**changed, "digest": f"{LOST}{row['id']}"})
        work.put_right += mends

    return mend


def _lost_route(row: Row) -> Mend:
    def mend(work: Work) -> None:
        work.aside("route", row)
        work.update("route", row, ("id",), _without_plan(work, row["id"]))

    return mend


def _stand_in(number: int) -> Mend:
    def mend(work: Work) -> None:
        row = _without_plan(work, number)
        names = (*row, "id", "seal")
        places = ", ".join("?" * len(names))
        statement = f"INSERT INTO route ({', '.join(names)}) VALUES ({places})"
        work.db.execute(statement, (*row.values(), number, seal("route", row)))

    return mend


def _without_plan(work: Work, route: int) -> Row:
    (steps,) = work.db.execute("SELECT count(*) FROM target WHERE route = ?", (route,)).fetchone()
    takes = [number for (number,) in work.db.execute("SELECT id FROM take WHERE route = ? ORDER BY id", (route,))]
    of = work.name(takes[0]) if takes else "no take"
    more = f" and {len(takes) - 1} more" if len(takes) > 1 else ""
    work.said.append(f"drill and plan of {of}{more} could not be trusted any more and are set aside; the verdicts stay")
    work.recount.update(takes)
    return {"digest": f"{LOST}{route}", "drill_text": "", "plan": "{}", "step_count": steps}


def _targets(db: sqlite3.Connection, _: Ranges) -> Iterator[Mend]:
    """They follow from the plan of their route, where that is still there."""

    def spoilt(row: Row) -> Mend:
        def mend(work: Work) -> None:
            plans = work.db.execute("SELECT plan FROM route WHERE id IS ?", (row["route"],)).fetchall()
            steps = sense.sound_plan(plans[0][0]).get("steps", ()) if plans else ()
            work.delete("target", row, ("route", "step"))
            if steps:
                work.db.execute("DELETE FROM target WHERE route = ?", (row["route"],))
                put_targets(SqliteRows(work.db), row["route"], steps)
                work.put_right += 1
            else:
                work.aside("target", row)
                work.said.append("a step of a drill could not be trusted any more and is set aside")
                work.forget = True

        return mend

    yield from held_against_seals("target", ("route", "step"), _rows(db, "target"), spoilt)
    fewer = """
        SELECT id, plan FROM route WHERE step_count <> (SELECT count(*) FROM target WHERE target.route = route.id)
    """
    for number, plan in db.execute(fewer).fetchall():
        if sense.sound_plan(plan).get("steps"):
            yield spoilt({"route": number, "step": -1})


def _takes(db: sqlite3.Connection, ranges: Ranges) -> Iterator[Mend]:
    def spoilt(row: Row) -> Mend:
        def mend(work: Work) -> None:
            name = work.name(row["id"])
            work.lose_take(row)
            there = (
                f"; its MIDI is in {row['file']}" if isinstance(row["file"], str) and row["file"].isprintable() else ""
            )
            work.said.append(f"{name} could not be trusted any more and is set aside with its strokes{there}")

        return mend

    ended = (row for row in _rows(db, "take", ("owner",), "id", ranges) if not _is_running(row))
    yield from held_against_seals("take", ("id",), ended, spoilt)


def _is_running(row: Row) -> bool:
    """A take that is being played, or was cut off, is sealed when it ends; until then it only has to make sense."""
    return row["finished_at"] is None and row["seal"] is None and not sense.trouble("take", row)


def _strokes(db: sqlite3.Connection, ranges: Ranges) -> Iterator[Mend]:
    def spoilt(row: Row) -> Mend:
        def mend(work: Work) -> None:
            work.aside("stroke", row)
            work.delete("stroke", row, _NUMBERED)
            if isinstance(row["take"], int):
                work.fewer[row["take"]] += 1

        return mend

    yield from held_against_seals("stroke", _NUMBERED, _rows(db, "stroke", (), "take", ranges), spoilt)
    yield from map(spoilt, _without_take(db, "stroke", (), ranges))


#: The key of strokes and chunks.
_NUMBERED: Final = ("take", "number")


def _judgements(db: sqlite3.Connection, ranges: Ranges) -> Iterator[Mend]:
    spoilt = _set_aside("judgement", ("id",), _EARLIER)
    yield from held_against_seals("judgement", ("id",), _rows(db, "judgement", ("id",), "take", ranges), spoilt)
    yield from map(spoilt, _without_take(db, "judgement", ("id",), ranges))


def _former_strokes(db: sqlite3.Connection, ranges: Ranges) -> Iterator[Mend]:
    keys = ("judgement", "number")
    rows = _rows(db, "former_stroke", ("judgement",), "judgement.take", ranges)
    yield from held_against_seals("former_stroke", keys, rows, _set_aside("former_stroke", keys, _EARLIER))


def _chunks(db: sqlite3.Connection, _: Ranges) -> Iterator[Mend]:
    spoilt = _set_aside("chunk", _NUMBERED, _RAW)
    yield from held_against_seals("chunk", _NUMBERED, _rows(db, "chunk"), spoilt)
    yield from map(spoilt, _without_take(db, "chunk", (), _ALL))


_EARLIER: Final = "an earlier judgement could not be trusted any more and is set aside; today's verdicts stay"
_RAW: Final = "some MIDI of a take that was cut off could not be trusted any more and is set aside; the verdicts stay"


def _set_aside(table: str, keys: Sequence[str], words: str) -> Callable[[Row], Mend]:
    def spoilt(row: Row) -> Mend:
        def mend(work: Work) -> None:
            work.aside(table, row)
            work.delete(table, row, keys)
            work.said.append(words)

        return mend

    return spoilt


def _without_take(db: sqlite3.Connection, table: str, more: Sequence[str], ranges: Ranges) -> Iterator[Row]:
    """Rows of takes that are not there."""
    names = (*more, *SEALED[table], "seal")
    rows = f"SELECT * FROM (SELECT {', '.join(names)} FROM {table} WHERE take NOT IN (SELECT id FROM take))"
    return (dict(zip(names, values, strict=True)) for values in _within(db, rows, ranges, "take"))


def _accounts(db: sqlite3.Connection, ranges: Ranges) -> Iterator[Mend]:
    """What a take came to follows from its strokes; a take whose strokes are fewer than were counted has lost some."""

    def again(take: int, words: str) -> Mend:
        def mend(work: Work) -> None:
            work.recount.add(take)
            if words and not work.fewer[take]:
                work.said.append(words.format(work.name(take)))

        return mend

    names = (*accounts.SEALED_SUMS, "account_seal", "id", "finished_at")
    there = "(SELECT count(*) FROM stroke WHERE stroke.take = take.id)"
    statement = f"SELECT {', '.join(names)}, {there} FROM take"
    for *values, count in _within(db, statement, ranges, "id"):
        row = dict(zip(names, values, strict=True))
        if row["finished_at"] is None:
            continue
        if row["account_seal"] is None:
            yield again(row["id"], "")
        elif accounts.account_seal(row) != row["account_seal"]:
            yield again(row["id"], "what {} came to was damaged and has been counted again")
        elif row["strokes"] != count:
            yield again(row["id"], _FEWER.format(row["strokes"] - count, row["id"]))


def _touches(db: sqlite3.Connection, ranges: Ranges) -> Iterator[Mend]:
    """What the touch of a take came to follows from its MIDI alone."""

    def mended(take: int, text: object, kept: object) -> Mend:
        def mend(work: Work) -> None:
            found = put_right([text], kept) if isinstance(text, str) and isinstance(kept, int) else None
            right = found[0] if found and touches.touch_from(found[0]) is not None else None
            values = (right, None if right is None else touches.touch_seal(right), take)
            work.db.execute("UPDATE take SET touch = ?, touch_seal = ? WHERE id = ?", values)
            work.put_right += right is not None
            if right is None:
                work.said.append(_TOUCH.format(work.name(take), take))

        return mend

    for take, text, kept in _within(db, "SELECT id, touch, touch_seal FROM take", ranges, "id"):
        if (text, kept) != (None, None) and (not isinstance(text, str) or touches.touch_seal(text) != kept):
            yield mended(take, text, kept)


_TOUCH: Final = "how {} was touched is lost; widehand rejudge --take {} --write makes it again from its MIDI"
_FEWER: Final = "{} strokes of {{}} are lost; widehand rejudge --take {} --write makes them again from its MIDI"


def _derived(db: sqlite3.Connection, ranges: Ranges) -> Iterator[Mend]:
    """Skills, reviews and what was played follow from takes and strokes."""

    def anew(work: Work) -> None:
        if not work.forget:
            work.said.append("what is due was damaged and has been worked out again from the takes; nothing is lost")
        work.forget = True

    for table, of_takes in (("skill", ""), ("review", "take"), ("drill_played", ""), ("vocabulary", "take")):
        for row in _rows(db, table, (), of_takes, ranges):
            if row["seal"] is None or seal(table, row) != row["seal"]:
                yield anew
                return
    whole = (
        "SELECT 1 FROM review WHERE take NOT IN (SELECT id FROM take) OR skill NOT IN (SELECT id FROM skill)",
        "SELECT 1 FROM skill WHERE route NOT IN (SELECT id FROM route)",
        "SELECT 1 FROM vocabulary WHERE take NOT IN (SELECT id FROM take)",
    )
    checks = (
        "SELECT 1 WHERE (SELECT count(*) FROM reviewing WHERE typeof(turn) = 'integer') <> 1",
        "SELECT 1 FROM reviewing WHERE turn NOT BETWEEN 0 AND 1000000000000",
        "SELECT 1 FROM take WHERE reviewed NOT IN (0, 1) OR typeof(reviewed) <> 'integer'",
        "SELECT 1 FROM take WHERE reviewed = 0 AND id IN (SELECT take FROM review)",
        "SELECT 1 FROM take WHERE reviewed = 0 AND id IN (SELECT take FROM vocabulary)",
        "SELECT 1 FROM skill WHERE stale NOT IN (0, 1)",
        "SELECT 1 FROM drill_played WHERE take NOT IN (SELECT id FROM take)",
        *(() if ranges else whole),
    )
    if any(db.execute(f"{check} LIMIT 1").fetchone() for check in checks):
        yield anew


_STAGES: Final = (
    *(_sessions, _routes, _targets, _takes, _strokes, _judgements, _former_strokes, _chunks, _accounts),
    *(_touches, _derived),
)
