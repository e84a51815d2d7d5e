"""A history that cannot be written: the take is written elsewhere, said, and comes in by itself at the next start."""

from __future__ import annotations

import errno
import os
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from played_takes import NOW, plan_of, played

from listener.cli import main
from listener.errors import StoreError
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take
from listener.history.safekeeping.rescue import Rescue
from listener.history.store import folders
from listener.history.store.embedded import Embedded
from listener.history.store.sqlite_rows import SqliteRows
from listener.history.store.store import Store
from listener.judging.free.free import FreeJudge
from listener.planning.plan import Plan
from listener.session.take import recorder as recording
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.recorder import Session

FULL = "the disk is full"


@pytest.fixture(autouse=True)
def _nobodys_folders(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """What cannot be kept must not go into a developer's own."""
    for name in ("home", "tmp"):
        (tmp_path / name).mkdir()
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path / "home" / "data"))
    monkeypatch.setenv("TMPDIR", str(tmp_path / "tmp"))


@pytest.fixture(scope="module")
def plan() -> Plan:
    """Sixteen steps."""
    return plan_of()


class Disk:
    """Takes so many more transactions of a history, until there is room again."""

    def __init__(self, monkeypatch: pytest.MonkeyPatch) -> None:
        self.left = 1_000_000
        self.tries = 0
        real = Embedded.writing

        @contextmanager
        def writing(embedded: Embedded) -> Iterator[SqliteRows]:
            self.tries += 1
            if self.left <= 0:
                raise StoreError(FULL)
            self.left -= 1
            with real(embedded) as db:
                yield db

        monkeypatch.setattr(Embedded, "writing", writing)


@pytest.fixture
def disk(monkeypatch: pytest.MonkeyPatch) -> Disk:
    """One with room."""
    return Disk(monkeypatch)


def no_file(match: Callable[[Path], bool], monkeypatch: pytest.MonkeyPatch) -> None:
    """These files cannot be written."""
    real = folders.write_whole

    def write_whole(target: Path, data: bytes) -> None:
        if match(target):
            raise OSError(errno.ENOSPC, os.strerror(errno.ENOSPC))
        real(target, data)

    for module in ("store.folders", "safekeeping.rescue"):
        monkeypatch.setattr(f"listener.history.{module}.write_whole", write_whole)


def is_all_there(path: Path, practice: Practice, note: str) -> None:
    """After the next start the one take is in the history as it was shown, its MIDI whole, and nothing else is left."""
    with Store.open(path) as store:
        assert store.notes == (note,)
        (take,) = store.takes()
        assert store.verdicts(take.id) == practice.verdicts
        assert read_take(store.take_file(take.id), "take") == practice.take()
        assert not take.recovered
        assert store.check() == ()
        assert len(store.summaries(player="simulated guitar")) == 1
        assert store.standings("simulated guitar")
    assert sorted(file.name for file in path.parent.iterdir()) == ["history.sqlite3", "takes"]
    with Store.open(path) as store:
        assert (len(store.takes()), store.notes) == (1, ())


RESCUED = "take 1 of ferry-landing was rescued; all its 16 strokes are kept now"


@pytest.mark.parametrize("room", [0, 1, 2, 3, 12, 18])
def test_a_take_that_cannot_be_kept_lies_beside_the_history(
    store_path: Path, plan: Plan, disk: Disk, room: int
) -> None:
    """No room from the start, after the sitting was begun, after the take was, and later: whole from the first note."""
    with Store.open(store_path) as store:
        disk.left = room
        practice, recorder = played(store, plan, seed=1)
        assert recorder.unkept is not None
        unkept = recorder.unkept
        assert unkept.file is not None
        assert unkept.file.parent == store_path.parent / "history.sqlite3-rescued"
        assert read_take(unkept.file.read_bytes(), "rescued") == practice.take()
        assert (unkept.of, unkept.missing, unkept.lost) == (16, min(16, 18 - room), 0)
        disk.left = 1_000_000
    assert str(unkept).endswith(f"the whole take is in {unkept.file}, and the next start takes it in.")
    assert FULL in str(unkept)
    is_all_there(store_path, practice, RESCUED)


