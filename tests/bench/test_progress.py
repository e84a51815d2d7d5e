"""What the pictures of progress cost over ten years, beside the bare SQL that they need."""

from __future__ import annotations

import time
from collections.abc import Callable
from datetime import UTC
from pathlib import Path
from typing import Any

from ten_years import FIRST_DAY, SESSIONS, STROKES, drill_name, fill

from listener.history.progress import reading as progress_reading
from listener.history.progress import sums
from listener.history.progress.facts import split_at
from listener.history.progress.report import report_on
from listener.history.store.backend import Rows
from listener.history.store.rows import utc_text
from listener.history.store.store import Store
from listener.screen.progress.figures import figures
from listener.screen.progress.page import progress_rows
from listener.screen.theme import Theme


def shortest(*works: Callable[[], object], turns: int = 4) -> list[float]:
    """The shortest run of each in seconds of this process's own time, taken in turns: others may be busy beside it."""
    found: list[list[float]] = [[] for _ in works]
    for _ in range(turns):
        for work, times in zip(works, found, strict=True):
            start = time.process_time()
            work()
            times.append(time.process_time() - start)
    return [min(times) for times in found]


def bare(db: Rows, drill: str | None, split: str) -> None:
    """Every statement, and nothing done with what comes back."""
    for statement in (sums.TAKES, progress_reading.ROUTES, progress_reading.FOLLOWED):
        sums.ask(db, statement, drill)
    sums.ask(db, progress_reading.WORK, drill, first=1, last=2**62)
    sums.ask(db, progress_reading.PLACES, drill, split=split)


def test_pictures_of_ten_years(benchmark: Any, tmp_path: Path) -> None:
    """A million strokes: from the file to the finished pictures of the terminal, beside the bare SQL in between.

    Where benchmarks are switched off, a fiftieth of that, only to see that all of it works.
    """
    part = 1 if benchmark.enabled else 50
    with Store.open(tmp_path / "history.sqlite3") as store:
        store.backend.db.execute("PRAGMA synchronous = OFF")
        fill(store, SESSIONS // part, STROKES // part)

        def pictures(drill: str | None = None) -> int:
            with store.backend.reading() as db:
                report = report_on(progress_reading.read_facts(db, drill), zone=UTC, drill=drill)
            return len(progress_rows(report, 100, Theme()))

        def statements(drill: str | None = None) -> None:
            with store.backend.reading() as db:
                bare(db, drill, utc_text(split))

        with store.backend.reading() as db:
            facts = progress_reading.read_facts(db)
        assert facts.progress.strokes == STROKES // part
        split = split_at([take.summary for take in facts.takes]) or FIRST_DAY
        bare_s, pictures_s = benchmark.pedantic(lambda: shortest(statements, pictures), rounds=1, iterations=1)
        name = drill_name(0)
        bare_one_s, one_drill_s = shortest(lambda: statements(name), lambda: pictures(name))
        (page_s,) = shortest(lambda: figures(report_on(facts, zone=UTC)), turns=2)
    benchmark.extra_info.update(
        strokes=facts.progress.strokes,
        takes=facts.progress.takes,
        pictures_s=round(pictures_s, 2),
        bare_sql_s=round(bare_s, 2),
        pictures_to_bare_sql=round(pictures_s / bare_s, 2),
        pictures_of_one_drill_to_bare_sql=round(one_drill_s / bare_one_s, 2),
        page_of_html_to_bare_sql=round(page_s / bare_s, 2),
    )
