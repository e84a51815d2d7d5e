"""The whole program on a real (pseudo) terminal: keys, Ctrl-C, too small, gone; the take is always kept."""

from __future__ import annotations

import contextlib
import os
import select
import signal
import struct
import sys
import termios
import time
from pathlib import Path

import pyte
import pytest

from listener.history.store import Store

fcntl = pytest.importorskip("fcntl", reason="pseudo terminals are POSIX")
DRILL = "mill-verse"
SIZE_AND_COLOUR = ("COLUMNS", "LINES", "NO_COLOR", "FORCE_COLOR")


class Terminal:
    """A child process on a pseudo terminal, with an emulator that shows what a player would see."""

    def __init__(self, words: list[str], *, columns: int = 80, rows: int = 24, store: Path) -> None:
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        pid, self.master = os.forkpty()
        if pid == 0:
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
            # An environment of its own: readline, once loaded, sets LINES and COLUMNS behind Python's back.
            environment = {key: value for key, value in os.environ.items() if key not in SIZE_AND_COLOUR}
            environment |= {"TERM": "xterm-256color", "WIDEHAND_STORE": str(store), "PYTHONUTF8": "1"}
            os.execve(sys.executable, [sys.executable, "-m", "listener", *words], environment)
        self.pid = pid

    def read(self, timeout_s: float = 0.1) -> bool:
        """Take what the program has written; False when it has closed the terminal."""
        if not select.select([self.master], [], [], timeout_s)[0]:
            return True
        try:
            data = os.read(self.master, 65536)
        except OSError:
            return False
        self.raw += data
        self._stream.feed(data)
        return bool(data)

    @property
    def text(self) -> str:
        return "\n".join(self.screen.display)

    def wait_for(self, words: str, timeout_s: float = 30.0) -> None:
        end_s = time.monotonic() + timeout_s
        while words not in self.text:
            assert time.monotonic() < end_s, f"'{words}' never came:\n{self.text}"
            assert self.read(), f"the program ended before '{words}':\n{self.text}"

    def press(self, keys: str) -> None:
        os.write(self.master, keys.encode())

    def end(self, timeout_s: float = 20.0) -> int:
        """Wait for the program's end; the exit code, negative for a signal."""
        end_s = time.monotonic() + timeout_s
        while time.monotonic() < end_s:
            self.read(0.05)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                while select.select([self.master], [], [], 0)[0] and self.read(0):
                    pass
                return os.waitstatus_to_exitcode(status)
        os.kill(self.pid, signal.SIGKILL)
        raise AssertionError(f"the program did not end:\n{self.text}")

    def resize(self, columns: int, rows: int) -> None:
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
        self.screen.resize(rows, columns)


def kept_verdicts(store: Path) -> list[str]:
    """The grades of the only take in a history, which must be finished and have its file."""
    with Store.open(store, read_only=True) as history:
        (take,) = history.takes()
        assert take.finished_at is not None
        assert history.take_file(take.id).startswith(b"MThd")
        return [verdict.grade for verdict in history.verdicts(take.id)]


@pytest.fixture
def store(tmp_path: Path) -> Path:
    return tmp_path / "history.sqlite3"


FAST = ["--tempo", "400", "--count-in", "0"]


@pytest.mark.parametrize(("columns", "rows"), [(80, 24), (140, 40)])
def test_the_dashboard_from_start_to_quit(store: Path, columns: int, rows: int) -> None:
    """A whole take on the dashboard; q leaves, the terminal is as it was, the summary stays on the screen."""
    terminal = Terminal(["demo", DRILL, *FAST], columns=columns, rows=rows, store=store)
    mode = termios.tcgetattr(terminal.master)
    terminal.wait_for("Mill verse")
    terminal.wait_for("quit")
    terminal.wait_for("hits")
    deadline = time.monotonic() + 40
    while b"\x1b[?1049l" not in terminal.raw and time.monotonic() < deadline:
        terminal.read()
        with contextlib.suppress(Exception), Store.open(store, read_only=True) as history:
            if history.takes()[0].finished_at is not None:
                terminal.press("q")
                break
    assert terminal.end() == 0
    assert termios.tcgetattr(terminal.master)[3] == mode[3]
    assert terminal.raw.count(b"\x1b[?1049h") == terminal.raw.count(b"\x1b[?1049l") == 1
    assert terminal.raw.rindex(b"\x1b[?25h") > terminal.raw.rindex(b"\x1b[?25l")
    assert "of 16 chords" in terminal.text
    assert len(kept_verdicts(store)) == 16