def test_verdicts_are_elsewhere_before_they_are_shown(store_path: Path, plan: Plan, disk: Disk) -> None:
    """The program is killed in mid-take: what was shown by then is in the file, and the note names it."""
    with Store.open(store_path) as store:
        disk.left = 6
        seen: list[tuple[int, str]] = []

        class Killed(BaseException):
            pass

        def keep(self: Any, verdict: Any, messages: Any) -> None:
            real_keep(self, verdict, messages)
            seen.append((len(self._practice.verdicts), self.trouble))
            if len(seen) == 9:
                raise Killed

        real_keep = recording.StoreRecorder.keep
        with pytest.MonkeyPatch.context() as patch:
            patch.setattr(recording.StoreRecorder, "keep", keep)
            with pytest.raises(Killed):
                played(store, plan, seed=1)
        disk.left = 1_000_000
    (file,) = (store_path.parent / "history.sqlite3-rescued").glob("*.mid")
    assert seen[3][1] == ""
    assert {trouble for _, trouble in seen[4:]} == {f"not in the history yet: {FULL} - so far it is in {file}"}
    for sign in (store_path.parent / "history.sqlite3-rescued").glob("*-playing-*"):
        sign.unlink()  # the process is still there: only its take has died
    with Store.open(store_path) as store:
        (take,) = store.takes()
        assert len(store.verdicts(take.id)) == seen[-1][0]
        assert take.recovered


