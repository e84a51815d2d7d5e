"""The whole program on a real (pseudo) terminal: keys, Ctrl-C, too small, gone; the take is always kept."""

from __future__ import annotations

import contextlib
import os
import signal
import termios
import time
from pathlib import Path

import pytest

pytest.importorskip("fcntl", reason="pseudo terminals are POSIX")

from in_terminal import SHORT_DRILL, Terminal, kept, kept_grades, widehand

from listener.history.store import Store

DRILL = "mill-verse"
FAST = ["--tempo", "400", "--count-in", "0"]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    """Where the history of one test is kept."""
    return tmp_path / "history.sqlite3"


@pytest.fixture
def short(tmp_path: Path) -> str:
    """A drill of six chords that is over in two seconds."""
    path = tmp_path / "landing-stage.toml"
    path.write_text(SHORT_DRILL, encoding="utf-8")
    return str(path)


def finished(store: Path) -> bool:
    """Whether the take is over and kept."""
    with contextlib.suppress(Exception), Store.open(store, read_only=True) as history:
        return history.takes()[0].finished_at is not None
    return False


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (100, 30), (140, 40)])
def test_the_dashboard_from_start_to_quit(store: Path, short: str, columns: int, rows: int) -> None:
    """A whole take on the dashboard; q leaves, the terminal is as it was, the summary stays on the screen."""
    terminal = widehand("demo", short, *FAST, columns=columns, rows=rows, store=store)
    mode = termios.tcgetattr(terminal.master)
    terminal.wait_for("Landing stage")
    terminal.wait_for("quit")
    terminal.wait_for("hits")
    terminal.wait_for("end of the take")
    terminal.until(lambda: finished(store), "the kept take")
    assert "of 6 chords" in " ".join(terminal.text.split())
    terminal.press("q")
    assert terminal.wait() == 0
    assert termios.tcgetattr(terminal.master)[3] == mode[3]
    assert terminal.raw.count(b"\x1b[?1049h") == terminal.raw.count(b"\x1b[?1049l") == 1
    assert terminal.raw.rindex(b"\x1b[?25h") > terminal.raw.rindex(b"\x1b[?25l")
    assert "of 6 chords" in terminal.text
    assert len(kept_grades(store)) == 6


def test_ctrl_c_keeps_the_take(store: Path) -> None:
    """Ctrl-C in the middle: exit 130, everything judged so far is kept, the terminal is given back."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    mode = termios.tcgetattr(terminal.master)
    terminal.wait_for_step(4)
    terminal.press("\x03")
    assert terminal.wait() == 130
    assert b"\x1b[?1049l" in terminal.raw
    assert termios.tcgetattr(terminal.master) == mode
    assert "Traceback" not in terminal.text
    assert 1 <= len(kept_grades(store)) < 16


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_told_to_end_keeps_the_take(store: Path, number: signal.Signals) -> None:
    """Terminated, or the terminal hung up: the take is kept."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    terminal.wait_for_step(3)
    os.kill(terminal.pid, number)
    assert terminal.wait() == 130
    assert 1 <= len(kept_grades(store)) < 16


def test_the_terminal_goes_away(store: Path) -> None:
    """The window is closed in the middle of a take: the program ends and the take is kept."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    terminal.wait_for_step(3)
    terminal.close()
    terminal.wait(looking=False)
    assert 1 <= len(kept_grades(store)) < 16


def test_a_terminal_that_is_too_small(store: Path) -> None:
    """One clear line, exit 1, nothing drawn; the history has no broken take."""
    terminal = widehand("demo", DRILL, columns=60, rows=20, store=store)
    assert terminal.wait() == 1
    assert "60 x 20" in terminal.text.replace("\n", " ")
    assert b"\x1b[?1049h" not in terminal.raw
    assert not kept(store)


def test_plain_needs_no_room(store: Path) -> None:
    """--plain works in the same small terminal: lines of text, nothing that steers the terminal."""
    terminal = widehand("demo", DRILL, "--plain", "--fast", columns=60, rows=20, store=store)
    assert terminal.wait() == 0
    assert "hits" in terminal.text
    assert b"\x1b" not in terminal.raw
    assert len(kept_grades(store)) == 16


def test_pause_and_go_on(store: Path) -> None:
    """Space pauses and the screen says so; space again goes on."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    terminal.wait_for_step(2)
    terminal.press(" ")
    terminal.wait_for("PAUSED")
    terminal.press(" ")
    terminal.until(lambda: "PAUSED" not in terminal.text, "going on")
    terminal.wait_for_step(5)
    terminal.press("q")
    assert terminal.wait() == 0
    assert len(kept_grades(store)) >= 3


