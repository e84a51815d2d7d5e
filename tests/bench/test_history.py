"""What a durable stroke costs beside SQLite's own price for the same bytes: one row, one commit, one sync."""

from __future__ import annotations

import sqlite3
import statistics
import time
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from postgres_server import Unavailable, running_postgres
from ten_years import FIRST_DAY, SESSIONS, drill_name, fill
from ten_years import STROKES as STROKES_IN_TEN_YEARS

from listener.commands.keeping.rejudge import Rejudging
from listener.commands.today.todays import choice_of
from listener.drill.drill_file import load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take
from listener.history.progress import sums
from listener.history.rejudging import plan_again
from listener.history.skills import standpoint
from listener.history.skills.reviews import PLAYER, whose
from listener.history.store import accounts
from listener.history.store.rows import TakeInfo, pack_messages, verdict_row
from listener.history.store.sqlite_rows import SqliteRows
from listener.history.store.store import Store
from listener.history.vocabulary import rows as vocabulary_rows
from listener.history.vocabulary.vocabulary import Vocabulary
from listener.judging.take import judge_take
from listener.judging.verdict import Fault, Verdict
from listener.music.movement import movement
from listener.planning.planner import plan_drill
from listener.session.day.plan import plan_day
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.recorder import Session, StoreRecorder
from listener.simulation.simulated import simulate

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


def an_info(session: int) -> TakeInfo:
    """The description of a take."""
    return TakeInfo(session, "bench", "", {"steps": []}, ("E2",), 0, "medium", "plain", "click", "bench", NOW)


def timed(work: Callable[[int], None], step: int) -> float:
    """Seconds that one call took."""
    start = time.perf_counter()
    work(step)
    return time.perf_counter() - start


def bare_commits(path: Path) -> Callable[[int], None]:
    """Inserts and commits as many bytes as a stroke has, with nothing but sqlite3."""
    bare = sqlite3.connect(path, isolation_level=None)
    bare.execute("PRAGMA journal_mode = WAL")
    bare.execute("PRAGMA synchronous = FULL")
    bare.execute("CREATE TABLE row (id INTEGER PRIMARY KEY, data BLOB)")
    size = len(repr(verdict_row(a_verdict(0)))) + len(pack_messages(some_messages(0)))

    def insert(step: int) -> None:
        bare.execute("BEGIN IMMEDIATE")
        bare.execute("INSERT INTO row (data) VALUES (?)", (bytes(size),))
        bare.execute("COMMIT")

    return insert


def test_keeping_a_stroke(benchmark: Any, tmp_path: Path) -> None:
    """Median time of ``keep``, and its ratio to a bare insert and commit of the same size, taken in turns."""
    insert = bare_commits(tmp_path / "bare.sqlite3")
    with Store.open(tmp_path / "history.sqlite3") as store:
        take = store.begin_take(an_info(store.begin_session(NOW)))
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
    benchmark.extra_info["keep_median_ms"] = round(1000 * statistics.median(kept), 3)
    benchmark.extra_info["bare_median_ms"] = round(1000 * statistics.median(reference), 3)
    benchmark.extra_info["ratio_of_medians"] = round(statistics.median(kept) / statistics.median(reference), 2)
    benchmark.extra_info["file_bytes_per_stroke_while_playing"] = page_count * page_size // STROKES


def best(work: Callable[[], object], times: int = 3) -> float:
    """The shortest of some runs in seconds."""
    return min(timed(lambda _: work(), 0) for _ in range(times))


