"""The history keeps everything it is given and gives it back the same."""

from __future__ import annotations

import sqlite3
from collections.abc import Callable
from dataclasses import fields
from datetime import UTC, datetime, timedelta, timezone
from pathlib import Path

import pytest

from listener.errors import StoreError
from listener.hearing.events import Message
from listener.hearing.take_file import Mark, TakeHeader
from listener.history.store import schema
from listener.history.store.folders import store_place
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.touch.account import Degree, TouchAccount
from listener.judging.verdict import Verdict

Info = Callable[..., TakeInfo]
MakeVerdict = Callable[..., Verdict]
MakeMessages = Callable[[int], tuple[Message, ...]]
LATER = datetime(2031, 5, 6, 7, 20, tzinfo=UTC)


def test_a_take_comes_back_whole(any_store: Store, info: Info, verdict: MakeVerdict, messages: MakeMessages) -> None:
    """Description, verdicts and file of a finished take are what was given."""
    session = any_store.begin_session(LATER)
    given = info(session=session, header=TakeHeader("harbour-walk", "click", 72.5, 3.2, "six channels", hand="small"))
    take = any_store.begin_take(given)
    verdicts = [verdict(step, grade) for step, grade in enumerate(("hit", "near", "miss"))]
    for number, one in enumerate(verdicts):
        any_store.keep(take, one, messages(number))
    name = any_store.finish_take(take, b"MThd, as it were", LATER)
    kept = any_store.take(take)
    assert kept.info == given
    assert (kept.step_count, kept.finished_at, kept.recovered, kept.file) == (3, LATER, False, name)
    assert any_store.verdicts(take) == tuple(verdicts)
    assert name == "takes/0001-harbour-walk.mid"
    assert any_store.take_file(take) == b"MThd, as it were"
    assert any_store.takes() == any_store.takes("harbour-walk") == (kept,)
    assert any_store.takes("another") == ()


def test_a_stroke_is_there_for_others_at_once(
    any_store: Store, place: Path | str, info: Info, verdict: MakeVerdict, messages: MakeMessages
) -> None:
    """Another program reads a stroke as soon as keep has returned."""
    take = any_store.begin_take(info(session=any_store.begin_session(LATER)))
    with Store.open(place, read_only=True) as reader:
        for step in range(3):
            any_store.keep(take, verdict(step), messages(step))
            assert len(reader.verdicts(take)) == step + 1


def test_raw_midi_is_let_go_when_the_file_is_written(
    store: Store, info: Info, verdict: MakeVerdict, messages: MakeMessages
) -> None:
    """MIDI is in the database only while the take has no file."""
    take = store.begin_take(info(session=store.begin_session(LATER)))
    store.keep(take, verdict(), messages(0))
    with sqlite3.connect(store.backend.path) as db:
        assert db.execute("SELECT count(*) FROM chunk").fetchone() == (1,)
    db.close()
    store.finish_take(take, b"file", LATER)
    with sqlite3.connect(store.backend.path) as db:
        assert db.execute("SELECT count(*) FROM chunk").fetchone() == (0,)
    db.close()


def test_marks_and_messages_without_verdict_are_kept(
    open_any: Callable[[], Store], info: Info, verdict: MakeVerdict, messages: MakeMessages
) -> None:
    """What came in after the last stroke, and the marks, are in the rebuilt file in order."""
    with open_any() as store:
        take = store.begin_take(info(session=store.begin_session(LATER)))
        store.keep(take, verdict(), messages(0), [Mark(0.5, "start")])
        store.keep_messages(take, messages(1), [Mark(4.0, "pause")])
        store.keep_messages(take, [], [])
    with open_any() as store:
        expected = ((*messages(0), *messages(1)), (Mark(0.5, "start"), Mark(4.0, "pause")))
        assert store.take_file(take) == repr(expected).encode()


def test_same_route_is_kept_once(store: Store, info: Info) -> None:
    """Playing a drill again adds a take, not a second copy of drill and plan; another text does."""
    session = store.begin_session(LATER)
    for _ in range(3):
        store.begin_take(info(session=session))
    store.begin_take(info(session=session, drill_text="another text"))
    db = sqlite3.connect(store.backend.path)
    assert db.execute("SELECT count(*) FROM route").fetchone() == (2,)
    assert db.execute("SELECT count(*) FROM target").fetchone() == (6,)
    db.close()


