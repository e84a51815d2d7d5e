"""A simulated performance and the truth about it: what was played, what was sent of it, and what both deserve."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from random import Random
from typing import Any, Final

from listener.hearing.events import Message, NoteOn, Stroke
from listener.hearing.pickup import Pickup
from listener.judging.strictness import targets
from listener.judging.verdict import HIT, NEAR
from listener.planning.plan import Plan
from listener.simulation.converter import Converter, Sent, convert
from listener.simulation.player import Intent, Player, Pluck, perform

FIRST_BEAT_S: Final = 2.0


@dataclass(frozen=True)
class Performance:
    """One simulated run: what was played, what was sent, what it means. ``drawn`` is the state of the random numbers
    from which the converter went on; with it the same can be sent once more."""

    name: str
    plan: Plan
    pickup: Pickup
    tempo: float | None
    plucks: tuple[Pluck, ...]
    intents: tuple[Intent, ...]
    messages: tuple[Message, ...]
    sent: tuple[Sent, ...]
    converter: Converter
    drawn: tuple[Any, ...] = field(repr=False)


def performance(
    plan: Plan, pickup: Pickup, converter: Converter, player: Player, *, seed: int, tempo: float | None, name: str = ""
) -> Performance:
    """Play a plan once."""
    random = Random(seed)
    plucks, intents = perform(plan, random, tempo=tempo, first_beat_s=FIRST_BEAT_S, player=player)
    drawn = random.getstate()
    messages, sent = convert(plucks, pickup, random, converter, plan.open_midi)
    label = f"{name} seed {seed}"
    return Performance(label, plan, pickup, tempo, tuple(plucks), tuple(intents), messages, sent, converter, drawn)


def run_truth(run: Performance) -> list[Stroke]:
    """What the player really did, step by step: plucked and held."""
    strokes = []
    for step, intent in enumerate(run.intents):
        struck = [
            NoteOn(pluck.onset_s, pluck.pitch, pluck.velocity, pluck.string if run.pickup.tells_strings else None)
            for pluck in run.plucks
            if pluck.step == step and not pluck.again
        ]
        held = [NoteOn(0.0, pitch, 80, string if run.pickup.tells_strings else None) for string, pitch in intent.held]
        strokes.append(Stroke(tuple(struck), tuple(held), settled=True, closed_s=0.0))
    return strokes


def run_evidence(run: Performance) -> list[Stroke]:
    """What the converter sent of it for good: its pitches, its missing notes, its early and late ends."""
    strokes = []
    pairs = list(zip(run.plucks, run.sent, strict=True))
    for step in range(len(run.intents)):
        mine = [(p, s) for p, s in pairs if p.step == step and not p.again and s.pitch is not None]
        struck = [
            NoteOn(p.onset_s, s.pitch or 0, p.velocity, p.string if run.pickup.tells_strings else None) for p, s in mine
        ]
        began_s = min((s.on_s for _, s in mine), default=0.0)
        held = [
            NoteOn(p.onset_s, s.pitch or 0, p.velocity, p.string if run.pickup.tells_strings else None)
            for p, s in pairs
            if p.step < step and s.pitch is not None and s.on_s < began_s < s.off_s
        ]
        strokes.append(Stroke(tuple(struck), tuple(held), settled=True, closed_s=0.0))
    return strokes


def grades(run: Performance, strokes: Sequence[Stroke]) -> list[str]:
    """What each step deserves by these strokes; "none" where nothing was plucked."""
    found = []
    for target, stroke, intent in zip(targets(run.plan), strokes, run.intents, strict=True):
        if not stroke.struck:
            found.append("none")
            continue
        grade = target.judge(stroke)[0].grade
        late = run.tempo is not None and abs(stroke.onset_s - intent.due_s) * 1000 > run.plan.drill.timing_ms
        found.append(NEAR if late and grade == HIT else grade)
    return found


def notes_of(run: Performance, stroke: Stroke, step: int) -> tuple[frozenset[tuple[int | None, int]], frozenset[int]]:
    """What was plucked in a step, and which of its tones were held into it."""
    wanted = frozenset(run.plan.steps[step].voicing.midi)
    return frozenset((note.string, note.pitch) for note in stroke.struck), frozenset(stroke.held_pitches) & wanted
