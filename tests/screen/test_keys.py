"""Keys through a real pseudo-terminal: read without echo, and the terminal given back on every way out."""

from __future__ import annotations

import io
import os
import sys
import time
import types

import pytest

from listener.screen.keys import ACTIONS, SPECIAL, Keyboard, KeyReader, _Posix, _Windows
from listener.screen.practice.heading import KEYS
from listener.screen.theme import UNICODE

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
    child.send(b" n-+=N\x1b[A\x1bOPz\x1b[6~q")
    child.until(b"<quit>")
    assert child.seen == b"ready<pause><next><slower><faster><faster><next><faster><next><quit>"
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


@pytest.mark.parametrize(
    ("sent", "meant"),
    [
        ("\x1b[A", ["faster"]), ("\x1b[B", ["slower"]), ("\x1b[C", ["next"]), ("\x1b[D", ["again"]),
        ("\x1bOA", ["faster"]), ("\x1bOD", ["again"]), ("\x1b[5~", ["again"]), ("\x1b[6~", ["next"]),
        ("\x1b[C\x1b[C", ["next", "next"]), ("\x1b[Cq", ["next", "quit"]),
    ],
)  # fmt: skip
def test_arrows_and_page_keys(sent: str, meant: list[str]) -> None:
    """Cursor keys in normal and application mode and the page keys (xterm control sequences; DEC VT220), at once or
    one character at a time."""
    assert KeyReader().feed(sent) == meant
    keys = KeyReader()
    assert [action for char in sent for action in keys.feed(char)] == meant


@pytest.mark.parametrize(
    "sent",
    [
        "\x1b[1;5A", "\x1b[H", "\x1b[F", "\x1b[3~", "\x1b[15~", "\x1bOP", "\x1b[[A", "\x1b[200~", "\x1b[<0;10;5M",
        "\x1b[?1;2c", "\x1ba", "\x1b[I", "\x1b[27;5;113~",
    ],
)  # fmt: skip
def test_other_sequences_mean_nothing(sent: str) -> None:
    """Arrows with Ctrl, Home, End, function keys (the Linux console's too), pastes, mouse, answers of the terminal,
    Alt with a letter: passed over as a whole, and the key after them counts."""
    keys = KeyReader()
    assert keys.feed(sent) == []
    keys.end_of_read()
    assert keys.feed("q") == ["quit"]


def test_a_key_split_over_two_reads() -> None:
    """What came of a sequence is kept for the next read; a lone Escape swallows nothing later."""
    keys = KeyReader()
    assert keys.feed("\x1b[") == []
    keys.end_of_read()
    assert keys.feed("A") == ["faster"]
    assert keys.feed("a") == ["again"]
    assert keys.feed("\x1b") == []
    keys.end_of_read()
    assert keys.feed("q") == ["quit"]


def test_every_action_has_a_key() -> None:
    """The actions of the dashboard's bottom line, no more; the arrows do what letters do as well."""
    actions = {"pause", "again", "back", "next", "slower", "faster", "target", "keep", "more", "signs", "quit"}
    assert set(ACTIONS.values()) == actions == set(KEYS)
    assert set(SPECIAL.values()) < actions
    shown = dict(UNICODE.keys)
    arrows = {"left": "←", "right": "→", "down": "↓", "up": "↑"}
    assert {action: arrows[key] for key, action in SPECIAL.items() if key in arrows} == shown


@pytest.mark.parametrize(
    ("typed", "meant"),
    [
        (" \xe0S\x00;n\x03", ["pause", "next", "quit"]),
        ("\xe0K\xe0M\xe0H\xe0P", ["again", "next", "faster", "slower"]),
        ("\x00I\x00Q", ["again", "next"]),
        ("\xe0", []),
    ],
    ids=["delete and F1 mean nothing", "arrows", "page keys of the number pad", "a letter with an accent"],
)
def test_windows_keys(monkeypatch: pytest.MonkeyPatch, typed: str, meant: list[str]) -> None:
    """Through a stand-in for msvcrt: special keys come in pairs (a second half is only read when it is there), Ctrl-C
    ends the take."""
    waiting = list(typed)
    stand_in = types.SimpleNamespace(kbhit=lambda: bool(waiting), getwch=lambda: waiting.pop(0))
    monkeypatch.setitem(sys.modules, "msvcrt", stand_in)  # type: ignore[arg-type]
    keyboard = Keyboard()
    keyboard._console = _Windows()
    assert keyboard.read() == meant
    assert keyboard.read() == []
