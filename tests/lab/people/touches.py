"""How a chord is sounded: a touch turns places on the neck into the strings' order and delays."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from lab.people.hands import Sound
from lab.people.scene import Scene
from listener.simulation.player import Player, staggered
from listener.simulation.slips import Place

#: Scene, places, seconds to the next chord.
Touch = Callable[[Scene, Sequence[Place], float], list[Sound]]


def _stroke(scene: Scene, places: Sequence[Place], room_s: float, player: Player) -> list[Sound]:
    ordered, delays = staggered(places, room_s, scene.random, player)
    return [Sound(place, delay_s) for place, delay_s in zip(ordered, delays, strict=True)]


def usual(scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
    """As this person does it: small chords plucked, large ones strummed."""
    return _stroke(scene, places, room_s, scene.person.player)


def plucked(scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
    """All strings with the fingers."""
    return _stroke(scene, places, room_s, scene.person.plucking)


def down(scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
    """Strummed from the lowest string."""
    return _stroke(scene, places, room_s, scene.person.downward)


def up(scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
    """Strummed from the highest string."""
    return _stroke(scene, places, room_s, scene.person.upward)


@dataclass(frozen=True, slots=True)
class Rolled:
    """Slowly from string to string, from the lowest or (share ``up_share``) from the highest."""

    gap_s: tuple[float, float] = (0.120, 0.250)
    up_share: float = 0.3
    unevenness: float = 0.15

    def __call__(self, scene: Scene, places: Sequence[Place], _room_s: float) -> list[Sound]:
        """One gap for a chord, each string a little off it."""
        random = scene.random
        ordered = sorted(places, key=lambda place: -place[0])
        if random.random() < self.up_share:
            ordered.reverse()
        gap_s = random.uniform(*self.gap_s)
        return _one_by_one(scene, ordered, gap_s, self.unevenness)


def _one_by_one(scene: Scene, ordered: Sequence[Place], gap_s: float, unevenness: float) -> list[Sound]:
    delay_s, sounds = 0.0, []
    for place in ordered:
        sounds.append(Sound(place, delay_s))
        delay_s += gap_s * max(0.5, scene.random.gauss(1.0, unevenness))
    return sounds


#: Orders of picking, of places low to high: up, down, and the bass first and then from the top.
ORDERS: Final[dict[str, Callable[[list[Place]], list[Place]]]] = {
    "up": lambda low: low,
    "down": lambda low: low[::-1],
    "bass, high, middle": lambda low: [low[0], *low[:0:-1]],
    "bass, middle, high": lambda low: [low[0], *low[2:], *low[1:2]],
}


@dataclass(frozen=True, slots=True)
class Picked:
    """One string at a time, in an order drawn for the chord."""

    gap_s: tuple[float, float] = (0.18, 0.60)
    orders: tuple[str, ...] = tuple(ORDERS)

    def __call__(self, scene: Scene, places: Sequence[Place], _room_s: float) -> list[Sound]:
        """Evenly, but for human unevenness."""
        low = sorted(places, key=lambda place: (place[2], -place[0]))
        ordered = ORDERS[scene.random.choice(self.orders)](low)
        return _one_by_one(scene, ordered, scene.random.uniform(*self.gap_s), 0.08)


@dataclass(frozen=True, slots=True)
class BassFirst:
    """The lowest string, and after ``gap_s`` the others together."""

    gap_s: tuple[float, float] = (0.25, 0.9)

    def __call__(self, scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
        """Chords of one string have no rest."""
        low = sorted(places, key=lambda place: -place[0])
        gap_s = scene.random.uniform(*self.gap_s)
        rest = usual(scene, low[1:], room_s) if len(low) > 1 else []
        return [Sound(low[0], 0.0), *(sound._replace(delay_s=sound.delay_s + gap_s) for sound in rest)]


@dataclass(frozen=True, slots=True)
class FilledUp:
    """Some strings together, and after ``gap_s``, while they ring, those that had not come out."""

    gap_s: tuple[float, float] = (0.35, 1.0)

    def __call__(self, scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
        """At least one of each."""
        random = scene.random
        if len(places) < 3:
            return usual(scene, places, room_s)
        late = random.sample(list(places), random.randint(1, len(places) - 2))
        early = [place for place in places if place not in late]
        gap_s = random.uniform(*self.gap_s)
        rest = usual(scene, late, room_s)
        return [
            *usual(scene, early, room_s),
            *(sound._replace(delay_s=sound.delay_s + gap_s) for sound in rest),
        ]


@dataclass(frozen=True, slots=True)
class Sometimes:
    """This touch with a chance, else the other."""

    share: float
    touch: Touch
    otherwise: Touch = usual

    def __call__(self, scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
        """Drawn for every chord."""
        chosen = self.touch if scene.random.random() < self.share else self.otherwise
        return chosen(scene, places, room_s)


@dataclass(frozen=True, slots=True)
class Ornamented:
    """One tone is hammered on to from a fret or two below, or pulled off to from above, within a seventh of a
    second."""

    share: float = 0.4
    after_s: tuple[float, float] = (0.045, 0.140)
    touch: Touch = usual

    def __call__(self, scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
        """The tone that it begins with is struck with the others; the one that it arrives at is softer."""
        random = scene.random
        sounds = self.touch(scene, places, room_s)
        ways = [
            (number, away)
            for number, sound in enumerate(sounds)
            for away in (-2, -1, 1, 2)
            if (sound.place[1] + away >= 0 if away < 0 else sound.place[1] + away <= 20)
        ]
        if random.random() >= self.share or not ways:
            return sounds
        number, away = random.choice(ways)
        (string, fret, pitch), delay_s, *_ = sounds[number]
        grace = Sound((string, fret + away, pitch + away), delay_s, counts=False)
        arrived = Sound((string, fret, pitch), delay_s + random.uniform(*self.after_s), softness=15)
        return [*sounds[:number], grace, arrived, *sounds[number + 1 :]]


def widened(spread_ms: tuple[float, float]) -> Touch:
    """A lazy strum, so wide."""

    def touch(scene: Scene, places: Sequence[Place], room_s: float) -> list[Sound]:
        player = replace(scene.person.downward, strum_spread_ms=spread_ms)
        return _stroke(scene, places, room_s, player)

    return touch
