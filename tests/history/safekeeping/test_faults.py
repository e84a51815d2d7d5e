"""One bit, or one value, that is not what was kept: put right, or set aside and named, and everything else works."""

from __future__ import annotations

import json
import random
import re
import shutil
import sqlite3
from collections import Counter
from collections.abc import Callable
from contextlib import closing
from pathlib import Path
from typing import Any

import pytest
from faults import COMMANDS, bit_flipped, cell_changed, content, copies, played, run_all, silent
from how_many import share

from listener.history.safekeeping.looking import look_through
from listener.history.safekeeping.seals import SEALED, seal
from listener.history.store.store import Store
from listener.history.store.writing import route_digest

Fault = Callable[[Path, random.Random], str]
#: What is run on a history that nothing was found in.
A_FEW = ("today --json --store {store}", "progress --json --store {store}")


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A history with four takes, closed."""
    place = tmp_path_factory.mktemp("made") / "history.sqlite3"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WIDEHAND_SETTINGS", "/dev/null")
        played(place)
    return place


@pytest.fixture(scope="module")
def sound(made: Path, tmp_path_factory: pytest.TempPathFactory) -> Any:
    """All that is in it."""
    place = tmp_path_factory.mktemp("sound") / "h"
    shutil.copytree(made.parent, place)
    found, said = content(place / made.name)
    assert said == ()
    return found


@pytest.fixture
def place(made: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A copy of it to be spoilt."""
    monkeypatch.setenv("WIDEHAND_SETTINGS", "/dev/null")
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "drills"))
    shutil.copytree(made.parent, tmp_path / "h")
    return tmp_path / "h" / made.name


def change(place: Path, *statements: str) -> None:
    """Behind the program's back."""
    with closing(sqlite3.connect(place)) as db, db:
        for statement in statements:
            db.execute(statement)


@pytest.mark.parametrize(
    ("fault", "count", "commands"),
    [
        (bit_flipped, 15, False),
        (cell_changed, 12, False),
        pytest.param(bit_flipped, share(1000), True, marks=pytest.mark.slow),
        pytest.param(cell_changed, share(200), True, marks=pytest.mark.slow),
    ],
)
def test_whatever_is_damaged(
    made: Path, sound: Any, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, fault: Fault, count: int, commands: bool
) -> None:
    """Nothing changes in silence, nothing is said twice, and no command ends in a traceback, whichever comes first."""
    monkeypatch.setenv("WIDEHAND_SETTINGS", "/dev/null")
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "drills"))
    outcomes: Counter[str] = Counter()
    for seed, place in zip(range(count), copies(made, tmp_path), strict=False):
        what = fault(place, random.Random(seed))
        twin = tmp_path / "twin"
        shutil.copytree(place.parent, twin)
        found, said = content(place)
        assert found == sound or said, (seed, what)
        assert found is not None or len(said) == 1, (seed, what, said)
        outcomes["harmless" if not said else "put right" if found == sound else "named"] += 1
        if found is not None:
            assert content(place)[1] == (), (seed, what, said)
        if commands:
            run_all(twin / place.name, twin, COMMANDS if said else A_FEW)
        shutil.rmtree(twin)
    print(dict(outcomes))
    assert outcomes["put right"] > outcomes["named"]


def test_a_bit_is_turned_back(place: Path, sound: Any) -> None:
    """A bit in a kept text, in a number and in a plan: all is as it was, and the player hears of the disk."""
    data = bytearray(place.read_bytes())
    for piece in (b'"heard":[', b"her guitar", b'"title":'):
        data[data.rindex(piece) + 3] ^= 4
    place.write_bytes(bytes(data))
    found, (line,) = content(place)
    assert found == sound
    assert re.match(r"\d rows? of the history had lost a bit and could be put right; the disk may be failing", line)
    assert content(place) == (sound, ())


def test_a_silent_flip_is_found(place: Path, sound: Any, capsys: pytest.CaptureFixture[str]) -> None:
    """An onset of 4.7e78 could be read like any other. A reader is told and leaves it out; whoever may write sets it
    aside and says so once; judged again, the stroke is there as it was."""
    change(place, "UPDATE stroke SET onset_s = 4.7e78 WHERE take = 2 AND number = 3")
    before = place.read_bytes()
    for _ in range(2):
        code, err = silent(["progress", "--json", "--store", str(place)])
        assert (code, place.read_bytes()) == (0, before)
        assert err.startswith("1 stroke of take 2 of mill-verse could not be trusted any more and is set aside; ")
    found, (line,) = content(place)
    assert (line + "\n", len(found[1][1])) == (err, len(sound[1][1]) - 1)
    command = re.search(r"widehand (rejudge .*) makes them again", line)
    assert command
    assert silent([*command[1].split(), "--store", str(place)]) == (0, "")
    with Store.open(place) as store:
        assert store.verdicts(2) == sound[1][1]
    with closing(sqlite3.connect(place)) as db:
        ((what, kept),) = db.execute("SELECT what, content FROM aside").fetchall()
    assert (what, json.loads(kept)["onset_s"]) == ("stroke", 4.7e78)


