"""Plans and takes made by hand, so that judge and session are tested without the planner (fixtures)."""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Iterable, Sequence
from typing import Protocol, TypeVar

import pytest

from listener.drill.drill import EXACT, Drill, Step, Wish
from listener.guitar.fingering import Fingering
from listener.hearing.events import Message, on_grid
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep


class Timed(Protocol):
    """What comes at a time: messages, notes."""

    @property
    def time_s(self) -> float: ...


_Heard = TypeVar("_Heard", bound=Timed, contravariant=True)
_Said = TypeVar("_Said", covariant=True)


class Stage(Protocol[_Heard, _Said]):
    """What is fed and told the time."""

    def feed(self, message: _Heard, /) -> Sequence[_Said]: ...

    def tick(self, now_s: float, /) -> Sequence[_Said]: ...


PlanMaker = Callable[..., Plan]
TakeMaker = Callable[..., list[Message]]


def with_ticks(stage: Stage[_Heard, _Said], heard: Sequence[_Heard], ticks: Iterable[float]) -> list[_Said]:
    """Everything that a stage says when it is told the time at these moments, never backwards."""
    found: list[_Said] = []
    pending = deque(sorted(ticks))
    for one in heard:
        while pending and pending[0] <= one.time_s:
            found += stage.tick(pending.popleft())
        found += stage.feed(one)
    for now_s in pending:
        found += stage.tick(max(now_s, heard[-1].time_s if heard else 0.0))
    return found


@pytest.fixture(scope="session")
def make_plan() -> PlanMaker:
    """``make_plan([("C", (48, 55, 64)), ...], beats=2.0, strictness=..., options=...)``."""

    def make(
        chords: Sequence[tuple[str, tuple[int, ...]]],
        *,
        beats: float = 2.0,
        tempo: float = 60.0,
        strictness: str = EXACT,
        options: Sequence[Sequence[tuple[int, ...]]] | None = None,
        timing_ms: float = 80.0,
    ) -> Plan:
        steps = []
        for index, (symbol, notes) in enumerate(chords):
            chord = parse_chord(symbol)
            start = index * beats
            step = Step(
                index, "verse", int(start // 4) + 1, start % 4 + 1, start, beats, Wish(chord, ("any",)), strictness
            )
            strings = tuple(range(len(notes), 0, -1))
            fingering = Fingering(notes, strings, (1,) * len(notes), (1,) * len(notes), None, 0.0, 0.0, 20.0)
            change = movement(chords[index - 1][1], notes) if index else None
            steps.append(PlannedStep(step, voicing_of(chord, notes), fingering, change))
        drill = Drill(
            "made-by-hand",
            "Made by hand",
            "C major",
            tempo,
            (4, 4),
            tuple(one.step for one in steps),
            timing_ms=timing_ms,
        )
        choices = tuple(tuple(sorted(set(choice))) for choice in options or [[notes] for _, notes in chords])
        return Plan(drill, tuple(steps), ("E2", "A2", "D3", "G3", "B3", "E4"), 6, 0, "medium", 0.0, choices)

    return make


@pytest.fixture(scope="session")
def make_messages() -> TakeMaker:
    """``make_messages([(time_s, (48, 55, 64)), ...], ring_s=0.8)``: strummed low to high, 4 ms from note to note."""

    def make(
        strokes: Sequence[tuple[float, Sequence[int]]], *, ring_s: float = 0.8, gap_s: float = 0.004
    ) -> list[Message]:
        found = []
        for start_s, notes in strokes:
            for number, note in enumerate(notes):
                found.append(Message(on_grid(start_s + number * gap_s), (0x90, note, 80)))
                found.append(Message(on_grid(start_s + ring_s + number * gap_s), (0x80, note, 0)))
        return sorted(found, key=lambda message: (message.time_s, message.data[0]))

    return make
