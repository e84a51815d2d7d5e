"""The hand's limits, worked out again from one half of the published shapes and checked on the other.

The shapes are from the npm package @tombatossals/chords-db 0.5.1 (MIT licence), without the 26 whose notes are not
those of their chord symbol. What is done here is what ``shared/hands.toml`` says was done; the split is seeded.
"""

from __future__ import annotations

import csv
import math
import random
from functools import cache
from pathlib import Path

import numpy as np
import pytest

from listener.guitar.grip import grip, grips
from listener.guitar.hand import PAIRS, make_hand
from listener.guitar.holds import holds
from listener.guitar.instrument import make_instrument

TABLE = Path(__file__).parents[1] / "tables" / "guitar_chord_shapes.csv"
GUITAR = make_instrument()
SEED = 20261125
Shape = tuple[tuple[int, ...], tuple[int, ...]]  # frets and fingers from string 6 to string 1, -1 muted


def is_sound(frets: tuple[int, ...], fingers: tuple[int, ...]) -> bool:
    """Every pressed note has a finger, and no finger is on an open string, at two frets, out of order, or over a string
    that sounds lower."""
    if any((fret > 0) != (finger > 0) for fret, finger in zip(frets, fingers, strict=True)):
        return False
    for finger in set(fingers) - {0}:
        at = [index for index, one in enumerate(fingers) if one == finger]
        inside = frets[at[0] : at[-1] + 1]
        if len({frets[index] for index in at}) > 1 or any(0 <= fret < frets[at[0]] for fret in inside):
            return False
    return all(
        one >= other or low <= high
        for one, low in zip(fingers, frets, strict=True)
        for other, high in zip(fingers, frets, strict=True)
        if one and other
    )


@cache
def halves() -> tuple[list[Shape], list[Shape]]:
    """The sound shapes, shuffled with the seed of the data file, in two halves."""
    found = []
    with TABLE.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            frets = tuple(-1 if word == "x" else int(word) for word in row["frets_6to1"].split())
            # One shape names a finger for a string that is muted; it presses nothing.
            marks = map(int, row["fingers_6to1"].split())
            fingers = tuple(mark if fret >= 0 else 0 for mark, fret in zip(marks, frets, strict=True))
            if is_sound(frets, fingers):
                found.append((frets, fingers))
    assert len(found) == 2020
    random.Random(SEED).shuffle(found)
    return found[:1010], found[1010:]


def distances(shapes: list[Shape], pair: tuple[int, int]) -> list[float]:
    """How far apart the two fingers press in each shape that uses both at different frets, in mm, widest first."""
    found = []
    for frets, fingers in shapes:
        at = dict(zip(fingers, frets, strict=True))
        if pair[0] in at and pair[1] in at and at[pair[1]] > at[pair[0]]:
            found.append(GUITAR.finger_mm(at[pair[1]]) - GUITAR.finger_mm(at[pair[0]]))
    return sorted(found, reverse=True)


def array(shapes: list[Shape]) -> np.ndarray:
    return np.array([frets for frets, _ in shapes], dtype=np.int8)


def held(shapes: np.ndarray, hand: str) -> float:
    """Share of the shapes that a hand holds."""
    ways = set(map(tuple, holds(GUITAR, make_hand(hand), np.unique(shapes, axis=0)).frets.tolist()))
    return sum(shape in ways for shape in map(tuple, shapes.tolist())) / len(shapes)


def test_the_limits_come_from_the_first_half() -> None:
    """Widest use of each pair, rounded up for a scale of 650 mm; 1-2 half way to the fret that is never used."""
    first, _ = halves()
    widest = {pair: distances(first, pair)[0] for pair in PAIRS}
    often = {pair: sum(math.isclose(mm, widest[pair]) for mm in distances(first, pair)) for pair in PAIRS}
    limits = {pair: float(math.ceil(mm * 650 / 648)) for pair, mm in widest.items()}
    assert (often[1, 2], often[2, 3], often[3, 4]) == (14, 1, 1)
    three_frets = GUITAR.finger_mm(4) - GUITAR.finger_mm(1)
    assert widest[1, 2] == pytest.approx(GUITAR.finger_mm(3) - GUITAR.finger_mm(1))
    limits[1, 2] = float(math.ceil((widest[1, 2] + three_frets) / 2))
    assert make_hand("large").reach_mm == tuple(limits[pair] for pair in PAIRS)


