"""What the pictures are drawn from, summed by the database, is what one gets by going through every stroke."""

from __future__ import annotations

import contextlib
import sqlite3
from collections import Counter
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta
from itertools import pairwise
from typing import Any

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from made_up_weeks import fill
from walked import keep, walked, walked_store

from listener.history.progress import reading as progress_reading
from listener.history.progress import sums
from listener.history.progress.facts import LATELY, ProgressFacts
from listener.history.progress.progress import PlayedTake, summarise
from listener.history.progress.reading import read_facts
from listener.history.skills.reviews import SIMULATED
from listener.history.store import accounts, schema
from listener.history.store.rows import TakeInfo, utc_text
from listener.history.store.sqlite_rows import SqliteRows
from listener.history.store.store import Store
from listener.judging.verdict import Verdict

START = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
DRILLS = ("walk", "run")
#: Chord, kind, strings, frets, strain of each step.
STEPS = (
    ("C", "spread", [5, 4, 2], [3, 5, 5], 0.5),
    ("F", "close", [4, 3, 2], [3, 2, 1], 0.25),
    ("C", "spread", [5, 4, 2], [3, 5, 5], 0.5),
)
STROKES = st.tuples(
    st.integers(0, 3),  # step; the plan ends at 2
    st.integers(1, 2),  # attempt
    st.sampled_from(["hit", "near", "miss"]),
    st.integers(0, 40_000).map(lambda number: number / 1000),  # onset_s
    st.none() | st.integers(58, 66),  # top
)
TAKES = st.lists(
    st.tuples(st.sampled_from(DRILLS), st.integers(0, 40), st.lists(STROKES, max_size=8)), max_size=8
)  # drill, day, strokes


def plan(drill: str) -> dict[str, Any]:
    """What is kept of a plan; that of the second drill is from before strain was kept."""
    steps = [
        {"index": index, "chord": chord, "kind": kind, "inversion": 0, "pitches": [52, 64], "strings": strings,
         "frets": frets} | ({"strain": strain} if drill == "walk" else {})
        for index, (chord, kind, strings, frets, strain) in enumerate(STEPS)
    ]  # fmt: skip
    return {"drill": drill, "tuning": ["E2", "A2", "D3", "G3", "B3", "E4"], "steps": steps}


def history(takes: Sequence[Any]) -> sqlite3.Connection:
    """A history in memory with these takes."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.build(db, 0)
    db.execute("INSERT INTO session (id, started_at) VALUES (1, 'then')")
    for drill, day, strokes in takes:
        info = TakeInfo(1, drill, "", plan(drill), ("E2",), 0, "medium", "plain", "click", "a port",
                        START + timedelta(days=day), 60.0)  # fmt: skip
        keep(SqliteRows(db), info, [verdict(*stroke) for stroke in strokes])
    return db


def verdict(step: int, attempt: int, grade: str, onset_s: float, top: int | None) -> Verdict:
    return Verdict(step, attempt, grade, (), () if top is None else (top,), (), onset_s, 0.0)


def played_s(take: PlayedTake) -> float:
    """Time from chord to chord, ten seconds at most each."""
    onsets = [stroke.onset_s for stroke in take.verdicts]
    gaps = [round(1000 * (after - before)) for before, after in pairwise(onsets)]
    return sum(min(10_000, max(0, gap)) for gap in gaps) / 1000


def stretch_s(take: PlayedTake) -> float | None:
    """Each chord's time times its strain, and none where nothing sounded; None where the strain of one is unknown."""
    if take.summary.drill != "walk":
        return None
    total = 0.0
    for before, after in pairwise(take.verdicts):
        if before.top is not None:
            if before.step > 2:
                return None
            held_ms = round(1000 * (after.onset_s - before.onset_s))
            total += min(10_000, max(0, held_ms)) * STEPS[before.step][4] / 1000
    return total


def check(facts: ProgressFacts, played: Sequence[PlayedTake]) -> None:
    """Stroke by stroke, in Python."""
    assert facts.progress == summarise(played)
    assert [take.summary for take in facts.takes] == [take.summary for take in played]
    for worked, take in zip(facts.takes, played, strict=True):
        assert worked.playing_s == pytest.approx(played_s(take))
        expected = stretch_s(take)
        assert worked.stretch_s == (None if expected is None else pytest.approx(expected))
    moments = [take.summary.started_at for take in played]
    split = max(moments) - min(LATELY, (max(moments) - min(moments)) / 2) if moments else None
    assert facts.split_at == split
    spots: Counter[tuple[int, int]] = Counter()
    changes: dict[tuple[str, ...], list[int]] = {}
    for take in played:
        for number, stroke in enumerate(take.verdicts):
            if stroke.step < 3 and stroke.grade != "miss":
                spots.update(zip(STEPS[stroke.step][2], STEPS[stroke.step][3], strict=True))
            before = take.verdicts[number - 1] if number else None
            if before is None or stroke.attempt > 1 or before.step != stroke.step - 1 or before.top is None:
                continue
            if stroke.step < 3:
                counts = changes.setdefault((*STEPS[before.step][:2], *STEPS[stroke.step][:2]), [0, 0, 0, 0])
                late, hit = split is not None and take.summary.started_at >= split, stroke.grade == "hit"
                for place, more in enumerate((1, hit, late, late and hit)):
                    counts[place] += more
    assert {(spot.string, spot.fret): spot.strokes for spot in facts.neck.spots} == dict(spots)
    found = {
        (one.whole.from_chord, one.whole.from_kind, one.whole.to_chord, one.whole.to_kind): [
            *(one.whole.attempts, one.whole.hits, one.late_attempts, one.late_hits)
        ]
        for one in facts.changes
    }
    assert found == changes


