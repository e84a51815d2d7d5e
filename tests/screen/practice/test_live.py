"""The live screen through a terminal emulator: what a player would see, and that the terminal comes back."""

from __future__ import annotations

import io
import re
import signal
from collections.abc import Callable
from dataclasses import replace

import pyte
import pytest
from rich.console import Console

from listener.errors import ScreenError
from listener.judging.free.harmony import HarmonyChord
from listener.judging.pattern.pattern import PatternVerdict
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import HIT
from listener.planning.plan import Plan
from listener.screen import suspending
from listener.screen.practice import live
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.live import LiveScreen
from listener.screen.theme import Theme
from listener.session.take.so_far import SoFar
from listener.session.take.state import FINISHED, Snapshot

ALT_ON, ALT_OFF = "\x1b[?1049h", "\x1b[?1049l"
SHOW, HIDE = "\x1b[?25h", "\x1b[?25l"


class Terminal:
    """A stream that feeds a terminal emulator and keeps what was written; can be resized and unplugged."""

    def __init__(self, width: int, height: int, **environment: str) -> None:
        self.screen = pyte.Screen(width, height)
        self._emulator = pyte.Stream(self.screen)
        self.written: list[str] = []
        self.unplugged = False
        outer = self

        class Stream(io.StringIO):
            def write(self, text: str) -> int:
                if outer.unplugged:
                    raise OSError(5, "Input/output error")
                outer.written.append(text)
                outer._emulator.feed(text)
                return len(text)

        self.console = Console(
            file=Stream(), width=width, height=height, force_terminal=True, legacy_windows=False,
            color_system="256", _environ={"TERM": "xterm-256color", **environment},
        )  # fmt: skip

    def resize(self, width: int, height: int) -> None:
        self.screen.resize(height, width)
        self.console.size = (width, height)  # type: ignore[assignment]

    @property
    def lines(self) -> list[str]:
        return [line.ljust(self.screen.columns) for line in self.screen.display]

    @property
    def output(self) -> str:
        return "".join(self.written)


class Clock:
    """Seconds that move when told to."""

    def __init__(self) -> None:
        self.now = 10.0

    def __call__(self) -> float:
        return self.now


@pytest.fixture
def clock() -> Clock:
    """A clock that stands still until moved."""
    return Clock()


def _expected(snapshot: Snapshot, width: int, height: int) -> list[str]:
    rows = dashboard(snapshot, width=width, height=height, theme=Theme()).rows
    return ["".join(part.text for part in cells) for cells in rows]


@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (140, 40)])
def test_terminal_shows_the_dashboard(
    verse: Plan, moment: Callable[..., Snapshot], clock: Clock, width: int, height: int
) -> None:
    """Cell for cell the picture of the pure function, on the alternate screen, cursor hidden."""
    terminal = Terminal(width, height)
    with LiveScreen(terminal.console, theme=Theme(), clock=clock) as screen:
        screen.show(moment(verse))
        assert terminal.lines == _expected(moment(verse), width, height)
        assert ALT_ON in terminal.output
        assert ALT_OFF not in terminal.output
        assert HIDE in terminal.output
    assert terminal.output.index(ALT_ON) < terminal.output.index(ALT_OFF)
    assert terminal.output.rindex(SHOW) > terminal.output.rindex(HIDE)


def test_nothing_new_nothing_written(verse: Plan, moment: Callable[..., Snapshot], clock: Clock) -> None:
    """The passing of time alone draws nothing."""
    terminal = Terminal(80, 24)
    with LiveScreen(terminal.console, theme=Theme(), clock=clock) as screen:
        screen.show(moment(verse))
        before = len(terminal.written)
        for step in range(100):
            clock.now += 0.1
            screen.show(moment(verse, now_s=float(step)))
        assert len(terminal.written) == before
        screen.show(moment(verse), force=True)


def test_at_most_twenty_frames_a_second(verse: Plan, moment: Callable[..., Snapshot], clock: Clock) -> None:
    """A change every millisecond for a second gives 20 frames, and the last state is shown in the end."""
    terminal = Terminal(80, 24)
    frames = 0
    with LiveScreen(terminal.console, theme=Theme(), clock=clock) as screen:
        for millisecond in range(1000):
            clock.now = 10 + millisecond / 1000
            before = len(terminal.written)
            screen.show(moment(verse, note=f"note {millisecond}"))
            frames += len(terminal.written) > before
        assert 19 <= frames <= 21
        clock.now += 1
        screen.show(moment(verse, note="the end"))
        assert terminal.lines == _expected(moment(verse, note="the end"), 80, 24)