def test_other_sizes_are_shares_of_the_large_hand() -> None:
    """Medium is 90 %, small 80 %."""
    for name, share in (("medium", 0.9), ("small", 0.8)):
        assert make_hand(name).reach_mm == pytest.approx([share * mm for mm in make_hand("large").reach_mm])


@pytest.mark.parametrize(
    ("name", "least", "stated"), [("large", 0.99, 1.0), ("medium", 0.9, 0.94), ("small", 0.85, 0.89)]
)
def test_the_second_half_is_held(name: str, least: float, stated: float) -> None:
    """At least 99 % of the shapes that had no say are held by the large hand; the data file's shares are true."""
    _, second = halves()
    share = held(array(second), name)
    assert share >= least
    assert round(share, 2) == stated


def test_least_fingers_on_the_second_half() -> None:
    """No sound shape of the second half needs more fingers than were published for it."""
    _, second = halves()
    large = make_hand("large")
    for frets, fingers in second:
        placed = [(6 - index, fret) for index, fret in enumerate(frets) if fret >= 0]
        assert min(len(set(way.fingers) - {0}) for way in grips(GUITAR, large, placed)) <= len(set(fingers) - {0})


def test_proposed_fingers_agree_with_both_halves() -> None:
    """The proposed fingers are the published ones, every one of them, in the shares that the data file states."""
    shares = []
    for half in halves():
        found = holds(GUITAR, make_hand("large"), array(half))
        ways = zip(map(tuple, found.frets.tolist()), map(tuple, found.fingers.tolist()), strict=True)
        ours = dict(reversed(list(ways)))  # of the ways of a shape the first is the proposed one
        shares.append(round(sum(ours.get(frets) == fingers for frets, fingers in half) / len(half), 2))
    assert shares == [0.87, 0.88]


@pytest.mark.parametrize(("name", "stated"), [("large", 0.95), ("medium", 0.97), ("small", 0.97)])
def test_random_shapes_are_refused(name: str, stated: float) -> None:
    """At least 90 % of random shapes, each string muted or at any fret 0 to 12, are refused by every hand."""
    shapes = np.random.default_rng(1).integers(-1, 13, size=(40_000, 6)).astype(np.int8)
    refused = 1 - held(shapes[(shapes >= 0).any(axis=1)], name)
    assert refused >= 0.90
    assert refused == pytest.approx(stated, abs=0.01)


@pytest.mark.parametrize(("name", "stated"), [("large", 0.61), ("medium", 0.67), ("small", 0.73)])
def test_random_pressed_shapes_are_refused(name: str, stated: float) -> None:
    """At least 60 % of random shapes with all six strings pressed within five frets are refused, by every hand."""
    chance = np.random.default_rng(2)
    shapes = chance.integers(1, 12, size=(40_000, 1)) + chance.integers(0, 5, size=(40_000, 6))
    refused = 1 - held(shapes.astype(np.int8), name)
    assert refused >= 0.60
    assert refused == pytest.approx(stated, abs=0.01)


def test_the_minor_ninth_grip() -> None:
    """x-5-3-5-5-x, which the data set fingers 2 1 3 4 (as Bbm9), gets these fingers, well within a medium hand."""
    found = grip(GUITAR, make_hand("medium"), [(5, 5), (4, 3), (3, 5), (2, 5)])
    assert found is not None
    assert dict(zip(found.strings, found.fingers, strict=True)) == {5: 2, 4: 1, 3: 3, 2: 4}
    assert found.strain == pytest.approx(0.80, abs=0.01)