def test_columns_answer_questions_in_sql(
    store: Store, info: Info, verdict: MakeVerdict, messages: MakeMessages
) -> None:
    """Grade, movement, fault codes and top note are plain columns."""
    take = store.begin_take(info(session=store.begin_session(LATER)))
    store.keep(take, verdict(1, "near"), messages(0))
    db = sqlite3.connect(store.backend.path)
    row = db.execute(
        "SELECT step, grade, onset_s, offset_ms, spread_ms, movement_semitones, least, movement_score, top, "
        "fault_codes FROM stroke"
    ).fetchone()
    db.close()
    assert row == (1, "near", 2.5, -12.04, 11.32, 3, 2, 83.3, 65, '["missing"]')


def test_safety_settings_are_on(store: Store) -> None:
    """Write-ahead log, a sync at every commit, foreign keys, the schema's number."""
    db = store.backend.db
    asked = ("journal_mode", "synchronous", "foreign_keys", "user_version", "busy_timeout")
    values = [db.execute(f"PRAGMA {name}").fetchone()[0] for name in asked]
    assert values == ["wal", 2, 1, schema.SCHEMA, 5000]  # synchronous 2 is FULL, sqlite.org/pragma.html
    with pytest.raises(sqlite3.IntegrityError):
        db.execute("INSERT INTO chunk VALUES (99, 1, x'', '[]', NULL)")


def test_times_are_kept_in_utc(any_store: Store, info: Info) -> None:
    """A moment given in another zone is the same moment; one without a zone is refused."""
    east = LATER.astimezone(timezone(timedelta(hours=5, minutes=30)))
    take = any_store.begin_take(info(session=any_store.begin_session(east), started_at=east))
    assert any_store.take(take).info.started_at == LATER
    assert any_store.take(take).info.started_at.tzinfo is UTC
    with pytest.raises(ValueError, match="time zone"):
        any_store.begin_session(datetime(2031, 1, 1))


def test_misuse_is_a_plain_bug(any_store: Store, info: Info, verdict: MakeVerdict) -> None:
    """Unsettled verdicts and takes that do not run here are refused, and nothing is kept."""
    with pytest.raises(ValueError, match="take 1 is not running"):
        any_store.keep(1, verdict(), [])
    take = any_store.begin_take(info(session=any_store.begin_session(LATER)))
    with pytest.raises(ValueError, match="settled"):
        any_store.keep(take, verdict(settled=False), [])
    any_store.finish_take(take, b"file", LATER)
    with pytest.raises(ValueError, match="not running"):
        any_store.finish_take(take, b"file", LATER)
    assert any_store.verdicts(take) == ()


def test_every_field_of_a_verdict_is_kept() -> None:
    """A field added to Verdict must be added to the history too (settled is always True here)."""
    handled = {"step", "attempt", "grade", "faults", "heard", "held", "onset_s", "spread_ms", "offset_ms"}
    handled |= {"own_offset_ms", "movement", "least", "movement_score", "settled"}
    assert {field.name for field in fields(Verdict)} == handled


def test_where_the_history_lies(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """An explicit path wins, then WIDEHAND_STORE, then the platform's folder."""
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "named.sqlite3"))
    assert store_place(tmp_path / "given.sqlite3") == tmp_path / "given.sqlite3"
    assert store_place() == tmp_path / "named.sqlite3"
    monkeypatch.setenv("WIDEHAND_STORE", " ")
    assert store_place().parts[-2:] == ("widehand", "history.sqlite3")
    assert store_place(Path("~/x.sqlite3")) == Path.home() / "x.sqlite3"


