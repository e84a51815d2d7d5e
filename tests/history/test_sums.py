"""Sums made by the database are those made stroke by stroke, to the last digit."""

from __future__ import annotations

import json
import sqlite3
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

from hypothesis import given, settings
from hypothesis import strategies as st
from ten_years import drill_name, fill

from listener.history import reading, schema, sums
from listener.history.embedded import SqliteRows
from listener.history.progress import summarise
from listener.history.rows import utc_text
from listener.history.store import Store
from listener.judging.verdict import GRADES

START = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
DRILLS = ("walk", "run", "rest")
#: What the judge gives: offsets and scores in tenths.
STROKES = st.tuples(
    st.integers(0, 3),  # step; the plan ends at 2
    st.integers(1, 3),  # attempt
    st.sampled_from(GRADES),
    st.none() | st.integers(-20_000, 20_000).map(lambda number: number / 10),  # offset_ms
    st.none() | st.integers(58, 66),  # top
    st.none() | st.integers(0, 1000).map(lambda number: number / 10),  # movement_score
    st.lists(st.sampled_from(["late", "missing", "extra", "top"]), max_size=3).map(json.dumps),
)
TAKES = st.lists(
    st.tuples(
        st.integers(1, 3),  # session
        st.sampled_from(DRILLS),
        st.none() | st.integers(40, 90).map(float),  # tempo
        st.integers(0, 3),  # day
        st.lists(STROKES, max_size=8),
    ),
    max_size=8,
)


def history(takes: Sequence[Any]) -> sqlite3.Connection:
    """A history in memory with these takes; the routes differ in their targets, one has an empty step."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.build(db, 0)
    db.executemany("INSERT INTO session VALUES (?, 'then')", [(1,), (2,), (3,)])
    for route, drill in enumerate(DRILLS, 1):
        db.execute("INSERT INTO route VALUES (?, ?, '', '{}', ?)", (route, drill, 3 if route < 3 else 0))
        for step, (chord, kind, top) in enumerate(
            (("C", "spread", 60 + route), ("F", "close", 64), ("C", "spread", None))
        ):
            row = (route, step, chord, kind, 0, "[]", "[]", top, "maj", "skill")
            db.execute("INSERT INTO target VALUES (?, ?, ?, ?, ?, ?, ?, ?, ?, ?)", row)
    for number, (session, drill, tempo, day, strokes) in enumerate(takes, 1):
        db.execute(
            "INSERT INTO take (id, session, route, drill, tempo, started_at, program_version, tuning, capo, hand, "
            "pickup, pace, source, header, owner) VALUES (?, ?, ?, ?, ?, ?, '', '[]', 0, '', '', '', '', 'null', '')",
            (number, session, DRILLS.index(drill) + 1, drill, tempo, utc_text(START + timedelta(days=day))),
        )
        db.executemany(
            "INSERT INTO stroke VALUES (?, ?, ?, ?, ?, 0.0, 0.0, ?, ?, NULL, NULL, ?, ?, '{}')",
            [(number, place, *stroke) for place, stroke in enumerate(strokes, 1)],
        )
    return db


@settings(deadline=None)  # each example makes a database
@given(TAKES)
def test_sums_in_sql_equal_sums_in_python(takes: Sequence[Any]) -> None:
    """Exactly, for all drills together and for each: the same document, the same floats, the same order."""
    db = history(takes)
    rows = SqliteRows(db)
    for drill in (None, *DRILLS, "never played"):
        assert sums.progress(rows, drill) == summarise(reading.played(rows, drill))
    db.close()


def test_a_made_up_year_on_both(any_store: Store) -> None:
    """The generator's history gives the same in a file and on a server, summed there or here."""
    fill(any_store, sessions=40, strokes=4000)
    progress = any_store.progress()
    assert progress == summarise(any_store.played())
    assert any_store.progress(drill_name(3)) == summarise(any_store.played(drill_name(3)))
    assert (progress.strokes, progress.takes, progress.sessions, len(progress.drills)) == (4000, 320, 40, 12)
    assert progress.weak_changes
    assert any_store.drills() == tuple(sorted(drill_name(number) for number in range(12)))


def test_the_generator_is_seeded(tmp_path: Path) -> None:
    """The same seed is the same history, another seed another."""
    found = []
    for number, seed in enumerate((5, 5, 6)):
        with Store.open(tmp_path / f"{number}.sqlite3") as store:
            store.backend.db.execute("PRAGMA synchronous = OFF")
            fill(store, sessions=5, strokes=500, seed=seed)
            found.append(store.played())
    assert found[0] == found[1] != found[2]
    assert sum(len(take.strokes) for take in found[0]) == 500
    assert {stroke.attempt for take in found[0] for stroke in take.strokes} == {1, 2}
