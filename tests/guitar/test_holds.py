"""Fingers for many shapes at once are those that the plain search gives one by one."""

from __future__ import annotations

import numpy as np
import pytest
from how_many import some
from plain_grip import plain_grip, plain_grips, plain_sensible_grips

from listener.guitar.fingering import Fingering
from listener.guitar.hand import Hand, hand_names, make_hand
from listener.guitar.hand import effort as table_of_effort
from listener.guitar.holds import Holds, Ways, holds
from listener.guitar.instrument import Instrument, make_instrument

INSTRUMENTS = (
    make_instrument(),
    make_instrument("eight string", capo=2),
    make_instrument("ukulele", scale_mm=350.0),
    make_instrument("E2"),
    make_instrument("E3 " * 12, fret_count=36),
)


def near(instrument: Instrument, seed: int) -> np.ndarray:
    """Shapes within five frets, half of their strings muted or open; most can be held by somebody."""
    chance = np.random.default_rng(seed)
    size = (1500, instrument.string_count)
    shapes = chance.integers(1, 10, size=(1500, 1)) + chance.choice([0, 0, 0, 1, 1, 2, 3, 4], size=size)
    kept = chance.random(size)
    return np.where(kept < 0.35, -1, np.where(kept < 0.5, 0, shapes)).astype(np.int8)


def described(found: Holds) -> dict[tuple[int, ...], list[tuple[object, ...]]]:
    """The ways to hold each shape, in order."""
    rows = zip(
        found.frets.tolist(),
        found.fingers.tolist(),
        found.barre.tolist(),
        found.strain.tolist(),
        found.stretch_mm.tolist(),
        [None if np.isnan(centre_mm) else centre_mm for centre_mm in found.centre_mm.tolist()],
        found.effort.tolist(),
        found.over_best.tolist(),
        strict=True,
    )
    ways: dict[tuple[int, ...], list[tuple[object, ...]]] = {}
    for frets, fingers, *rest in rows:
        ways.setdefault(tuple(frets), []).append((tuple(fingers), *rest))
    return ways


@pytest.mark.parametrize(
    ("instrument", "hand"),
    some(
        (
            pytest.param(instrument, hand, id=f"{hand.name}-{instrument.string_count} strings")
            for hand in (*map(make_hand, hand_names()), Hand("odd", (40.0,) * 6, (2, 2, 1, 8)))
            for instrument in INSTRUMENTS
        ),
        each=3,
    ),
)
def test_equal_to_one_by_one(instrument: Instrument, hand: Hand) -> None:
    """The same shapes can be held in the same ways, the best first: fingers, barre, and all lengths to the last bit."""
    shapes = np.unique(near(instrument, seed=instrument.string_count), axis=0)
    shapes = shapes[(shapes >= 0).any(axis=1)]
    found = described(holds(instrument, hand, shapes))
    every = described(holds(instrument, hand, shapes, Ways.ALL))
    best = described(holds(instrument, hand, shapes, Ways.BEST))
    for frets in map(tuple, shapes.tolist()):
        placed = placed_on(frets)
        strings = len(frets)
        assert found.get(frets, []) == [row_of(way, strings) for way in plain_sensible_grips(instrument, hand, placed)]
        assert every.get(frets, []) == [row_of(way, strings) for way in plain_grips(instrument, hand, placed)]
        proposed = plain_grip(instrument, hand, placed)
        assert best.get(frets, []) == ([] if proposed is None else [row_of(proposed, strings)])
    assert len(found) > 50 or instrument.string_count in (1, 12)
    assert any(len(ways) > 1 for ways in found.values())
    more = sum(map(len, every.values())) > sum(map(len, found.values()))
    assert more or instrument.string_count == 1  # on one string every finger is sensible


def placed_on(frets: tuple[int, ...]) -> list[tuple[int, int]]:
    """The (string, fret) pairs that sound."""
    return [(len(frets) - index, fret) for index, fret in enumerate(frets) if fret >= 0]


def row_of(way: Fingering, strings: int) -> tuple[object, ...]:
    """A fingering as a row of the arrays."""
    on = dict(zip(way.strings, way.fingers, strict=True))
    fingers = tuple(on.get(string, 0) for string in range(strings, 0, -1))
    barre = [0] * 4 if way.barre is None else list(way.barre.as_json().values())
    return fingers, barre, way.strain, way.stretch_mm, way.centre_mm, way.effort, way.over_best


def test_the_ways_of_a_shape_follow_each_other() -> None:
    """Each shape of a search comes once, with all its ways, the least effort first."""
    guitar = make_instrument()
    found = holds(guitar, make_hand("large"), np.unique(near(guitar, 3), axis=0))
    last = {tuple(frets): row for row, frets in enumerate(found.frets.tolist())}
    first = {tuple(frets): len(found.frets) - 1 - row for row, frets in enumerate(found.frets[::-1].tolist())}
    counts = [last[frets] - first[frets] + 1 for frets in last]
    assert sum(counts) == len(found.frets)
    assert max(counts) > 2
    for frets, row in last.items():
        efforts = np.round(found.effort[first[frets] : row + 1], 9)
        assert (np.diff(efforts) >= 0).all()
        assert efforts[-1] <= efforts[0] + table_of_effort().sensible + 1e-9


def test_nothing_at_all() -> None:
    """No shapes give no holds, and a shape of muted strings is none."""
    guitar = make_instrument()
    assert len(holds(guitar, make_hand(), np.empty((0, 6), dtype=np.int8)).strain) == 0
    assert len(holds(guitar, make_hand(), np.full((3, 6), -1, dtype=np.int8)).strain) == 0
