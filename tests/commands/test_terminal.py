"""The whole program on a real (pseudo) terminal: keys, Ctrl-C, too small, gone; the take is always kept.

Most of these are slow: each is a program of its own in real time. What they ask of keys, sizes, colours and signals is
asked inside one process too (tests/screen, tests/session/take).
"""

from __future__ import annotations

import contextlib
import os
import re
import select
import signal
import sys
import termios
import time
from pathlib import Path

import pytest

pytest.importorskip("fcntl", reason="pseudo terminals are POSIX")

from in_terminal import SHORT_DRILL, Terminal, kept, kept_grades, widehand

from listener.history.store.store import Store

DRILL = "mill-verse"
#: The alternate screen, and the one of the shell again.
ALONE, NOT_ALONE = b"\x1b[?1049h", b"\x1b[?1049l"
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


@pytest.mark.parametrize(
    ("columns", "rows"),
    [(80, 24), pytest.param(100, 30, marks=pytest.mark.slow), pytest.param(140, 40, marks=pytest.mark.slow)],
)
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
    terminal.wait_for_step(2)
    terminal.press("\x03")
    assert terminal.wait() == 130
    assert NOT_ALONE in terminal.raw
    assert termios.tcgetattr(terminal.master) == mode
    assert "Traceback" not in terminal.text
    assert 1 <= len(kept_grades(store)) < 16


@pytest.mark.slow
@pytest.mark.parametrize("number", [signal.SIGTERM, signal.SIGHUP, signal.SIGQUIT])
def test_told_to_end_keeps_the_take(store: Path, number: signal.Signals) -> None:
    """Terminated, the terminal hung up, or Ctrl-\\: the take is kept, the terminal given back."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    mode = termios.tcgetattr(terminal.master)
    terminal.wait_for_step(3)
    if number == signal.SIGQUIT:
        terminal.press("\x1c")
    else:
        os.kill(terminal.pid, number)
    assert terminal.wait() == 130
    assert terminal.raw.count(ALONE) == terminal.raw.count(NOT_ALONE) == 1
    assert termios.tcgetattr(terminal.master) == mode
    assert 1 <= len(kept_grades(store)) < 16


@pytest.mark.slow
def test_the_terminal_goes_away(store: Path) -> None:
    """The window is closed in the middle of a take: the program ends and the take is kept."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    terminal.wait_for_step(3)
    terminal.close()
    terminal.wait(looking=False)
    assert 1 <= len(kept_grades(store)) < 16


def _shell(store: Path, *words: str) -> Terminal:
    """The command in an interactive shell, as a job that Ctrl-Z stops and ``fg`` lets go on."""
    shell = Terminal(
        ["-c", "import os; os.execvp('bash', ['bash', '--norc', '--noprofile', '-i'])"],
        environment={"WIDEHAND_STORE": str(store), "PS1": "ready> ", "HISTFILE": ""},
    )
    shell.wait_for("ready>")
    shell.press(f"'{sys.executable}' -m listener {' '.join(words)}\n")
    return shell


@pytest.mark.slow
def test_ctrl_z_stops_and_fg_goes_on(store: Path) -> None:
    """The take is paused, the shell has its terminal back; ``fg`` draws the dashboard anew, and the take goes on."""
    shell = _shell(store, "demo", DRILL, *FAST)
    shell.wait_for_step(3)
    shell.press("\x1a")
    shell.wait_for("Stopped")
    assert shell.raw.count(ALONE) == shell.raw.count(NOT_ALONE) == 1
    assert not shell.screen.cursor.hidden
    shell.press("echo and$((40 + 2))\n")
    shell.wait_for("and42")
    begun_s = time.monotonic()
    shell.until(lambda: not shell.read(0.2) or time.monotonic() - begun_s > 1.5, "a while")  # ten chords' time
    shell.press("fg\n")
    shell.wait_for("PAUSED")
    assert shell.raw.count(ALONE) == 2
    assert shell.screen.cursor.hidden
    assert "ready>" not in shell.text
    assert "Stopped" not in shell.text
    shell.press("  \x1a")  # and once more, this time when it is going on
    shell.wait_for("Stopped")
    shell.press("fg\n")
    shell.wait_for("PAUSED")
    shell.press(" ")
    shell.wait_for_step(6)
    shell.press("q")
    shell.until(lambda: shell.raw.count(NOT_ALONE) == 3, "the end")
    shell.wait_for("ready>")
    shell.press("exit $?\n")
    assert shell.wait() == 0
    assert len(kept_grades(store)) < 12  # what was due while the program stood still counts for nothing


@pytest.mark.slow
def test_ctrl_z_in_plain_lines(store: Path) -> None:
    """The take is paused before the program stops, and says so; the shell has its terminal back."""
    shell = _shell(store, "demo", DRILL, "--plain", *FAST)
    shell.wait_for("1  ")
    shell.press("\x1a")
    shell.wait_for("Stopped")
    assert "Paused." in shell.text
    shell.press("fg\n")
    shell.press(" ")
    shell.wait_for("End of the take.")
    shell.wait_for("ready>")
    shell.press("exit $?\n")
    assert shell.wait() == 0


