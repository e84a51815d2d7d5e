"""The history of all practice: one SQLite file, and a folder ``takes`` with the raw takes beside it.

Each stroke is committed as it is judged, together with the MIDI that came in since the stroke before. Whatever ends the
program, at most the stroke that was being played is lost; a take that was cut off gets its file when the history
is opened next.
"""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from datetime import datetime
from pathlib import Path
from types import TracebackType
from typing import Self

from listener.errors import StoreError, WidehandError
from listener.hearing.events import Message
from listener.hearing.take_file import Mark, Take, take_bytes
from listener.history import reading, writing
from listener.history.connection import connect, connect_for_reading, explained, transaction
from listener.history.folders import store_place, take_name, write_take_file
from listener.history.owner import Owner, if_gone, tokens
from listener.history.recovery import ended_at, rebuilt_take
from listener.history.rows import KeptTake, PlayedTake, TakeInfo
from listener.judging.verdict import Verdict

#: Builds the Standard MIDI File of a take.
MakeFile = Callable[[Take], bytes]


class Store:
    """An open history; use it in a ``with`` block. Every method can raise :class:`StoreError`.

    ``notes`` are lines for the player about what was found and put right when the history was opened.
    """

    def __init__(self, db: sqlite3.Connection, path: Path) -> None:
        self._db = db
        self.path = path
        self.notes: tuple[str, ...] = ()
        self._owner: Owner | None = None
        self._running: set[int] = set()

    @classmethod
    def open(cls, path: Path | None = None, *, read_only: bool = False, make_file: MakeFile = take_bytes) -> Store:
        """Open or make the history at ``path``, where WIDEHAND_STORE says, or in the platform's folder.

        Takes that were cut off are completed with ``make_file``. With ``read_only`` nothing is written, nothing
        completed, and a history that does not exist yet reads as an empty one.
        """
        place = store_place(path)
        if read_only:
            return cls(connect_for_reading(place), place)
        store = cls(connect(place), place)
        try:
            store.notes = store.recover(make_file)
        except BaseException:
            store.close()
            raise
        return store

    def close(self) -> None:
        """Close the file. Takes that were not finished are completed when the history is opened next."""
        with explained(self.path):
            self._db.close()
        if self._owner is not None:
            self._owner.release()
            self._owner = None

    def __enter__(self) -> Self:
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        self.close()

    # -- writing

    def begin_session(self, started_at: datetime) -> int:
        """One sitting; gives its number."""
        with transaction(self._db, self.path) as db:
            return writing.add_session(db, started_at)

    def begin_take(self, info: TakeInfo) -> int:
        """A take starts now; gives its number. Until it is finished it counts as running in this program."""
        with explained(self.path):
            self._owner = self._owner or Owner(self.path)
        with transaction(self._db, self.path) as db:
            take_id = writing.add_take(db, info, self._owner.token)
        self._running.add(take_id)
        return take_id

    def keep(self, take_id: int, verdict: Verdict, messages: Sequence[Message], marks: Sequence[Mark] = ()) -> None:
        """Make one settled verdict durable, with the raw messages (and marks) since the last call.

        When this raises, nothing of it was kept: pass the same verdict and messages again once the cause is gone.
        """
        if not verdict.settled:
            raise ValueError("only settled verdicts are kept")
        with self._writing(take_id) as db:
            writing.add_stroke(db, take_id, verdict)
            writing.add_chunk(db, take_id, messages, marks)

    def keep_messages(self, take_id: int, messages: Sequence[Message], marks: Sequence[Mark] = ()) -> None:
        """Make raw messages and marks durable without a verdict, for instance when the player pauses."""
        with self._writing(take_id) as db:
            writing.add_chunk(db, take_id, messages, marks)

    def finish_take(self, take_id: int, take_file_bytes: bytes, finished_at: datetime) -> str:
        """Write the raw take as ``takes/NNNN-drillname.mid`` beside the history; gives that relative name."""
        if take_id not in self._running:
            raise ValueError(f"take {take_id} is not running here")
        kept = self.take(take_id)
        name = self._complete(kept, take_file_bytes, finished_at, recovered=False)
        self._running.discard(take_id)
        return name

    def recover(self, make_file: MakeFile = take_bytes) -> tuple[str, ...]:
        """Complete the takes of programs that have ended without finishing them; gives a line for each."""
        with explained(self.path):
            open_takes = self._db.execute("SELECT id, owner FROM take WHERE finished_at IS NULL").fetchall()
        notes = []
        for take_id, owner in open_takes:
            if take_id in self._running:
                continue
            with if_gone(self.path, owner) as gone:
                if gone:
                    notes.append(self._recover(take_id, make_file))
        self._clear_signs()
        return tuple(filter(None, notes))

    # -- reading

    def take(self, take_id: int) -> KeptTake:
        """One take; StoreError when there is none of that number."""
        with explained(self.path):
            kept = reading.take(self._db, take_id)
        if kept is None:
            raise StoreError(f"there is no take {take_id} in {self.path}; see widehand progress for what there is")
        return kept

    def takes(self, drill: str | None = None) -> tuple[KeptTake, ...]:
        """All takes, or those of one drill, oldest first."""
        with explained(self.path):
            return reading.takes(self._db, drill)

    def verdicts(self, take_id: int) -> tuple[Verdict, ...]:
        """The verdicts of a take as they were kept, in the order of playing."""
        with explained(self.path):
            return reading.verdicts(self._db, take_id)

    def played(self, drill: str | None = None) -> tuple[PlayedTake, ...]:
        """Takes with their strokes, for :func:`listener.history.progress.summarise`; oldest first."""
        with explained(self.path):
            return reading.played(self._db, drill)

    def take_file(self, take_id: int) -> bytes:
        """The Standard MIDI File of a finished take."""
        kept = self.take(take_id)
        if kept.file is None:
            raise StoreError(f"take {take_id} is not finished, so it has no file yet; finish it first")
        file = self.path.parent / kept.file
        try:
            return file.read_bytes()
        except OSError as error:
            reason = (error.strerror or str(error)).lower()
            raise StoreError(f"take {take_id} cannot be read from {file} ({reason}); put the file back") from error

    # -- within

    @contextmanager
    def _writing(self, take_id: int) -> Iterator[sqlite3.Connection]:
        if take_id not in self._running:
            raise ValueError(f"take {take_id} is not running here")
        with transaction(self._db, self.path) as db:
            yield db

    def _clear_signs(self) -> None:
        """Take away the signs of programs that were killed between takes.

        Only of programs with a take in here: a sign without one may be just about to be locked.
        """
        with explained(self.path):
            for token in tokens(self.path):
                if self._db.execute("SELECT 1 FROM take WHERE owner = ?", (token,)).fetchone():
                    with if_gone(self.path, token):
                        pass

    def _recover(self, take_id: int, make_file: MakeFile) -> str:
        kept = self.take(take_id)
        if kept.finished_at is not None:
            return ""  # another program was quicker
        try:
            messages, marks = reading.chunks(self._db, take_id)
            verdicts = self.verdicts(take_id)
            data = make_file(rebuilt_take(kept, messages, marks))
            self._complete(kept, data, ended_at(kept, messages, verdicts), recovered=True)
        except (WidehandError, ValueError) as error:
            return f"take {take_id} of {kept.info.drill} was cut off and its file cannot be made: {error}"
        count = "1 stroke is" if len(verdicts) == 1 else f"{len(verdicts)} strokes are"
        return f"take {take_id} of {kept.info.drill} was cut off; its {count} kept"

    def _complete(self, kept: KeptTake, data: bytes, finished_at: datetime, *, recovered: bool) -> str:
        with explained(self.path.parent / "takes"):
            name = write_take_file(self.path, take_name(kept.id, kept.info.drill), data)
        with transaction(self._db, self.path) as db:
            writing.finish_take(db, kept.id, name, data, finished_at, recovered)
        return name