def test_ten_years(benchmark: Any, tmp_path: Path) -> None:
    """A million strokes: progress beside the bare SQL that it needs, a stroke beside a bare commit, opening, and size.

    ``today`` likewise: where the player stands beside the three statements that this needs, and by itself the plan that
    follows, which reads drills of the course. Where benchmarks are switched off, a fiftieth of that, only to see that
    all of it works.
    """
    part = 1 if benchmark.enabled else 50
    sessions, strokes = SESSIONS // part, STROKES_IN_TEN_YEARS // part
    path = tmp_path / "history.sqlite3"
    with Store.open(path) as store:
        fill_s = best(lambda: fill(store, sessions, strokes), 1)
        with store.backend.writing() as db:  # what bringing an older history up to date costs, reviews aside
            accounts_s = best(lambda: accounts.settle_all(db), 1)
        assert store.backend.db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0] == 0
    before_reviews = path.stat().st_size
    reviews_s = best(lambda: Store.open(path).close(), 1)  # what all those takes say about skills is made out once
    with Store.open(path) as store:
        assert store.backend.db.execute("PRAGMA wal_checkpoint(TRUNCATE)").fetchone()[0] == 0
    size = path.stat().st_size
    opening_s = best(lambda: Store.open(path).close())
    bare_opening_s = best(lambda: sqlite3.connect(path).execute("SELECT count(*) FROM session").fetchone())
    look_s = best(lambda: sqlite3.connect(path).execute("PRAGMA quick_check(1)").fetchall(), 1)
    with Store.open(path) as store:
        rows = SqliteRows(store.backend.db)

        def bare() -> None:
            for statement in (sums.TAKES, sums.CHANGES, sums.TARGETS):
                sums.ask(rows, statement, None)

        bare_s = best(bare)
        progress_s = benchmark.pedantic(lambda: best(store.progress), rounds=1, iterations=1)
        one_drill_s = best(lambda: store.progress(drill_name(0)))
        accounts_of_takes_s = best(store.summaries)
        progress = store.progress()
        assert progress.strokes == strokes

        def bare_today() -> None:
            for statement in (standpoint.SKILLS, standpoint.TARGETS, standpoint.DRILLS):
                rows.rows(statement, player="")

        day = FIRST_DAY + timedelta(days=sessions)
        today = [(timed(lambda _: store.standpoint("", day), 0), timed(lambda _: bare_today(), 0)) for _ in range(100)]
        today_s, bare_today_s = (statistics.median(pair[side] for pair in today) for side in (0, 1))
        known = store.standpoint("", day)
        assert known.skills > 100

        def vocabulary() -> Vocabulary:
            with store.backend.reading() as db:
                return vocabulary_rows.read(db, whose(PLAYER))

        bare_vocabulary_s = best(
            lambda: rows.rows("SELECT skill, root, sum(chords) FROM vocabulary GROUP BY skill, root")
        )
        vocabulary_s = best(vocabulary)
        assert vocabulary().chords == rows.rows("SELECT count(*) FROM stroke WHERE grade = 'hit'")[0][0]
        planning_s = best(lambda: plan_day(choice_of(known, day), 20), 10)
        take = store.begin_take(an_info(store.begin_session(NOW)))
        bare_insert = bare_commits(tmp_path / "bare.sqlite3")
        keeping = [
            (timed(lambda step: store.keep(take, a_verdict(step), some_messages(step)), step), timed(bare_insert, step))
            for step in range(STROKES)
        ]
        kept, reference = ([pair[side] for pair in keeping] for side in (0, 1))
    benchmark.extra_info.update(
        strokes=strokes,
        takes=progress.takes,
        made_in_s=round(fill_s, 1),
        file_mb=round(size / 1e6, 1),
        file_bytes_per_stroke=round(size / strokes),
        progress_s=round(progress_s, 2),
        bare_sql_s=round(bare_s, 2),
        progress_to_bare_sql=round(progress_s / bare_s, 2),
        progress_of_one_drill_s=round(one_drill_s, 2),
        takes_without_changes_s=round(accounts_of_takes_s, 2),
        accounts_of_all_made_out_in_s=round(accounts_s, 1),
        opening_ms=round(1000 * opening_s, 1),
        bare_opening_ms=round(1000 * bare_opening_s, 1),
        quick_look_s=round(look_s, 2),
        today_ms=round(1000 * today_s, 2),
        today_bare_sql_ms=round(1000 * bare_today_s, 2),
        today_to_bare_sql=round(today_s / bare_today_s, 2),
        vocabulary_s=round(vocabulary_s, 2),
        vocabulary_to_bare_sql=round(vocabulary_s / bare_vocabulary_s, 2),
        today_planning_ms=round(1000 * planning_s, 2),
        reviews_of_all_made_out_in_s=round(reviews_s, 1),
        reviews_bytes_per_stroke=round((size - before_reviews) / strokes, 1),
        keep_median_ms=round(1000 * statistics.median(kept), 3),
        keep_to_bare_commit=round(statistics.median(kept) / statistics.median(reference), 2),
    )


