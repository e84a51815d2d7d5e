"""What a shape and a change cost, note by note and finger by finger: slow, plain, and the judge of the arrays.

Worked out from the words of ``shared/manners.toml`` and of :mod:`listener.planning.routes.hands`, with none of their
code.
"""

from __future__ import annotations

import tomllib
from functools import cache, lru_cache
from itertools import combinations, groupby, pairwise
from pathlib import Path

from listener.drill.drill import Wish
from listener.drill.manners import Weights
from listener.guitar.fingering import Fingering
from listener.music.movement import movement

MANNERS = Path(__file__).parents[2] / "shared" / "manners.toml"
#: Tones that may sound twice without taking the chord over: roots, thirds, fifths, and what is suspended.
_PLAIN = {"1", "b3", "3", "2", "4", "b5", "5", "#5"}


@cache
def manners() -> dict[str, dict[str, dict[str, object]]]:
    """The table as it is written."""
    return tomllib.loads(MANNERS.read_text(encoding="utf-8"))


@cache
def lowest_clear() -> dict[int, int]:
    """For an interval in semitones the lowest bottom note (MIDI) at which it is clear."""
    limits: list[dict[str, int]] = manners()["low_interval_limits"]  # type: ignore[assignment]
    return {limit["semitones"]: limit["midi"] for limit in limits}


@lru_cache(maxsize=1 << 12)  # every route through the same few shapes asks again
def own_cost(shape: Fingering, prices: Weights, wish: Wish | None = None, string_count: int = 6) -> float:
    """What a shape costs by itself; without a wish nobody knows what the ear should mind."""
    counted = amounts(shape, wish, string_count)
    cost = sum(getattr(prices, name) * amount for name, amount in counted.items())
    if any(shape.frets):
        cost += prices.position * abs(_lowest(shape) - prices.low_fret)
        cost += prices.fret * max(0, max(shape.frets) - prices.high_fret)
    return float(cost)


def amounts(shape: Fingering, wish: Wish | None = None, string_count: int = 6) -> dict[str, float]:
    """How much there is of everything that has a price by itself, but for the place on the neck."""
    if wish is None:
        return of_the_hand(shape, string_count)
    return (
        of_the_hand(shape, string_count) | of_the_ear(shape.pitches, wish) | of_the_strings(shape, wish, string_count)
    )


def of_the_hand(shape: Fingering, string_count: int = 6) -> dict[str, float]:
    """Stretch, strain, effort, open strings away from the hand, crossings, and strings that do not sound."""
    hand_over_open = _lowest(shape) if 0 in shape.frets else 0
    row = sorted(zip(shape.strings, shape.frets, strict=True), reverse=True)  # from the lowest string up
    runs = [is_open for is_open, _ in groupby(fret == 0 for _, fret in row)]
    # Each note with what its string sounds open: that says which string is the higher one, on a ukulele too.
    notes = [(note, note - fret) for note, fret in zip(shape.pitches, shape.frets, strict=True)]
    return {
        "stretch": shape.stretch_mm,
        # Nothing up to half of the hand's reach, then in proportion, one at its limit.
        "strain": (shape.strain - 0.5) / 0.5 if shape.strain > 0.5 else 0.0,
        "effort": shape.effort,
        "habit": shape.over_best,
        "open_gap": max(0, hand_over_open - 1),
        "high_open": max(0, hand_over_open - 4),
        "open_inside": sum(runs[1:-1]),
        "crossing": sum(low < high and on > other for (low, on), (high, other) in combinations(notes, 2)),
        "muted": sum(string not in shape.strings for string in range(min(shape.strings), max(shape.strings))),
        "unused": string_count - len(shape.strings),
    }


