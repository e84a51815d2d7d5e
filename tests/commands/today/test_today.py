"""``widehand today``: minutes in, a plan out, for the first day and for later ones; ``--start`` plays and keeps it."""

from __future__ import annotations

import json
import shlex
import shutil
import time
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from printed import document, run

from listener.cli import build_parser, main
from listener.commands.today.today import today_of
from listener.commands.today.todays import with_files
from listener.drill.drill_file import bundled_drills, read_drill
from listener.hearing.events import Message
from listener.history.skills.reviews import PLAYER, SIMULATED
from listener.history.store.store import Store
from listener.judging.verdict import HIT
from listener.session.rest import PAIN

PLAY = ("today", "--start", "--demo", "--fast")


@pytest.fixture(autouse=True)
def history(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A history of its own in a folder with a blank in its name."""
    path = tmp_path / "my history" / "history.sqlite3"
    monkeypatch.setenv("WIDEHAND_STORE", str(path))
    return path


@pytest.fixture(scope="module")
def played(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Six takes of the simulated guitarist."""
    path = tmp_path_factory.mktemp("played") / "history.sqlite3"
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WIDEHAND_STORE", str(path))
        for drill in ("mill-verse", "ferry-landing"):
            assert main(["demo", drill, "--fast", "--plain", "--times", "3"]) == 0
    return path


def days_later(path: Path, days: float, *words: str) -> Any:
    """The plan for the simulated guitarist at a later day."""
    arguments = build_parser().parse_args(["today", "--demo", *words])
    with Store.open(path) as store:
        return today_of(arguments, store, datetime.now(UTC) + timedelta(days=days))


def test_the_first_day(capsys: pytest.CaptureFixture[str], history: Path) -> None:
    """Nothing kept: the beginning of the course, kindly, within the minutes; looking leaves nothing behind."""
    plan = document(capsys, "today", "--minutes", "15")
    first, *rest = plan["items"]
    assert first["what"] == "warm-up"
    assert rest[0]["drill"] == bundled_drills()[0]
    assert plan["planned_minutes"] == sum(item["minutes"] for item in plan["items"]) <= 15
    assert plan["notes"][0].startswith("Welcome")
    assert not history.parent.exists()


def test_every_command_can_be_typed(capsys: pytest.CaptureFixture[str], played: Path) -> None:
    """What an item says to type is a command line of this program, with the drill written for it where there is one."""
    today = days_later(played, 20, "--minutes", "40", "--store", str(played))
    commands = [item.command for item in today.items if item.command]
    assert len(commands) >= 4
    for command in commands:
        program, *words = shlex.split(command)
        assert program == "widehand"
        arguments = build_parser().parse_args(words)
        assert arguments.command == "demo"
        assert arguments.store == str(played)
        if arguments.drill.endswith(".toml"):
            read_drill(Path(arguments.drill).read_text(encoding="utf-8"), "today")
    written = next(item for item in today.items if item.text)
    assert main([*shlex.split(written.command)[1:], "--fast", "--json", "--store", str(played.with_name("other"))]) == 0
    assert json.loads(capsys.readouterr().out)["drill"] == written.drill


def test_due_weak_and_new(played: Path) -> None:
    """Weeks later: an easy stretch, drills with what is due, changes that stuck, and with time left the next of the
    course; the same question has the same answer."""
    today = days_later(played, 20, "--minutes", "40")
    kinds = [item.slot.what for item in today.items]
    assert kinds[0] == "warm-up"
    assert {"due", "changes", "new"} <= set(kinds)
    assert kinds.index("due") < kinds.index("new")
    assert 20 < len(today.known.due) <= today.known.skills
    assert today.day.waiting == 0
    new = next(item for item in today.items if item.slot.what == "new")
    assert new.drill == next(name for name in bundled_drills() if name not in ("mill-verse", "ferry-landing"))
    assert days_later(played, 20, "--minutes", "40").items == today.items


def test_a_drill_that_was_never_played_to_its_end(played: Path, history: Path) -> None:
    """It says so, and comes slower than it was tried; once there is a whole take that one speaks for it."""

    def tell(*lengths: int) -> tuple[float | None, str]:
        shutil.copytree(played.parent, history.parent, dirs_exist_ok=True)
        with Store.open(history) as store:
            for kept in store.takes("mill-verse"):
                verdicts = [replace(one, grade=HIT) for one in store.verdicts(kept.id)]
                store.rewrite(kept.id, verdicts[: dict(enumerate(lengths, 1)).get(kept.id, 3)], datetime.now(UTC))
            store.review_again([])
        items = days_later(history, 20, "--minutes", "60").items
        item = next(item for item in items if item.drill == "mill-verse" and item.slot.what != "warm-up")
        return item.slot.tempo, item.slot.why

    tempo, why = tell()
    assert why.endswith("; not played to its end yet: 3 of 16 steps")
    shown, why = tell(99)
    assert "not played to its end" not in why
    assert tempo is not None
    assert tempo < (shown or 0.0)


def test_the_simulated_guitarist_is_somebody_else(capsys: pytest.CaptureFixture[str], played: Path) -> None:
    """A player who only watched the demo has a first day, and is told why."""
    plan = document(capsys, "today", "--store", str(played))
    assert plan["skills"] == 0
    assert any("simulated guitarist are not yours" in note for note in plan["notes"])
    assert document(capsys, "today", "--demo", "--store", str(played))["skills"] > 20


def test_start_plays_the_day(capsys: pytest.CaptureFixture[str], history: Path) -> None:
    """Everything is played in one sitting and kept with its skills; one JSON document; then other things are due."""
    plan = document(capsys, *PLAY, "--minutes", "10")
    assert plan["ended"] == "done"
    drills = [item["drill"] for item in plan["items"] if item["drill"]]
    assert [report["drill"] for report in plan["played"]] == drills
    with Store.open(history) as store:
        takes = store.takes()
        assert [take.info.drill for take in takes] == [
            item["drill"] for item in plan["items"] if item["drill"] for _ in range(item["times"])
        ]
        assert {take.info.session for take in takes} == {1}
        assert store.standings(SIMULATED)
        assert not store.standings(PLAYER)
        assert all(take.finished_at for take in takes)
    again = document(capsys, "today", "--demo")
    assert again["skills"] > 0
    assert set(drills) & {item["drill"] for item in again["items"]}


def test_start_in_plain_lines(capsys: pytest.CaptureFixture[str]) -> None:
    """Each item is announced with its place, its minutes and why; care comes first."""
    assert main([*PLAY, "--plain", "--minutes", "10"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert PAIN in lines[0]
    announced = [line for line in lines if " of " in line and " min: " in line]
    assert announced[0].startswith("1 of ")
    assert len(announced) >= 2
    assert lines[-1].startswith("That is it for today.")
    coming = [line for line in lines if line.startswith("Coming up: ")]
    assert len(coming) == len(announced) - 1
    for said, item in zip(coming, announced[1:], strict=True):
        assert said.removeprefix("Coming up: ").rpartition(",")[0] in item
    assert not any(line.startswith("Note: coming up") for line in lines)


def test_quitting_keeps_everything(monkeypatch: pytest.MonkeyPatch, history: Path, capsys: Any) -> None:
    """The key q ends the day, whatever is playing; what was played is kept and reviewed."""
    from listener.screen.keys import Keyboard

    reads = iter(range(10**9))
    monkeypatch.setattr(Keyboard, "read", lambda _self: ["quit"] if next(reads) > 2500 else [])
    assert main([*PLAY, "--plain", "--minutes", "30"]) == 0
    assert "That is it for today" not in capsys.readouterr().out
    with Store.open(history) as store:
        assert store.notes == ()
        assert store.takes()
        assert all(take.finished_at for take in store.takes())


def test_readable_in_a_narrow_terminal(played: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Plain lines keep to 80 characters but for commands, which are never broken; why is told when asked."""
    assert main(["today", "--demo", "--plain", "--why", "--store", str(played)]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert all(line.isascii() for line in lines)
    assert all(len(line) <= 80 or line.startswith("   widehand demo") for line in lines)
    text = " ".join(lines)
    assert "flash cards, not to hands" in text
    assert "Pain means stop" in text


def test_where_nothing_may_be_written(played: Path, tmp_path: Path) -> None:
    """Drills that cannot be laid down have no command, and can be played with --start all the same."""
    in_the_way = tmp_path / "today"
    in_the_way.write_text("a file where the folder should be")
    items = days_later(played, 20, "--minutes", "40").items
    bare = [item if not item.text else type(item)(item.slot, item.title, item.drill, item.text) for item in items]
    found = with_files(bare, in_the_way, verb="demo", options=[])
    assert found == tuple(bare)
    assert any(item.text and not item.command for item in found)


@pytest.mark.parametrize(
    ("words", "said"),
    [
        (("--minutes", "0"), "not '0'"),
        (("--minutes", "4"), "give a whole number from 5 to 240"),
        (("--minutes", "-20"), "give a whole number from 5 to 240, not"),
        (("--minutes", "soon"), "not 'soon'"),
        (("--minutes", "1e3"), "give a whole number from 5 to 240, not"),
        (("--rest-after", "90"), "not '90'"),
        (("--fast",), "add --start --demo"),
        (("--start", "--fast"), "add --start --demo"),
        (("--tuning", "sideways"), "sideways"),
        (("--hand", "huge"), "huge"),
        (("--store", "."), "is a folder"),
        (("mill-verse",), "one word too many"),
    ],
)
def test_trouble_is_one_clear_line(capsys: pytest.CaptureFixture[str], words: tuple[str, ...], said: str) -> None:
    """What is wrong and what to try; nothing on standard output."""
    code, out, err = run(capsys, "today", *words)
    assert code in (1, 2)
    assert said in err
    assert "Traceback" not in err
    assert out == ""


class QuietPort:
    """A port on which the lowest string is plucked now and then."""

    made = 0
    name = "a guitar"
    finished = True

    def __init__(self, _name: str | None) -> None:
        QuietPort.made += 1
        self.closed = False
        self._plucked_s = 0.0
        QuietPort.last = self

    last: QuietPort

    def poll(self) -> list[Message]:
        now_s = time.perf_counter()
        if now_s < self._plucked_s + 0.3:
            return []
        self._plucked_s = now_s
        return [Message(now_s, (0x90, 40, 90))]

    def wait(self, timeout_s: float) -> None:
        time.sleep(min(timeout_s, 0.01))

    def close(self) -> None:
        self.closed = True


def test_a_guitar_on_a_port(history: Path, monkeypatch: pytest.MonkeyPatch, capsys: Any) -> None:
    """The port is opened once for the whole day and closed at its end; the takes are the player's own."""
    from listener.hearing.sources import port
    from listener.screen.keys import Keyboard

    monkeypatch.setattr(port, "open_input", QuietPort)
    monkeypatch.setattr(QuietPort, "made", 0)
    begun_s = time.monotonic()
    monkeypatch.setattr(Keyboard, "read", lambda _self: ["quit"] if time.monotonic() > begun_s + 1.5 else [])
    assert main(["today", "--start", "--own-pace", "--plain", "--minutes", "12"]) == 0
    assert QuietPort.made == 1
    assert QuietPort.last.closed
    assert "everything that was played is kept" in capsys.readouterr().out
    with Store.open(history) as store:
        takes = store.takes()
        assert takes
        assert {take.info.source for take in takes} == {"a guitar"}
        assert {take.info.session for take in takes} == {1}
        assert all(take.finished_at for take in takes)