def test_rejudging(benchmark: Any, tmp_path: Path) -> None:
    """Judging a kept take again beside judging its messages alone: what reading it from the history costs."""
    with Store.open(tmp_path / "history.sqlite3") as store:
        plan = plan_drill(load_drill("ferry-landing"), make_instrument(), make_hand())
        pickup = make_pickup("per-string")
        practice = Practice(plan, pickup, TakeSettings(tempo=72.0, source="simulated guitar"))
        messages = simulate(plan, seed=3, pickup=pickup, tempo=72.0, first_beat_s=4.0).messages
        recorder = StoreRecorder(store, Session(store, NOW), practice, seed=3, now=lambda: NOW)
        verdicts = [verdict for message in messages for verdict in practice.feed(message)]
        for verdict in (*verdicts, *practice.end(messages[-1].time_s + 5)):
            if verdict.settled:
                recorder.keep(verdict, [])
        recorder.finish(practice)
        info, data = store.take(1).info, store.take_file(1)
        again = plan_again(info)
        alone_s = best(lambda: judge_take(again, pickup, read_take(data, "take")), 20)
        whole = Rejudging(store)

        def rejudged() -> None:
            assert whole.outcome(store.take(1), write=False).changes == ()

        rejudged()  # plans the drill, which is done once for all of its takes
        whole_s = benchmark.pedantic(lambda: best(rejudged, 20), rounds=1, iterations=1)
    benchmark.extra_info["rejudging_to_judging"] = round(whole_s / alone_s, 2)
    benchmark.extra_info["takes_a_second"] = round(1 / whole_s)


def test_keeping_a_stroke_on_a_server(benchmark: Any) -> None:
    """Median time of ``keep`` on PostgreSQL, and its ratio to a bare insert and commit there, taken in turns."""
    try:
        with running_postgres() as address:
            benchmark.pedantic(lambda: _on_a_server(benchmark, address), rounds=1, iterations=1)
    except Unavailable as reason:
        pytest.skip(str(reason))


def _on_a_server(benchmark: Any, address: str) -> None:
    import psycopg

    size = len(repr(verdict_row(a_verdict(0)))) + len(pack_messages(some_messages(0)))
    with Store.open(address) as store, psycopg.connect(address) as bare:
        bare.execute("CREATE TABLE bare (id BIGINT GENERATED ALWAYS AS IDENTITY PRIMARY KEY, data BYTEA)")
        bare.commit()
        take = store.begin_take(an_info(store.begin_session(NOW)))

        def insert(step: int) -> None:
            bare.execute("INSERT INTO bare (data) VALUES (%s)", (bytes(size),))
            bare.commit()

        def keep(step: int) -> None:
            store.keep(take, a_verdict(step), some_messages(step))

        pairs = [(timed(keep, step), timed(insert, step)) for step in range(STROKES)]
    kept, reference = (statistics.median(pair[side] for pair in pairs) for side in (0, 1))
    benchmark.extra_info["keep_median_ms"] = round(1000 * kept, 3)
    benchmark.extra_info["ratio_of_medians"] = round(kept / reference, 2)
