"""What is done to rows that are not what was kept, and what the player is told of it; within one transaction."""

from __future__ import annotations

import json
import sqlite3
from collections import Counter
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import UTC, datetime
from typing import Any, Final

from listener.history.safekeeping import sense
from listener.history.safekeeping.seals import SEALED, put_right, seal
from listener.history.skills import reviews
from listener.history.store import accounts
from listener.history.store.rows import utc_text
from listener.history.store.sqlite_rows import SqliteRows
from listener.plain_words import counted
from listener.safe_text import echo

_MOST_LINES: Final = 6

Row = dict[str, Any]


@dataclass
class Work:
    """What is done and said while a history is mended."""

    db: sqlite3.Connection
    said: list[str] = field(default_factory=list)
    #: Values that a single bit had changed.
    put_right: int = 0
    #: How many strokes were set aside of each take.
    fewer: Counter[int] = field(default_factory=Counter)
    #: Takes to be counted and sealed again, and whether everything about skills is to be made out anew.
    recount: set[int] = field(default_factory=set)
    forget: bool = False

    def finish(self) -> None:
        """Takes whose strokes changed are counted again, and graded again when reviews are brought up to date."""
        rows = SqliteRows(self.db)
        there = {number for (number,) in self.db.execute("SELECT id FROM take WHERE finished_at IS NOT NULL")}
        again = sorted({*self.fewer, *self.recount} & there)
        accounts.settle(rows, again)
        if self.forget:
            reviews.forget_all(rows)
        else:
            reviews.forget(rows, again)
        for take, count in sorted(self.fewer.items()):
            strokes, are = counted(count, "stroke"), "is" if count == 1 else "are"
            how = f"; widehand rejudge --take {take} --write makes them again from its MIDI" if take in there else ""
            self.said.append(f"{strokes} of {self.name(take)} could not be trusted any more and {are} set aside{how}")

    def lines(self) -> tuple[str, ...]:
        """For the player; not too many."""
        said = list(dict.fromkeys(self.said))
        if self.put_right:
            rows = counted(self.put_right, "row")
            said.insert(0, f"{rows} of the history had lost a bit and could be put right; the disk may be failing")
        more = len(said) - _MOST_LINES
        return tuple(said) if more <= 0 else (*said[:_MOST_LINES], f"and {more} more like these")

    def name(self, take: int) -> str:
        """``take 12 of mill-verse``."""
        found = self.db.execute("SELECT drill FROM take WHERE id = ?", (take,)).fetchone()
        return f"take {take} of {echo(str(found[0]), 40)}" if found else f"take {take}"

    def aside(self, what: str, row: Mapping[str, Any]) -> None:
        """Keep a row out of everybody's way."""
        content = json.dumps(dict(row), default=lambda value: bytes(value).hex())
        self.db.execute(
            "INSERT INTO aside (set_aside_at, what, content) VALUES (?, ?, ?)",
            (utc_text(datetime.now(UTC)), what, content),
        )

    def delete(self, table: str, row: Mapping[str, Any], keys: Sequence[str]) -> None:
        """Take a row out of its table."""
        where, values = _where(row, keys)
        self.db.execute(f"DELETE FROM {table} WHERE {where}", values)

    def update(self, table: str, row: Mapping[str, Any], keys: Sequence[str], changed: Mapping[str, Any]) -> None:
        """Other values in a row, and the seal that goes with them."""
        where, values = _where(row, keys)
        changed = {**changed, "seal": seal(table, {**row, **changed})}
        if table == "former_stroke":
            changed.pop("take", None)  # it is that of its judgement
        sets = ", ".join(f"{name} = ?" for name in changed)
        self.db.execute(f"UPDATE {table} SET {sets} WHERE {where}", (*changed.values(), *values))

    def lose_take(self, row: Mapping[str, Any]) -> None:
        """Set a whole take aside, its strokes with it."""
        number = row["id"]
        self.aside("take", row)
        for stroke in self.db.execute("SELECT * FROM stroke WHERE take = ? ORDER BY number", (number,)).fetchall():
            self.aside("stroke", dict(zip(("take", *SEALED["stroke"][1:], "seal"), stroke, strict=True)))
        self.db.execute("DELETE FROM take WHERE id = ?", (number,))
        self.forget = True


Mend = Callable[[Work], None]


def _where(row: Mapping[str, Any], keys: Sequence[str]) -> tuple[str, list[Any]]:
    parts, values = [], []
    for name in keys:
        value = row[name]
        if isinstance(value, str):  # as bytes: it may hold what is no text
            parts.append(f"{name} IS CAST(? AS TEXT)")
            values.append(value.encode("utf-8", "surrogateescape"))
        else:
            parts.append(f"{name} IS ?")
            values.append(value)
    return " AND ".join(parts), values


#: What a row is: what it was, sound but without a seal, sound once a bit is turned back, or not to be trusted.
SAME: Final = "same"
UNSEALED: Final = "unsealed"
TURNED: Final = "turned"
SPOILT: Final = "spoilt"


def looked_at(table: str, row: Row) -> tuple[str, Row]:
    """One of these words, and the values that a bit turned back."""
    names, kept = SEALED[table], row["seal"]
    if isinstance(kept, int) and 0 <= kept < 2**32:
        if seal(table, row) == kept:
            return SAME, {}
        values = put_right([row[name] for name in names], kept)
        if values is None:
            return SPOILT, {}
        turned = {name: value for name, value in zip(names, values, strict=True) if value is not row[name]}
        return (SPOILT if sense.trouble(table, {**row, **turned}) else TURNED), turned
    if sense.trouble(table, row):
        return SPOILT, {}
    return (UNSEALED if kept is None else TURNED), {}


def held_against_seals(
    table: str, keys: Sequence[str], rows: Iterator[Row], spoilt: Callable[[Row], Mend]
) -> Iterator[Mend]:
    """What is to be done with rows of a table: those without a seal get theirs, a bit is turned back, and ``spoilt``
    says what becomes of one that cannot be kept."""
    for row in rows:
        state, turned = looked_at(table, row)
        if state == SPOILT:
            yield spoilt(row)
        elif state != SAME:
            yield _sealing(table, keys, row, turned, spoilt, mends=state == TURNED)


def _sealing(
    table: str, keys: Sequence[str], row: Row, turned: Row, spoilt: Callable[[Row], Mend], *, mends: bool
) -> Mend:
    def mend(work: Work) -> None:
        try:
            work.update(table, row, keys, turned)
        except sqlite3.IntegrityError:  # another row has its number now
            spoilt(row)(work)
        else:
            work.put_right += mends

    return mend