def test_arrows_are_keys_too(store: Path) -> None:
    """Up is faster: another take begins, five in a hundred quicker; a function key does nothing."""
    terminal = widehand("demo", DRILL, "--tempo", "200", "--count-in", "0", store=store)
    terminal.wait_for("200 beats a minute")
    terminal.wait_for_step(2)
    terminal.press("\x1bOP\x1b[A")
    terminal.wait_for("210 beats a minute")
    terminal.wait_for_step(2)
    terminal.press("q")
    assert terminal.wait() == 0
    assert [tempo for tempo, _ in kept(store)] == [200.0, 210.0]


def test_resized_while_playing(store: Path) -> None:
    """Larger, too small (one line says so), large again: the take goes on, each time drawn for the new size."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    terminal.wait_for_step(2)
    terminal.resize(140, 40)
    terminal.wait_for("voice     planned")
    terminal.resize(50, 15)
    terminal.wait_for("50 x 15")
    terminal.resize(100, 30)
    terminal.wait_for("quit")
    assert "planned" not in terminal.text
    terminal.press("q")
    assert terminal.wait() == 0
    assert kept_grades(store)


@pytest.mark.parametrize(
    ("environment", "ascii_only", "coloured"),
    [
        ({}, False, True),
        ({"NO_COLOR": "1"}, False, False),
        ({"LANG": "C"}, True, True),
        ({"TERM": "linux"}, True, False),
    ],
    ids=["usual", "NO_COLOR", "LANG=C", "console"],
)
def test_what_the_terminal_can_show(store: Path, environment: dict[str, str], ascii_only: bool, coloured: bool) -> None:
    """Colours and signs follow the terminal and its locale; the words are the same."""
    terminal = widehand("demo", DRILL, *FAST, store=store, **environment)
    terminal.wait_for("HIT", "NEAR", "MISS")
    terminal.press("q")
    assert terminal.wait() == 0
    drawn = terminal.raw[: terminal.raw.index(b"\x1b[?1049l")]
    assert drawn.isascii() is ascii_only
    assert (b"38;5;" in drawn) is coloured


def _share(terminal: Terminal, seconds: float) -> float:
    """Share of one processor that the program takes meanwhile, 0 to 1."""
    begun_s, used_s = time.monotonic(), terminal.cpu_s()
    terminal.until(lambda: time.monotonic() - begun_s > seconds, "the time")
    return (terminal.cpu_s() - used_s) / (time.monotonic() - begun_s)


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/stat").exists(), reason="CPU time of another process is read from /proc")
@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (140, 40)])
def test_idle_takes_next_to_nothing(store: Path, columns: int, rows: int) -> None:
    """A paused dashboard, looked at for five seconds: under 5 % of a processor, and hardly a byte written."""
    terminal = widehand("demo", DRILL, "--tempo", "60", "--count-in", "0", columns=columns, rows=rows, store=store)
    terminal.wait_for("listening")
    terminal.press(" ")
    terminal.wait_for("PAUSED")
    terminal.until(lambda: not terminal.read(1.0) or True, "quiet")
    written = len(terminal.raw)
    share = _share(terminal, 5.0)
    assert share < 0.05
    assert len(terminal.raw) - written < 2000
    terminal.press("q")
    assert terminal.wait() == 0