def of_the_ear(pitches: tuple[int, ...], wish: Wish) -> dict[str, float]:
    """The bass, minor ninths over it, rubs, mud, and tones that should not be doubled."""
    chord, bottom = wish.chord, pitches[0]
    home = (chord.bass or chord.root).pitch_class
    asked = wish.inversion is not None or wish.exact is not None or wish.bottom.pitch or wish.bottom.degree
    # Over the root of a flat ninth, or over a slash bass, the rub is what the chord's name asks for.
    named = {chord.root.pitch_class} if "b9" in chord.quality.degrees else set()
    named |= {chord.bass.pitch_class} if chord.bass is not None else set()
    counted = pitches if chord.bass is None else pitches[1:]
    times = {
        degree: sum(note % 12 == tone.pitch_class for note in counted)
        for degree, tone in chord.tones.items()
        if degree in chord.quality.degrees
    }
    again = {degree: max(0, count - 1) for degree, count in times.items()}
    return {
        "bass": 0 if asked or bottom % 12 == home else 1,
        "minor_ninth": 0
        if bottom % 12 in named
        else sum((note - bottom) % 12 == 1 and note - bottom > 12 for note in pitches),
        "semitone": sum(high - low == 1 for low, high in pairwise(pitches)),
        "low_interval": _mud(pitches) if chord.bass is None else 0,
        "doubled_third": sum(again.get(degree, 0) for degree in ("3", "b3")),
        "doubled_color": sum(count for degree, count in again.items() if degree not in _PLAIN),
    }


def of_the_strings(shape: Fingering, wish: Wish, string_count: int = 6) -> dict[str, float]:
    """Strings above and below a chord that is asked for over a bass."""
    asked = wish.chord.bass is not None
    return {
        "cut_top": min(shape.strings) - 1 if asked else 0,
        "high_bass": string_count - max(shape.strings) if asked else 0,
    }


def _mud(pitches: tuple[int, ...]) -> int:
    """Semitones by which the two lowest notes lie too low for their interval; more than two make it no worse."""
    if len(pitches) < 2:
        return 0
    return min(2, max(0, lowest_clear().get(pitches[1] - pitches[0], 0) - pitches[0]))


def _lowest(shape: Fingering) -> int:
    return min((fret for fret in shape.frets if fret), default=0)


@lru_cache(maxsize=1 << 12)
def change_cost(before: Fingering, after: Fingering, prices: Weights) -> float:
    """What it costs to come from one shape to another, when the step that is arrived at minds this."""
    moved = movement(before.pitches, after.pitches).cost
    return prices.movement * moved + prices.leap * leap(before, after) + hand_cost(before, after, prices)


def leap(before: Fingering, after: Fingering) -> int:
    """Semitones beyond a fourth by which bottom and top both rise, or both fall."""
    bottom, top = after.pitches[0] - before.pitches[0], after.pitches[-1] - before.pitches[-1]
    both = min(bottom, top) if min(bottom, top) > 0 else min(-bottom, -top)
    return max(0, both - 5)


def hand_cost(before: Fingering, after: Fingering, prices: Weights) -> float:
    """The way along the neck, and what every finger does."""
    cost = 0.0
    if before.centre_mm is not None and after.centre_mm is not None:
        cost += prices.travel * abs(after.centre_mm - before.centre_mm)
        cost += prices.shift * abs(position(after) - position(before))
    return float(cost + sum(getattr(prices, name) * times for name, times in finger_work(before, after).items()))


def position(shape: Fingering) -> int:
    """The fret where the first finger is, or would be with one finger for each fret."""
    finger, fret = min((finger, fret) for finger, fret in zip(shape.fingers, shape.frets, strict=True) if fret)
    return fret - (finger - 1)


def finger_work(before: Fingering, after: Fingering) -> dict[str, int]:
    """How many notes change their finger, and how many fingers slide, are set down, and turn flat or back."""
    done = {"refinger": 0, "slide": 0, "place": 0, "barre": 0}
    was, becomes = _pressed(before), _pressed(after)
    for place in was.keys() & becomes.keys():
        done["refinger"] += was[place] != becomes[place]
    for finger in (1, 2, 3, 4):
        here = {place for place, by in was.items() if by == finger}
        there = {place for place, by in becomes.items() if by == finger}
        stays = bool(here & there)
        on_its_string = bool({string for string, _ in here} & {string for string, _ in there})
        done["slide"] += on_its_string and not stays
        done["place"] += bool(there) and not on_its_string
        done["barre"] += (len(here) > 1) != (len(there) > 1)
    return done


def _pressed(shape: Fingering) -> dict[tuple[int, int], int]:
    """The finger on each pressed (string, fret)."""
    notes = zip(shape.strings, shape.frets, shape.fingers, strict=True)
    return {(string, fret): finger for string, fret, finger in notes if fret}
