"""What a durable stroke costs beside SQLite's own price for the same bytes: one row, one commit, one sync."""

from __future__ import annotations

import sqlite3
import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

from listener.hearing.events import Message
from listener.history.rows import TakeInfo, pack_messages, verdict_row
from listener.history.store import Store
from listener.judging.verdict import Fault, Verdict
from listener.music.movement import movement

STROKES = 300
NOW = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)


def a_verdict(step: int) -> Verdict:
    """A near miss of three notes."""
    fault = Fault("wrong_octave", "the B is in the wrong octave: lift the B an octave", pitch=59, wanted=71)
    moved = movement((48, 55, 64), (50, 59, 67))
    return Verdict(step, 1, "near", (fault,), (50, 59, 67), (), 1.5 * step, 11.32, -12.04, moved, 6, 81.8)


def some_messages(step: int) -> tuple[Message, ...]:
    """Six notes on and off."""
    return tuple(Message(step + 0.004 * n, (status + n, 40 + 5 * n, 80)) for status in (0x90, 0x80) for n in range(6))


def timed(work: Callable[[int], None], step: int) -> float:
    """Seconds that one call took."""
    start = time.perf_counter()
    work(step)
    return time.perf_counter() - start


def test_keeping_a_stroke(benchmark: Any, tmp_path: Path) -> None:
    """Median time of ``keep``, and its ratio to a bare insert and commit of the same size, taken in turns."""
    bare = sqlite3.connect(tmp_path / "bare.sqlite3", isolation_level=None)
    bare.execute("PRAGMA journal_mode = WAL")
    bare.execute("PRAGMA synchronous = FULL")
    bare.execute("CREATE TABLE row (id INTEGER PRIMARY KEY, data BLOB)")
    size = len(repr(verdict_row(a_verdict(0)))) + len(pack_messages(some_messages(0)))

    def insert(step: int) -> None:
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO row (data) VALUES (?)", (bytes(size),))
        bare.execute("COMMIT")

    with Store.open(tmp_path / "history.sqlite3") as store:
        plan = {"steps": []}
        session = store.begin_session(NOW)
        info = TakeInfo(session, "bench", "", plan, ("E2",), 0, "medium", "plain", "click", "bench", NOW)
        take = store.begin_take(info)
        prepared = [(a_verdict(step), some_messages(step)) for step in range(STROKES)]

        def keep(step: int) -> None:
            store.keep(take, *prepared[step])

        def in_turns() -> tuple[list[float], list[float]]:
            pairs = [(timed(keep, step), timed(insert, step)) for step in range(STROKES)]
            return [pair[0] for pair in pairs], [pair[1] for pair in pairs]

        kept, reference = benchmark.pedantic(in_turns, rounds=1, iterations=1)
        assert len(store.verdicts(take)) == STROKES
        (page_count,) = store.backend.db.execute("PRAGMA page_count").fetchone()
        (page_size,) = store.backend.db.execute("PRAGMA page_size").fetchone()
    bare.close()
    benchmark.extra_info["keep_median_ms"] = round(1000 * statistics.median(kept), 3)
    benchmark.extra_info["bare_median_ms"] = round(1000 * statistics.median(reference), 3)
    benchmark.extra_info["ratio_of_medians"] = round(statistics.median(kept) / statistics.median(reference), 2)
    benchmark.extra_info["file_bytes_per_stroke_while_playing"] = page_count * page_size // STROKES
