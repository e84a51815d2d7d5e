"""The program on a pseudo terminal, with an emulator that shows what a player would see.

Every wait is for something on the screen and has minutes to spare, so that a busy machine makes a test slow and not
wrong. POSIX only: whoever imports this should skip where ``fcntl`` is missing.
"""

from __future__ import annotations

import fcntl
import os
import re
import select
import signal
import struct
import sys
import termios
import time
from collections.abc import Callable, Mapping
from pathlib import Path

import pyte

from listener.history.store.store import Store

#: Longest that anything may take (seconds) before a test gives up.
PATIENCE_S = 90.0
#: Variables of the tests' own terminal that must not reach the program's.
_OWN = ("COLUMNS", "LINES", "NO_COLOR", "FORCE_COLOR", "COLORTERM", "LC_ALL", "LC_CTYPE")
#: Six chords of two beats: a whole take in two seconds at 400 beats a minute.
SHORT_DRILL = """\
title = "Landing stage"
about = "Six chords for the tests."
key = "G major"
tempo = 100
meter = "2/4"

[[passage]]
name = "stage"
numerals = "I | IV | V | I | IV | I"
kind = "spread"
frets = [0, 8]
"""


class Terminal:
    """A child process ``python WORDS...`` on a terminal of its own. ``raw`` is every byte it wrote."""

    def __init__(
        self, words: list[str], *, columns: int = 80, rows: int = 24, environment: Mapping[str, str] | None = None
    ) -> None:
        self.screen = pyte.Screen(columns, rows)
        self._stream = pyte.ByteStream(self.screen)
        self.raw = b""
        self._status: int | None = None
        self.pid, self.master = os.forkpty()
        if self.pid == 0:
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))
            # An environment of its own: readline, once loaded, sets LINES and COLUMNS behind Python's back.
            inherited = {key: value for key, value in os.environ.items() if key not in _OWN}
            own = {"TERM": "xterm-256color", "PYTHONUTF8": "1", "LANG": "C.UTF-8"}
            os.execve(sys.executable, [sys.executable, *words], {**inherited, **own, **(environment or {})})

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
        """What stands on the screen."""
        return "\n".join(self.screen.display)

    def until(self, done: Callable[[], bool], what: str) -> None:
        """Read until it is so."""
        end_s = time.monotonic() + PATIENCE_S
        while not done():
            assert time.monotonic() < end_s, f"{what} never came:\n{self.text}"
            assert self.read(), f"the program ended before {what}:\n{self.text}"

    def wait_for(self, *words: str) -> str:
        """Until one of these is on the screen; which."""
        self.until(lambda: any(word in self.text for word in words), repr(words))
        return next(word for word in words if word in self.text)

    def wait_for_step(self, number: int) -> None:
        """Until the take has come to this step or further; a step may be over before anybody looked."""

        def there() -> bool:
            found = re.search(r"step (\d+) of", self.text)
            return found is not None and int(found[1]) >= number

        self.until(there, f"step {number}")

    def press(self, keys: str) -> None:
        """Type."""
        os.write(self.master, keys.encode())

    def resize(self, columns: int, rows: int) -> None:
        """The window gets another size; the program is told by the kernel."""
        self.screen.resize(rows, columns)
        fcntl.ioctl(self.master, termios.TIOCSWINSZ, struct.pack("HHHH", rows, columns, 0, 0))

    def close(self) -> None:
        """The window is gone."""
        os.close(self.master)

    def wait(self, *, looking: bool = True) -> int:
        """Wait for the program's end; the exit code, negative for a signal. Not ``looking`` when the window is gone."""
        end_s = time.monotonic() + PATIENCE_S
        while time.monotonic() < end_s:
            if not (looking and self.read(0.02)):
                time.sleep(0.02)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                while looking and select.select([self.master], [], [], 0)[0] and self.read(0):
                    pass
                return os.waitstatus_to_exitcode(status)
        os.kill(self.pid, signal.SIGKILL)
        os.waitpid(self.pid, 0)
        raise AssertionError(f"the program did not end:\n{self.text}")

    def cpu_s(self) -> float:
        """CPU seconds that the program has used so far, user and system (Linux: proc(5), fields utime and stime)."""
        fields = Path(f"/proc/{self.pid}/stat").read_text().rsplit(")", 1)[1].split()
        return (int(fields[11]) + int(fields[12])) / os.sysconf("SC_CLK_TCK")


def widehand(*words: str, store: Path, columns: int = 80, rows: int = 24, **environment: str) -> Terminal:
    """The command ``widehand WORDS...`` on a terminal, with a history of its own."""
    return Terminal(
        ["-m", "listener", *words], columns=columns, rows=rows,
        environment={"WIDEHAND_STORE": str(store), **environment},
    )  # fmt: skip


def kept(store: Path) -> list[tuple[float | None, list[str]]]:
    """Tempo and grades of every take of a history, all of which must be finished and have their file."""
    with Store.open(store, read_only=True) as history:
        takes = history.takes()
        for take in takes:
            assert take.finished_at is not None
            assert history.take_file(take.id).startswith(b"MThd")
        return [(take.info.tempo, [verdict.grade for verdict in history.verdicts(take.id)]) for take in takes]


def kept_grades(store: Path) -> list[str]:
    """The grades of the only take of a history."""
    ((_, grades),) = kept(store)
    return grades
