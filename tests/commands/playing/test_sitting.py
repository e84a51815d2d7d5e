"""A whole sitting with a simulated player and a jumping clock: loops, what is kept, what is said."""

from __future__ import annotations

import gc
import io
import json
import sys
import time
from argparse import Namespace
from array import array
from contextlib import ExitStack
from pathlib import Path
from statistics import median
from typing import Any, ClassVar

import pytest
from rich.console import Console

from listener.cli import build_parser
from listener.commands.playing import demo, play, practising, sitting
from listener.commands.playing.at_the_screen import broken
from listener.commands.playing.practising import loop_of
from listener.drill.drill_file import load_drill
from listener.errors import UsageError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.history.store.store import Store
from listener.planning.planner import plan_drill
from listener.screen.practice import live
from listener.screen.practice.live import LiveScreen
from listener.screen.theme import Theme
from listener.session.rest import PAIN, WORDS
from listener.session.take.clock import UNWATCHED_S, JumpingClock
from listener.session.take.practice import TakeSettings
from listener.session.take.state import Snapshot

#: What the command line gives when nothing is said; as it grows options, so do these.
USUAL = vars(build_parser().parse_args(["demo", "mill-verse", "--fast", "--plain"]))


class Output:
    """A MIDI output that remembers."""

    made: ClassVar[dict[str, Output]] = {}

    def __init__(self, name: str) -> None:
        self.sent: list[bytes] = []
        self.closed = False
        Output.made[name] = self

    def send(self, data: bytes) -> None:
        assert not self.closed
        self.sent.append(data)

    def close(self) -> None:
        self.closed = True

    def sounding(self) -> set[tuple[int, int]]:
        found: set[tuple[int, int]] = set()
        for data in self.sent:
            key = (data[0] & 0x0F, data[1])
            (found.add if data[0] & 0xF0 == 0x90 else found.discard)(key)
        return found


@pytest.fixture(autouse=True)
def outputs(monkeypatch: pytest.MonkeyPatch) -> dict[str, Output]:
    """Named outputs instead of real ports."""
    Output.made = {}
    monkeypatch.setattr(practising, "open_output", Output)
    return Output.made


def sit(store: Path, **options: Any) -> int:
    return demo.main(Namespace(**{**USUAL, "store": str(store), **options}))


def kept(store: Path) -> list[tuple[float | None, int]]:
    """Tempo and number of verdicts of each take, all of them finished."""
    with Store.open(store, read_only=True) as history:
        takes = history.takes()
        assert all(take.finished_at is not None for take in takes)
        return [(take.info.tempo, len(history.verdicts(take.id))) for take in takes]