def test_stopped_by_somebody_else(store: Path) -> None:
    """A signal that nobody can answer stops it; when it goes on, what stood on the terminal meanwhile is drawn over."""
    terminal = widehand("demo", DRILL, "--tempo", "60", "--count-in", "0", store=store)
    terminal.wait_for_step(1)
    os.kill(terminal.pid, signal.SIGSTOP)
    os.waitpid(terminal.pid, os.WUNTRACED)
    while select.select([terminal.master], [], [], 0)[0]:
        terminal.read(0)
    terminal.screen.reset()  # somebody else's prompt, and all of the screen gone
    mode = termios.tcgetattr(terminal.master)
    mode[3] |= termios.ICANON | termios.ECHO
    termios.tcsetattr(terminal.master, termios.TCSANOW, mode)
    os.kill(terminal.pid, signal.SIGCONT)
    terminal.wait_for("quit")
    terminal.wait_for("Mill verse")
    assert terminal.raw.count(ALONE) == 2
    terminal.press("q")
    assert terminal.wait() == 0


@pytest.mark.slow
def test_ctrl_z_where_no_shell_could_wake_it(store: Path) -> None:
    """The only program of a terminal cannot be stopped (POSIX: the group is an orphan); it pauses, and goes on."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    terminal.wait_for_step(3)
    terminal.press("\x1a")
    terminal.wait_for("PAUSED")
    terminal.until(lambda: terminal.raw.count(ALONE) == 2, "the dashboard again")
    terminal.press(" ")
    terminal.wait_for_step(6)
    terminal.press("q")
    assert terminal.wait() == 0


def test_ctrl_backslash_twice_does_not_wait(store: Path) -> None:
    """Who asks a second time is not kept waiting by a program that hangs; the terminal is given back all the same."""
    terminal = Terminal(["-c", _HANGING], environment={"WIDEHAND_STORE": str(store)})
    terminal.wait_for("hanging")
    terminal.press("\x1c")
    terminal.wait_for("asked once")
    terminal.press("\x1c")
    assert terminal.wait() == 128 + signal.SIGQUIT


_HANGING = """
import time
from listener.screen.keys import Keyboard
from listener.session.take.run import interrupts
with interrupts() as interrupt, Keyboard():
    print("hanging", flush=True)
    while not interrupt.raised:
        time.sleep(0.01)
    print("asked once", flush=True)
    while True:
        time.sleep(0.01)
"""


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="memory of another process is read from /proc")
def test_a_terminal_that_claims_to_be_huge(store: Path) -> None:
    """65,535 cells each way, as a broken terminal may say: drawn as far as eyes can see, with little memory."""
    terminal = widehand("demo", DRILL, *FAST, columns=65535, rows=65535, store=store)
    terminal.until(lambda: b"quit" in terminal.raw, "the dashboard")
    peak_kb = int(re.search(r"VmHWM:\s+(\d+)", Path(f"/proc/{terminal.pid}/status").read_text())[1])  # type: ignore[index]
    terminal.press("q")
    assert terminal.wait() == 0
    assert peak_kb < 150_000
    assert len(terminal.raw) < 3_000_000


def test_a_terminal_that_is_too_small(store: Path) -> None:
    """One clear line, exit 1, nothing drawn; the history has no broken take."""
    terminal = widehand("demo", DRILL, columns=60, rows=5, store=store)
    assert terminal.wait() == 1
    assert "60 x 5" in terminal.text.replace("\n", " ")
    assert b"\x1b[?1049h" not in terminal.raw
    assert not kept(store)


@pytest.mark.slow
def test_plain_needs_no_room(store: Path) -> None:
    """--plain works in the same small terminal: lines of text, nothing that steers the terminal."""
    terminal = widehand("demo", DRILL, "--plain", "--fast", columns=60, rows=20, store=store)
    assert terminal.wait() == 0
    assert "hits" in terminal.text
    assert b"\x1b" not in terminal.raw
    assert len(kept_grades(store)) == 16


@pytest.mark.slow
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


@pytest.mark.slow
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


@pytest.mark.slow
def test_resized_while_playing(store: Path) -> None:
    """Larger, small, too small (one line says so), large again: the take goes on, each time drawn for the new size."""
    terminal = widehand("demo", DRILL, *FAST, store=store)
    terminal.wait_for_step(2)
    terminal.resize(140, 40)
    terminal.wait_for("voice     planned")
    terminal.resize(50, 15)
    terminal.wait_for("next ")
    terminal.resize(50, 4)
    terminal.wait_for("50 x 4")
    terminal.resize(100, 30)
    terminal.wait_for("quit")
    assert "planned" not in terminal.text
    terminal.press("q")
    assert terminal.wait() == 0
    assert kept_grades(store)


@pytest.mark.parametrize(
    ("environment", "ascii_only", "coloured"),
    [
        pytest.param({}, False, True, id="usual", marks=pytest.mark.slow),
        pytest.param({"NO_COLOR": "1"}, False, False, id="NO_COLOR", marks=pytest.mark.slow),
        pytest.param({"LANG": "C"}, True, True, id="LANG=C"),
        pytest.param({"TERM": "linux"}, True, False, id="console", marks=pytest.mark.slow),
    ],
)
def test_what_the_terminal_can_show(store: Path, environment: dict[str, str], ascii_only: bool, coloured: bool) -> None:
    """Colours and signs follow the terminal and its locale; the words are the same."""
    terminal = widehand("demo", DRILL, *FAST, store=store, **environment)
    terminal.wait_for("hit  ", "near  ", "miss  ")
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
