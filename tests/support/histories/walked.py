"""A history gone through verdict by verdict, to set beside what it has summed up; and takes put into one at once."""

from __future__ import annotations

from collections.abc import Sequence

from listener.history.progress.progress import PlayedTake
from listener.history.store import accounts, reading, writing
from listener.history.store.backend import Rows
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Verdict


def walked(db: Rows, drill: str | None = None) -> list[PlayedTake]:
    """Takes that have ended, with a verdict, oldest first, counted afresh."""
    found = [(kept, reading.verdicts(db, kept.id)) for kept in reading.takes(db, drill) if kept.finished_at]
    return [
        PlayedTake.of(kept.info, verdicts, kept.id, kept.info.session, kept.touch)
        for kept, verdicts in found
        if verdicts
    ]


def walked_store(store: Store, drill: str | None = None) -> list[PlayedTake]:
    """The same of an open history."""
    with store.backend.reading() as db:
        return walked(db, drill)


def keep(db: Rows, info: TakeInfo, verdicts: Sequence[Verdict]) -> int:
    """A take that ended when it began, without a file; gives its number."""
    take = writing.add_take(db, info, "nobody")
    for verdict in verdicts:
        writing.add_stroke(db, take, verdict)
    db.rows("UPDATE take SET finished_at = started_at WHERE id = :take", take=take)
    accounts.settle(db, [take])
    return take
