"""The vocabulary in the history: what is counted, that it follows from takes however they came in, and what is read."""

from __future__ import annotations

import os
import shutil
import sqlite3
from collections import Counter
from collections.abc import Sequence
from contextlib import closing
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from free_playing import A_FIRST, C_FULL, C_SPREAD, F_SPREAD, G_FULL, Shape, keep_free, strummed
from hypothesis import given
from hypothesis import strategies as st
from walked import keep

from listener.cli import main
from listener.history.exchange.unpacking import unpack
from listener.history.safekeeping.rebuilding import rebuild
from listener.history.safekeeping.seals import SEALED, seal
from listener.history.skills import reviews
from listener.history.skills.skill_key import parts_of, skill_key
from listener.history.store import schema
from listener.history.store.rows import TakeInfo
from listener.history.store.sqlite_rows import SqliteRows
from listener.history.store.store import Store
from listener.history.vocabulary import free_takes
from listener.history.vocabulary import rows as vocabulary_rows
from listener.history.vocabulary.map import kind_maps, other_chords
from listener.history.vocabulary.vocabulary import FAMILIES, NEVER, OFTEN, SELDOM, Used, Vocabulary, used_from
from listener.judging.verdict import Verdict
from listener.music.quality import qualities
from listener.music.voicing import KINDS, OTHER
from listener.planning.shapes.cells import Cell

START = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
VERSIONS = Path(__file__).parents[1] / "versions"
#: Chord, kind, inversion, strings and pitches of each step.
STEPS: tuple[tuple[str, str, int, list[int], list[int]], ...] = (
    ("C", "spread", 0, [5, 4, 2], [48, 55, 64]),
    ("F", "close", 2, [4, 3, 2], [53, 57, 60]),
    ("Dm", "spread", 0, [5, 4, 2], [50, 57, 65]),
    ("G", "other", 0, [6, 1], [43, 71]),
)
PLAYED = st.lists(st.tuples(st.integers(0, 4), st.sampled_from(["hit", "near", "miss"])), max_size=12)
CELLS = st.builds(
    Cell.of,
    st.sampled_from([*KINDS, OTHER]),
    st.none() | st.integers(0, 3),
    st.lists(st.integers(1, 6), unique=True, max_size=5),
)
USED = st.lists(
    st.builds(Used, CELLS, st.sampled_from(["maj", "m7b5", "13"]), st.integers(0, 11), st.integers(1, 200)), max_size=20
)


def drilled(played: Sequence[tuple[int, str]], day: int) -> tuple[TakeInfo, list[Verdict]]:
    """A take of a made-up drill: the steps that were tried, each with its grade."""
    steps = [
        {"index": index, "chord": chord, "kind": kind, "inversion": inversion, "strings": strings, "pitches": pitches}
        for index, (chord, kind, inversion, strings, pitches) in enumerate(STEPS)
    ]
    info = TakeInfo(1, "walk", "", {"drill": "walk", "steps": steps}, ("E2",), 0, "medium", "plain", "click", "a port",
                    START + timedelta(days=day), 60.0)  # fmt: skip
    verdicts = [
        Verdict(step, 1, grade, (), tuple(STEPS[step][4]) if step < len(STEPS) else (60,), (), float(number), 0.0)
        for number, (step, grade) in enumerate(played)
    ]
    return info, verdicts


def history(takes: Sequence[Sequence[tuple[int, str]]]) -> sqlite3.Connection:
    """A history in memory with these takes, reviewed one after the other."""
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.build(db, 0)
    db.execute("INSERT INTO session (id, started_at) VALUES (1, 'then')")
    for day, played in enumerate(takes):
        keep(SqliteRows(db), *drilled(played, day))
    rows = SqliteRows(db)
    for take, route in rows.rows("SELECT id, route FROM take"):
        vocabulary_rows.put(
            rows, [(take, vocabulary_rows.of_drilled(rows, take, vocabulary_rows.asked_by(rows, route)))]
        )
    return db


def read(db: Any, **limits: Any) -> Vocabulary:
    return vocabulary_rows.read(db, reviews.whose(reviews.PLAYER), **limits)


def of_store(store: Store, player: str = reviews.PLAYER) -> Vocabulary:
    with store.backend.reading() as db:
        return vocabulary_rows.read(db, reviews.whose(player))


