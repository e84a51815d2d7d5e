"""Keys through a real pseudo-terminal: read without echo, and the terminal given back on every way out."""

from __future__ import annotations

import io
import os
import sys
import time
import types

import pytest

from listener.screen.keys import ACTIONS, Keyboard, KeyReader, _Posix, _Windows

pty = pytest.importorskip("pty", reason="pseudo-terminals are a POSIX thing")
termios = pytest.importorskip("termios")

#: A child that owns a terminal of its own: enters the keyboard, says so, then leaves in the way it is told.
_CHILD = """
import os, signal, sys, time
from listener.screen.keys import Keyboard
from listener.screen.leaving import exit_on_signals
with exit_on_signals(), Keyboard() as keyboard:
    os.write(1, b"ready")
    end = time.monotonic() + 10
    while time.monotonic() < end:
        for word in keyboard.read():
            os.write(1, f"<{word}>".encode())
            if word == "again":
                raise RuntimeError("something broke")
            if word == "quit":
                sys.exit(0)
        time.sleep(0.002)
"""


class _Child:
    """A process in its own terminal session, as under a real terminal emulator."""

    def __init__(self) -> None:
        self.pid, self.fd = pty.fork()
        if self.pid == 0:
            os.execv(sys.executable, [sys.executable, "-c", _CHILD])
        self.seen = b""
        self.before = termios.tcgetattr(self.fd)

    def until(self, word: bytes) -> None:
        end = time.monotonic() + 10
        while word not in self.seen and time.monotonic() < end:
            self.seen += os.read(self.fd, 4096)
        assert word in self.seen

    def send(self, keys: bytes) -> None:
        os.write(self.fd, keys)

    def status(self) -> int:
        return os.waitstatus_to_exitcode(os.waitpid(self.pid, 0)[1])


@pytest.fixture
def child():  # type: ignore[no-untyped-def]
    """A child that has entered the keyboard."""
    made = _Child()
    made.until(b"ready")
    yield made
    os.close(made.fd)


def _settled(fd: int) -> list[object]:
    """The terminal's settings; speeds and flags alike."""
    return list(termios.tcgetattr(fd))


def test_keys_come_at_once_and_without_echo(child: _Child) -> None:
    """Every key of the table reads as its word without Enter, and nothing typed is echoed."""
    mode = _settled(child.fd)[3]
    assert not mode & termios.ECHO
    assert not mode & termios.ICANON
    assert mode & termios.ISIG
    child.send(b" n-+=N\x1b[A\x1bOPzq")
    child.until(b"<quit>")
    assert child.seen == b"ready<pause><next><slower><faster><faster><next><quit>"
    assert child.status() == 0


@pytest.mark.parametrize(("way", "status"), [(b"q", 0), (b"a", 1), (b"\x03", -2)], ids=["quit", "exception", "ctrl-c"])
def test_terminal_is_given_back(child: _Child, way: bytes, status: int) -> None:
    """After quitting, an exception and Ctrl-C the terminal has the very settings it had before."""
    assert _settled(child.fd) != child.before
    child.send(way)
    assert child.status() == status
    assert _settled(child.fd) == child.before


def test_terminal_is_given_back_when_told_to_end(child: _Child) -> None:
    """SIGTERM ends by way of an exception, so settings are restored; the exit code is the shell's 143."""
    os.kill(child.pid, 15)
    assert child.status() == 143
    assert _settled(child.fd) == child.before


def test_closed_terminal_reads_as_quit() -> None:
    """When the other end has hung up, the player gets the chance to end and keep the take."""
    leader, follower = pty.openpty()
    reader = os.fdopen(follower, "r")
    keyboard = Keyboard(reader)
    keyboard._console = _Posix(follower)
    os.close(leader)
    assert keyboard.read() == ["quit"]
    keyboard.close()
    keyboard.close()
    reader.close()


def test_no_terminal_no_keys() -> None:
    """Piped input is left alone: nothing is read from it."""
    with io.StringIO(" q") as stream, Keyboard(stream) as keyboard:
        assert keyboard.read() == []
        assert stream.read() == " q"
    reading, writing = os.pipe()
    os.write(writing, b" q")
    os.close(writing)
    with os.fdopen(reading) as stream, Keyboard(stream) as keyboard:
        assert keyboard.read() == []
        assert stream.read() == " q"


def test_foreign_terminal_is_left_alone() -> None:
    """A terminal that we are not in the foreground of is not touched (a background job would be stopped)."""
    leader, follower = pty.openpty()
    with os.fdopen(follower, "r") as stream:
        before = termios.tcgetattr(follower)
        with Keyboard(stream) as keyboard:
            os.write(leader, b"q\n")
            assert keyboard.read() == []
            assert termios.tcgetattr(follower) == before
    os.close(leader)


def test_arrow_keys_mean_nothing_even_when_split() -> None:
    """Letters inside escape sequences (the A of the up arrow) are not keys; a lone Escape swallows nothing later."""
    keys = KeyReader()
    assert keys.feed("\x1b[1;5A") == []
    assert keys.feed("\x1b[") == []
    assert keys.feed("A") == []
    assert keys.feed("a") == ["again"]
    assert keys.feed("\x1b") == []
    keys.end_of_read()
    assert keys.feed("q") == ["quit"]


def test_every_action_has_a_key() -> None:
    """The six actions of the dashboard's bottom line, no more."""
    assert set(ACTIONS.values()) == {"pause", "again", "next", "slower", "faster", "target", "quit"}


def test_windows_keys(monkeypatch: pytest.MonkeyPatch) -> None:
    """Through a stand-in for msvcrt: special keys come in pairs and mean nothing, Ctrl-C ends the take."""
    typed = list(" \xe0H\x00an\x03")
    stand_in = types.SimpleNamespace(kbhit=lambda: bool(typed), getwch=lambda: typed.pop(0))
    monkeypatch.setitem(sys.modules, "msvcrt", stand_in)  # type: ignore[arg-type]
    keyboard = Keyboard()
    keyboard._console = _Windows()
    assert keyboard.read() == ["pause", "next", "quit"]
    assert keyboard.read() == []
