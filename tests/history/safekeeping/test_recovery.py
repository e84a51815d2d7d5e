"""A take that was cut off is completed at the next opening; one that another program plays is left alone."""

from __future__ import annotations

import os
import sqlite3
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest

from listener.errors import SourceError
from listener.hearing.events import Message, on_grid
from listener.hearing.take_file import Mark, Take, TakeHeader, read_take
from listener.history.store import owner
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Verdict

Info = Callable[..., TakeInfo]
MakeVerdict = Callable[..., Verdict]
MakeMessages = Callable[[int], tuple[Message, ...]]
Open = Callable[[], Store]
NOW = datetime(2031, 5, 6, 7, 20, tzinfo=UTC)


def test_a_cut_off_take_is_completed(open_any: Open, info: Info, verdict: MakeVerdict, messages: MakeMessages) -> None:
    """File, end and a word to the player; once only."""
    with open_any() as store:
        assert store.notes == ()
        take = store.begin_take(info(session=store.begin_session(NOW)))
        for step in range(4):
            store.keep(take, verdict(step), messages(step))
    with open_any() as store:
        assert store.notes == ("take 1 of harbour-walk was cut off; its 4 strokes are kept",)
        kept = store.take(take)
        assert kept.recovered
        assert kept.finished_at == kept.info.started_at + timedelta(seconds=5.4)  # the last note-off
        heard = tuple(message for step in range(4) for message in messages(step))
        assert store.take_file(take) == repr((heard, ())).encode()
        assert len(store.verdicts(take)) == 4
    with open_any() as store:
        assert store.notes == ()


def test_a_take_without_a_stroke_is_completed_too(open_any: Open, info: Info) -> None:
    """Cut off in the count-in: nothing to keep, nothing to trip over."""
    with open_any() as store:
        store.begin_take(info(session=store.begin_session(NOW)))
    with open_any() as store:
        assert store.notes == ("take 1 of harbour-walk was cut off; its 0 strokes are kept",)
        assert store.take(1).finished_at == store.take(1).info.started_at
        assert store.summaries() == []


def test_a_running_take_is_left_alone(open_any: Open, info: Info, verdict: MakeVerdict, messages: MakeMessages) -> None:
    """While one program plays, others open the history and do not touch its take."""
    with open_any() as playing:
        take = playing.begin_take(info(session=playing.begin_session(NOW)))
        playing.keep(take, verdict(), messages(0))
        with open_any() as other:
            assert other.notes == ()
            assert other.take(take).finished_at is None
        playing.keep(take, verdict(1), messages(1))
        playing.finish_take(take, b"its own file", NOW)
    with open_any() as store:
        assert not store.take(take).recovered
        assert store.take_file(take) == b"its own file"


def test_recover_leaves_own_take_alone(open_any: Open, info: Info) -> None:
    """Asked for while it plays itself, the store does not end its own take."""
    with open_any() as store:
        take = store.begin_take(info(session=store.begin_session(NOW)))
        assert store.recover() == ()
        assert store.take(take).finished_at is None


def test_copied_history(open_store: Open, info: Info, verdict: MakeVerdict, store_path: Path) -> None:
    """A copy made during a take knows no player: it is completed there, not in the original."""
    copy = store_path.parent / "copy" / "history.sqlite3"
    copy.parent.mkdir(parents=True)
    with open_store() as playing:
        take = playing.begin_take(info(session=playing.begin_session(NOW)))
        playing.keep(take, verdict(), [])
        source, target = sqlite3.connect(store_path), sqlite3.connect(copy)
        source.backup(target)
        source.close()
        target.close()
        with Store.open(copy, make_file=lambda take: b"rebuilt") as copied:
            assert copied.take(take).recovered
        assert playing.take(take).finished_at is None


def test_a_file_that_cannot_be_made_does_not_block(open_any: Open, info: Info, place: Path | str) -> None:
    """The history opens all the same, says so, and tries again next time."""

    def fails(take: Take) -> bytes:
        raise SourceError("no such thing")

    with open_any() as store:
        store.begin_take(info(session=store.begin_session(NOW)))
    with Store.open(place, make_file=fails) as store:
        assert store.notes == ("take 1 of harbour-walk was cut off and its file cannot be made: no such thing",)
        assert store.begin_session(NOW) == 2
    with open_any() as store:
        assert store.take(1).recovered


