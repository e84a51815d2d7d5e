"""Statements on a connection to the embedded file."""

from __future__ import annotations

import sqlite3
from collections.abc import Mapping, Sequence
from typing import Any


class SqliteRows:
    """See :class:`listener.history.store.backend.Rows`."""

    def __init__(self, db: sqlite3.Connection) -> None:
        self._db = db

    def rows(self, statement: str, **values: object) -> Sequence[Sequence[Any]]:
        """All rows of one statement."""
        return self._db.execute(statement, values).fetchall()

    def many(self, statement: str, values: Sequence[Mapping[str, object]]) -> None:
        """One statement, many times."""
        self._db.executemany(statement, values)
