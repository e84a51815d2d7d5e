"""What a history is kept in, as seen from above: a file on this machine, or a studio's server.

Both speak the same statements (:mod:`listener.history.store.reading`, :mod:`~listener.history.store.writing`,
:mod:`~listener.history.progress.sums`): plain SQL with named values (``:take``) that SQLite and PostgreSQL read alike.
Only what truly differs lies behind this protocol: how one connects, what the tables look like, how a commit becomes
durable, how one knows that another program still plays, and where the takes' files lie. The embedded file needs nothing
but Python's own sqlite3 module; a layer that builds statements for both would have put a library between every stroke
and the disk.
"""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from contextlib import AbstractContextManager
from pathlib import Path
from typing import Any, Protocol


class Rows(Protocol):
    """Runs statements within a transaction."""

    def rows(self, statement: str, **values: object) -> Sequence[Sequence[Any]]:
        """Run one statement and give all its rows, if it has any."""

    def many(self, statement: str, values: Sequence[Mapping[str, object]]) -> None:
        """Run one statement once for each of these, never for none."""


class Backend(Protocol):
    """An open history. Every method can raise :class:`listener.errors.StoreError`."""

    @property
    def place(self) -> str:
        """Where it lies, in words for the player; without passwords."""

    @property
    def notes(self) -> tuple[str, ...]:
        """Lines for the player about what was found and put right when it was opened."""

    @property
    def token(self) -> str:
        """What tells this program, with this history open, from all others."""

    @property
    def beside(self) -> Path:
        """The folder on this machine for takes that it cannot keep for now; it need not be there."""

    def writing(self) -> AbstractContextManager[Rows]:
        """A transaction: all or nothing, durable when the block ends."""

    def reading(self) -> AbstractContextManager[Rows]:
        """One view of the whole; nothing is written."""

    def write_file(self, take: int, name: str, data: bytes) -> str:
        """Keep a take's file durably under ``name`` (without ending); gives what ``take.file`` should say."""

    def file_place(self, file: str) -> str:
        """Where that file lies, in words for the player."""

    def read_file(self, take: int, file: str) -> bytes | None:
        """A take's file, None when it is not there any more."""

    def sign(self) -> str:
        """This program counts as playing from now until it ends, however it ends; gives its token."""

    def if_gone(self, token: str) -> AbstractContextManager[bool]:
        """True when the program with this token has ended; its place is held meanwhile."""

    def clear_signs(self) -> None:
        """Forget programs that were killed between takes."""

    def check(self) -> tuple[str, ...]:
        """Look at everything; a line for each kind of damage found."""

    def close(self) -> None:
        """Let go of it."""
