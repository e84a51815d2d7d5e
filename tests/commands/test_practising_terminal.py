"""Practising on a real (pseudo) terminal: the target to hear, the tempo ladder, hard spots, each told on the screen."""

from __future__ import annotations

import json
import os
import select
import struct
import sys
import termios
import time
from pathlib import Path
from typing import Any

import pyte
import pytest

from listener.history.store import Store

fcntl = pytest.importorskip("fcntl", reason="pseudo terminals are POSIX")
PROGRAM = Path(__file__).parents[1] / "practising_program.py"
FAST = ["demo", "ferry-landing", "--count-in", "0"]


class Terminal:
    """The program on a pseudo terminal of 80 x 24, with an emulator that shows what a player would see."""

    def __init__(self, folder: Path, options: dict[str, Any], *words: str) -> None:
        self.folder = folder
        self.screen = pyte.Screen(80, 24)
        self._stream = pyte.ByteStream(self.screen)
        pid, self.master = os.forkpty()
        if pid == 0:
            fcntl.ioctl(0, termios.TIOCSWINSZ, struct.pack("HHHH", 24, 80, 0, 0))
            environment = {key: value for key, value in os.environ.items() if key not in ("COLUMNS", "LINES")}
            environment |= {
                "TERM": "xterm-256color", "WIDEHAND_STORE": str(folder / "h.sqlite3"), "PYTHONUTF8": "1",
                "WIDEHAND_OUTPUTS": str(folder),
            }  # fmt: skip
            os.execve(sys.executable, [sys.executable, str(PROGRAM), json.dumps(options), *words], environment)
        self.pid = pid

    @property
    def text(self) -> str:
        return "\n".join(self.screen.display)

    def read(self, timeout_s: float = 0.1) -> bool:
        if not select.select([self.master], [], [], timeout_s)[0]:
            return True
        try:
            data = os.read(self.master, 65536)
        except OSError:
            return False
        self._stream.feed(data)
        return bool(data)

    def wait_for(self, *words: str, timeout_s: float = 60.0) -> str:
        """Until one of these is on the screen; which."""
        end_s = time.monotonic() + timeout_s
        while True:
            for word in words:
                if word in self.text:
                    return word
            assert time.monotonic() < end_s, f"{words} never came:\n{self.text}"
            assert self.read(), f"the program ended before {words}:\n{self.text}"

    def press(self, keys: str) -> None:
        os.write(self.master, keys.encode())

    def sent(self, name: str) -> list[bytes]:
        """What an output got so far."""
        path = self.folder / f"{name}.txt"
        return [bytes.fromhex(line) for line in path.read_text().splitlines()] if path.exists() else []

    def wait_for_sent(self, name: str, count: int, timeout_s: float = 30.0) -> list[bytes]:
        end_s = time.monotonic() + timeout_s
        while len(self.sent(name)) < count:
            assert time.monotonic() < end_s, f"only {self.sent(name)} was sent:\n{self.text}"
            self.read(0.05)
        return self.sent(name)

    def quit(self, timeout_s: float = 20.0) -> int:
        self.press("q")
        end_s = time.monotonic() + timeout_s
        while time.monotonic() < end_s:
            self.read(0.05)
            pid, status = os.waitpid(self.pid, os.WNOHANG)
            if pid:
                while select.select([self.master], [], [], 0)[0] and self.read(0):
                    pass
                return os.waitstatus_to_exitcode(status)
        os.kill(self.pid, 9)
        raise AssertionError(f"the program did not end:\n{self.text}")


def takes(folder: Path) -> list[tuple[float | None, int]]:
    """Tempo and number of verdicts of every kept take."""
    with Store.open(folder / "h.sqlite3", read_only=True) as history:
        found = history.takes()
        assert all(take.finished_at is not None for take in found)
        return [(take.info.tempo, len(history.verdicts(take.id))) for take in found]


def test_t_lets_the_target_be_heard(tmp_path: Path) -> None:
    """The key is shown; it sends the planned voicing as a roll to channel 1, ended again, also when the player leaves
    in the middle of it."""
    terminal = Terminal(tmp_path, {"sound": "synth", "roll": True}, *FAST, "--tempo", "20")
    terminal.wait_for(" t  hear")
    terminal.wait_for("step 1 of")
    terminal.press("t")
    first = terminal.wait_for_sent("synth", 12)  # the drill begins with six notes
    ons, offs = [m for m in first if m[0] == 0x90], [m for m in first if m[0] == 0x80]
    assert len(ons) == len(offs) == 6
    assert [m[1] for m in ons] == sorted(m[1] for m in ons)
    terminal.press("t")
    terminal.wait_for_sent("synth", 13)
    assert terminal.quit() == 0
    sent = terminal.sent("synth")
    assert sorted(m[1] for m in sent if m[0] == 0x90) == sorted(m[1] for m in sent if m[0] == 0x80)


def test_without_an_output_there_is_no_such_key(tmp_path: Path) -> None:
    """No output for it: the key is not shown, and pressing it does nothing."""
    terminal = Terminal(tmp_path, {}, *FAST, "--tempo", "60")
    terminal.wait_for("step 1 of")
    terminal.press("t")
    terminal.wait_for("step 2 of")
    assert "hear" not in terminal.text.splitlines()[-1]
    assert terminal.quit() == 0


@pytest.mark.slow
def test_the_ladder_on_the_screen(tmp_path: Path) -> None:
    """After the first take the next rung and the rules are on the screen, and the next take comes by itself."""
    terminal = Terminal(tmp_path, {"ladder": True, "up_to": 400.0}, *FAST, "--tempo", "380")
    said = terminal.wait_for("clean: now", "slower", "the same tempo again")
    terminal.wait_for("end of the take")
    terminal.wait_for("listening", timeout_s=20)
    assert terminal.quit() == 0
    tempi = [tempo for tempo, _ in takes(tmp_path)]
    assert tempi[0] == 380.0
    assert len(tempi) >= 2
    assert tempi[1] is not None
    expected = {"clean: now": tempi[1] > 380, "slower": tempi[1] < 380, "the same tempo again": tempi[1] == 380}
    assert expected[said]


@pytest.mark.slow
def test_hard_spots_on_the_screen(tmp_path: Path) -> None:
    """After a take with faults the first spot is named and played by itself; n leaves it, q leaves altogether."""
    terminal = Terminal(tmp_path, {"hard_spots": True}, *FAST, "--tempo", "400")
    terminal.wait_for("clean 0 of 3")
    terminal.wait_for("listening", timeout_s=20)
    assert "next: step" in terminal.text
    terminal.wait_for("end of the take", timeout_s=20)
    terminal.press("n")
    assert terminal.quit() == 0
    counts = [count for _, count in takes(tmp_path)]
    assert counts[0] > counts[1] > 0