@pytest.mark.parametrize(
    ("field", "value"), [("tempo", "fast"), ("tuning", [None]), ("tuning", [[], []]), ("steps", 7), ("title", {})]
)
def test_a_plan_that_an_older_program_let_in(place: Path, sound: Any, field: str, value: object) -> None:
    """A plan that makes no sense goes aside with its drill; the verdicts stay, and all commands work."""
    with closing(sqlite3.connect(place)) as db, db:
        number, text, kept = db.execute("SELECT id, drill_text, plan FROM route").fetchone()
        plan = json.dumps({**json.loads(kept), field: value})
        values = (plan, route_digest(text, plan), number)
        db.execute("UPDATE route SET plan = ?, digest = ?, seal = NULL WHERE id = ?", values)
    said = run_all(
        place, place.parent, ("progress --store {store}", "today --store {store}", "rejudge --store {store}")
    )
    words = "drill and plan of take 1 of mill-verse and 2 more could not be trusted any more and are set aside"
    assert [line.startswith(words) for line in said] == [True, True, False]
    found, again = content(place)
    assert (found[1], again) == (sound[1], ())


def test_a_take_that_cannot_be_trusted(place: Path, sound: Any) -> None:
    """It goes aside whole and its file is named; from that file it comes back, with all that it said about skills."""
    change(place, "UPDATE take SET tempo = 4.7e78, hand = 'x' WHERE id = 2")
    found, lines = content(place)
    assert lines == (
        "take 2 of mill-verse could not be trusted any more and is set aside with its strokes; "
        "its MIDI is in takes/0002-mill-verse.mid",
        f"1 take with {len(sound[1][1])} strokes came whole from their files",
    )
    assert found[1] == sound[1]
    assert content(place) == (found, ())
    with closing(sqlite3.connect(place)) as db:
        asides = Counter(what for (what,) in db.execute("SELECT what FROM aside"))
    assert asides == {"take": 1, "stroke": len(sound[1][1])}


def test_what_follows_is_made_anew(place: Path, sound: Any) -> None:
    """Skills, sums and steps follow from what was kept; damage there loses nothing."""
    change(
        place,
        "UPDATE skill SET due_at = 'soon'",
        "UPDATE review SET grade = 9",
        "UPDATE take SET hits = 99 WHERE id = 1",
        "UPDATE target SET strings = '[null]' WHERE step = 2",
        "DELETE FROM session",
    )
    found, said = content(place)
    assert found[:-1] == sound[:-1]
    assert len(said) == 4


def test_a_description_that_lost_a_bit(place: Path, sound: Any) -> None:
    """SQLite reads nothing of such a file. What stood there is known, so nothing is lost."""
    data = bytearray(place.read_bytes())
    data[data.rindex(b"CREATE TABLE stroke") + 2] ^= 1
    place.write_bytes(bytes(data))
    found, (line,) = content(place)
    assert found == sound
    assert "and has been put right; the damaged file is kept as history-damaged-" in line


def test_a_large_history_is_looked_at_in_parts(place: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Not all of it at every opening; what is not looked at now is another time, and then all of it."""
    monkeypatch.setattr("listener.history.safekeeping.looking._NEWEST", 0)
    monkeypatch.setattr("listener.history.safekeeping.looking._SOME", 0)
    change(place, "UPDATE stroke SET onset_s = 1e5 WHERE number = 3 AND take < 3")
    with closing(sqlite3.connect(place, isolation_level=None)) as db:
        assert look_through(db, whole=False, chance=lambda first, last: last) == ()
        lines = look_through(db, whole=False, chance=lambda first, last: first)
        assert [line[:19] for line in lines] == ["1 stroke of take 1 ", "1 stroke of take 2 "]


def test_rows_are_sealed_as_they_are_read(any_store: Store, info: Any, verdict: Any, messages: Any) -> None:
    """In a file and on a server alike: what comes back fits the seal that was made before it went in."""
    number = any_store.begin_take(info(session=any_store.begin_session(info().started_at)))
    for step in range(3):
        any_store.keep(number, verdict(step, movement_score=100, offset_ms=-0.0), messages(step))
    with any_store.backend.reading() as db:
        chunks = db.rows("SELECT take, number, messages, marks, seal FROM chunk")
    assert [
        seal("chunk", dict(zip(("take", "number", "messages", "marks"), row[:4], strict=True))) for row in chunks
    ] == [row[4] for row in chunks]
    any_store.finish_take(number, b"MThd", info().started_at)
    any_store.rewrite(number, any_store.verdicts(number), info().started_at, "2")
    with any_store.backend.reading() as db:
        for table in ("session", "route", "target", "take", "stroke", "judgement", "skill", "review", "drill_played"):
            names = [*SEALED[table], "seal"]
            rows = [dict(zip(names, row, strict=True)) for row in db.rows(f"SELECT {', '.join(names)} FROM {table}")]
            assert [row["seal"] for row in rows] == [seal(table, row) for row in rows], table
            assert rows or table in ("skill", "review")
