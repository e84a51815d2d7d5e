"""Which steps are not played with the click, and what is done instead."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass

from lab.people.scene import AWAY, Scene

#: Steps that are not played, and what is done instead.
Gaps = Callable[[Scene], dict[int, str]]


def no_gaps(_scene: Scene) -> dict[int, str]:
    """Everything is played."""
    return {}


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
