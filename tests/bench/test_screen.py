"""What drawing costs, beside what rich needs to print the same cells. Ratios only: no test fails by time.

"What rich needs to print the same cells" is taken to mean: rich printing a ``Text`` that holds these characters in
these styles, which is what rich has for styled words. A full frame is to cost at most 1.3 times that. Two more
references stand beside it: the same characters without any style, and the finished segments, which is the least that
any screen could need because nothing is left to lay out.

Run with ``pytest tests/bench/test_screen.py --benchmark-enable``; without that each runs twice, to see that it works.
"""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import pytest
from rich.console import Console
from rich.text import Text

from listener.drill.drill import Drill, Step, Wish
from listener.guitar.fingering import Fingering
from listener.guitar.instrument import make_instrument
from listener.judging.free.free import HeardChord
from listener.judging.verdict import HIT, NEAR, Fault, Verdict
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.pitch import spell
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.live import LiveScreen
from listener.screen.rows import Canvas
from listener.screen.theme import Theme
from listener.session.take.so_far import TakeRecord
from listener.session.take.state import PLAYING, Snapshot

SIZES = ((80, 24), (100, 30), (140, 40))
SHAPES = (
    ("Am7", (55, 60, 64, 69), (4, 3, 2, 1), (5, 5, 5, 5), (1, 1, 1, 1)),
    ("D7", (54, 60, 62, 69), (4, 3, 2, 1), (4, 5, 3, 5), (2, 3, 1, 4)),
)


def _plan(count: int) -> Plan:
    planned: list[PlannedStep] = []
    for index in range(count):
        symbol, pitches, strings, frets, fingers = SHAPES[index % 2]
        chord = parse_chord(symbol)
        voicing = voicing_of(chord, pitches)
        step = Step(index, "p", index + 1, 1.0, 4.0 * index, 4.0, Wish(chord, (voicing.kind,)))
        before = planned[-1].voicing.midi if planned else pitches
        fingering = Fingering(pitches, strings, frets, fingers, None, 40.0, 0.3, 300.0)
        planned.append(PlannedStep(step, voicing, fingering, movement(before, pitches)))
    drill = Drill("bench", "Two chords", "C major", 84.0, (4, 4), tuple(p.step for p in planned))
    return Plan(drill, tuple(planned), ("E2", "A2", "D3", "G3", "B3", "E4"), 6, 0, "medium", 0.0)


def _verdict(step: int, grade: str) -> Verdict:
    faults = () if grade == HIT else (Fault("spacing", "right chord, but close: lift the E an octave"),)
    return Verdict(step, 1, grade, faults, SHAPES[step % 2][1], (), 2.0 * step, 11.0, 12.0, None, 3, 90.0)


def _moments(plan: Plan, count: int) -> list[Snapshot]:
    """Neighbouring moments of a take in which chord, verdict and totals all change."""
    found = []
    record = TakeRecord(plan)
    for index in range(count):
        verdict = _verdict(index, HIT if index % 2 else NEAR)
        record.add(verdict)
        found.append(
            Snapshot(plan, PLAYING, index + 1, verdict, record.so_far, (), 1.0, 84.0, 1, index % 4 + 1, "simulated")
        )
    return found


def _cpu_ms(work: Callable[[int], object], count: int, rounds: int = 3) -> float:
    """Median CPU milliseconds of one call."""
    times = []
    for _ in range(rounds):
        for index in range(count):
            start = time.process_time()
            work(index)
            times.append(1000 * (time.process_time() - start))
    return median(times)


def _console(width: int, height: int) -> Console:
    return Console(
        file=io.StringIO(), width=width, height=height, force_terminal=True, color_system="256",
        legacy_windows=False, _environ={},
    )  # fmt: skip


def _text(picture: Canvas) -> Text:
    """The same characters in the same styles, as rich's own kind of styled text."""
    rows = [Text.assemble(*((part.text, part.style or "") for part in cells)) for cells in picture.rows]
    return Text("\n").join(rows)


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_frame_cost(
    width: int, height: int, capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest
) -> None:
    """A full frame, everything in it new, beside rich printing the same cells: as styled text (the reference), without
    styles, and from finished segments."""
    rounds = 60 if request.config.getoption("benchmark_enable") else 2
    moments = _moments(_plan(100), rounds)
    console = _console(width, height)
    pictures = [dashboard(moment, width=width, height=height, theme=Theme()) for moment in moments]
    plain = ["\n".join("".join(part.text for part in cells) for cells in picture.rows) for picture in pictures]
    texts = [_text(picture) for picture in pictures]
    now = iter(range(1, 10_000_000))
    with LiveScreen(console, theme=Theme(), clock=lambda: float(next(now))) as screen:
        frame = _cpu_ms(lambda index: screen.show(moments[index], force=True), rounds)
    build = _cpu_ms(lambda index: dashboard(moments[index], width=width, height=height, theme=Theme()), rounds)
    text = _cpu_ms(lambda index: console.print(plain[index], markup=False, highlight=False), rounds)
    styled = _cpu_ms(lambda index: console.print(texts[index]), rounds)
    finished = _cpu_ms(lambda index: console.print(pictures[index]), rounds)
    assert min(frame, build, text, styled, finished) > 0
    with capsys.disabled():
        print(
            f"\nframe {width}x{height}: {frame:.2f} ms CPU (build {build:.2f}); rich, same cells: styled text "
            f"{styled:.2f}, without styles {text:.2f}, finished segments {finished:.2f}; ratio {frame / styled:.2f} "
            f"(at most 1.3), to the others {frame / text:.2f} and {frame / finished:.2f}"
        )


