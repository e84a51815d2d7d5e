"""What a session printed about its verdicts, and the lines that a history's verdicts make."""

from __future__ import annotations

import re
import sqlite3
from contextlib import closing
from pathlib import Path

from listener.history.store.store import Store
from listener.planning.plan import Plan
from listener.screen.practice.plain import verdict_line
from listener.session.take.so_far import SoFar
from listener.session.take.state import PLAYING, Snapshot


def check_integrity(path: Path) -> None:
    """SQLite's own check of file and foreign keys."""
    with closing(sqlite3.connect(path)) as db:
        assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
        assert db.execute("PRAGMA foreign_key_check").fetchall() == []


def shown_takes(text: str) -> list[list[str]]:
    """The lines about verdicts that were printed whole, take by take."""
    takes: list[list[str]] = []
    for line in text.split("\n")[:-1]:
        if "chords, " in line:
            takes.append([])
        elif re.match(r"[ \d]\d  ", line):
            takes[-1].append(line)
    return takes


def lines_of(plan: Plan, store: Store, take: int) -> list[str]:
    """The lines that the kept verdicts of a take make."""
    snapshot = Snapshot(plan, PLAYING, 0, None, SoFar(), (), 0.0, None, 0, 0, "")
    return [verdict_line(snapshot, verdict) for verdict in store.verdicts(take)]
