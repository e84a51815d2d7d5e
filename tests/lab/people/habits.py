"""What people do before and after a chord at their own pace. A habit is called for every chord that is played."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from lab.people.hands import Sound
from lab.people.noodling import NOODLING, STRAY, leading, noodle, tune_place, tune_up
from lab.people.scene import Scene
from lab.people.slips import SMALL, draw_slip
from lab.people.touches import Touch, usual
from listener.simulation.slips import Place

#: A habit is told the step that is played next (before) or was just struck (after).
Habit = Callable[[Scene, int], None]

TRYING: Final = "trying the grip"
FILL: Final = "fill"
ANOTHER: Final = "another chord"
LEAVING: Final = "hand leaves"
BASS_RUN: Final = "bass run"


@dataclass(frozen=True, slots=True)
class Once:
    """This habit at one step somewhere in the middle."""

    habit: Habit

    def __call__(self, scene: Scene, step: int) -> None:
        """Before or after that step."""
        if scene.once(self, scene.middle) == step:
            scene.happened(self)
            self.habit(scene, step)


@dataclass(frozen=True, slots=True)
class Sometimes:
    """This habit with a chance, for every chord."""

    share: float
    habit: Habit

    def __call__(self, scene: Scene, step: int) -> None:
        """Drawn anew each time."""
        if scene.random.random() < self.share:
            self.habit(scene, step)


# Before a chord ----------------------------------------------------------------------------------------------


@dataclass(frozen=True, slots=True)
class Silence:
    """Hands off."""

    seconds: tuple[float, float]

    def __call__(self, scene: Scene, _step: int) -> None:
        """Nothing sounds."""
        scene.silence(scene.pause(*self.seconds))


@dataclass(frozen=True, slots=True)
class Noodling:
    """Something else for a while."""

    seconds: tuple[float, float] = (5.0, 9.0)

    def __call__(self, scene: Scene, _step: int) -> None:
        """And then a breath."""
        start_s = scene.now_s + scene.pause(0.0, 0.8)
        end_s = noodle(scene, start_s, scene.pause(*self.seconds))
        scene.hands.damp(end_s)
        scene.be_at(end_s, (), NOODLING)
        scene.be_away(start_s, end_s)
        scene.now_s = end_s + scene.pause(0.3, 2.0)


def tuning(scene: Scene, _step: int) -> None:
    """Before the start."""
    scene.now_s = tune_up(scene, scene.now_s)


@dataclass(frozen=True, slots=True)
class Trying:
    """The grip string by string, one note at a time; with the chance ``wrong_share`` one of them is wrong at first;
    with the chance ``some_share`` not all strings."""

    gap_s: tuple[float, float] = (0.25, 0.8)
    wrong_share: float = 0.3
    some_share: float = 0.3

    def __call__(self, scene: Scene, step: int) -> None:
        """Then a pause, and the chord can be played."""
        random = scene.random
        scene.leave()
        at_s = scene.now_s + scene.pause(0.0, 0.5)
        scene.hands.damp(at_s - 0.05)
        ordered = sorted(scene.chords[step], key=lambda place: -place[0])
        if random.random() < self.some_share and len(ordered) > 2:
            ordered = ordered[: random.randint(2, len(ordered) - 1)]
        if random.random() < 0.2:
            ordered.reverse()
        wrong = random.randrange(len(ordered)) if random.random() < self.wrong_share else None
        for number, (string, fret, pitch) in enumerate(ordered):
            if number == wrong:
                away = random.choice([away for away in (-2, -1, 1, 2) if fret + away >= 0])
                scene.again(step, [Sound((string, fret + away, pitch + away), 0.0)], at_s, doing=TRYING)
                at_s += random.uniform(*self.gap_s)
            scene.again(step, [Sound((string, fret, pitch), 0.0)], at_s, doing=TRYING)
            at_s += random.uniform(*self.gap_s)
        if random.random() < 0.6:
            scene.hands.damp(at_s)
        scene.now_s = at_s + scene.pause(0.3, 1.2)


@dataclass(frozen=True, slots=True)
class Hesitating:
    """The change is looked for: two tones or more of the chord together, a pause, and then all of it. See
    :mod:`lab.people.truth` for why that is an attempt."""

    pause_s: tuple[float, float] = (0.5, 2.0)

    def __call__(self, scene: Scene, step: int) -> None:
        """Chords of two tones cannot be looked for like this."""
        places = scene.chords[step]
        partial = [place for place in places if scene.random.random() < 0.6][: len(places) - 1]
        if len(partial) < 2 or scene.would_hit(step, partial):
            return
        sounds = usual(scene, partial, 1.0)
        scene.attempt(step, sounds, scene.now_s, partial)
        scene.now_s += sounds[-1].delay_s + scene.pause(*self.pause_s)


@dataclass(frozen=True, slots=True)
class WrongChord:
    """Another chord by mistake, and then, when that is heard, the right one."""

    places: Callable[[Scene], tuple[Place, ...]]
    touch: Touch = usual

    def __call__(self, scene: Scene, step: int) -> None:
        """Where one can be found that would not be right. The chord that was just struck would be that one again."""
        for _ in range(12):
            places = self.places(scene)
            if not scene.would_hit(step, places) and not scene.is_again(places):
                sounds = self.touch(scene, places, 1.0)
                scene.attempt(step, sounds, scene.now_s, places, doing=ANOTHER)
                scene.now_s += sounds[-1].delay_s + scene.pause(0.6, 2.5)
                return


def of_the_drill(scene: Scene) -> tuple[Place, ...]:
    """Any chord of this drill."""
    return scene.random.choice(scene.chords)


def stray(scene: Scene, step: int) -> None:
    """An open string is brushed before the next chord, or between two."""
    random, opens = scene.random, scene.prepared.open_strings
    string = random.randint(1, len(opens))
    at_s = max(scene.free_s + 0.15, scene.now_s - scene.pause(0.0, 0.3))
    near = {step, step - 1} if step else {step}
    made = scene.aside([Sound((string, 0, opens[string - 1]), 0.0, softness=random.choice((0, 10, 25)))], at_s, STRAY,
                       near)  # fmt: skip
    if random.random() < 0.5:
        made[0].end_s = at_s + random.uniform(0.05, 0.3)
    scene.now_s = at_s + scene.pause(0.15, 0.7)


# After a chord -----------------------------------------------------------------------------------------------


def stray_after(scene: Scene, step: int) -> None:
    """An open string that the chord does not need is brushed while it rings."""
    random, opens = scene.random, scene.prepared.open_strings
    used = {string for string, _, _ in scene.chords[step]}
    free = [string for string in range(1, len(opens) + 1) if string not in used]
    if free:
        string = random.choice(free)
        at_s = scene.free_s + scene.pause(0.15, 0.6)
        scene.aside([Sound((string, 0, opens[string - 1]), 0.0, softness=random.choice((0, 10, 25)))], at_s, STRAY,
                    {step})  # fmt: skip
        scene.then_not_before(at_s)


@dataclass(frozen=True, slots=True)
class Again:
    """The same chord struck so many times more; with the chance ``slip_share`` a later round goes wrong, which is a
    remark and no attempt."""

    times: tuple[int, int] = (1, 4)
    gap_s: tuple[float, float] = (0.25, 0.9)
    slip_share: float = 0.05
    touch: Touch = usual

    def __call__(self, scene: Scene, step: int) -> None:
        """Fairly evenly, as strums are."""
        random = scene.random
        gap_s = random.uniform(*self.gap_s)
        at_s = scene.free_s
        for _ in range(random.randint(*self.times)):
            at_s += gap_s * random.uniform(0.9, 1.1)
            places = scene.struck
            if random.random() < self.slip_share:
                slip = draw_slip(
                    places, scene.prepared.open_strings, random, lambda p: scene.would_hit(step, p), kinds=SMALL
                )
                places = slip or places
            sounds = self.touch(scene, places, gap_s)
            scene.again(step, sounds, at_s)
            at_s += sounds[-1].delay_s
        scene.then_not_before(at_s)


def one_again(scene: Scene, step: int) -> None:
    """A string that did not speak well is plucked once more by itself."""
    at_s = scene.free_s + scene.pause(0.2, 0.7)
    scene.again(step, [Sound(scene.random.choice(scene.struck), 0.0)], at_s)
    scene.then_not_before(at_s)


def hand_leaves(scene: Scene, step: int) -> None:
    """Where a finger leaves a string, that string sounds open, softly, until it is needed or a little while."""
    random, opens = scene.random, scene.prepared.open_strings
    fretted = [string for string, fret, _ in scene.struck if fret]
    if not fretted:
        return
    at_s = max(scene.free_s + 0.1, scene.next_s - random.uniform(0.06, 0.3))
    strings = random.sample(fretted, min(len(fretted), random.choice((1, 1, 2))))
    sounds = [Sound((string, 0, opens[string - 1]), random.uniform(0.0, 0.03), softness=35) for string in strings]
    for pluck in scene.aside(sounds, at_s, LEAVING, {step, step + 1}):
        pluck.end_s = pluck.onset_s + random.uniform(0.05, 0.4)


@dataclass(frozen=True, slots=True)
class BassRun:
    """One to three single low notes that lead to the bass of the next chord, by steps from below or above."""

    count: tuple[int, int] = (1, 3)
    gap_s: tuple[float, float] = (0.2, 0.6)

    def __call__(self, scene: Scene, step: int) -> None:
        """The last of them a step from where they lead."""
        random = scene.random
        if step + 1 >= len(scene.chords):
            return
        places = leading(scene, step + 1, random.randint(*self.count))
        gap_s = random.uniform(*self.gap_s)
        at_s = max(scene.free_s + gap_s, scene.next_s - gap_s * len(places))
        for place in places:
            scene.aside([Sound(place, 0.0)], at_s, BASS_RUN, {step, step + 1})
            scene.free_s = at_s
            at_s += gap_s * random.uniform(0.95, 1.05)
        scene.next_s = max(scene.next_s, at_s)


@dataclass(frozen=True, slots=True)
class TuneNotes:
    """A note or two above the ringing chord."""

    count: tuple[int, int] = (1, 2)
    gap_s: tuple[float, float] = (0.25, 0.9)

    def __call__(self, scene: Scene, step: int) -> None:
        """One after the other."""
        at_s, last = scene.free_s, None
        for _ in range(scene.random.randint(*self.count)):
            at_s += scene.pause(*self.gap_s)
            place = tune_place(scene, scene.chords[step], last)
            if place is None:
                break
            scene.again(step, [Sound(place, 0.0)], at_s, doing=FILL)
            last = place[2]
        scene.then_not_before(at_s)