@given(st.lists(PLAYED, max_size=5), st.randoms())
def test_hits_and_nothing_else(takes: list[list[tuple[int, str]]], chance: Any) -> None:
    """The sum over all cells is the number of hits of three notes and more; the order of takes does not matter."""
    hits = Counter(step for take in takes for step, grade in take if grade == "hit" and step < 3)
    found = read(SqliteRows(history(takes)))
    assert found.chords == sum(found.cells.values()) == sum(found.roots) == sum(found.families.values()) == hits.total()
    assert found.cells.get(Cell("spread", 0, (5, 4, 2)), 0) == hits[0] + hits[2]
    assert (found.roots[0], found.roots[5], found.roots[2]) == (hits[0], hits[1], hits[2])
    assert found.takes == sum(any(grade == "hit" and step < 3 for step, grade in take) for take in takes)
    mixed = list(takes)
    chance.shuffle(mixed)
    assert read(SqliteRows(history(mixed))) == found


def test_a_hit_that_sounded_otherwise() -> None:
    """Where a drill leaves more open than its plan, what sounded counts, on strings that nobody knows."""
    info, (verdict,) = drilled([(0, "hit")], 0)
    other = Verdict(0, 1, "hit", (), (52, 60, 67), (), 0.0, 0.0)
    db = sqlite3.connect(":memory:", isolation_level=None)
    schema.build(db, 0)
    db.execute("INSERT INTO session (id, started_at) VALUES (1, 'then')")
    rows = SqliteRows(db)
    take = keep(rows, info, [verdict, other])
    ((route,),) = rows.rows("SELECT route FROM take")
    asked = vocabulary_rows.asked_by(rows, route)
    # E C G over each other is the spread triad 3-1-5.
    assert vocabulary_rows.of_drilled(rows, take, asked) == {("spread maj 0 5-4-2", 0): 1, ("spread maj 1 ", 0): 1}


@given(USED)
def test_the_map_leaves_nothing_out(used: list[Used]) -> None:
    """Every chord is on the map of its kind or among spacings without a name; the levels are what they say."""
    found = Vocabulary(tuple(used))
    there_are = {Cell("spread", 1, (6, 4, 3)), Cell("close", 0, (3, 2, 1))}
    maps = kind_maps(found, there_are)
    assert sum(one.chords for one in maps) + other_chords(found) == found.chords
    for one in maps:
        assert sum(use.chords for use in one.cells.values()) == one.chords
        # What is drawn on top of what must not change from one run to the next.
        assert list(one.cells) == sorted(one.cells)
        for (row, column), use in one.cells.items():
            assert (use.cell.inversion, use.cell.strings) == (one.rows[row], one.columns[column])
            assert (use.level == NEVER) == (use.chords == 0)
            assert (use.level == OFTEN) == (use.chords >= max(8, found.chords / 20))
    assert set(found.missing(there_are)) == there_are - set(found.cells)
    assert all(found.level(cell) == OFTEN and cell.strings for cell in found.often)
    assert {*(use["used"] for use in found.as_json(there_are)["cells"])} <= {OFTEN, SELDOM}  # type: ignore[attr-defined]


@given(USED, st.randoms())
def test_the_order_of_rows_does_not_matter(used: list[Used], chance: Any) -> None:
    """The same rows in another order, or split in two, are the same vocabulary."""
    rows = [(str(skill_key(one.cell.kind, one.quality, one.cell.inversion, one.cell.strings)), one.root, one.chords)
            for one in used]  # fmt: skip
    split = [(key, root, part) for key, root, chords in rows for part in (1, chords - 1) if part]
    chance.shuffle(split)
    assert used_from(split) == used_from(rows)
    assert sum(one.chords for one in used_from(rows)) == sum(one.chords for one in used)


@given(CELLS, st.sampled_from([quality.symbol or "maj" for quality in qualities()]))
def test_a_key_says_its_parts(cell: Cell, quality: str) -> None:
    """What makes a key comes out of it again, and every quality has a family."""
    key = skill_key(cell.kind, quality, cell.inversion, cell.strings)
    assert key is not None
    assert parts_of(key) == (cell.kind, quality, cell.inversion, cell.strings)
    assert sum(Vocabulary((Used(cell, quality, 0, 3),)).families.values()) == 3


@pytest.mark.parametrize("key", ["", "spread", "spread maj", "a b c d", "spread maj 0 6-x-3", "spread maj y 6-4-3"])
def test_keys_that_no_program_writes(key: str) -> None:
    """They are passed over."""
    assert used_from([(key, 0, 5)]) == ()


# -- free playing


