"""The history in a file on this machine: SQLite through Python's own module, and a folder ``takes`` beside it."""

from __future__ import annotations

import errno
import os
import sqlite3
from collections.abc import Iterator
from contextlib import contextmanager
from pathlib import Path
from random import randint
from typing import Final

from listener.hearing.take_file import LARGEST_BYTES
from listener.history.safekeeping import damage
from listener.history.safekeeping.looking import Broken, look_through
from listener.history.skills import reviews
from listener.history.store.connection import connect, connect_for_reading, explained, transaction
from listener.history.store.folders import TAKES, clear_parts, write_take_file
from listener.history.store.owner import Owner, age_s, if_gone, new_token, tokens
from listener.history.store.sqlite_rows import SqliteRows
from listener.places import read_file

#: Where a sign can only be deleted when nobody holds it, one without a take may just be about to be locked; after so
#: many seconds it will not.
_NO_TAKE_YET_S: Final = 3600.0 if os.name == "nt" else -1.0


def _is_in_memory(db: sqlite3.Connection) -> bool:
    return not db.execute("PRAGMA database_list").fetchone()[2]


class Embedded:
    """See :class:`listener.history.store.backend.Backend`."""

    def __init__(
        self,
        path: Path,
        db: sqlite3.Connection,
        notes: tuple[str, ...] = (),
        was_damaged: bool = False,
        *,
        read_only: bool = False,
    ) -> None:
        self._read_only = read_only
        self.path = path
        self.was_damaged = was_damaged
        self.db = db
        self.notes = notes
        self._rows = SqliteRows(db)
        self._owner: Owner | None = None
        self.token = new_token()

    @classmethod
    def open(cls, path: Path, *, read_only: bool) -> Embedded:
        """The file at ``path``, made when there is none; only to read, none is an empty history."""
        if not read_only:
            clear_parts(path.parent, path.parent / TAKES)
            return cls(path, *connect(path))
        backend = cls(path, *connect_for_reading(path), read_only=True)
        if _is_in_memory(backend.db):  # a copy in memory: what follows from its takes can be made out there
            reviews.bring_up_to_date(backend)
        return backend

    @property
    def place(self) -> str:
        """The file."""
        return str(self.path)

    @property
    def beside(self) -> Path:
        """A folder next to the file."""
        return self.path.with_name(f"{self.path.name}-rescued")

    @contextmanager
    def writing(self) -> Iterator[SqliteRows]:
        """Takes the write lock at once, so that it cannot fail half-way; durable when the block ends."""
        with transaction(self.db, self.path):
            yield self._rows

    @contextmanager
    def reading(self) -> Iterator[SqliteRows]:
        """One view for all statements of the block."""
        with explained(self.path):
            self.db.execute("BEGIN")
            try:
                yield self._rows
            finally:
                self.db.execute("ROLLBACK")

    def write_file(self, take: int, name: str, data: bytes) -> str:
        """Beside the history, whole or not at all."""
        with explained(self.path.parent / "takes"):
            return write_take_file(self.path, name, data)

    def file_place(self, file: str) -> str:
        """Its path."""
        return str(self.path.parent / file)

    def read_file(self, take: int, file: str) -> bytes | None:
        """Its content. OSError when it is there and cannot be read."""
        try:
            data = read_file(self.path.parent / file, LARGEST_BYTES)
        except FileNotFoundError:
            return None
        if len(data) > LARGEST_BYTES:
            raise OSError(errno.EFBIG, f"larger than {LARGEST_BYTES >> 20} MB, which no take is")
        return data

    def sign(self) -> str:
        """A locked file beside the history."""
        with explained(self.path):
            self._owner = self._owner or Owner(self.path, self.token)
        return self.token

    @contextmanager
    def if_gone(self, token: str) -> Iterator[bool]:
        """Whether that program's file is locked."""
        with if_gone(self.path, token) as gone:
            yield gone

    def clear_signs(self) -> None:
        """Of all that have ended."""
        with explained(self.path):
            for token in tokens(self.path):
                known = self.db.execute("SELECT 1 FROM take WHERE owner = ?", (token,)).fetchone()
                if known or age_s(self.path, token) > _NO_TAKE_YET_S:
                    with if_gone(self.path, token):
                        pass

    def check(self) -> tuple[str, ...]:
        """Pages, indexes, references, and every row: at the opening of a large history only a part was looked at."""
        with explained(self.path):
            found = damage.thorough_look(self.db)
            if not found and not self._read_only:
                try:
                    found = look_through(self.db, whole=True, chance=randint)
                except Broken as error:
                    found = (str(error),)
            return tuple(f"{self.path}: {line}" for line in found)

    def close(self) -> None:
        """Close the file and take the sign away."""
        with explained(self.path):
            self.db.close()
        if self._owner is not None:
            self._owner.release()
            self._owner = None