@pytest.mark.parametrize(("width", "height"), SIZES)
def test_frame_cost_of_free_listening(
    width: int, height: int, capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest
) -> None:
    """A frame of free listening with a new chord in it, its places on the neck searched for, beside rich printing the
    same cells as styled text; after ten chords and after five thousand."""
    rounds = 60 if request.config.getoption("benchmark_enable") else 2
    plan = replace(_plan(1), steps=(), instrument=make_instrument())
    console = _console(width, height)
    results = []
    for before in (10, 5000):
        chords = tuple(_heard(number) for number in range(before + rounds))
        start = _moments(_plan(2), 1)[0]
        moments = [replace(start, plan=plan, chords=chords[: before + index]) for index in range(rounds)]
        texts = [_text(dashboard(moment, width=width, height=height, theme=Theme())) for moment in moments]
        now = iter(range(1, 10_000_000))
        with LiveScreen(console, theme=Theme(), clock=lambda now=now: float(next(now))) as screen:  # type: ignore[misc]
            frame = _cpu_ms(lambda index, screen=screen, moments=moments: screen.show(moments[index]), rounds)  # type: ignore[misc]
        styled = _cpu_ms(lambda index, texts=texts: console.print(texts[index]), rounds)  # type: ignore[misc]
        assert min(frame, styled) > 0
        results.append((frame, styled))
    with capsys.disabled():
        (early, styled), (late, _) = results
        print(
            f"\nfree listening {width}x{height}: {early:.2f} ms CPU, ratio to rich's styled text {early / styled:.2f}; "
            f"after 5,000 chords {late:.2f} ms, {late / early:.2f} times that"
        )


def _heard(number: int) -> HeardChord:
    """A shape that differs from its neighbours."""
    symbol, pitches = SHAPES[number % 2][:2]
    moved = tuple(pitch + number % 7 for pitch in pitches)
    names = tuple(str(spell(pitch)) for pitch in moved)
    return HeardChord(number, 5.0, moved, (), names, symbol, "close", 0, movement(pitches, moved))


def test_verdict_cost(capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest) -> None:
    """A verdict that is written by itself between frames, beside rich printing one line of text."""
    rounds = 200 if request.config.getoption("benchmark_enable") else 2
    console = _console(80, 24)
    moment = _moments(_plan(10), 3)[-1]
    news = [replace(moment, verdict=_verdict(index % 9, NEAR if index % 2 else HIT)) for index in range(rounds)]
    with LiveScreen(console, theme=Theme(), clock=lambda: 1.0) as screen:
        screen.show(moment, force=True)
        before = len(console.file.getvalue())  # type: ignore[attr-defined]
        verdict = _cpu_ms(lambda index: screen.show(news[index]), rounds)
        assert len(console.file.getvalue()) > before  # type: ignore[attr-defined]
    line = _cpu_ms(lambda _: console.print(Text("x" * 80)), rounds)
    with capsys.disabled():
        print(f"\nverdict alone: {verdict:.3f} ms CPU; rich printing one line of 80 cells {line:.3f} ms")


def test_nothing_new_costs_next_to_nothing(capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest) -> None:
    """Showing the same moment again, and the same late in an hour of playing: flat."""
    rounds = 2000 if request.config.getoption("benchmark_enable") else 10
    plan = _plan(1000)
    console = _console(80, 24)
    results = []
    for moment in (_moments(plan, 10)[-1], _moments(plan, 900)[-1]):
        with LiveScreen(console, theme=Theme(), clock=lambda: 1.0) as screen:
            screen.show(moment, force=True)
            idle = _cpu_ms(lambda _, screen=screen, moment=moment: screen.show(moment), rounds)  # type: ignore[misc]
            full = _cpu_ms(lambda _, screen=screen, moment=moment: screen.show(moment, force=True), 20)  # type: ignore[misc]
        results.append((idle, full))
    with capsys.disabled():
        early, late = results
        print(
            f"\nnothing new: {1000 * early[0]:.1f} us after 10 chords, {1000 * late[0]:.1f} us after 900; "
            f"unchanged frame forced: {early[1]:.2f} and {late[1]:.2f} ms, ratio {late[1] / early[1]:.2f}"
        )