def free_history(path: Path | str, lines: Sequence[Sequence[Shape]]) -> None:
    with Store.open(path) as store:
        for day, line in enumerate(lines):
            keep_free(store, strummed(line, 3), START + timedelta(days=day))


def test_free_playing_counts_when_the_take_ends(store_path: Path) -> None:
    """Once for as long as each chord stands; nothing is due because of it, and it is no practice of a drill."""
    with Store.open(store_path) as store:
        assert of_store(store) == Vocabulary()
        keep_free(store, strummed([C_FULL, C_SPREAD, C_FULL, A_FIRST], 4), START)
        found = of_store(store)
        assert (found.chords, found.takes, found.unheard) == (4, 1, 0)
        assert found.cells == {
            Cell("full", 0, (5, 4, 3, 2, 1)): 2,
            Cell("spread", 0, (5, 4, 2)): 1,
            Cell("spread", 1, (6, 4, 3)): 1,
        }
        assert (found.roots[0], found.roots[9]) == (3, 1)
        assert store.check() == ()
        assert store.standings() == {}
        assert store.progress().takes == 0


def test_a_pickup_that_does_not_tell_strings_apart(store_path: Path) -> None:
    """The chord counts; where it lay is not made up."""
    with Store.open(store_path) as store:
        keep_free(store, strummed([C_SPREAD], 2, single=True), START, pickup="single")
        found = of_store(store)
    assert found.cells == {Cell("spread", 0, ()): 1}
    assert found.often == ()


def test_made_anew_it_is_the_same(store_path: Path, tmp_path: Path) -> None:
    """Forgotten and made out again, rebuilt from the takes' files alone, handed over in a bundle: always the same."""
    free_history(store_path, [[C_FULL, G_FULL, C_SPREAD], [A_FIRST, F_SPREAD, A_FIRST]])
    assert main(["demo", "mill-verse", "--fast", "--plain", "--store", str(store_path)]) == 0
    whose = (reviews.PLAYER, reviews.SIMULATED)
    with Store.open(store_path) as store:
        before = [of_store(store, player) for player in whose]
        assert [one.chords > 4 for one in before] == [True, True]
        store.review_again([take.id for take in store.takes()])
        assert [of_store(store, player) for player in whose] == before
        with store.backend.writing() as db:
            reviews.forget_all(db)
            assert not db.rows("SELECT 1 FROM vocabulary")
    with Store.open(store_path) as store:
        assert [of_store(store, player) for player in whose] == before
    lost = tmp_path / "lost" / "history.sqlite3"
    shutil.copytree(store_path.parent / "takes", lost.parent / "takes")
    with Store.open(lost) as store:
        rebuild(store.backend)
        assert [of_store(store, player) for player in whose] == before
    bundle = tmp_path / "b.zip"
    assert main(["export", "--all", "--from", "Mara Lind", "--bundle", str(bundle), "--store", str(store_path)]) == 0
    assert len(unpack(bundle.read_bytes(), "b.zip").takes) == 3
    home = tmp_path / "home" / "history.sqlite3"
    assert main(["import", str(bundle), "--store", str(home)]) == 0
    (taken_in,) = home.parent.rglob("*/history.sqlite3") if not home.exists() else [home]
    with Store.open(taken_in) as store:
        assert [of_store(store, player).used for player in whose] == [one.used for one in before]


def test_on_a_server(studio: str, store_path: Path) -> None:
    """A studio's history counts the same, of free playing and of drills, and forgets and counts again."""
    found = []
    for place in (studio, store_path):
        free_history(place, [[C_FULL, G_FULL, C_SPREAD], [A_FIRST]])
        assert main(["demo", "mill-verse", "--fast", "--plain", "--store", str(place)]) == 0
        with Store.open(place) as store:
            store.review_again([take.id for take in store.takes()])
            found.append([of_store(store), of_store(store, reviews.SIMULATED)])
    assert found[0] == found[1]
    assert [one.chords > 3 for one in found[0]] == [True, True]


@pytest.mark.parametrize("spoil", [os.unlink, lambda path: Path(path).write_bytes(b"MThd and nothing else")])
def test_a_file_that_is_not_what_was_kept(store_path: Path, spoil: Any) -> None:
    """It has no chords, keeps nobody from opening the history, and counts again once it is back."""
    free_history(store_path, [[C_FULL, G_FULL]])
    (file,) = (store_path.parent / "takes").iterdir()
    data = file.read_bytes()
    spoil(file)
    with Store.open(store_path) as store:
        store.review_again([1])
        assert of_store(store) == Vocabulary()
    file.write_bytes(data)
    assert main(["rejudge", "--write", "--store", str(store_path)]) == 0
    with Store.open(store_path) as store:
        assert of_store(store).chords == 2


