"""Practising with the click: what is struck in each step's time, which steps are not played, what goes wrong."""

from __future__ import annotations

import math
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from random import Random
from typing import Final

from lab.people.gaps import Gaps, no_gaps
from lab.people.noodling import NOODLING, noodle
from lab.people.own_pace import SLIP
from lab.people.scene import CHORD, Scene
from lab.people.slips import draw_slip
from lab.people.touches import Touch, down, up, usual
from listener.planning.plan import Plan
from listener.simulation.slips import Place

#: Of the places that are right and those that are fingered, the ones that a stroke makes sound: of the latter, or none
#: where it strikes a string that is muted.
Part = Callable[[tuple[Place, ...], tuple[Place, ...]], tuple[Place, ...]]


def whole(_right: tuple[Place, ...], places: tuple[Place, ...]) -> tuple[Place, ...]:
    """All of them."""
    return places


#: Scene, step, the places that are fingered, when: something besides the chord.
Aside = Callable[[Scene, int, tuple[Place, ...], float], None]


@dataclass(frozen=True, slots=True)
class Beat:
    """One gesture of a pattern, so many beats after its step is due. ``fresh``: from here on a slip can be put right;
    ``aside``: it is no stroke of the chord, but this."""

    at_beats: float
    touch: Touch = usual
    part: Part = whole
    fresh: bool = False
    aside: Aside | None = None


#: Scene, step, places -> what is struck in that step, in order.
Pattern = Callable[[Scene, int, tuple[Place, ...]], list[Beat]]


def once(_scene: Scene, _step: int, _places: tuple[Place, ...]) -> list[Beat]:
    """One stroke a chord; a slip may be put right half-way through."""
    return [Beat(0.0)]


@dataclass(frozen=True)
class WithClick:
    """One way. ``slip_share`` of the chords go wrong, ``right_share`` of those are put right in their own time.
    ``tempo_share`` of the drill's tempo, or so slow that each tone has ``least_note_s``; ``swing`` is where in a beat
    its second half comes. ``push_share`` of the chords are early, by an eighth (``push_eighth``) or a little;
    ``late_share`` come 130 to 190 ms late, as with the program's own simulated player. ``lost`` chords in a row are
    played behind the click, a beat where there is room."""

    pattern: Pattern = once
    slip_share: float = 0.0
    right_share: float = 0.5
    gaps: Gaps = no_gaps
    tempo_share: tuple[float, float] = (0.75, 1.15)
    swing: tuple[float, float] = (0.5, 0.5)
    push_share: float = 0.0
    push_eighth: bool = False
    late_share: float = 0.0
    lost: tuple[int, int] | None = None
    least_note_s: float = 0.0


#: Pushed chords are this early (ms); no chord is within 12 ms of what the drill forgives.
_PUSH_MS: Final = (20.0, 170.0)
_TOO_NEAR_MS: Final = 12.0


def subdivision(plan: Plan) -> float:
    """Of a beat, in which strums and picking go: eighths."""
    return 1.0 if plan.drill.meter[1] == 8 else 0.5