def test_no_signs_are_left_behind(open_store: Open, info: Info, store_path: Path) -> None:
    """After closing, only the history and the takes are in the folder."""
    with open_store() as store:
        take = store.begin_take(info(session=store.begin_session(NOW)))
        assert len(list(store_path.parent.glob("*-playing-*"))) == 1
        store.finish_take(take, b"file", NOW)
    assert sorted(file.name for file in store_path.parent.iterdir()) == ["history.sqlite3", "takes"]


def test_sign_of_a_program_killed_between_takes(open_store: Open, info: Info, store_path: Path) -> None:
    """It is cleared away at the next opening, while that of a running program stays."""
    with open_store() as killed, open_store() as playing:
        for store in (killed, playing):
            store.finish_take(store.begin_take(info(session=store.begin_session(NOW))), b"file", NOW)
        sign = killed.backend._owner
        assert sign is not None
        sign._lock.close()  # what the end of the process does; the file stays
        killed.backend._owner = None
        assert len(list(store_path.parent.glob("*-playing-*"))) == 2
        with open_store():
            (left,) = store_path.parent.glob("*-playing-*")
        assert left.name.endswith(playing.backend.token)


def test_rebuilt_file_reads_as_the_same_take(
    place: Path | str, info: Info, verdict: MakeVerdict, messages: MakeMessages
) -> None:
    """The real maker of take files gives back messages, marks and header of the take that was cut off."""
    header = TakeHeader("harbour-walk", "click", 72.5, 3.2, "six channels", hand="small", made_by="widehand 0.0.7")
    marks = (Mark(1.0, "pause"), Mark(1.2, "resume"))
    with Store.open(place) as store:
        session = store.begin_session(NOW)
        first = store.begin_take(info(session=session, header=header))
        store.keep(first, verdict(), messages(0), marks)
        second = store.begin_take(info(session=session, header=None, tempo=None, plan={"tempo": 66.0, "steps": []}))
        store.keep(second, verdict(), messages(0))
    with Store.open(place) as store:
        assert len(store.notes) == 2
        given = Take(tuple(Message(on_grid(one.time_s), one.data) for one in messages(0)), marks, header)
        assert read_take(store.take_file(first), "rebuilt.mid") == given
        made = read_take(store.take_file(second), "rebuilt.mid").header
    assert made is not None
    assert (made.drill, made.pace, made.tempo, made.first_beat_s) == ("harbour-walk", "click", 66.0, 3.2)
    assert (made.pickup, made.tuning, made.capo, made.hand) == ("six channels", "E2 A2 D3 G3 B3 E4", 0, "medium")


@pytest.mark.skipif(os.name == "nt", reason="there such a sign stays for an hour")
def test_sign_of_a_program_killed_before_its_first_take(open_store: Open, store_path: Path) -> None:
    """A sign that nobody holds goes at the next start, also without a take."""
    open_store().close()
    sign = store_path.with_name(f"{store_path.name}-playing-0123456789abcdef")
    sign.touch()
    open_store().close()
    assert not sign.exists()


def test_a_sign_that_is_cleared_away_while_it_is_made_is_made_again(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Between making and locking it somebody may find it unlocked."""
    lock, missed = owner._lock, [True]

    def late(file: Path, timeout_s: float = 0.0) -> sqlite3.Connection:
        found = lock(file, timeout_s)
        if missed and missed.pop():
            file.unlink()  # what the other did before this lock was there
        return found

    monkeypatch.setattr(owner, "_lock", late)
    mine = owner.Owner(tmp_path / "history.sqlite3", "0123456789abcdef")
    with owner.if_gone(tmp_path / "history.sqlite3", "0123456789abcdef") as gone:
        assert not gone
    mine.release()
    assert list(tmp_path.iterdir()) == []
