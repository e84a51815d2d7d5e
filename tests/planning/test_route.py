"""The route search: exact, deterministic, and right about movement between pitch sets of any size."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.guitar.fingering import Fingering
from listener.music.movement import movement
from listener.planning.drill import Weights
from listener.planning.route import Route, best_route, least_movement, movement_costs

MOVEMENT_ONLY = Weights(movement=1.0, travel=0.0, stretch=0.0, strain=0.0, open_gap=0.0)


@dataclass(frozen=True)
class Spot:
    """The least that the search needs of a candidate."""

    fingering: Fingering


def spot(
    pitches: Sequence[int],
    *,
    centre_mm: float | None = None,
    stretch_mm: float = 0.0,
    strain: float = 0.0,
    frets: tuple[int, ...] = (),
) -> Spot:
    notes = tuple(sorted(pitches))
    zeros = (0,) * len(notes)
    return Spot(Fingering(notes, zeros, frets or zeros, zeros, None, stretch_mm, strain, centre_mm))


pitch_sets = st.lists(st.integers(40, 76), min_size=1, max_size=6, unique=True).map(lambda notes: tuple(sorted(notes)))
spots = st.builds(
    spot,
    st.lists(st.integers(40, 60), min_size=1, max_size=4, unique=True),
    centre_mm=st.one_of(st.none(), st.floats(20, 400)),
    stretch_mm=st.floats(0, 100),
    strain=st.floats(0, 1),
)
weights = st.builds(Weights, *[st.floats(0, 3) for _ in range(5)])


def cost_of(route: Sequence[Spot], prices: Weights) -> float:
    """The documented cost, added up step by step."""
    total = 0.0
    for taken in route:
        fingering = taken.fingering
        total += prices.stretch * fingering.stretch_mm + prices.strain * fingering.strain
        if 0 in fingering.frets:
            total += prices.open_gap * max(0, fingering.lowest_fret - 1)
    for before, after in pairwise(route):
        here, there = before.fingering, after.fingering
        total += prices.movement * movement(here.pitches, there.pitches).cost
        if here.centre_mm is not None and there.centre_mm is not None:
            total += prices.travel * abs(here.centre_mm - there.centre_mm)
    return total


@settings(max_examples=150, deadline=None)
@given(layers=st.lists(st.lists(spots, min_size=1, max_size=5), min_size=1, max_size=4), prices=weights)
def test_equals_brute_force(layers: list[list[Spot]], prices: Weights) -> None:
    """No other route through the layers costs less, and the cost is the documented sum."""
    route = best_route(layers, prices)
    taken = [layer[index] for layer, index in zip(layers, route.choice, strict=True)]
    assert route.cost == pytest.approx(cost_of(taken, prices), abs=1e-4)
    assert route.cost == pytest.approx(min(cost_of(path, prices) for path in product(*layers)), abs=1e-4)


@settings(max_examples=100, deadline=None)
@given(layers=st.lists(st.lists(st.integers(60, 63), min_size=1, max_size=4), min_size=1, max_size=5))
def test_ties_go_to_the_earliest(layers: list[list[int]]) -> None:
    """Of equal routes the one with the earliest candidates wins, the first step counting most."""
    candidates = [[spot([note]) for note in layer] for layer in layers]
    best = min(
        (sum(abs(b - a) for a, b in pairwise(notes)), indices)
        for indices in product(*(range(len(layer)) for layer in layers))
        for notes in [[layer[index] for layer, index in zip(layers, indices, strict=True)]]
    )
    assert best_route(candidates, MOVEMENT_ONLY) == Route(best[1], float(best[0]))


@settings(max_examples=60, deadline=None)
@given(before=st.lists(pitch_sets, min_size=1, max_size=6), after=st.lists(pitch_sets, min_size=1, max_size=6))
def test_movement_costs_are_those_of_movement(before: list[tuple[int, ...]], after: list[tuple[int, ...]]) -> None:
    """The costs for all pairs at once equal the one-by-one alignment, sizes equal or not."""
    costs = movement_costs(before, after)
    assert costs.tolist() == [[movement(here, there).cost for there in after] for here in before]


@settings(max_examples=60, deadline=None)
@given(played=pitch_sets, options=st.lists(pitch_sets, min_size=1, max_size=8))
def test_least_movement_is_the_least(played: tuple[int, ...], options: list[tuple[int, ...]]) -> None:
    """Nothing among the options lies nearer to what was played, in whatever order the notes come."""
    least = min(movement(played, option).cost for option in options)
    assert least_movement(played, tuple(options)) == least
    assert least_movement(played[::-1], options) == least


def test_least_movement_of_nothing() -> None:
    """Without notes or without options there is no movement."""
    assert least_movement([], ((60, 64, 67),)) is None
    assert least_movement([60, 64, 67], ()) is None


def test_no_travel_to_or_from_open_strings() -> None:
    """A step without fingers neither asks for travel nor forbids it."""
    layers = [[spot([60], centre_mm=30.0)], [spot([60])], [spot([60], centre_mm=300.0), spot([61], centre_mm=30.0)]]
    assert best_route(layers, Weights()).choice == (0, 0, 0)


def test_near_beats_far() -> None:
    """The same notes are taken where the hand already is."""
    far, near = spot([60, 64], centre_mm=300.0), spot([60, 64], centre_mm=40.0)
    assert best_route([[spot([60, 64], centre_mm=30.0)], [far, near]], Weights()).choice == (0, 1)


def test_the_first_step_prefers_low_strain() -> None:
    """Nothing comes before it, so only the hand decides."""
    assert best_route([[spot([60], strain=0.9), spot([72], strain=0.1)]], Weights()).choice == (1,)


def test_open_strings_below_a_high_hand_cost() -> None:
    """Open strings ring best beside low frets; the first fret costs nothing."""
    high, low = spot([60, 64], frets=(0, 12)), spot([60, 64], frets=(0, 1))
    route = best_route([[high, low]], Weights())
    assert (route.choice, route.cost) == ((1,), 0.0)
    assert best_route([[high]], Weights(open_gap=0.5)).cost == 5.5


def test_large_layers_are_worked_in_blocks() -> None:
    """Layers too large to keep whole give the same optimum as their best candidates alone."""
    many = [spot([40 + index % 30, 70], centre_mm=float(index)) for index in range(700)]
    start, end = [spot([40, 70], centre_mm=0.0)], [spot([50, 70], centre_mm=350.0)]
    route = best_route([start, many, many, end], Weights())
    assert route.cost == pytest.approx(10 + 0.02 * 350)


def test_no_steps_and_empty_steps() -> None:
    """Nothing to route costs nothing; a step without candidates is the caller's mistake."""
    assert best_route([], Weights()) == Route((), 0.0)
    with pytest.raises(ValueError, match="layer 1 has no candidates"):
        best_route([[spot([60])], []], Weights())