def test_take_files_have_safe_names_and_replace_nothing(store: Store, info: Info) -> None:
    """A drill's path or odd name cannot leave the folder, and a file of an older history stays."""
    session = store.begin_session(LATER)
    takes = store.backend.path.parent / "takes"
    names = []
    for drill in ("../../Über den Hof.toml", "C:\\drills\\CON", "…", "x" * 300):
        names.append(store.finish_take(store.begin_take(info(session=session, drill=drill)), b"new", LATER))
    assert names == [
        "takes/0001-ber-den-hof.mid",
        "takes/0002-con.mid",
        "takes/0003-take.mid",
        f"takes/0004-{'x' * 60}.mid",
    ]
    (takes / "0005-harbour-walk.mid").write_bytes(b"old")
    take = store.begin_take(info(session=session))
    assert store.finish_take(take, b"new", LATER) == "takes/0005-harbour-walk-2.mid"
    assert (takes / "0005-harbour-walk.mid").read_bytes() == b"old"
    assert sorted(file.suffix for file in takes.iterdir()) == [".mid"] * 6
    (takes / "plain").touch()
    assert (takes / names[0].removeprefix("takes/")).stat().st_mode == (takes / "plain").stat().st_mode


def test_no_such_take_and_no_file_yet(store: Store, info: Info) -> None:
    """Asking for what is not there is one clear line."""
    with pytest.raises(StoreError, match="there is no take 4"):
        store.take(4)
    take = store.begin_take(info(session=store.begin_session(LATER)))
    with pytest.raises(StoreError, match="not finished"):
        store.take_file(take)
    name = store.finish_take(take, b"file", LATER)
    (store.backend.path.parent / name).unlink()
    with pytest.raises(StoreError, match=r"cannot be read from .*0001.*put the file back"):
        store.take_file(take)


def test_only_a_take_of_which_nothing_was_kept_is_forgotten(
    open_any: Callable[[], Store], info: Info, verdict: MakeVerdict, messages: MakeMessages
) -> None:
    """Left before anything came, it leaves no trace; a stroke, or MIDI alone, stays; and only the program that plays
    it may forget it."""
    with open_any() as store:
        session = store.begin_session(LATER)
        empty, struck, heard = (store.begin_take(info(session=session)) for _ in range(3))
        store.keep(struck, verdict(), [])
        store.keep_messages(heard, messages(0))
        for take in (empty, struck, heard):
            store.drop_take(take)
        assert [kept.id for kept in store.takes()] == [struck, heard]
        with pytest.raises(ValueError, match="not running here"):
            store.drop_take(struck)
        store.finish_take(again := store.begin_take(info(session=session)), b"file", LATER)
        assert store.take(again).finished_at == LATER
    with open_any() as store:
        assert {kept.id for kept in store.takes()} == {struck, heard, again}
        assert store.check() == ()


def test_an_account_that_is_damaged(store: Store, info: Info) -> None:
    """One line, and no traceback."""
    take = store.begin_take(info(session=store.begin_session(LATER)))
    store.finish_take(take, b"", LATER)
    store.backend.db.execute("UPDATE take SET strokes = 1, faults = 'x'")
    for look in (store.takes, store.summaries, lambda: store.take(take)):
        with pytest.raises(StoreError, match="what a take came to is damaged and cannot be read; put back a copy"):
            look()


def test_what_the_touch_came_to_is_kept(any_store: Store, info: Info, verdict: MakeVerdict) -> None:
    """With the take when it ends, later where nobody knew, and anew when it is judged again; it is in the summaries."""
    first, second = TouchAccount(changes=3, whole=2), TouchAccount(voices=7, early=(Degree("3", 1, 0, 4),))
    session = any_store.begin_session(LATER)
    takes = [any_store.begin_take(info(session=session)) for _ in range(2)]
    for take in takes:
        any_store.keep(take, verdict(), [])
    any_store.finish_take(takes[0], b"file", LATER, touch=first)
    any_store.finish_take(takes[1], b"other file", LATER)
    assert [any_store.take(take).touch for take in takes] == [first, None]
    assert [one.touch for one in any_store.summaries()] == [first, None]
    any_store.keep_touch(takes[1], second)
    any_store.rewrite(takes[0], any_store.verdicts(takes[0]), LATER)
    assert [any_store.take(take).touch for take in takes] == [first, second]
    any_store.rewrite(takes[0], any_store.verdicts(takes[0]), LATER, touch=second)
    assert any_store.take(takes[0]).touch == second
    assert any_store.progress().drills[0].touch == TouchAccount.total([second, second])
    assert any_store.check() == ()