def test_ctrl_c_keeps_the_take(store: Path) -> None:
    """Ctrl-C in the middle: exit 130, everything judged so far is kept, the terminal is given back."""
    terminal = Terminal(["demo", DRILL, *FAST], store=store)
    terminal.wait_for("step 4 of 16")
    terminal.press("\x03")
    assert terminal.end() == 130
    assert b"\x1b[?1049l" in terminal.raw
    assert "Traceback" not in terminal.text
    assert 1 <= len(kept_verdicts(store)) < 16


@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP])
def test_told_to_end_keeps_the_take(store: Path, number: signal.Signals) -> None:
    """Terminated, or the terminal hung up: the take is kept."""
    terminal = Terminal(["demo", DRILL, *FAST], store=store)
    terminal.wait_for("step 4 of 16")
    os.kill(terminal.pid, number)
    assert terminal.end() == 130
    assert 1 <= len(kept_verdicts(store)) < 16


def test_the_terminal_goes_away(store: Path) -> None:
    """The window is closed in the middle of a take: the program ends and the take is kept."""
    terminal = Terminal(["demo", DRILL, *FAST], store=store)
    terminal.wait_for("step 4 of 16")
    os.close(terminal.master)
    deadline = time.monotonic() + 20
    pid = 0
    while not pid and time.monotonic() < deadline:
        time.sleep(0.05)
        pid, _ = os.waitpid(terminal.pid, os.WNOHANG)
    assert pid, "the program did not end"
    assert 1 <= len(kept_verdicts(store)) < 16


def test_a_terminal_that_is_too_small(store: Path) -> None:
    """One clear line, exit 1, nothing drawn; the history has no broken take."""
    terminal = Terminal(["demo", DRILL], columns=60, rows=20, store=store)
    assert terminal.end() == 1
    assert "60 x 20" in terminal.text.replace("\n", " ")
    assert b"\x1b[?1049h" not in terminal.raw


def test_plain_needs_no_room(store: Path) -> None:
    """--plain works in the same small terminal."""
    terminal = Terminal(["demo", DRILL, "--plain", "--fast"], columns=60, rows=20, store=store)
    assert terminal.end() == 0
    assert "hits" in terminal.text
    assert len(kept_verdicts(store)) == 16


def test_pause_and_go_on(store: Path) -> None:
    """Space pauses and the screen says so; space again goes on to the end."""
    terminal = Terminal(["demo", DRILL, *FAST], store=store)
    terminal.wait_for("step 3 of 16")
    terminal.press(" ")
    terminal.wait_for("PAUSED")
    terminal.press(" ")
    terminal.wait_for("step 6 of 16")
    terminal.press("q")
    assert terminal.end() == 0
    assert len(kept_verdicts(store)) >= 4


def test_resized_while_playing(store: Path) -> None:
    """Larger, too small (one line says so), large again: the take goes on."""
    terminal = Terminal(["demo", DRILL, *FAST], store=store)
    terminal.wait_for("step 2 of 16")
    terminal.resize(140, 40)
    terminal.wait_for("step 4 of 16")
    terminal.resize(50, 15)
    terminal.wait_for("50 x 15")
    terminal.resize(100, 30)
    terminal.wait_for("of 16")
    terminal.press("q")
    assert terminal.end() == 0
    assert kept_verdicts(store)
