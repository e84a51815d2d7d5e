"""Keeps a take in the history while it is played."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from datetime import UTC, datetime

from listener.errors import StoreError
from listener.hearing.events import Message
from listener.hearing.take_file import take_bytes
from listener.history.rows import TakeInfo
from listener.history.store import Store
from listener.judging.verdict import Verdict
from listener.session.practice import Practice


def utc_now() -> datetime:
    """The time of day."""
    return datetime.now(UTC)


class StoreRecorder:
    """One take: begun when made, every settled verdict durable at once, the raw take written at the end."""

    def __init__(
        self, store: Store, session: int, practice: Practice, *, seed: int | None, now: Callable[[], datetime] = utc_now
    ) -> None:
        self._store = store
        self._now = now
        header = practice.take().header
        assert header is not None  # a take in progress always has one
        self._take_id = store.begin_take(
            TakeInfo.of(
                practice.plan,
                session=session,
                pickup=header.pickup,
                pace=header.pace,
                tempo=practice.settings.tempo,
                first_beat_s=header.first_beat_s,
                source=practice.settings.source,
                started_at=now(),
                seed=seed,
                header=header,
            )
        )
        self._practice = practice
        self._kept_marks = 0
        self._waiting: list[tuple[Verdict | None, Sequence[Message]]] = []
        self.trouble = ""

    @property
    def take_id(self) -> int:
        """The number of the take in the history."""
        return self._take_id

    def keep(self, verdict: Verdict, messages: Sequence[Message]) -> None:
        """One verdict, with the messages and marks since the last.

        A disk that is full or a history that is locked must not end the take: what could not be kept waits, and is
        tried again with the next verdict. ``trouble`` says so meanwhile.
        """
        self._keep(verdict, messages)

    def keep_messages(self, messages: Sequence[Message]) -> None:
        """The messages since the last, where there is no verdict to keep; otherwise as :meth:`keep`."""
        self._keep(None, messages)

    def _keep(self, verdict: Verdict | None, messages: Sequence[Message]) -> None:
        self._waiting.append((verdict, messages))
        try:
            self._keep_waiting()
        except StoreError as error:
            self.trouble = f"not kept yet: {error}"
        else:
            self.trouble = ""

    def finish(self, practice: Practice) -> None:
        """Write the take's file; :class:`StoreError` when something could not be kept to the last.

        A take that was left before anything came, as when the tempo is changed three times in the count-in, is none.
        """
        self._keep_waiting()
        take = practice.take()
        if not take.messages and not practice.verdicts:
            self._store.drop_take(self._take_id)
        else:
            self._store.finish_take(self._take_id, take_bytes(take), self._now())

    def _keep_waiting(self) -> None:
        while self._waiting:
            verdict, messages = self._waiting[0]
            marks = self._practice.marks[self._kept_marks :]
            if verdict is None:
                self._store.keep_messages(self._take_id, messages, marks)
            else:
                self._store.keep(self._take_id, verdict, messages, marks)
            self._kept_marks += len(marks)
            del self._waiting[0]
