"""What drawing may cost, in CPU time beside that of a reference taken in turns with it, so that a busy machine slows
both. The bounds leave room of three times and more over what was measured (tests/bench/test_screen.py reports it)."""

from __future__ import annotations

import io
import time
from collections.abc import Callable
from dataclasses import replace
from statistics import median

import pytest
from rich.console import Console
from rich.text import Text

from listener.guitar.instrument import make_instrument
from listener.judging.free.free import HeardChord
from listener.judging.verdict import GRADES
from listener.music.movement import movement
from listener.music.naming import name_pitches
from listener.music.pitch import spell
from listener.planning.plan import Plan
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.live import LiveScreen
from listener.screen.rows import Canvas
from listener.screen.theme import Theme
from listener.session.take.state import Snapshot

ROUNDS = 40


def _console(width: int, height: int) -> Console:
    return Console(file=io.StringIO(), width=width, height=height, force_terminal=True, color_system="256",
                   legacy_windows=False, _environ={})  # fmt: skip


def _cpu_ms(work: Callable[[], object]) -> float:
    begun_s = time.process_time()
    work()
    return 1000 * (time.process_time() - begun_s)


def _text(picture: Canvas) -> Text:
    rows = [Text.assemble(*((part.text, part.style or "") for part in cells)) for cells in picture.rows]
    return Text("\n").join(rows)


@pytest.mark.slow
@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (140, 40)])
def test_a_full_frame_costs_no_more_than_rich_needs(
    verse: Plan,
    moment: Callable[..., Snapshot],
    verdict_on,  # type: ignore[no-untyped-def]
    width: int,
    height: int,
) -> None:
    """At most 1.3 times rich printing a text with the same characters in the same styles, with chord, verdict, beat and
    totals all new in every frame."""
    now = iter(range(1, 1_000_000))
    ours, theirs = [], []
    console = _console(width, height)
    verdicts = tuple(verdict_on(verse, index % 8, GRADES[index % 3]) for index in range(ROUNDS + 1))
    with LiveScreen(console, theme=Theme(), clock=lambda: float(next(now))) as screen:
        for index in range(ROUNDS):
            shown = moment(verse, step=(index + 1) % 8, verdict=verdicts[index], verdicts=verdicts[: index + 1],
                           beat=index % 4 + 1)  # fmt: skip
            text = _text(dashboard(shown, width=width, height=height, theme=Theme()))
            ours.append(_cpu_ms(lambda shown=shown: screen.show(shown)))  # type: ignore[misc]
            theirs.append(_cpu_ms(lambda text=text: console.print(text)))  # type: ignore[misc]
    assert median(ours) <= 1.3 * median(theirs)


@pytest.mark.slow
@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (140, 40)])
def test_a_full_frame_of_free_listening_costs_no_more_either(
    verse: Plan, moment: Callable[..., Snapshot], width: int, height: int
) -> None:
    """The same bound with another chord in every frame, its places on the neck searched for."""
    plan = replace(verse, instrument=make_instrument())
    chords = tuple(_heard(number) for number in range(ROUNDS + 40))
    now = iter(range(1, 1_000_000))
    ours, theirs = [], []
    console = _console(width, height)
    with LiveScreen(console, theme=Theme(), clock=lambda: float(next(now))) as screen:
        for index in range(ROUNDS):
            shown = moment(plan, chords=chords[: index + 40], tempo=None, verdict=None, verdicts=())
            ours.append(_cpu_ms(lambda shown=shown: screen.show(shown)))  # type: ignore[misc]
            text = _text(dashboard(shown, width=width, height=height, theme=Theme()))
            theirs.append(_cpu_ms(lambda text=text: console.print(text)))  # type: ignore[misc]
    assert median(ours) <= 1.3 * median(theirs)


def _heard(number: int) -> HeardChord:
    """A triad that has not been heard for a while."""
    low = 40 + number * 7 % 25
    pitches = (low, low + 7, low + 16)
    before = tuple(pitch - 2 for pitch in pitches)
    names = tuple(str(spell(pitch)) for pitch in pitches)
    voicing = name_pitches(pitches)[0].voicing
    return HeardChord(number, 5.0, pitches, (), names, voicing.chord.symbol, voicing.kind, voicing.inversion,
                      movement(before, pitches))  # fmt: skip


@pytest.mark.slow
def test_a_verdict_is_there_in_under_a_millisecond(
    verse: Plan,
    moment: Callable[..., Snapshot],
    verdict_on,  # type: ignore[no-untyped-def]
) -> None:
    """Written by itself between two frames: under 1 ms of CPU on the largest panel, and the frame is left alone."""
    console = _console(140, 60)
    spent = []
    with LiveScreen(console, theme=Theme(), clock=lambda: 1.0) as screen:
        shown = moment(verse, verdict=None, verdicts=())
        screen.show(shown, force=True)
        for index in range(ROUNDS):
            verdict = verdict_on(verse, index % 8, GRADES[index % 3])
            written = console.file.tell()
            after = replace(shown, verdict=verdict)
            spent.append(_cpu_ms(lambda after=after: screen.show(after)))  # type: ignore[misc]
            assert console.file.tell() > written
    assert median(spent) < 1.0
