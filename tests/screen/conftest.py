"""Plans, verdicts and snapshots made by hand: the screen is tested without a planner, a port or a clock."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from io import StringIO
from typing import Any

import pytest
from rich.console import Console, RenderableType

from listener.drill.drill import Drill, NoteWish, Step, Wish
from listener.guitar.fingering import Barre, Fingering
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep
from listener.session.take.so_far import SoFar
from listener.session.take.state import PLAYING, Snapshot

STANDARD = (40, 45, 50, 55, 59, 64)
EIGHT = (30, 35, 40, 45, 50, 55, 59, 64)
FOUR = (50, 55, 59, 64)
NAMES = {30: "F#1", 35: "B1", 40: "E2", 45: "A2", 50: "D3", 55: "G3", 59: "B3", 64: "E4"}

#: chord, frets low string to high (None = muted), fingers for the strings that sound
Shape = tuple[str, Sequence[int | None], Sequence[int]]

VERSE: tuple[Shape, ...] = (
    ("Am7", (None, None, 5, 5, 5, 5), (1, 1, 1, 1)),
    ("D7", (None, None, 4, 5, 3, 5), (2, 3, 1, 4)),
    ("Gmaj7", (None, None, 5, 7, 7, 7), (1, 2, 3, 4)),
    ("C", (None, 3, 5, None, 5, None), (1, 3, 4)),
    ("F#m7b5", (None, 9, 10, 9, 10, None), (1, 3, 2, 4)),
    ("B7b9/D#", (None, 6, 7, 5, 7, None), (2, 3, 1, 4)),
    ("Em", (0, 2, 2, 0, 0, 0), (0, 2, 3, 0, 0, 0)),
    ("Ebmaj7#11", (None, 6, None, 7, 8, 5), (2, 3, 4, 1)),
)
EIGHTS: tuple[Shape, ...] = (
    ("Am", (None, None, 5, 7, 7, 5, 5, 5), (1, 3, 4, 1, 1, 1)),
    ("F#m7", (0, None, None, 0, None, None, 2, 0), (0, 0, 1, 0)),
    ("Em", (None, None, 0, 2, 2, 0, 0, 0), (0, 2, 3, 0, 0, 0)),
    ("Bm", (None, 0, None, 2, 4, 4, 3, 2), (0, 1, 3, 4, 2, 1)),
)
FOURS: tuple[Shape, ...] = (
    ("C", (2, 0, 1, 0), (2, 0, 1, 0)),
    ("G7", (0, 0, 0, 1), (0, 0, 0, 1)),
    ("Em", (2, 0, 0, 0), (2, 0, 0, 0)),
)


def make_plan(shapes: Sequence[Shape] = VERSE, tuning: Sequence[int] = STANDARD, **changes: Any) -> Plan:
    """A plan from shapes as guitarists write them."""
    planned: list[PlannedStep] = []
    for index, (symbol, frets, fingers) in enumerate(shapes):
        chord = parse_chord(symbol)
        count = len(tuning)
        notes = [(tuning[i] + fret, count - i, fret) for i, fret in enumerate(frets) if fret is not None]
        placed = sorted((*note, finger) for note, finger in zip(notes, fingers, strict=True))
        voicing = voicing_of(chord, [note[0] for note in placed])
        barre = Barre(1, 5, 4, 1) if symbol == "Am7" else None
        pressed = [fret for _, _, fret, _ in placed if fret]
        fingering = Fingering(
            pitches=tuple(note[0] for note in placed),
            strings=tuple(note[1] for note in placed),
            frets=tuple(note[2] for note in placed),
            fingers=tuple(note[3] for note in placed),
            barre=barre,
            stretch_mm=24.0 * (max(pressed) - min(pressed)),
            strain=0.4,
            centre_mm=300.0,
        )
        wish = Wish(chord, (voicing.kind,), top=NoteWish(degree=voicing.degrees[-1]))
        step = Step(index, "verse", index // 2 + 1, 1.0 + 2 * (index % 2), 2.0 * index, 2.0, wish)
        before = planned[-1].voicing.midi if planned else None
        planned.append(PlannedStep(step, voicing, fingering, movement(before, voicing.midi) if before else None))
    drill = Drill("verse", "A verse by the window", "G major", 84.0, (4, 4), tuple(p.step for p in planned))
    names = tuple(NAMES[note] for note in tuning)
    plan = Plan(drill, tuple(planned), names, len(tuning), 0, "medium", 12.5)
    return replace(plan, **changes)


def make_verdict(plan: Plan, step: int, grade: str = HIT, faults: Sequence[Fault] = (), **changes: Any) -> Verdict:
    """A verdict on one step; heard as planned unless changed."""
    midi = plan.steps[step].voicing.midi
    values: dict[str, Any] = {
        "step": step, "attempt": 1, "grade": grade, "faults": tuple(faults), "heard": midi, "held": (),
        "onset_s": 2.0 * step, "spread_ms": 11.0, "offset_ms": 12.0 - 5 * step, "movement": None, "least": None,
        "movement_score": 90.0 - 7 * step if step else None,
    }  # fmt: skip
    return Verdict(**{**values, **changes})


CLOSE = Fault("spacing", "right chord, but close: lift the E an octave")
TOP = Fault("top_note", "top note is D4, the plan says E4", pitch=62, wanted=64)
OTHER = Fault("other_chord", "that was Ebmaj7, the plan says Gmaj7")


@pytest.fixture
def verse() -> Plan:
    """Eight chords on a guitar in standard tuning, triads to six-note shapes, one name longer than usual."""
    return make_plan()


@pytest.fixture
def plan_from() -> Callable[..., Plan]:
    """Make a plan from shapes."""
    return make_plan


@pytest.fixture
def verdict_on() -> Callable[..., Verdict]:
    """Make a verdict on a step of a plan."""
    return make_verdict


@pytest.fixture
def moment() -> Callable[..., Snapshot]:
    """Make a snapshot: by default the third chord is due, with a hit and a near behind."""

    def build(plan: Plan, **changes: Any) -> Snapshot:
        heard = plan.steps[1].voicing.midi
        near = make_verdict(plan, 1, NEAR, (CLOSE, TOP), heard=(*heard[:-1], heard[-1] - 2))
        verdicts = (make_verdict(plan, 0), near)
        values: dict[str, Any] = {
            "plan": plan, "phase": PLAYING, "step": 2, "verdict": near, "verdicts": verdicts, "sounding": (),
            "now_s": 4.2, "tempo": 84.0, "bar": 2, "beat": 3, "source": "MIDI port: pickup 1", "note": "",
        }  # fmt: skip
        values.update(changes)
        return Snapshot(so_far=SoFar.of(plan, values.pop("verdicts")), **values)

    return build


@pytest.fixture
def miss() -> Callable[[Plan, int], Verdict]:
    """A miss: another chord was heard."""
    return lambda plan, step: make_verdict(plan, step, MISS, (OTHER,), heard=(51, 58, 62, 67))


@pytest.fixture
def printed() -> Callable[..., list[str]]:
    """What rich prints of a renderable without any colour or style, as lines."""

    def build(renderable: RenderableType, width: int) -> list[str]:
        stream = StringIO()
        console = Console(file=stream, width=width, color_system=None, force_terminal=False, _environ={})
        console.print(renderable, end="", crop=False, soft_wrap=True)
        return stream.getvalue().split("\n")

    return build


@pytest.fixture
def eights() -> Plan:
    """Four chords on eight strings, six voices at most."""
    return make_plan(EIGHTS, EIGHT)


@pytest.fixture
def fours() -> Plan:
    """Three chords on four strings, all full shapes with open strings."""
    return make_plan(FOURS, FOUR)
