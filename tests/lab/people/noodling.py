"""What hands do that is no chord of the drill: tune notes, runs, licks, double stops, bits of chords, tuning up."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from typing import Final

from lab.people.hands import Sound
from lab.people.scene import Scene
from listener.simulation.slips import Place

NOODLING: Final = "noodling"
TUNING: Final = "tuning"
STRAY: Final = "stray string"

#: Everyday grips, frets from the lowest string to the highest, None where a string is not played (common practice).
_EVERYDAY: Final = (
    (None, 3, 2, 0, 1, 0), (3, 2, 0, 0, 0, 3), (None, None, 0, 2, 3, 2), (None, 0, 2, 2, 2, 0), (0, 2, 2, 1, 0, 0),
    (None, 0, 2, 2, 1, 0), (0, 2, 2, 0, 0, 0), (None, None, 0, 2, 3, 1), (1, 3, 3, 2, 1, 1), (None, 2, 4, 4, 3, 2),
    (2, 4, 4, 3, 2, 2), (None, 2, 1, 2, 0, 2), (None, None, 0, 2, 1, 2), (None, 0, 2, 0, 1, 0), (4, 6, 6, 5, 4, 4),
)  # fmt: skip


def everyday_grip(scene: Scene) -> tuple[Place, ...]:
    """An open or barred grip that every guitarist knows."""
    frets = scene.random.choice(_EVERYDAY)
    opens = scene.prepared.open_strings
    strings = range(len(frets), 0, -1)
    return tuple(
        (string, fret, opens[string - 1] + fret)
        for string, fret in zip(strings, frets, strict=True)
        if fret is not None and string <= len(opens)
    )


def on_string(scene: Scene, pitch: int, near_fret: int, strings: Sequence[int]) -> Place | None:
    """Where one of these strings has this pitch, the nearest to a fret."""
    opens = scene.prepared.open_strings
    found = [(string, pitch - opens[string - 1], pitch) for string in strings if 0 <= pitch - opens[string - 1] <= 19]
    return min(found, key=lambda place: (abs(place[1] - near_fret), place[0])) if found else None


def tune_place(
    scene: Scene, places: Sequence[Place], last: int | None = None, *, passing: float = 0.15
) -> Place | None:
    """A tune note above a chord that rings, up to nine semitones above its top, on the top string's neighbour side; a
    step from the ``last`` one if there was one. With the chance ``passing`` it need not be of the scale."""
    random = scene.random
    string, fret, top = max(places, key=lambda place: place[2])
    free = [string, *range(1, string)]
    pitches = [pitch for pitch in range(top + 1, top + 10) if pitch % 12 in scene.prepared.scale]
    if random.random() < passing or not pitches:
        pitches = list(range(top + 1, top + 6))
    if last is not None:
        pitches = sorted(pitches, key=lambda pitch: (pitch == last, abs(pitch - last)))[:3]
    return on_string(scene, random.choice(pitches), fret, free)


def leading(scene: Scene, step: int, count: int) -> list[Place]:
    """So many low notes that lead by steps of the scale to the bass of a step's chord, in the order of playing."""
    to, way = min(pitch for _, _, pitch in scene.chords[step]), scene.random.choice((-1, 1))
    pitches = [pitch for pitch in range(to + way, to + 13 * way, way) if pitch % 12 in scene.prepared.scale][:count]
    places = (on_string(scene, pitch, 3, range(len(scene.prepared.open_strings), 3, -1)) for pitch in pitches[::-1])
    return [place for place in places if place is not None]


# Noodling ----------------------------------------------------------------------------------------------------


def noodle(scene: Scene, start_s: float, seconds: float) -> float:
    """Runs, licks, double stops and bits of chords for about so long: when it ends."""
    random = scene.random
    scene.leave()
    scene.hands.damp(start_s - 0.05)
    at_s, end_s = start_s, start_s + seconds
    while at_s < end_s:
        phrase = random.choice(_PHRASES)
        at_s = phrase(scene, at_s, end_s) + random.choice((0.1, 0.3, random.uniform(0.2, 1.0)))
    return min(at_s, end_s + 0.5)


