"""Practising with the click: what is struck in each step's time, which steps are not played, what goes wrong."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from typing import Final

from lab.habits import FILL
from lab.hands import Sound
from lab.noodling import NOODLING, noodle, tune_place
from lab.own_pace import SLIP
from lab.scene import AWAY, CHORD, Scene
from lab.slips import draw_slip
from lab.touches import Touch, usual
from listener.hearing.sources.slips import Place
from listener.planning.plan import Plan

#: Of the places that are right and those that are fingered, the ones that a stroke makes sound: of the latter, or none
#: where it strikes a string that is muted.
Part = Callable[[tuple[Place, ...], tuple[Place, ...]], tuple[Place, ...]]


def whole(_right: tuple[Place, ...], places: tuple[Place, ...]) -> tuple[Place, ...]:
    """All of them."""
    return places


@dataclass(frozen=True, slots=True)
class Beat:
    """One gesture of a pattern, so many beats after its step is due. ``fill`` is a tune note above the chord,
    ``fresh`` a gesture from which on a slip can be put right."""

    at_beats: float
    touch: Touch = usual
    part: Part = whole
    fill: bool = False
    fresh: bool = False


#: Scene, step, places -> what is struck in that step, in order.
Pattern = Callable[[Scene, int, tuple[Place, ...]], list[Beat]]
#: Steps that are not played, and what is done instead.
Gaps = Callable[[Scene], dict[int, str]]


def once(_scene: Scene, _step: int, _places: tuple[Place, ...]) -> list[Beat]:
    """One stroke a chord; a slip may be put right half-way through."""
    return [Beat(0.0)]


def no_gaps(_scene: Scene) -> dict[int, str]:
    """Everything is played."""
    return {}


@dataclass(frozen=True)
class WithClick:
    """One way. ``tempo_share`` of the drill's tempo; ``swing`` is where in a beat its second half comes; ``push_ms``
    how early a chord is (drawn for the share ``push_share`` of them, in whole eighths where ``push_eighth``);
    ``late_share`` of the chords come 130 to 190 ms late, as with the program's own simulated player."""

    pattern: Pattern = once
    slip_share: float = 0.0
    right_share: float = 0.5
    gaps: Gaps = no_gaps
    tempo_share: tuple[float, float] = (0.75, 1.15)
    swing: tuple[float, float] = (0.5, 0.5)
    push_share: float = 0.0
    push_eighth: bool = False
    late_share: float = 0.0
    least_note_s: float = 0.0


#: Pushed chords are this early (ms); never within 12 ms of what the drill forgives, where a millisecond decides.
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
        off_s = self._off_s(step)
        due_s = self.due_s(step)
        #: Places that the attempt still lacks; None before it.
        lacking: set[Place] | None = None
        fill_pitch = None
        for number, beat in enumerate(beats):
            at_s = due_s + self._seconds(beat.at_beats) + self._wobble_s()
            if number == 0:
                at_s += off_s
            at_s = max(at_s, self._latest_s + 0.03, 0.0)
            if beat.fill:
                fill_pitch = self._fill(step, places, at_s, fill_pitch)
                continue
            if beat is mend:
                places, lacking = right, None
            part = beat.part(right, places)
            if not part:
                continue
            sounds = beat.touch(scene, part, self._beat_s * subdivision(scene.plan))
            if lacking is None:
                doing = CHORD if places is right else SLIP
                scene.attempt(step, sounds, at_s, places, due_s=due_s, doing=doing)
                lacking = set(places)
            elif lacking & set(part):
                scene.add(step, sounds, at_s)
            else:
                scene.again(step, sounds, at_s)
            lacking -= set(part)
            self._latest_s = at_s + max(sound.delay_s for sound in sounds)

    def _slip(self, step: int) -> tuple[Place, ...] | None:
        scene = self.scene
        return draw_slip(
            scene.chords[step], scene.prepared.open_strings, scene.random, lambda places: scene.would_hit(step, places)
        )

    def _mend(self, beats: Sequence[Beat], step: int) -> Beat | None:
        """The gesture from which on it is right: one that begins afresh; after a single stroke one half-way."""
        length = self.scene.plan.steps[step].step.length_beats
        fresh = [beat for beat in beats if beat.fresh and beat.at_beats * self._beat_s > 0.4]
        if fresh:
            return self.scene.random.choice(fresh)
        half = length / 2
        return Beat(half, beats[0].touch) if len(beats) == 1 and half * self._beat_s >= 0.6 else None

    def _off_s(self, step: int) -> float:
        """How much before (-) or after (+) the click a chord is meant or happens to be."""
        scene, way, random = self.scene, self._way, self.scene.random
        drawn = random.random()
        if drawn < way.push_share and step:
            room_s = self.due_s(step) - self.due_s(step - 1)
            eighth_s = subdivision(scene.plan) * self._beat_s
            if way.push_eighth:
                return -eighth_s if eighth_s <= 0.5 * room_s else 0.0
            early_ms = random.uniform(*_PUSH_MS)
            forgiven_ms = scene.plan.drill.timing_ms
            if abs(early_ms - forgiven_ms) < 40:
                # The person's own wobble must not decide.
                early_ms = forgiven_ms + (40 if early_ms > forgiven_ms else -40)
            return -min(early_ms / 1000, 0.4 * room_s)
        if drawn > 1 - way.late_share:
            return random.uniform(*scene.person.player.late_ms) / 1000
        return 0.0

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

    def _fill(self, step: int, places: tuple[Place, ...], at_s: float, last: int | None) -> int | None:
        place = tune_place(self.scene, places, last)
        if place is None:
            return last
        self.scene.again(step, [Sound(place, 0.0)], at_s, doing=FILL)
        self._latest_s = at_s
        return place[2]


# Steps that are not played -----------------------------------------------------------------------------------


def _bars(scene: Scene, first: int, bars: int) -> list[int]:
    """The steps of so many bars from the one that this step begins in."""
    beats = scene.plan.drill.meter[0]
    start = scene.plan.steps[first].step.start_beats // beats
    return [
        planned.step.index
        for planned in scene.plan.steps
        if planned.step.index >= first and planned.step.start_beats // beats < start + bars
    ]


@dataclass(frozen=True, slots=True)
class Dropped:
    """So many single chords."""

    count: tuple[int, int] = (2, 3)

    def __call__(self, scene: Scene) -> dict[int, str]:
        """Anywhere."""
        steps = len(scene.plan.steps)
        count = min(scene.random.randint(*self.count), steps // 3)
        return dict.fromkeys(sorted(scene.random.sample(range(steps), count)), AWAY)


@dataclass(frozen=True, slots=True)
class Bars:
    """Some bars in the middle: hands off, or ``doing`` something else."""

    count: tuple[int, int] = (2, 4)
    doing: str = AWAY

    def __call__(self, scene: Scene) -> dict[int, str]:
        """And back in."""
        return dict.fromkeys(_bars(scene, scene.middle(), scene.random.randint(*self.count)), self.doing)


@dataclass(frozen=True, slots=True)
class LateStart:
    """Comes in after so many bars."""

    count: tuple[int, int] = (1, 2)

    def __call__(self, scene: Scene) -> dict[int, str]:
        """From the top."""
        return dict.fromkeys(_bars(scene, 0, scene.random.randint(*self.count)), AWAY)


def for_good(scene: Scene) -> dict[int, str]:
    """Stops somewhere in the middle, while the click goes on."""
    return dict.fromkeys(range(scene.middle(), len(scene.plan.steps)), AWAY)