def test_elsewhere_when_not_even_the_folder_can_be_written(
    store_path: Path, plan: Plan, disk: Disk, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """The folder for a user's data, then the home folder, then the one for what is temporary; it is named."""
    found = []
    for number in range(3):
        path = store_path.with_name(str(number)) / "history.sqlite3"
        full = [store_path.parent, tmp_path / "home" / "data", tmp_path / "home" / "widehand-rescued"][: number + 1]
        with Store.open(path) as store, monkeypatch.context() as patch:
            no_file(lambda file, full=full: any(file.is_relative_to(one) for one in full), patch)  # type: ignore[misc]
            disk.left = 5
            practice, recorder = played(store, plan, seed=1)
            disk.left = 1_000_000
            assert recorder.unkept is not None
            assert recorder.unkept.file is not None
            found.append(recorder.unkept.file)
        is_all_there(path, practice, RESCUED)
    home = tmp_path / "home"
    assert [file.parents[1] for file in found] == [
        home / "data" / "widehand" / "widehand-rescued",
        home / "widehand-rescued",
        tmp_path / "tmp",
    ]
    assert not any(file.parent.exists() for file in found)


def test_nowhere_to_write(store_path: Path, plan: Plan, disk: Disk, monkeypatch: pytest.MonkeyPatch) -> None:
    """What is lost is counted and said; what had been kept stays."""
    with Store.open(store_path) as store, monkeypatch.context() as patch:
        no_file(lambda _: True, patch)
        disk.left = 8
        _, recorder = played(store, plan, seed=1)
        disk.left = 1_000_000
    assert str(recorder.unkept) == (
        f"Not in the history: 10 of 16 verdicts of this take of ferry-landing ({FULL}). "
        "No other folder could be written either: 10 of them are lost."
    )
    with Store.open(store_path) as store:
        assert store.notes == ("take 1 of ferry-landing was cut off; its 6 strokes are kept",)


def test_free_listening_that_nobody_can_keep_is_not_called_safe(
    store_path: Path, plan: Plan, disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Without verdicts there is nothing to count, and something to lose."""
    pickup = make_pickup("per-string")
    free = replace(plan, steps=(), drill=replace(plan.drill, name="free", text="", steps=()))
    lines = []
    with Store.open(store_path) as store:
        heard, _ = played(store, plan, seed=1)
        for is_full in (False, True):
            with monkeypatch.context() as patch:
                no_file(lambda _, is_full=is_full: is_full, patch)  # type: ignore[misc]
                disk.left = 0
                practice = Practice(free, pickup, TakeSettings(tempo=None, source="guitar"), FreeJudge(pickup))
                recorder = recording.StoreRecorder(store, Session(store, NOW), practice, seed=None)
                for message in heard.take().messages:
                    practice.feed(message)
                recorder.keep_messages(practice.messages_since(0))
                practice.end(100.0)
                recorder.finish(practice)
                disk.left = 1_000_000
            lines.append(str(recorder.unkept))
    assert lines[0].startswith(f"Not in the history: this take of free ({FULL}). Nothing is lost: the whole take is in")
    assert lines[1].endswith("No other folder could be written either: what was played is lost.")
    with Store.open(store_path) as store:
        assert store.notes == ("take 2 of free was rescued; it is kept now",)
        assert read_take(store.take_file(2), "free").messages == heard.take().messages


def test_room_again_in_the_middle(store_path: Path, plan: Plan, disk: Disk, monkeypatch: pytest.MonkeyPatch) -> None:
    """Then all goes into the history after all, and nothing lies elsewhere."""
    with Store.open(store_path) as store:
        disk.left = 5
        real = Rescue.write

        def write(self: Rescue, data: bytes) -> bool:
            done = real(self, data)
            assert self.file is not None
            assert self.file.exists()
            disk.left = 1_000_000 if disk.tries > 12 else 0
            return done

        monkeypatch.setattr(Rescue, "write", write)
        practice, recorder = played(store, plan, seed=1)
        assert (recorder.unkept, recorder.trouble) == (None, "")
        assert store.verdicts(1) == practice.verdicts
    assert sorted(file.name for file in store_path.parent.iterdir()) == ["history.sqlite3", "takes"]


def test_only_the_file_cannot_be_written(
    store_path: Path, plan: Plan, disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Every verdict is in the history, and the take's MIDI elsewhere."""
    with Store.open(store_path) as store, monkeypatch.context() as patch:
        no_file(lambda file: file.parent.name == "takes", patch)
        practice, recorder = played(store, plan, seed=1)
        assert str(recorder.unkept).startswith("This take of ferry-landing has no MIDI file yet (")
        assert "Nothing is lost" in str(recorder.unkept)
    is_all_there(store_path, practice, RESCUED)


def test_further_takes_are_kept_too(store_path: Path, plan: Plan, disk: Disk) -> None:
    """A sitting goes on without its history, and all its takes are in one sitting when they come in."""
    with Store.open(store_path) as store:
        session = Session(store, NOW)
        disk.left = 7
        shown = [
            played(store, plan, seed=seed, session=session, now=NOW + timedelta(minutes=seed))[0].verdicts
            for seed in range(3)
        ]
        disk.left = 1_000_000
    with Store.open(store_path) as store:
        assert [store.verdicts(take.id) for take in store.takes()] == shown
        assert len({take.info.session for take in store.takes()}) == 1


def test_another_program_leaves_a_take_alone_that_is_still_played(store_path: Path, plan: Plan, disk: Disk) -> None:
    """It is not taken in from under the player's hands."""
    with Store.open(store_path) as store:
        disk.left = 0
        rescue = Rescue(store.backend, NOW, "ferry-landing")
        assert rescue.write(b"under way")
        disk.left = 1_000_000
        with Store.open(store_path) as other:
            assert other.notes == ()
        rescue.leave()
        with Store.open(store_path) as other:
            (note,) = other.notes
    assert "a rescued take cannot be read, and stays where it is" in note
    assert rescue.file is not None
    assert rescue.file.exists()


def test_a_server_that_hangs_does_not_hold_up_every_chord(
    store_path: Path, plan: Plan, disk: Disk, monkeypatch: pytest.MonkeyPatch
) -> None:
    """After a try of ten seconds the next one waits for a while; what is played meanwhile is written elsewhere."""
    now_s = [0.0]

    class Clock:
        @staticmethod
        def monotonic() -> float:
            now_s[0] += 0.5  # between two looks at the clock
            return now_s[0]

    with Store.open(store_path) as store:
        disk.left, disk.tries = 0, 0
        monkeypatch.setattr(recording, "time", Clock)
        practice, recorder = played(store, plan, seed=1)
        disk.left = 1_000_000
        assert 2 <= disk.tries < 8
        assert recorder.unkept is not None
        assert recorder.unkept.lost == 0
    is_all_there(store_path, practice, RESCUED)


@pytest.mark.parametrize("words", [["demo", "ferry-landing"], ["today", "--start", "--demo", "--minutes", "6"]])
def test_the_last_line_says_what_is_not_in_the_history(
    store_path: Path, disk: Disk, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch, words: list[str]
) -> None:
    """Exit code 1, one line for each take, last of all; the next start takes them in and says so."""
    monkeypatch.setenv("WIDEHAND_STORE", str(store_path))
    Store.open(store_path).close()
    disk.left = 6
    assert main([*words, "--fast", "--plain"]) == 1
    disk.left = 1_000_000
    said = capsys.readouterr()
    line = said.err.splitlines()[-1]
    assert line.startswith("Not in the history: ")
    assert "everything that was played is kept" not in said.out + said.err
    assert main(["rejudge"]) == 0
    again = capsys.readouterr()
    assert "was rescued; all its" in again.err
    assert "every verdict is the same" in again.out


def test_rejudging_on_a_full_disk_does_not_deny_the_take(
    store_path: Path, plan: Plan, disk: Disk, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Neither while nothing can be written at all, nor where only the take's file cannot."""
    monkeypatch.setenv("WIDEHAND_STORE", str(store_path))
    with Store.open(store_path) as store:
        disk.left = 8
        with monkeypatch.context() as patch:
            no_file(lambda _: True, patch)
            played(store, plan, seed=1)
    capsys.readouterr()
    disk.left = 0
    assert main(["rejudge"]) == 1
    said = capsys.readouterr()
    assert "1 take is not finished, and cannot be completed now; every verdict in the history is kept" in said.out
    assert FULL in said.err
    assert "lies beside" not in said.err
    assert "No takes yet" not in said.out
    disk.left = 1_000_000
    with monkeypatch.context() as patch:
        no_file(lambda _: True, patch)
        assert main(["rejudge"]) == 1
    out = capsys.readouterr().out
    assert "1 take is not finished" in out
    assert "No takes yet" not in out


def test_half_written_files_go_when_they_are_nobodys(store_path: Path) -> None:
    """Those of a killed program, after a while; those that look otherwise stay."""
    Store.open(store_path).close()
    takes, rescued = store_path.parent / "takes", store_path.parent / "history.sqlite3-rescued"
    old = [takes / ".0001-x.mid-0123abcd.part", rescued / ".x.mid-0123abcd.part"]
    old += [
        store_path.parent / name
        for name in (".history.sqlite3-0123abcd.part", ".history.sqlite3-0123abcd.part-journal")
    ]
    old += [store_path.parent / "history-schema-2-2031-05-06.sqlite3.part"]
    others = [takes / "song.part", store_path.parent / ".something.part", takes / ".0002-x.mid-0123abcd.part"]
    for file in old + others:
        file.parent.mkdir(exist_ok=True)
        file.write_bytes(b"MThd")
        if file != others[-1]:
            os.utime(file, (0, 0))
    Store.open(store_path).close()
    assert [file for file in old if file.exists()] == []
    assert [file for file in others if not file.exists()] == []