def _low_high(scene: Scene) -> tuple[int, int]:
    """Where on the neck: pitches that lie about a chord of the drill."""
    places = scene.random.choice(scene.chords)
    middle = places[len(places) // 2][2]
    return middle - 7, middle + 16


def _scale(scene: Scene) -> list[int]:
    low, high = _low_high(scene)
    return [pitch for pitch in range(low, high + 1) if pitch % 12 in scene.prepared.scale]


def _single(scene: Scene, pitch: int, at_s: float) -> bool:
    place = on_string(scene, pitch, scene.random.choice((3, 5, 7)), range(1, len(scene.prepared.open_strings) + 1))
    if place is None:
        return False
    scene.hands.damp(at_s + scene.random.uniform(-0.05, 0.04))
    scene.aside([Sound(place, 0.0)], at_s, NOODLING)
    return True


def _run(scene: Scene, at_s: float, end_s: float) -> float:
    """Up or down the scale."""
    random, scale = scene.random, _scale(scene)
    gap_s, index, way = random.uniform(0.09, 0.30), random.randrange(len(scale)), random.choice((-1, 1))
    for _ in range(random.randint(4, 12)):
        if at_s >= end_s:
            break
        _single(scene, scale[index], at_s)
        at_s += gap_s * max(0.6, random.gauss(1.0, 0.08))
        if not 0 <= index + way < len(scale) or random.random() < 0.12:
            way = -way
        index = min(len(scale) - 1, max(0, index + way))
    return at_s


def _lick(scene: Scene, at_s: float, end_s: float) -> float:
    """A few notes with leaps and a rhythm."""
    random, scale = scene.random, _scale(scene)
    for _ in range(random.randint(3, 7)):
        if at_s >= end_s:
            break
        _single(scene, random.choice(scale) + random.choice((0, 0, 0, 0, 1)), at_s)
        at_s += random.choice((0.12, 0.2, 0.2, 0.4, 0.6)) * random.uniform(0.9, 1.1)
    return at_s


def _double_stops(scene: Scene, at_s: float, end_s: float) -> float:
    """Thirds and sixths up or down the scale."""
    random, scale = scene.random, _scale(scene)
    apart, gap_s, index = random.choice((2, 5)), random.uniform(0.2, 0.6), random.randrange(len(scale))
    for _ in range(random.randint(2, 5)):
        low, high = scale[index % len(scale)], scale[min(len(scale) - 1, index % len(scale) + apart)]
        first = on_string(scene, low, 5, range(2, len(scene.prepared.open_strings) + 1))
        if at_s >= end_s or first is None:
            break
        second = on_string(scene, high, first[1], range(1, first[0]))
        scene.hands.damp(at_s - 0.02)
        sounds = [Sound(first, 0.0), *([Sound(second, random.uniform(0.0, 0.02))] if second and high > low else [])]
        scene.aside(sounds, at_s, NOODLING)
        at_s += gap_s
        index += random.choice((-1, 1))
    return at_s


def _bits(scene: Scene, at_s: float, end_s: float) -> float:
    """Two or three strings of some chord, now and then twice."""
    random = scene.random
    places = random.choice(scene.chords) if random.random() < 0.6 else everyday_grip(scene)
    some = random.sample(list(places), min(len(places), random.choice((2, 2, 3))))
    if len(some) == len(places) > 1:
        some.pop()
    for _ in range(random.randint(1, 3)):
        if at_s >= end_s:
            break
        scene.hands.damp(at_s - 0.02)
        delays = sorted(random.uniform(0.0, 0.03) for _ in some)
        sounds = [Sound(place, delay_s) for place, delay_s in zip(some, delays, strict=True)]
        scene.aside(sounds, at_s, NOODLING)
        at_s += random.uniform(0.25, 0.7)
    return at_s


_PHRASES: Final[tuple[Callable[[Scene, float, float], float], ...]] = (_run, _run, _lick, _lick, _double_stops, _bits)


# Tuning up ---------------------------------------------------------------------------------------------------


def tune_up(scene: Scene, start_s: float) -> float:
    """Open strings one by one, some twice, some with their octave or the next string's fifth fret: when it ends."""
    random, opens = scene.random, scene.prepared.open_strings
    at_s = start_s
    strings = list(range(len(opens), 0, -1))
    if random.random() < 0.3:
        strings = random.sample(strings, random.randint(2, len(strings)))
    for string in strings:
        scene.hands.damp(at_s - 0.02)
        for _ in range(random.choice((1, 1, 2, 3))):
            scene.aside([Sound((string, 0, opens[string - 1]), 0.0)], at_s, TUNING)
            at_s += random.uniform(0.5, 2.0)
        drawn = random.random()
        if drawn < 0.25:
            scene.aside([Sound((string, 12, opens[string - 1] + 12), 0.0)], at_s, TUNING)
            at_s += random.uniform(0.6, 1.5)
        elif drawn < 0.45 and string > 1:
            pair = [(string, 5, opens[string - 1] + 5), (string - 1, 0, opens[string - 2])]
            scene.aside([Sound(pair[0], 0.0), Sound(pair[1], random.uniform(0.0, 0.4))], at_s, TUNING)
            at_s += random.uniform(0.8, 1.8)
    scene.hands.damp(at_s - 0.1)
    scene.be_at(at_s, (), TUNING)
    return at_s + random.uniform(0.3, 2.0)