def test_so_many_times(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Three whole takes, each another performance of the simulated player, each kept; one JSON document."""
    assert sit(tmp_path / "h", times=3, json=True) == 0
    document = json.loads(capsys.readouterr().out)
    assert [take["last_step"] for take in document["takes"]] == [15] * 3
    assert document["takes"][-1]["summary"] == document["summary"]
    assert len({json.dumps(take["summary"]) for take in document["takes"]}) > 1
    assert [count for _, count in kept(tmp_path / "h")] == [16] * 3
    with Store.open(tmp_path / "h", read_only=True) as history:
        assert [take.info.seed for take in history.takes()] == [7, 8, 9]


def test_the_ladder_climbs_and_tells_its_rules(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The tempo of each kept take is a rung; what happens is said in one line before the next take."""
    assert sit(tmp_path / "h", ladder=True, tempo=60.0, up_to=70.0, times=4) == 0
    said = capsys.readouterr().out
    tempi = [tempo for tempo, _ in kept(tmp_path / "h")]
    assert tempi[0] == 60.0
    assert len(tempi) == 4
    assert all(tempo is not None and 36 <= tempo <= 70 for tempo in tempi)
    told = [line for line in said.splitlines() if "; once more, " in line]
    assert len(told) == 3  # once after each take but the last
    assert any("slower" in line or "same tempo" in line or "lean: now" in line for line in told)


def test_hard_spots_between_whole_takes(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """After the first whole take only parts are played, then the whole again; each part says where and how often."""
    assert sit(tmp_path / "h", hard_spots=True, times=2, json=True) == 0
    printed = capsys.readouterr()
    takes = json.loads(printed.out)["takes"]
    whole = [take["first_step"] == 0 and take["last_step"] == 15 for take in takes]
    assert (whole[0], whole[-1], sum(whole)) == (True, True, 2)
    assert len(takes) >= 5
    counts = [count for _, count in kept(tmp_path / "h")]
    for take, count in zip(takes[1:-1], counts[1:-1], strict=True):
        length = take["last_step"] - take["first_step"] + 1
        assert length < 16
        assert length <= count <= length + 1
    assert "clean 0 of 3" in printed.err
    assert "now the whole" in printed.err
    ends = printed.err.split("End of the take.\n")[1:]
    assert len(ends) == len(takes)
    for said in ends[:-1]:  # what comes is what the loop goes on with, and no other drill or tempo
        assert "clean " in said or "Now the whole." in said or "now the whole." in said
        assert "next drill" not in said
        assert sum(line.startswith("Try next: ") for line in said.splitlines()) <= 1


def test_what_improved_since_the_last_take_of_the_history(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The first take has nothing to compare with; a later sitting is compared with the kept one."""
    assert sit(tmp_path / "h", tempo=60.0) == 0
    first = capsys.readouterr().out
    assert "Since last time" not in first
    assert sit(tmp_path / "h", seed=15, tempo=66.0) == 0
    lines = capsys.readouterr().out.splitlines()
    end = lines.index("End of the take.")
    assert lines[end + 1].startswith("Since last time: ")
    assert lines[end + 2].startswith("Try next: ")


def test_backing_and_click_are_ended_and_closed(tmp_path: Path, outputs: dict[str, Output]) -> None:
    """Two takes with the backing: bass and click went out, nothing sounds on, the port is given back."""
    assert sit(tmp_path / "h", backing=True, click="synth", sound="synth", times=2) == 0
    (synth,) = outputs.values()
    assert {data[0] & 0x0F for data in synth.sent} == {1, 9}
    assert not synth.sounding()
    assert synth.closed


@pytest.mark.parametrize(
    ("options", "words"),
    [
        ({"ladder": True, "own_pace": True}, "--tempo 60"),
        ({"up_to": 80.0}, "add --ladder"),
        ({"ladder": True, "tempo": 90.0, "up_to": 80.0}, "lies below"),
        ({"backing": True, "own_pace": True, "click": "x"}, "--tempo 60"),
        ({"backing": True}, "--click PORT"),
        ({"click": "x", "own_pace": True}, "needs a tempo to click at"),
        ({"roll": True}, "add --sound"),
        ({"until_right": True, "tempo": 90.0}, "leave --tempo out"),
    ],
)
def test_options_that_make_no_sense(tmp_path: Path, options: dict[str, Any], words: str) -> None:
    """One line that says what to add, exit code 2, and nothing is kept."""
    with pytest.raises(UsageError, match=words) as caught:
        sit(tmp_path / "h", **options)
    assert "\n" not in str(caught.value)
    assert caught.value.exit_code == 2
    assert not (tmp_path / "h").exists()


@pytest.mark.parametrize("option", ["ladder", "hard_spots", "times", "sound", "backing", "easier", "until_right"])
def test_free_listening_needs_no_drill_but_these_do(option: str) -> None:
    """Options that mean nothing without a drill are named, before any port is opened."""
    with pytest.raises(UsageError, match="needs a drill"):
        play.main(Namespace(**{**USUAL, "drill": None, "port": "none", "pickup": None, option: 60.0}))


@pytest.mark.parametrize(
    ("options", "said"),
    [
        ({"drill": None, "meter": "3/4"}, "add --tempo 90"),
        ({"drill": "mill-verse", "tempo": 60.0, "meter": "3/4"}, "leave the drill out"),
        ({"drill": None, "on_strum": True}, "--on-strum starts the click"),
        ({"drill": None, "click": "drums"}, "--click needs a tempo"),
    ],
)
def test_a_click_for_free_playing_is_asked_for_whole(options: dict[str, Any], said: str) -> None:
    """What does not go together is told before any port is opened."""
    with pytest.raises(UsageError, match=said):
        play.main(Namespace(**{**USUAL, "meter": None, "port": "none", "pickup": None, **options}))


def test_where_the_ladder_ends() -> None:
    """At the number that was given, or the drill's own tempo, or a quarter above where it began."""
    plan = plan_drill(load_drill("mill-verse"), make_instrument(), make_hand())
    tempo = plan.drill.tempo

    def top(begin: float, **options: Any) -> float:
        ladder = loop_of(Namespace(ladder=True, **options), plan, TakeSettings(begin)).ladder
        assert ladder is not None
        return ladder.highest

    assert top(tempo - 20, up_to=90.0) == 90.0
    assert top(tempo / 2) == tempo
    assert top(tempo) == round(1.25 * tempo)


class _Nowhere(io.StringIO):
    def write(self, text: str) -> int:
        return len(text)


class Dashboard:
    """The live screen on a terminal that nobody looks at, beside the plain lines; keeps the CPU time of each frame."""

    def __init__(self, plain: Any, clock: Any) -> None:
        self._plain = plain
        self._stack = ExitStack()
        console = Console(file=_Nowhere(), width=100, height=30, force_terminal=True, color_system="256", _environ={})
        self._live = self._stack.enter_context(LiveScreen(console, theme=Theme(), clock=clock))
        self.frames_ms = array("d")  # numbers as objects would count as memory that grows

    def __enter__(self) -> Dashboard:
        return self

    def __exit__(self, *_error: object) -> None:
        self._stack.close()

    def show(self, snapshot: Snapshot) -> None:
        self._plain.show(snapshot)
        begun_s = time.process_time()
        drawn = self._live._last_frame_s
        self._live.show(snapshot)
        if self._live._last_frame_s != drawn:
            self.frames_ms.append(1000 * (time.process_time() - begun_s))


@pytest.mark.slow
def test_an_hour_of_practice(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """More than sixty minutes on the clock, take after take, on the dashboard: a rest is proposed, with what to do
    about pain, and said again later; neither memory nor the cost of a frame grows."""
    blocks: list[int] = []
    real = demo.SimulatedPlayer
    clock = JumpingClock(UNWATCHED_S)
    screens: list[Dashboard] = []

    def screen(*arguments: Any) -> Dashboard:
        screens.append(Dashboard(plain_screen(*arguments), clock.now))
        return screens[-1]

    plain_screen = sitting.screen_of
    monkeypatch.setattr(sitting, "screen_of", screen)
    monkeypatch.setattr(demo, "JumpingClock", lambda _idle_s: clock)
    monkeypatch.setattr(live, "_FRAME_S", 2.0)

    class Counting(real):  # type: ignore[misc, valid-type]
        takes = 0

        def __init__(self, *arguments: Any, **options: Any) -> None:
            Counting.takes += 1
            if Counting.takes % 8 == 0:
                gc.collect()
                blocks.append(sys.getallocatedblocks())
            super().__init__(*arguments, **options)
            self.begun_s = self._start_s
            Counting.last_s = self._start_s

    demo.SimulatedPlayer = Counting  # type: ignore[misc]
    try:
        assert sit(tmp_path / "h", times=62, tempo=36.0) == 0
    finally:
        demo.SimulatedPlayer = real  # type: ignore[misc]
    assert Counting.last_s > 3600
    said = capsys.readouterr().out
    reminders = [line for line in said.splitlines() if WORDS in line]
    assert PAIN in reminders[0]
    assert "25 minutes" in reminders[0]
    assert any("50 minutes" in line for line in reminders)
    early, late = blocks[len(blocks) // 4], blocks[-1]
    assert late < 1.02 * early, f"{early} blocks after a quarter of the takes, {late} at the end"
    frames_ms = screens[0].frames_ms
    assert len(frames_ms) > 1000
    quarter = len(frames_ms) // 4
    first, last = median(frames_ms[:quarter]), median(frames_ms[-quarter:])
    assert last < 1.5 * first, f"a frame took {first:.2f} ms in the first quarter and {last:.2f} in the last"


def test_sentences_break_between_words_on_a_terminal(monkeypatch: pytest.MonkeyPatch) -> None:
    """Never within a word, keeping the indent; not at all where no terminal reads them."""
    monkeypatch.setenv("COLUMNS", "40")

    class Screen(io.StringIO):
        def isatty(self) -> bool:
            return True

    text = "  Top line: 50% held or by step, largest move 8 semitones."
    lines = broken(text, Screen()).splitlines()
    assert len(lines) == 2
    assert all(len(line) < 40 and line.startswith("  ") for line in lines)
    assert " ".join(" ".join(lines).split()) == text.strip()
    assert broken(text, io.StringIO()) == text