def test_years_of_free_playing_are_heard_bit_by_bit(store_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An opening listens to the newest take and stops where it has heard enough; what waits is told."""
    free_history(store_path, [[C_FULL], [G_FULL, C_FULL], [A_FIRST, C_FULL, A_FIRST]])
    monkeypatch.setattr(free_takes, "AT_ONCE", 1)
    with Store.open(store_path) as store, store.backend.writing() as db:
        reviews.forget_all(db)
    told = []
    for _ in range(4):
        with Store.open(store_path) as store:
            told.append((of_store(store).chords, of_store(store).unheard))
    assert told == [(3, 2), (5, 1), (6, 0), (6, 0)]


def test_a_take_that_would_take_long(store_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No opening waits for it; judging again does not mind, and the others are not held up."""
    free_history(store_path, [[C_FULL], [C_FULL, G_FULL] * 30, [A_FIRST]])
    monkeypatch.setattr(free_takes, "LARGEST", 2000)
    with Store.open(store_path) as store, store.backend.writing() as db:
        reviews.forget_all(db)
    with Store.open(store_path) as store:
        assert (of_store(store).chords, of_store(store).unheard) == (2, 1)
    assert main(["rejudge", "--write", "--store", str(store_path)]) == 0
    with Store.open(store_path) as store:
        assert (of_store(store).chords, of_store(store).unheard) == (62, 0)


# -- what is read


def test_of_a_drill_and_of_a_time() -> None:
    """Limits take whole takes, and together they are everything."""
    rows = SqliteRows(history([[(0, "hit")] * (day + 1) for day in range(6)]))
    noon = (START + timedelta(days=3)).isoformat(timespec="milliseconds")
    assert read(rows, drill="walk").chords == 21
    assert read(rows, drill="run") == Vocabulary()
    assert (read(rows, before=noon).chords, read(rows, since=noon).chords) == (6, 15)


@pytest.mark.parametrize("version", sorted(int(folder.name) for folder in VERSIONS.iterdir()))
def test_older_histories(version: int, store_path: Path) -> None:
    """What was played before there was a vocabulary is in it, for who only reads too; the families know every chord."""
    shutil.copytree(VERSIONS / str(version), store_path.parent)
    with Store.open(store_path, read_only=True) as store:
        looked_at = of_store(store, reviews.SIMULATED)
    with Store.open(store_path) as store:
        found = of_store(store, reviews.SIMULATED)
        assert of_store(store) == Vocabulary()
        hits = [
            sum(verdict.grade == "hit" and len(verdict.heard) >= 3 for verdict in store.verdicts(one.id))
            for one in store.takes()
        ]
        assert store.check() == ()
    assert found.chords == sum(hits) > 30
    # The take that was cut off has no end yet for who only reads.
    assert looked_at.chords == sum(hits[:-1])
    assert tuple(found.families) == FAMILIES


def test_rows_that_are_not_what_was_kept(store_path: Path) -> None:
    """A changed count is noticed by its seal and made anew, and said once."""
    free_history(store_path, [[C_FULL, G_FULL]])
    with closing(sqlite3.connect(store_path)) as db, db:
        names = SEALED["vocabulary"]
        for *values, kept in db.execute(f"SELECT {', '.join(names)}, seal FROM vocabulary"):
            assert seal("vocabulary", dict(zip(names, values, strict=True))) == kept
        db.execute("UPDATE vocabulary SET chords = 4000")
    with Store.open(store_path) as store:
        assert len(store.notes) == 1
        assert of_store(store).chords == 2
    with Store.open(store_path) as store:
        assert store.notes == ()


def test_a_damaged_verdict_does_not_count() -> None:
    """Of a large history only a part is looked through: what lies in the rest must not stop anybody."""
    db = history([[(0, "hit"), (1, "hit")]])
    db.execute("UPDATE stroke SET rest = '[]' WHERE number = 1")
    rows = SqliteRows(db)
    asked = vocabulary_rows.asked_by(rows, 1)
    assert vocabulary_rows.of_drilled(rows, 1, asked).total() == 1
    db.execute("UPDATE target SET pitches = 'x' WHERE step = 1")
    assert set(vocabulary_rows.asked_by(rows, 1)) == {0, 2, 3}