def test_stretch_is_that_of_the_chord_in_the_hand() -> None:
    """By hand: eight seconds on C at half the reach, two on F at a quarter, ten at most of twenty on C again: 4 + 0.5
    + 5. The mean of the take's shapes would have made 8.33 of it, and a silence in the middle counts for nothing."""
    strokes = [(0, 1, "hit", 1.0, 60), (1, 1, "hit", 9.0, 60), (2, 1, "hit", 11.0, 60), (0, 1, "hit", 31.0, 60)]
    with contextlib.closing(history([("walk", 0, strokes)])) as db:
        (worked,) = read_facts(SqliteRows(db)).takes
    assert (worked.playing_s, worked.stretch_s) == (20.0, pytest.approx(9.5))
    strokes[1] = (1, 1, "miss", 9.0, None)
    with contextlib.closing(history([("walk", 0, strokes)])) as db:
        (worked,) = read_facts(SqliteRows(db)).takes
    assert (worked.playing_s, worked.stretch_s) == (20.0, pytest.approx(9.0))


def test_takes_are_asked_about_in_portions(monkeypatch: pytest.MonkeyPatch) -> None:
    """However many are looked at together, each has its own time and load."""
    strokes = [(0, 1, "hit", 0.0, 60), (1, 1, "hit", 4.0, 60)]
    takes = [(drill, day, strokes[: 1 + day % 2]) for day in range(9) for drill in DRILLS]
    with contextlib.closing(history(takes)) as db:
        whole = read_facts(SqliteRows(db)).takes
        for portion in (1, 2, 5):
            monkeypatch.setattr(progress_reading, "_TAKES_AT_ONCE", portion)
            assert read_facts(SqliteRows(db)).takes == whole
    assert [one.stretch_s for one in whole[:4]] == [0.0, None, pytest.approx(2.0), None]


@settings(deadline=None)  # each example makes a database
@given(TAKES)
def test_sums_equal_a_walk_through_all_strokes(takes: Sequence[Any]) -> None:
    """Minutes, stretch, places on the neck and changes, for all drills, for each, and from a day on."""
    db = history(takes)
    rows = SqliteRows(db)
    for drill in (None, *DRILLS, "never played"):
        check(read_facts(rows, drill), walked(rows, drill))
    later = START + timedelta(days=20)
    wanted = [take for take in walked(rows, "walk") if take.summary.started_at >= later]
    check(read_facts(rows, "walk", utc_text(later)), wanted)
    db.close()


def test_the_same_in_a_file_and_on_a_server(any_store: Store) -> None:
    """Made-up weeks give the same numbers wherever they are kept."""
    fill(any_store, weeks=3)
    with any_store.backend.reading() as db:
        facts = read_facts(db)
        since = read_facts(db, "slow-ferry", "2031-03-10T00:00:00.000+00:00")
    assert facts.progress == summarise(walked_store(any_store))
    assert (len(facts.takes), len(facts.neck.spots), facts.neck.strings[0]) == (facts.progress.takes, 11, "E")
    assert sum(worked.playing_s for worked in facts.takes) == pytest.approx(sum(map(played_s, walked_store(any_store))))
    assert 0 < len(since.takes) < len(facts.takes)
    assert min(take.summary.started_at for take in since.takes) >= datetime(2031, 3, 10, tzinfo=UTC)


def test_the_simulated_guitarist_is_left_out() -> None:
    """Its takes are told from one's own by the name that the demo gives them, also when they were brought in; they are
    counted, and everything else is as if they were not there."""
    one = ("walk", 0, [(0, 1, "hit", 0.0, 64), (1, 1, "miss", 0.0, 60)])
    with contextlib.closing(history([one])) as alone:
        wanted = read_facts(SqliteRows(alone))
    db = history([one] * 3)
    db.execute("UPDATE take SET source = ? WHERE id = 1", (SIMULATED,))
    db.execute("UPDATE take SET source = ? WHERE id = 2", (f"from somewhere: {SIMULATED}",))
    found = read_facts(SqliteRows(db))
    assert (found.simulated, wanted.simulated) == (2, 0)
    assert (found.progress.takes, found.progress.strokes) == (1, 2)
    assert (found.neck, found.changes) == (wanted.neck, wanted.changes)
    assert [worked.summary.take for worked in found.takes] == [3]
    both = sums.progress(SqliteRows(db), None, SIMULATED)
    assert (both.takes, both.strokes) == (2, 4)
    db.execute("DELETE FROM stroke WHERE take = 3")
    accounts.settle_all(SqliteRows(db))
    only = read_facts(SqliteRows(db))
    assert only.demo_only
    assert not found.demo_only
    assert (only.progress, only.simulated) == (both, 2)
    assert [worked.playing_s for worked in only.takes] == [found.takes[0].playing_s] * 2
    db.close()
