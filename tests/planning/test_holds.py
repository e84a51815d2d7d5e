"""Fingers for many shapes at once are those that the plain search gives one by one."""

from __future__ import annotations

import numpy as np
import pytest

from listener.guitar.grip import grip
from listener.guitar.hand import Hand, hand_names, make_hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.planning.holds import Holds, holds

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


def described(found: Holds) -> dict[tuple[int, ...], tuple[object, ...]]:
    rows = zip(
        found.frets.tolist(),
        found.fingers.tolist(),
        found.barre.tolist(),
        found.strain.tolist(),
        found.stretch_mm.tolist(),
        found.centre_mm.tolist(),
        strict=True,
    )
    return {tuple(frets): (fingers, barre, *lengths) for frets, fingers, barre, *lengths in rows}


@pytest.mark.parametrize("instrument", INSTRUMENTS, ids=lambda one: f"{one.string_count} strings")
@pytest.mark.parametrize(
    "hand", [*map(make_hand, hand_names()), Hand("odd", (40.0,) * 6, (2, 2, 1, 8))], ids=lambda one: one.name
)
def test_equal_to_one_by_one(instrument: Instrument, hand: Hand) -> None:
    """The same shapes can be held, with the same fingers and barre, and lengths and strain to the last bit."""
    shapes = near(instrument, seed=instrument.string_count)
    found = described(holds(instrument, hand, shapes))
    held = 0
    for frets in map(tuple, shapes.tolist()):
        placed = [(len(frets) - index, fret) for index, fret in enumerate(frets) if fret >= 0]
        one = grip(instrument, hand, placed) if placed else None
        assert (frets in found) == (one is not None)
        if one is None:
            continue
        held += 1
        fingers, barre, strain, stretch_mm, centre_mm = found[frets]
        on = dict(zip(one.strings, one.fingers, strict=True))
        assert fingers == [on.get(string, 0) for string in range(len(frets), 0, -1)]
        assert barre == ([0] * 4 if one.barre is None else list(one.barre.as_json().values()))
        assert (strain, stretch_mm) == (one.strain, one.stretch_mm)
        assert (None if np.isnan(centre_mm) else centre_mm) == one.centre_mm
    assert held > 50 or instrument.string_count > 8


def test_nothing_at_all() -> None:
    """No shapes give no holds, and a shape of muted strings is none."""
    guitar = make_instrument()
    assert len(holds(guitar, make_hand(), np.empty((0, 6), dtype=np.int8)).strain) == 0
    assert len(holds(guitar, make_hand(), np.full((3, 6), -1, dtype=np.int8)).strain) == 0