def test_verdict_does_not_wait_for_the_frame(
    verse: Plan,
    moment: Callable[..., Snapshot],
    verdict_on,
    clock: Clock,  # type: ignore[no-untyped-def]
) -> None:
    """Between frames a new verdict appears by itself at once; the rest follows with the next frame, and all agrees."""
    terminal = Terminal(80, 24)
    hit = verdict_on(verse, 2, HIT)
    after = moment(verse, step=3, verdict=hit, verdicts=(hit,))
    with LiveScreen(terminal.console, theme=Theme(), clock=clock) as screen:
        screen.show(moment(verse))
        clock.now += 0.001
        screen.show(after)
        shown = "\n".join(terminal.lines)
        assert "● hit  Gmaj7" in shown
        assert "step 3 of 8" in shown
        written = len(terminal.written)
        screen.show(after)
        assert len(terminal.written) == written
        clock.now += 0.06
        screen.show(after)
        assert terminal.lines == _expected(after, 80, 24)


def test_only_changed_rows_are_written(verse: Plan, moment: Callable[..., Snapshot], clock: Clock) -> None:
    """A new beat costs the row with the beats, not the whole screen."""
    terminal = Terminal(80, 24)
    with LiveScreen(terminal.console, theme=Theme(), clock=clock) as screen:
        screen.show(moment(verse))
        whole, terminal.written = len(terminal.output), []
        clock.now += 1
        screen.show(moment(verse, beat=4))
        assert 0 < len(terminal.output) < whole / 8
        assert terminal.lines == _expected(moment(verse, beat=4), 80, 24)


@pytest.mark.parametrize(("width", "height"), [(23, 20), (80, 5), (10, 3)])
def test_too_small_at_the_start(width: int, height: int) -> None:
    """One line that says the size, the size needed and what to do; the terminal is untouched."""
    terminal = Terminal(width, height)
    words = f"^the terminal is {width} x {height}; the dashboard needs 24 x 6: enlarge it, or use --plain$"
    with pytest.raises(ScreenError, match=words), LiveScreen(terminal.console):
        pass
    assert terminal.output == ""


def test_resizing_during_play(verse: Plan, moment: Callable[..., Snapshot], clock: Clock) -> None:
    """Larger or smaller: drawn anew for the new size. Too small: one line says so. Large again: all is back."""
    terminal = Terminal(80, 24)
    with LiveScreen(terminal.console, theme=Theme(), clock=clock) as screen:
        screen.show(moment(verse))
        for width, height in ((140, 40), (60, 10), (50, 4), (20, 2), (1, 1), (100, 30), (80, 24)):
            terminal.resize(width, height)
            clock.now += 1
            screen.show(moment(verse))
            if width >= 60:
                assert terminal.lines == _expected(moment(verse), width, height)
            else:
                words = " ".join(" ".join(terminal.lines).split())
                said = f"the terminal is {width} x {height}; the dashboard needs 24 x 6"
                assert said.startswith(words.rstrip("… "))
                assert width < 50 or words == said


def test_verdict_between_frames_while_too_small(
    verse: Plan,
    moment: Callable[..., Snapshot],
    verdict_on,
    clock: Clock,  # type: ignore[no-untyped-def]
) -> None:
    """A verdict that arrives while the terminal is too small breaks nothing."""
    terminal = Terminal(80, 24)
    with LiveScreen(terminal.console, theme=Theme(), clock=clock) as screen:
        screen.show(moment(verse))
        terminal.resize(40, 5)
        clock.now += 0.001
        screen.show(moment(verse, verdict=verdict_on(verse, 2)))
        clock.now += 1
        screen.show(moment(verse, verdict=verdict_on(verse, 2)))
        clock.now += 0.001
        screen.show(moment(verse, verdict=verdict_on(verse, 3)))
        assert terminal.lines[0].startswith("the terminal is 40 x 5")


@pytest.mark.parametrize("error", [RuntimeError, KeyboardInterrupt, SystemExit])
def test_terminal_comes_back_after_any_error(
    verse: Plan, moment: Callable[..., Snapshot], error: type[BaseException]
) -> None:
    """Alternate screen left and cursor shown, whatever ends the block."""
    terminal = Terminal(80, 24)
    screen = LiveScreen(terminal.console)

    def play() -> None:
        with screen:
            screen.show(moment(verse))
            raise error

    with pytest.raises(error):
        play()
    assert terminal.output.endswith(SHOW + ALT_OFF)
    screen.close()
    screen.show(moment(verse, note="late"))
    assert terminal.output.endswith(SHOW + ALT_OFF)


