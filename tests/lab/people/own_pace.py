"""Practising at one's own pace: the order of the chords, what happens after a slip, how long a chord has."""

from __future__ import annotations

import math
from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from statistics import median
from typing import Final

from lab.people.habits import Habit
from lab.people.scene import CHORD, Scene
from lab.people.slips import draw_slip
from lab.people.touches import Touch, usual
from listener.simulation.slips import Place

#: The steps in the order in which they are played as long as nothing goes wrong.
Route = Callable[[Scene], list[int]]
#: After a slip at a step: may play it again, wrong once more; gives the steps to play before going on.
Reaction = Callable[["Playing", int, tuple[Place, ...]], list[int]]

SLIP: Final = "slip"


@dataclass(frozen=True)
class OwnPace:
    """One way of practising. ``slip_share`` of the steps go wrong the first time, at most ``slips_most`` of them;
    ``chord_s`` is the time for a chord, None as the person likes it."""

    touch: Touch = usual
    slip_share: float = 0.0
    slips_most: int | None = None
    reaction: Reaction | None = None
    start: tuple[Habit, ...] = ()
    before: tuple[Habit, ...] = ()
    after: tuple[Habit, ...] = ()
    end: tuple[Habit, ...] = ()
    route: Route | None = None
    chord_s: tuple[float, float] | None = None


class Playing:
    """One take at own pace."""

    def __init__(self, scene: Scene, way: OwnPace) -> None:
        self.scene = scene
        self._way = way
        random, steps = scene.random, len(scene.plan.steps)
        self._chord_s = scene.person.chord_s if way.chord_s is None else random.uniform(*way.chord_s)
        self._usual_beats = median(planned.step.length_beats for planned in scene.plan.steps)
        slips = [step for step in range(steps) if random.random() < way.slip_share]
        if way.slip_share and not slips:
            slips = [random.randrange(steps)]
        if way.slips_most is not None and len(slips) > way.slips_most:
            slips = random.sample(slips, way.slips_most)
        self._slips = set(slips)

    def play(self) -> None:
        """To the end of the route."""
        scene, way = self.scene, self._way
        for habit in way.start:
            habit(scene, 0)
        todo = deque(range(len(scene.plan.steps)) if way.route is None else way.route(scene))
        while todo:
            step = todo.popleft()
            for habit in way.before:
                habit(scene, step)
            slip = self._slip(step)
            if slip is None:
                self.chord(step, scene.chords[step])
            else:
                self.chord(step, slip, doing=SLIP, fills=False)
                if way.reaction is not None:
                    todo.extendleft(reversed(way.reaction(self, step, slip)))
        for habit in way.end:
            habit(scene, len(scene.plan.steps) - 1)
        scene.hands.damp(scene.now_s)

    def _slip(self, step: int) -> tuple[Place, ...] | None:
        if step not in self._slips:
            return None
        self._slips.discard(step)
        return self.another_slip(step, ())

    def another_slip(self, step: int, unlike: Sequence[tuple[Place, ...]]) -> tuple[Place, ...] | None:
        """Something that goes wrong with this chord; what was struck last would be that once more."""
        scene = self.scene
        return draw_slip(
            scene.chords[step], scene.prepared.open_strings, scene.random,
            lambda places: scene.would_hit(step, places) or scene.is_again(places), unlike=unlike,
        )  # fmt: skip

    def chord(self, step: int, places: tuple[Place, ...], *, doing: str = CHORD, fills: bool = True) -> None:
        """Play this for a step; what comes after a chord comes too, seldom (``fills``) when it went wrong."""
        scene = self.scene
        room_s = self._room_s(step)
        sounds = self._way.touch(scene, places, room_s)
        at_s = scene.now_s
        length_s = max(sound.delay_s for sound in sounds)
        scene.attempt(step, sounds, at_s, places, doing=doing)
        scene.struck, scene.free_s = places, at_s + length_s
        scene.next_s = max(at_s + room_s, scene.free_s + scene.pause(0.3, 0.8))
        if fills or scene.random.random() < 0.25:
            for habit in self._way.after:
                habit(scene, step)
        scene.now_s = scene.next_s

    def _room_s(self, step: int) -> float:
        """Longer chords take longer, though not by as much as is written."""
        scene = self.scene
        length = math.sqrt(scene.plan.steps[step].step.length_beats / self._usual_beats)
        return max(0.35, self._chord_s * length * scene.random.lognormvariate(0.0, scene.person.unevenness))


# What happens after a slip -----------------------------------------------------------------------------------


def again_right(_playing: Playing, step: int, _slip: tuple[Place, ...]) -> list[int]:
    """The same chord once more."""
    return [step]


@dataclass(frozen=True, slots=True)
class MoreSlips:
    """So many more slips, different ones or the same, and then right."""

    times: tuple[int, int]
    same: bool

    def __call__(self, playing: Playing, step: int, slip: tuple[Place, ...]) -> list[int]:
        """Where no other slip can be made, the same."""
        made = [slip]
        for _ in range(playing.scene.random.randint(*self.times)):
            made.append(slip if self.same else playing.another_slip(step, made) or slip)
            playing.chord(step, made[-1], doing=SLIP, fills=False)
        return [step]


def go_on(_playing: Playing, _step: int, _slip: tuple[Place, ...]) -> list[int]:
    """Never mind."""
    return []


def two_back(_playing: Playing, step: int, _slip: tuple[Place, ...]) -> list[int]:
    """Two chords back and on."""
    return list(range(max(0, step - 2), step + 1))


def from_the_top(_playing: Playing, step: int, _slip: tuple[Place, ...]) -> list[int]:
    """Everything again."""
    return list(range(step + 1))


@dataclass(frozen=True, slots=True)
class AnyOf:
    """One of these, drawn for every slip."""

    reactions: tuple[Reaction, ...]

    def __call__(self, playing: Playing, step: int, slip: tuple[Place, ...]) -> list[int]:
        """What happens now."""
        return playing.scene.random.choice(self.reactions)(playing, step, slip)


# Routes ------------------------------------------------------------------------------------------------------


def one_left_out(scene: Scene) -> list[int]:
    """A chord in the middle is skipped."""
    steps = list(range(len(scene.plan.steps)))
    if len(steps) > 2:
        steps.remove(scene.random.randint(1, len(steps) - 2))
    return steps


def passage_left_out(scene: Scene) -> list[int]:
    """Three to eight chords in the middle are skipped: on with the next passage."""
    steps = list(range(len(scene.plan.steps)))
    count = min(scene.random.randint(3, 8), len(steps) // 3)
    start = scene.random.randint(1, max(1, len(steps) - count - 2))
    return steps[:start] + steps[start + count :]


def to_and_fro(scene: Scene) -> list[int]:
    """A change is practised: these two (or three, four) chords two to four times over, though nothing went wrong."""
    steps = list(range(len(scene.plan.steps)))
    count = min(scene.random.randint(2, 4), len(steps))
    start = scene.random.randint(0, len(steps) - count)
    times = scene.random.randint(1, 3)
    return steps[: start + count] + times * steps[start : start + count] + steps[start + count :]


def twice_through(scene: Scene) -> list[int]:
    """To the end, and at once from the top."""
    return 2 * list(range(len(scene.plan.steps)))


def stops_early(scene: Scene) -> list[int]:
    """Enough for today."""
    return list(range(scene.random.randint(1, max(1, (2 * len(scene.plan.steps)) // 3))))
