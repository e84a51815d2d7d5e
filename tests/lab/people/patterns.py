"""What is struck with the click: strums, picking, tune notes above, bass and chord."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from lab.people.habits import BASS_RUN, FILL
from lab.people.hands import Sound
from lab.people.noodling import STRAY, leading, tune_place
from lab.people.scene import Scene
from lab.people.touches import ORDERS, Touch, down, plucked, up, usual
from lab.people.with_click import Beat, Part, Pattern, subdivision, top, whole
from listener.simulation.slips import Place

CHUCK: Final = "chuck"


def _length(scene: Scene, step: int) -> float:
    return scene.plan.steps[step].step.length_beats


def _slots(scene: Scene, step: int, each: float | None = None) -> list[float]:
    """Beats within a step on which eighths fall, the first on its start."""
    each = subdivision(scene.plan) if each is None else each
    count = max(1, int(_length(scene, step) / each + 1e-6))
    return [number * each for number in range(count)]


@dataclass(frozen=True, slots=True)
class Eighths:
    """Down on the beat, up between. ``top_only``: up strokes reach only the highest three or four strings;
    ``open_last``: the last up stroke of a chord sounds open strings, while the hand is on its way."""

    top_only: bool = False
    open_last: bool = False
    miss_share: float = 0.0

    def __call__(self, scene: Scene, step: int, _places: tuple[Place, ...]) -> list[Beat]:
        """All eighths; each stroke but the first is left out with the chance ``miss_share``."""
        slots = _slots(scene, step)
        beats = []
        for number, at in enumerate(slots):
            if number and scene.random.random() < self.miss_share:
                continue
            upward = number % 2 == 1
            part: Part = top(scene.random.choice((3, 4))) if upward and self.top_only else whole
            if upward and self.open_last and number == len(slots) - 1:
                part = _opened(scene)
            beats.append(Beat(at, up if upward else down, part, fresh=not upward))
        return beats


def _opened(scene: Scene) -> Part:
    opens = scene.prepared.open_strings
    count = scene.random.choice((3, 4))

    def part(_right: tuple[Place, ...], _places: tuple[Place, ...]) -> tuple[Place, ...]:
        return tuple((string, 0, opens[string - 1]) for string in range(1, min(count, len(opens)) + 1))

    return part


#: Strums of a bar in eighths: D whole and down, u the upper strings and up, U all of them and up (common practice).
_RHYTHMS: Final = {
    8: ("D-Du-uDu", "D-D-D-Du", "D--uD-Du", "Du-uDu-u", "D-u--uD-", "D--U--D-", "DuDuD-Du", "D-Du-u-u"),
    6: ("D-DuDu", "D--uD-", "D-D-Du", "D-uD-u"),
}


class Syncopated:
    """One rhythm for a take, a bar long; a chord is always struck when it is due."""

    def __call__(self, scene: Scene, step: int, _places: tuple[Place, ...]) -> list[Beat]:
        """The rhythm goes on from bar to bar, wherever a step begins in it."""
        each = subdivision(scene.plan)
        bar = round(scene.plan.drill.meter[0] / each)
        rhythms = _RHYTHMS.get(bar, ("D" + "-D" * bar,))
        rhythm = rhythms[scene.once("rhythm", lambda: scene.random.randrange(len(rhythms)))]
        start = round(scene.plan.steps[step].step.start_beats / each)
        beats = []
        for number, at in enumerate(_slots(scene, step)):
            stroke = rhythm[(start + number) % len(rhythm)]
            if number == 0 and stroke in "-u":
                stroke = "D"
            if stroke != "-":
                touch: Touch = down if stroke == "D" else up
                part: Part = top(3) if stroke == "u" else whole
                beats.append(Beat(at, touch, part, fresh=stroke == "D"))
        return beats


def _low_to_high(places: tuple[Place, ...]) -> list[Place]:
    return sorted(places, key=lambda place: (place[2], -place[0]))


def _single(order: Sequence[int], index: int) -> Part:
    """The string that this order has at this number; orders are of places low to high. A finger that landed on another
    string takes the picking hand with it, a string too many is brushed with the first; another shape altogether is
    picked in its own order."""

    def part(right: tuple[Place, ...], places: tuple[Place, ...]) -> tuple[Place, ...]:
        meant = _low_to_high(right)[order[index]][0]
        by_string = {place[0]: place for place in places}
        strings = {place[0] for place in right}
        if 2 * len(strings & set(by_string)) < len(strings):
            low = _low_to_high(places)
            return (low[order[index] % len(low)],)
        strayed = tuple(place for place in places if place[0] not in strings)
        if meant not in by_string:
            return strayed[:1]
        along = strayed if index == 0 and len(places) > len(right) else ()
        return (by_string[meant], *along)

    return part


def _picking(scene: Scene, step: int, order: Sequence[int], notes: int) -> list[Beat]:
    """One string on every eighth, or as much quicker as the step needs for all its tones."""
    each = subdivision(scene.plan)
    while int(_length(scene, step) / each + 1e-6) < notes:
        each /= 2
    return [
        Beat(at, plucked, _single(order, number % len(order)), fresh=number % len(order) == 0)
        for number, at in enumerate(_slots(scene, step, each))
    ]


class Ringing:
    """Picked from the bass: up, or up and down again, or bass and the others from the top; one order for a take."""

    def __call__(self, scene: Scene, step: int, places: tuple[Place, ...]) -> list[Beat]:
        """In eighths."""
        notes = len(places)
        rising = list(range(notes))
        orders = (rising, rising + rising[-2:0:-1], [0, *rising[:0:-1]])
        return _picking(scene, step, orders[scene.once("order", lambda: scene.random.randrange(3))], notes)


class Fingers:
    """p i m a: the thumb on the bass, a finger on each of the upper strings; of larger chords the thumb has the
    strings between as well, first."""

    def __call__(self, scene: Scene, step: int, places: tuple[Place, ...]) -> list[Beat]:
        """p i m a, p i m a m i, or p a m i; one of them for a take."""
        notes = len(places)
        rising = list(range(notes))
        patterns = (rising, rising + rising[-2:0:-1], [0, *rising[:0:-1]], [0, *rising[2:], *rising[1:2]])
        return _picking(scene, step, patterns[scene.once("order", lambda: scene.random.randrange(4))], notes)


def tune_note(scene: Scene, step: int, _places: tuple[Place, ...], at_s: float) -> None:
    """One above the chord as it is meant (a tone that did not come out is no tune note), near the last one."""
    place = tune_place(scene, scene.chords[step], scene.tune)
    if place is not None:
        scene.again(step, [Sound(place, 0.0)], at_s, doing=FILL)
        scene.tune = place[2]


@dataclass(frozen=True, slots=True)
class Melodic:
    """The chord, and above it one or two tune notes on later eighths."""

    fills: tuple[int, int] = (1, 2)

    def __call__(self, scene: Scene, step: int, _places: tuple[Place, ...]) -> list[Beat]:
        """Short steps have fewer."""
        later = _slots(scene, step)[1:]
        count = min(len(later), scene.random.randint(*self.fills))
        return [
            Beat(0.0, usual),
            *(Beat(at, aside=tune_note) for at in sorted(scene.random.sample(later, count))),
        ]


class BassAndChord:
    """The bass on the beat, the others on the next, and so on to the end of the step; in short steps all at once."""

    def __call__(self, scene: Scene, step: int, places: tuple[Place, ...]) -> list[Beat]:
        """Beat by beat."""
        if _length(scene, step) < 2 or len(places) < 2:
            return [Beat(0.0, usual)]
        beats = []
        for number in range(int(_length(scene, step))):
            part: Part = _rest if number % 2 else _bass
            beats.append(Beat(float(number), usual, part, fresh=number % 2 == 0))
        return beats


def _bass(_right: tuple[Place, ...], places: tuple[Place, ...]) -> tuple[Place, ...]:
    return (max(places),)


def _rest(_right: tuple[Place, ...], places: tuple[Place, ...]) -> tuple[Place, ...]:
    return tuple(sorted(places)[:-1])


@dataclass(frozen=True, slots=True)
class OneByOne:
    """An arpeggio that fills its step evenly, as the drill asks."""

    order: str = "up"

    def __call__(self, scene: Scene, step: int, places: tuple[Place, ...]) -> list[Beat]:
        """Low to high."""
        order = [places.index(place) for place in ORDERS[self.order](list(places))]
        each = _length(scene, step) / len(places)
        return [Beat(number * each, plucked, _single(order, number)) for number in range(len(places))]


@dataclass(frozen=True, slots=True)
class Touched:
    """One stroke a chord, with this touch."""

    touch: Touch

    def __call__(self, _scene: Scene, _step: int, _places: tuple[Place, ...]) -> list[Beat]:
        """When it is due."""
        return [Beat(0.0, self.touch)]


def chuck(scene: Scene, step: int, places: tuple[Place, ...], at_s: float) -> None:
    """The strings are muted with the left hand and struck: the chord ends, and a pickup may take some of the noise for
    short soft notes."""
    random = scene.random
    scene.hands.damp(at_s - 0.03)
    noisy = random.sample(list(places), min(len(places), random.choice((0, 0, 1, 2))))
    sounds = [
        Sound((string, fret, pitch + random.choice((0, 12, 19))), 0.004 * number, softness=40)
        for number, (string, fret, pitch) in enumerate(noisy)
    ]
    for pluck in scene.again(step, sounds, at_s, doing=CHUCK):
        pluck.end_s = pluck.onset_s + random.uniform(0.025, 0.07)


class Chucked:
    """Short chords on the beat, and muted strings struck on every second one (of longer chords)."""

    def __call__(self, scene: Scene, step: int, _places: tuple[Place, ...]) -> list[Beat]:
        """The chord on the first beat and on every second one after it."""
        beats = range(max(1, int(_length(scene, step))))
        return [Beat(float(at), aside=chuck) if at % 2 else Beat(float(at), down, fresh=True) for at in beats]


def stray_string(scene: Scene, step: int, places: tuple[Place, ...], at_s: float) -> None:
    """An open string that the chord does not need is brushed."""
    used, opens = {string for string, _, _ in places}, scene.prepared.open_strings
    free = [string for string in range(1, len(opens) + 1) if string not in used]
    if free:
        string = scene.random.choice(free)
        softness = scene.random.choice((0, 10, 25))
        scene.aside([Sound((string, 0, opens[string - 1]), 0.0, softness=softness)], at_s, STRAY, {step})


@dataclass(frozen=True, slots=True)
class Led:
    """Another pattern, in which for ``share`` of the chords one or two bass notes on the last eighths (quicker in short
    steps) lead to the next chord."""

    pattern: Pattern
    share: float = 0.5

    def __call__(self, scene: Scene, step: int, places: tuple[Place, ...]) -> list[Beat]:
        """They stand in place of what the pattern has there."""
        beats = self.pattern(scene, step, places)
        if step + 1 >= len(scene.chords) or scene.random.random() >= self.share:
            return beats
        each = min(subdivision(scene.plan), _length(scene, step) / 4)
        notes = leading(scene, step + 1, scene.random.choice((1, 2)))
        start = _length(scene, step) - each * len(notes)
        led = [
            Beat(start + each * number, aside=_LedNote(place, frozenset({step, step + 1})))
            for number, place in enumerate(notes)
        ]
        return [*(beat for beat in beats if beat.at_beats < start - 0.01), *led]


@dataclass(frozen=True, slots=True)
class _LedNote:
    place: Place
    steps: frozenset[int]

    def __call__(self, scene: Scene, _step: int, _places: tuple[Place, ...], at_s: float) -> None:
        scene.aside([Sound(self.place, 0.0)], at_s, BASS_RUN, self.steps)


@dataclass(frozen=True, slots=True)
class Strayed:
    """Another pattern, in which for ``share`` of the chords an open string is brushed, between two strokes."""

    pattern: Pattern
    share: float = 0.2

    def __call__(self, scene: Scene, step: int, places: tuple[Place, ...]) -> list[Beat]:
        """A third of the way from one to the next."""
        beats = self.pattern(scene, step, places)
        if scene.random.random() >= self.share:
            return beats
        number = scene.random.randrange(len(beats))
        until = beats[number + 1].at_beats if number + 1 < len(beats) else _length(scene, step)
        at = beats[number].at_beats + (until - beats[number].at_beats) * scene.random.uniform(0.3, 0.7)
        return [*beats[: number + 1], Beat(at, aside=stray_string), *beats[number + 1 :]]
