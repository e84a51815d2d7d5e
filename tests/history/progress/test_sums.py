"""What a database sums up is what one gets by going through every verdict, to the last digit."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable, Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from judged import VERDICTS
from ten_years import drill_name, fill
from walked import keep, walked, walked_store

from listener.history.progress import sums
from listener.history.progress.progress import summarise
from listener.history.store import accounts, reading, schema, writing
from listener.history.store.rows import TakeInfo
from listener.history.store.sqlite_rows import SqliteRows
from listener.history.store.store import Store
from listener.judging.account import Account
from listener.judging.verdict import Verdict

START = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
#: Chord, kind and pitches of the steps of each drill; verdicts go beyond the end of all of them.
DRILLS = {
    "walk": (("C", "spread", [48, 55, 60]), ("F", "close", [57, 62]), ("C", "spread", [64])),
    "run": (("C", "spread", [48, 62]), ("F", "close", [55, 64]), ("C", "close", []), ("C", "spread", [60])),
    "rest": (),
}
WALK_TOPS = (60, 62, 64)
TAKES = st.lists(
    st.tuples(
        st.integers(1, 3),  # session
        st.sampled_from(sorted(DRILLS)),
        st.none() | st.integers(40, 90).map(float),  # tempo
        st.integers(0, 3),  # day
        st.lists(VERDICTS, max_size=8),
    ),
    max_size=8,
)


def info(session: int, drill: str, tempo: float | None, day: int) -> TakeInfo:
    """A take of one of the drills."""
    steps = [
        {"index": index, "chord": chord, "kind": kind, "inversion": 0, "pitches": pitches, "strings": []}
        for index, (chord, kind, pitches) in enumerate(DRILLS[drill])
    ]
    return TakeInfo(session, drill, "", {"steps": steps}, ("E2",), 0, "medium", "plain", "click", "a port",
                    START + timedelta(days=day), tempo)  # fmt: skip


def history(takes: Sequence[Any]) -> sqlite3.Connection:
    """A history in memory with these takes."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.build(db, 0)
    db.executemany("INSERT INTO session (id, started_at) VALUES (?, 'then')", [(1,), (2,), (3,)])
    for session, drill, tempo, day, verdicts in takes:
        keep(SqliteRows(db), info(session, drill, tempo, day), verdicts)
    return db


@settings(deadline=None)  # each example makes a database
@given(TAKES)
def test_sums_in_sql_equal_sums_in_python(takes: Sequence[Any]) -> None:
    """Exactly, for all drills together and for each: the same document, the same floats, the same order."""
    with closing(history(takes)) as db:
        rows = SqliteRows(db)
        for drill in (None, *DRILLS, "never played"):
            assert sums.progress(rows, drill) == summarise(walked(rows, drill))


@settings(deadline=None)
@given(st.lists(VERDICTS, max_size=12), st.lists(VERDICTS, max_size=12))
def test_an_account_is_that_of_the_present_verdicts(verdicts: list[Verdict], others: list[Verdict]) -> None:
    """None while the take is played; when it has ended, and when it was judged again, that of the verdicts it has."""
    with closing(history([])) as db:
        rows = SqliteRows(db)
        number = writing.add_take(rows, info(1, "walk", 60.0, 0), "nobody")
        for verdict in verdicts:
            writing.add_stroke(rows, number, verdict)

        def kept() -> Any:
            found = reading.take(rows, number)
            assert found is not None
            (complete,) = rows.rows("SELECT complete FROM take")[0]
            assert complete == (None if found.account is None else found.account.complete)
            return found.account

        assert kept() is None
        assert not sums.takes(rows, None)
        writing.finish_take(rows, number, "a", b"", START, recovered=False)
        assert kept() == Account.of(verdicts, 3, WALK_TOPS)
        writing.replace_strokes(rows, number, others, START, "2")
        assert kept() == Account.of(others, 3, WALK_TOPS)
        before = kept()
        rows.rows("UPDATE take SET hits = 99, faults = '[[\"late\",7]]'")
        assert kept() != before
        accounts.settle_all(rows)
        assert kept() == before


def test_a_made_up_year_on_both(any_store: Store) -> None:
    """The generator's history gives the same in a file and on a server, summed there or here."""
    fill(any_store, sessions=40, strokes=4000)
    progress = any_store.progress()
    assert progress == summarise(walked_store(any_store))
    assert any_store.progress(drill_name(3)) == summarise(walked_store(any_store, drill_name(3)))
    assert (progress.strokes, progress.takes, progress.sessions, len(progress.drills)) == (4000, 320, 40, 12)
    assert progress.weak_changes
    assert any_store.drills() == tuple(sorted(drill_name(number) for number in range(12)))
    assert any_store.summaries() == [take.summary for take in walked_store(any_store)]


def test_a_take_that_is_played_is_not_in_yet(
    store: Store, info: Callable[..., TakeInfo], verdict: Callable[..., Verdict]
) -> None:
    """It has no account until it has ended; then it is there, and how far it went stays with it."""
    take = store.begin_take(info(session=store.begin_session(START)))
    store.keep(take, verdict(0, attempt=1), [])
    assert (store.take(take).account, store.summaries(), store.progress().takes, store.drills()) == (None, [], 0, ())
    store.finish_take(take, b"", START)
    (summary,) = store.summaries()
    assert summary.account == store.take(take).account
    assert (summary.account.how_far, summary.account.broken_off, summary.went_well) == ("1 of 3 steps", True, False)


def test_the_generator_is_seeded(tmp_path: Path) -> None:
    """The same seed is the same history, another seed another."""
    found = []
    for number, seed in enumerate((5, 5, 6)):
        with Store.open(tmp_path / f"{number}.sqlite3") as store:
            store.backend.db.execute("PRAGMA synchronous = OFF")
            fill(store, sessions=5, strokes=500, seed=seed)
            found.append(walked_store(store))
    assert found[0] == found[1] != found[2]
    assert sum(len(take.verdicts) for take in found[0]) == 500
    assert {verdict.attempt for take in found[0] for verdict in take.verdicts} == {1, 2}
