"""Keeps a take while it is played: in the history, or if that cannot be, elsewhere until the next start."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from listener.errors import StoreError
from listener.hearing.events import Message
from listener.hearing.take_file import Mark, take_bytes
from listener.history.safekeeping.rescue import Rescue
from listener.history.safekeeping.take_record import record_of
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Verdict
from listener.session.take.practice import Practice

#: A server that does not answer holds the player up for seconds: after so long a try (seconds) the next one waits for
#: so many times as long. What fails at once is tried again with the next verdict.
_LONG_S: Final = 0.25
_PATIENCE: Final = 10.0
#: Between why it is not in the history and where it is.
_WHERE: Final = " - "


def utc_now() -> datetime:
    """The time of day."""
    return datetime.now(UTC)


class Session:
    """One sitting, in which there are takes. It is begun in the history with the first of them."""

    def __init__(self, store: Store, started_at: datetime) -> None:
        self.started_at = started_at
        self._store = store
        self._number: int | None = None

    @property
    def number(self) -> int:
        """Its number in the history; StoreError as long as that cannot be written."""
        if self._number is None:
            self._number = self._store.begin_session(self.started_at)
        return self._number


@dataclass(frozen=True)
class Unkept:
    """A take that is over and not whole in the history, which says why not (``reason``).

    Of its ``of`` verdicts ``missing`` are not there, and ``lost`` are nowhere; with ``has_all`` only the take's file is
    not there. ``file`` is where the take waits for the next start, None when nothing could be written.
    """

    drill: str
    of: int
    missing: int
    lost: int
    has_all: bool
    reason: str
    file: Path | None

    def __str__(self) -> str:
        """One line for the player."""
        if self.has_all:
            what = f"This take of {self.drill} has no MIDI file yet ({self.reason})"
        else:
            verdicts = f"{self.missing} of {self.of} verdicts of " if self.missing else ""
            what = f"Not in the history: {verdicts}this take of {self.drill} ({self.reason})"
        if self.lost or not (self.has_all or self.file):
            lost = f"{self.lost} of them are lost" if self.lost else "what was played is lost"
            return f"{what}. No other folder could be written either: {lost}."
        if self.file is None:
            return f"{what}. Nothing is lost: the next start makes it."
        return f"{what}. Nothing is lost: the whole take is in {self.file}, and the next start takes it in."


class StoreRecorder:
    """One take: begun when made, every settled verdict durable at once, the raw take written at the end.

    A disk that is full, a history that is locked, a server that stays away must not end the take. What the history does
    not take waits, and is tried again with the next verdict; meanwhile the whole take is written elsewhere with every
    verdict (:mod:`listener.history.safekeeping.rescue`), before the verdict is shown. ``trouble`` says so; what is not
    in the history at the end is in ``unkept``.
    """

    def __init__(
        self,
        store: Store,
        session: Session,
        practice: Practice,
        *,
        seed: int | None,
        now: Callable[[], datetime] = utc_now,
    ) -> None:
        self._store = store
        self._session = session
        self._now = now
        header = practice.take().header
        assert header is not None  # a take in progress always has one
        self._info = TakeInfo.of(
            practice.plan,
            session=0,
            pickup=header.pickup,
            pace=header.pace,
            tempo=practice.settings.tempo,
            first_beat_s=header.first_beat_s,
            source=practice.settings.source,
            started_at=now(),
            seed=seed,
            header=header,
        )
        self._take_id: int | None = None
        self._practice = practice
        self._seen_marks = 0
        self._waiting: list[tuple[Verdict | None, Sequence[Message], Sequence[Mark]]] = []
        self._rescue = Rescue(store.backend, self._info.started_at, self._info.drill)
        self._rescued = 0
        self._not_before_s = 0.0
        self.trouble = ""
        self.unkept: Unkept | None = None
        self._try()

    @property
    def take_id(self) -> int | None:
        """The number of the take in the history, once it is there."""
        return self._take_id

    def keep(self, verdict: Verdict, messages: Sequence[Message]) -> None:
        """One verdict, with the messages and marks since the last."""
        self._keep(verdict, messages)

    def keep_messages(self, messages: Sequence[Message]) -> None:
        """The messages since the last, where there is no verdict to keep."""
        self._keep(None, messages)

    def _keep(self, verdict: Verdict | None, messages: Sequence[Message]) -> None:
        marks = self._practice.marks[self._seen_marks :]
        self._seen_marks += len(marks)
        self._waiting.append((verdict, messages, marks))
        if time.monotonic() < self._not_before_s or not self._try():
            self._write_elsewhere(over=False)

    def finish(self, practice: Practice) -> None:
        """Write the take's file, into the history if that can be.

        A take that was left before anything came, as when the tempo is changed three times in the count-in, is none.
        """
        take = practice.take()
        is_empty = not take.messages and not practice.verdicts
        try:
            if is_empty and self._take_id is None:
                return
            self._keep_waiting()
            assert self._take_id is not None
            if is_empty:
                self._store.drop_take(self._take_id)
            else:
                now = self._now()
                file, stood = self._file(now, over=True), practice.stood()
                self._store.finish_take(self._take_id, file, now, stood=stood, touch=self._touch())
        except StoreError as error:
            if not is_empty:  # the row of an empty one goes at the next start
                self._give_up(str(error))
        else:
            self._rescue.discard()

    def _give_up(self, reason: str) -> None:
        self._write_elsewhere(over=True)
        self._rescue.leave()
        total = len(self._practice.verdicts)
        missing = sum(verdict is not None for verdict, _, _ in self._waiting)
        lost = total - max(self._rescued, total - missing)
        has_all = self._take_id is not None and not self._waiting
        self.unkept = Unkept(self._info.drill, total, missing, lost, has_all, reason, self._rescue.file)

    def _try(self) -> bool:
        """Keep what waits; ``trouble`` says why it cannot be."""
        begun_s = time.monotonic()
        try:
            self._keep_waiting()
        except StoreError as error:
            took_s = time.monotonic() - begun_s
            self._not_before_s = begun_s + took_s * (1 + _PATIENCE) if took_s > _LONG_S else 0.0
            self.trouble = f"not in the history yet: {error}"
            return False
        self.trouble, self._not_before_s = "", 0.0
        self._rescue.discard()
        return True

    def _keep_waiting(self) -> None:
        if self._take_id is None:
            self._take_id = self._store.begin_take(replace(self._info, session=self._session.number))
        while self._waiting:
            verdict, messages, marks = self._waiting[0]
            if verdict is None:
                self._store.keep_messages(self._take_id, messages, marks)
            else:
                self._store.keep(self._take_id, verdict, messages, marks)
            del self._waiting[0]

    def _write_elsewhere(self, *, over: bool) -> None:
        reason = self.trouble.partition(_WHERE)[0]
        if self._rescue.write(self._file(self._now(), over=over)):
            self._rescued = len(self._practice.verdicts)
            self.trouble = f"{reason}{_WHERE}so far it is in {self._rescue.file}"
        else:
            self.trouble = f"{reason}{_WHERE}no other folder can be written either"

    def _touch(self) -> TouchAccount | None:
        """What the touch of the take comes to; nobody knows without a drill."""
        touch = self._practice.touch
        return None if touch is None else touch.account

    def _file(self, now: datetime, *, over: bool) -> bytes:
        """The take from its first note on, with everything that is known about it."""
        record = record_of(
            self._info,
            self._practice.verdicts,
            owner=self._store.backend.token,
            sitting=self._session.started_at,
            finished_at=now,
            recovered=not over,
            touch=self._touch() if over else None,
        )
        return take_bytes(replace(self._practice.take(), record=record))
