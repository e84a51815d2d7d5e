"""One take from beginning to end: who plays what how, what the pickup sends of it, and the truth."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass, replace
from functools import cache
from random import Random
from typing import Final

from lab.course import planned
from lab.people.hands import Plucked
from lab.people.own_pace import OwnPace, Playing
from lab.people.person import Person, draw_person
from lab.people.scene import Prepared, Scene, prepare
from lab.people.truth import Truth, attempts_of, outcomes
from lab.people.with_click import Clicked, WithClick
from lab.proving.performing import FIRST_BEAT_S
from listener.drill.drill_file import bundled_drills
from listener.following.pace import Anchor
from listener.hearing.events import Message
from listener.hearing.pickup import Pickup
from listener.simulation.converter import FAULTLESS, Converter, Sent, convert

#: No click is slower (beats a minute).
_SLOWEST: Final = 30.0


@dataclass(frozen=True)
class Way:
    """A way of practising, by name; ``playing`` may be drawn anew for every take. ``arpeggio``: the drill asks for one
    tone after the other."""

    name: str
    playing: OwnPace | WithClick | Callable[[Random], OwnPace | WithClick]
    arpeggio: bool = False


@dataclass(frozen=True)
class Take:
    """What was sent, and the truth beside it. ``plucks`` in order of onset, ``sent`` what became of each; ``tempo`` is
    the click's, None at own pace."""

    name: str
    prepared: Prepared
    pickup: Pickup
    tempo: float | None
    person: Person
    plucks: tuple[Plucked, ...]
    sent: tuple[Sent, ...]
    messages: tuple[Message, ...]
    truth: Truth

    @property
    def anchor(self) -> Anchor | None:
        """Where the click stands."""
        return None if self.tempo is None else Anchor(0, FIRST_BEAT_S, self.tempo)


@cache
def drill(name: str, *, arpeggio: bool = False) -> Prepared:
    """A bundled drill on a guitar in standard tuning, under a medium hand; planned once in a process."""
    if arpeggio:
        plan = drill(name).plan
        return prepare(replace(plan, drill=replace(plan.drill, arpeggio=True)))
    return prepare(planned(name))


def drill_names() -> tuple[str, ...]:
    """The course in its order."""
    return bundled_drills()


def practise(
    way: Way, prepared: Prepared, seed: int, *, pickup: Pickup, converter: Converter = FAULTLESS, name: str = ""
) -> Take:
    """Somebody practises a plan. The same seed gives the same take; pickup and converter do not change what is
    played."""
    label = f"{way.name}, {name or prepared.plan.drill.name}, seed {seed}"
    random = Random(label)
    playing = way.playing if isinstance(way.playing, OwnPace | WithClick) else way.playing(random)
    person = draw_person(random)
    scene = Scene(prepared, person, random, FIRST_BEAT_S)
    tempo = None
    if isinstance(playing, WithClick):
        tempo = _tempo(playing, prepared, random)
        Clicked(scene, playing, tempo).play()
    else:
        Playing(scene, playing).play()
    plucks = scene.hands.finish()
    attempts = attempts_of(
        scene.tries, plucks, prepared.targets, timing_ms=prepared.plan.drill.timing_ms,
        tells_strings=pickup.tells_strings,
    )  # fmt: skip
    truth = Truth(
        attempts,
        outcomes(attempts, len(prepared.plan.steps)),
        tuple(sorted(scene.spans, key=lambda span: span.start_s)),
        tuple(scene.quiet),
    )
    messages, sent = convert(plucks, pickup, Random(f"{label}, wire"), converter, prepared.open_strings)
    return Take(label, prepared, pickup, tempo, person, tuple(plucks), sent, messages, truth)


def _tempo(way: WithClick, prepared: Prepared, random: Random) -> float:
    """Whole beats a minute, about the drill's; slower where there are more tones than time."""
    plan = prepared.plan
    tempo = plan.drill.tempo * random.uniform(*way.tempo_share)
    if way.least_note_s:
        beats = min(
            planned.step.length_beats / len(places) for planned, places in zip(plan.steps, prepared.chords, strict=True)
        )
        tempo = min(tempo, 60 * beats / way.least_note_s)
    return float(max(_SLOWEST, int(tempo)))