def test_unplugged_terminal_goes_quiet(verse: Plan, moment: Callable[..., Snapshot], clock: Clock) -> None:
    """When the terminal is gone, drawing stops and the take goes on: no exception reaches the loop, nothing of ours
    stays behind."""
    terminal, before = Terminal(80, 24), signal.getsignal(signal.SIGTERM)
    with LiveScreen(terminal.console, clock=clock) as screen:
        screen.show(moment(verse))
        terminal.unplugged = True
        clock.now += 1
        screen.show(moment(verse, note="gone"))
        screen.show(moment(verse, note="still gone"))
    assert signal.getsignal(signal.SIGTERM) is before
    assert suspending._screens == []


def test_no_colour_without_colour(verse: Plan, moment: Callable[..., Snapshot], clock: Clock) -> None:
    """With NO_COLOR no colour code is written, and the grade is still a word."""
    terminal = Terminal(80, 24, NO_COLOR="1")
    with LiveScreen(terminal.console, clock=clock) as screen:
        screen.show(moment(verse))
    assert "near" in terminal.output
    for code in ("38;5;", "48;5;", "38;2;", "48;2;"):
        assert code not in terminal.output
    coloured = Terminal(80, 24)
    with LiveScreen(coloured.console, clock=clock) as screen:
        screen.show(moment(verse))
    # Rich remembers how a style was first written in a process; some tests have 16 colours, some 256, some have all.
    assert re.search(r"\x1b\[(1;)?(38;5;130|38;2;178;95;0|33)m", coloured.output)


def test_everything_visible_is_watched(verse: Plan, moment: Callable[..., Snapshot], verdict_on) -> None:  # type: ignore[no-untyped-def]
    """A change of any field but the time counts as a change of the picture."""
    first = moment(verse)
    looks = live._looks(first)
    other = verdict_on(verse, 2)
    changes = {
        "plan": replace(verse, capo=2), "phase": "paused", "step": 4, "verdict": other,
        "so_far": SoFar.of(verse, (*first.verdicts, other)), "sounding": (60,), "tempo": 90.0, "bar": 3, "beat": 4,
        "source": "file", "note": "hello", "can_sound": True, "since": "better", "coming": "more",
        "chords": ("a chord",), "cleaned": ("1 ghost note ignored",), "last_step": 3, "place": 2,
            "away": "Paused: nobody is playing.", "until_right": True, "asides": ((0, PatternVerdict(4, 4)),),
            "jumps": 1, "harmony": (HarmonyChord(1.0, None),), "touch": TouchAccount(changes=1),
    }  # fmt: skip
    assert set(changes) == set(Snapshot.__dataclass_fields__) - {"now_s"}
    for name, value in changes.items():
        assert live._looks(replace(first, **{name: value})) != looks, name
    assert live._looks(replace(first, now_s=50.0)) == looks


def test_a_page_is_turned_and_turned_back(verse: Plan, moment: Callable[..., Snapshot], clock: Clock) -> None:
    """``?`` shows what signs mean while the take goes on, any key brings the dashboard back; ``m`` stays until it is
    pressed again."""
    terminal = Terminal(80, 24)
    with LiveScreen(terminal.console, theme=Theme(), clock=clock) as screen:

        def shows(snapshot: Snapshot) -> str:
            clock.now += 1
            screen.show(snapshot)
            return "\n".join(terminal.lines)

        shown = moment(verse)
        assert "signs ─" not in shows(shown)
        assert screen.turn("signs")
        assert "─ signs ─" in shows(shown)
        assert "─ signs ─" in shows(moment(verse, step=3))
        assert not screen.turn("pause")
        assert "─ play ─" in shows(shown)
        assert screen.turn("signs")
        assert screen.turn("signs")
        assert "─ play ─" in shows(shown)
        over = moment(verse, phase=FINISHED, step=8)
        assert "Movement score" not in shows(over)
        assert screen.turn("more")
        assert "Movement score" in shows(over)
        assert not screen.turn("slower")
        assert "Movement score" in shows(over)
        assert screen.turn("more")
        assert "Movement score" not in shows(over)