class Clicked:
    """One take with the click."""

    def __init__(self, scene: Scene, way: WithClick, tempo: float) -> None:
        self.scene = scene
        self._way = way
        self._beat_s = 60.0 / tempo
        self._start_s = scene.now_s
        self._swing = scene.random.uniform(*way.swing)
        self._gaps = way.gaps(scene)
        self._latest_s = 0.0
        steps = range(len(scene.plan.steps))
        #: How much before the click each chord is meant, and how far behind it is played, in seconds.
        self._early = [self._early_s(step) for step in steps]
        self._behind = self._lost()

    def due_s(self, step: int) -> float:
        """By the click."""
        first = self.scene.plan.steps[0].step.start_beats
        return self._start_s + (self.scene.plan.steps[step].step.start_beats - first) * self._beat_s

    def _ends_s(self, step: int) -> float:
        return self.due_s(step) + self.scene.plan.steps[step].step.length_beats * self._beat_s

    def play(self) -> None:
        """To the end, or until the player stops."""
        scene, step, steps = self.scene, 0, len(self.scene.plan.steps)
        while step < steps:
            if step in self._gaps:
                step = self._gap(step)
                continue
            self._step(step)
            step += 1
        scene.hands.damp(self._ends_s(steps - 1))

    def _gap(self, step: int) -> int:
        """Steps that are not played: the first one after them."""
        scene, doing, last = self.scene, self._gaps[step], step
        while self._gaps.get(last + 1) == doing:
            last += 1
        start_s, end_s = self.due_s(step), self._ends_s(last)
        if doing == NOODLING:
            until_s = noodle(scene, max(start_s, self._latest_s + 0.2), max(0.5, end_s - start_s - 1.2))
            scene.hands.damp(until_s)
            self._latest_s = until_s
        else:
            scene.hands.damp(start_s + scene.pause(0.0, 0.3))
        scene.be_at(max(start_s, self._latest_s), (), doing)
        scene.be_away(start_s, end_s)
        scene.leave()
        return last + 1

    def _step(self, step: int) -> None:
        scene, way, random = self.scene, self._way, self.scene.random
        right = scene.chords[step]
        slip = self._slip(step) if random.random() < way.slip_share else None
        places = right if slip is None else slip
        beats = way.pattern(scene, step, right)
        mend = self._mend(beats, step) if slip is not None and random.random() < way.right_share else None
        if mend is not None and not any(beat is mend for beat in beats):
            beats = [*beats, mend]
        due_s, early_s = self.due_s(step), self._early[step]
        begins_s = due_s + self._behind.get(step, 0.0)
        until_s = self._until_s(step)
        if early_s > 0.2:
            beats = [_as_pushed(beats[0], random), *beats[1:]]
        #: Places that the attempt still lacks; None before it.
        lacking: set[Place] | None = None
        scene.tune = None
        for number, beat in enumerate(beats):
            at_s = begins_s + self._seconds(beat.at_beats) + self._wobble_s()
            if number == 0:
                at_s = due_s + self._clear(at_s - early_s + self._late_s() - due_s)
            elif at_s > until_s:
                break
            at_s = max(at_s, self._latest_s + 0.03, 0.0)
            if beat.aside is not None:
                beat.aside(scene, step, places, at_s)
                self._latest_s = at_s
                continue
            if beat is mend:
                places, lacking = right, None
            part = beat.part(right, places)
            if not part:
                continue
            sounds = beat.touch(scene, part, self._beat_s * subdivision(scene.plan))
            doing = CHORD if places is right else SLIP
            if lacking is None:
                scene.attempt(step, sounds, at_s, places, due_s=due_s, doing=doing)
                lacking = set(places)
            elif lacking & set(part):
                scene.add(step, sounds, at_s, doing=doing)
            else:
                scene.again(step, sounds, at_s)
            lacking -= set(part)
            self._latest_s = at_s + max(sound.delay_s for sound in sounds)

    def _until_s(self, step: int) -> float:
        """When the hands have to go on, from a chord that is behind the click or to one that is anticipated."""
        if step + 1 == len(self._early) or not (self._behind.get(step) or self._early[step + 1]):
            return math.inf
        return self.due_s(step + 1) + self._behind.get(step + 1, 0.0) - self._early[step + 1] - 0.08

    def _slip(self, step: int) -> tuple[Place, ...] | None:
        scene = self.scene
        return draw_slip(
            scene.chords[step], scene.prepared.open_strings, scene.random, lambda places: scene.would_hit(step, places)
        )

    def _mend(self, beats: Sequence[Beat], step: int) -> Beat | None:
        """The gesture from which on it is right: one that begins afresh; after a single stroke one half-way."""
        length = self.scene.plan.steps[step].step.length_beats
        right = self.scene.chords[step]
        fresh = [
            beat
            for number, beat in enumerate(beats)
            if beat.fresh and beat.at_beats * self._beat_s > 0.4 and _covers(beats[number:], right)
        ]
        if fresh:
            return self.scene.random.choice(fresh)
        half = length / 2
        return Beat(half, beats[0].touch) if len(beats) == 1 and half * self._beat_s >= 0.6 else None

    def _early_s(self, step: int) -> float:
        """How much before the click a chord is meant."""
        scene, way, random = self.scene, self._way, self.scene.random
        if random.random() >= way.push_share or not step:
            return 0.0
        room_s = self.due_s(step) - self.due_s(step - 1)
        if way.push_eighth:
            eighth_s = subdivision(scene.plan) * self._beat_s
            return eighth_s if eighth_s <= 0.5 * room_s else 0.0
        return min(random.uniform(*_PUSH_MS) / 1000, 0.4 * room_s)

    def _late_s(self) -> float:
        """How much after it, by a slip."""
        scene, random = self.scene, self.scene.random
        if random.random() >= self._way.late_share:
            return 0.0
        return random.uniform(*scene.person.player.late_ms) / 1000

    def _clear(self, late_s: float) -> float:
        """Not so near to what the drill forgives that a millisecond would decide."""
        forgiven_s, near_s = self.scene.plan.drill.timing_ms / 1000, _TOO_NEAR_MS / 1000
        away_s = abs(late_s) - forgiven_s
        if abs(away_s) >= near_s:
            return late_s
        clear_s = forgiven_s + (near_s if away_s > 0 else -near_s)
        return clear_s if late_s > 0 else -clear_s

    def _lost(self) -> dict[int, float]:
        """How far behind the click each step is played, in seconds, where it is."""
        way, scene, steps = self._way, self.scene, len(self.scene.plan.steps)
        if way.lost is None:
            return {}
        count = min(scene.random.randint(*way.lost), max(1, steps // 3))
        first = scene.random.randrange(1, max(2, steps - count))
        lengths = [planned.step.length_beats for planned in scene.plan.steps[first : first + count]]
        return dict.fromkeys(range(first, min(steps, first + count)), min(1.0, 0.4 * min(lengths)) * self._beat_s)

    def _wobble_s(self) -> float:
        person, random = self.scene.person, self.scene.random
        wobble_ms = person.drift_ms + random.gauss(0.0, person.player.early_late_sd_ms)
        return max(-45.0, min(45.0, wobble_ms)) / 1000

    def _seconds(self, beats: float) -> float:
        """Swung: the second half of a beat comes late."""
        whole_beats, rest = divmod(beats, 1.0)
        if rest:
            rest = 2 * rest * self._swing if rest <= 0.5 else self._swing + (2 * rest - 1) * (1 - self._swing)
        return (whole_beats + rest) * self._beat_s


def _covers(beats: Sequence[Beat], places: tuple[Place, ...]) -> bool:
    """Whether there is time left for the whole chord."""
    struck = {place for beat in beats if beat.aside is None for place in beat.part(places, places)}
    return struck >= set(places)


def _as_pushed(beat: Beat, random: Random) -> Beat:
    """A chord that is anticipated by an eighth falls on an up stroke, which may reach only the upper strings."""
    drawn = random.random()
    if drawn < 0.5 or beat.touch is not down:
        return beat
    return replace(beat, touch=up, part=beat.part if drawn < 0.75 else top(random.choice((3, 4))))


def top(count: int) -> Part:
    """The highest so many strings of a chord."""

    def part(_right: tuple[Place, ...], places: tuple[Place, ...]) -> tuple[Place, ...]:
        return tuple(sorted(places)[:count])

    return part
