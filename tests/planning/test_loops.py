"""Loops: the way back to the first step counts, and the search for the best one is exact."""

from __future__ import annotations

from itertools import product
from typing import Any

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from spots import (
    MOVEMENT_ONLY,
    Spot,
    comfort_of,
    cost_of,
    every_route,
    layers_of_spots,
    links,
    minding_layers,
    moved,
    spot,
    taken_by,
    weights,
)

from listener.drill.manners import Weights
from listener.planning.routes import loops
from listener.planning.routes.route import Link, NoRoute, Route, best_route

Asked = tuple[list[list[Spot]], list[Weights]]


@settings(max_examples=examples(150), deadline=None)
@given(asked=minding_layers())
def test_equals_brute_force(asked: Asked) -> None:
    """No other way round costs less, and the cost is the documented sum; the first step minds the way back."""
    layers, prices = asked
    route = best_route(layers, prices, loop=True)
    assert route.cost == pytest.approx(cost_of(taken_by(route.choice, layers), prices, loop=True), abs=1e-4)
    assert route.cost == pytest.approx(min(cost_of(r, prices, loop=True) for r in every_route(layers)), abs=1e-4)


@settings(max_examples=examples(150), deadline=None)
@given(asked=minding_layers(), data=st.data())
def test_linked_loops_equal_brute_force(asked: Asked, data: st.DataObject) -> None:
    """Links hold between neighbours in the drill; the way back is free of them."""
    layers, prices = asked
    ties = data.draw(st.lists(links, min_size=len(layers), max_size=len(layers)))
    costs = [cost_of(route, prices, loop=True) for route in every_route(layers, ties)]
    if not costs:
        with pytest.raises(NoRoute):
            best_route(layers, prices, links=ties, loop=True)
        return
    assert best_route(layers, prices, links=ties, loop=True).cost == pytest.approx(min(costs), abs=1e-4)


@settings(max_examples=examples(80), deadline=None)
@given(asked=minding_layers(), data=st.data(), least_movement=st.booleans())
def test_ties_go_to_the_earliest(asked: Asked, data: st.DataObject, least_movement: bool) -> None:
    """Layers that have things twice: of equal loops the earliest, the first of the smallest steps counting most."""
    layers, prices = asked
    layers = [[*layer, *data.draw(st.lists(st.sampled_from(layer), max_size=2))] for layer in layers]
    cut = min(range(len(layers)), key=lambda index: len(layers[index]))

    def rank(choice: tuple[int, ...]) -> tuple[int, float, tuple[int, ...], tuple[int, ...]]:
        way = taken_by(choice, layers)
        cost = comfort_of(way, prices, True) if least_movement else cost_of(way, prices, True)
        return moved(way, True) if least_movement else 0, cost, (*choice[cut:], *choice[:cut]), choice

    best = min(map(rank, product(*(range(len(layer)) for layer in layers))))
    assert best_route(layers, prices, loop=True, least_movement=least_movement).choice == best[-1]


@settings(max_examples=examples(80), deadline=None)
@given(asked=minding_layers())
def test_least_movement_round_and_round(asked: Asked) -> None:
    """Movement first, comfort among equals: the pair is the least of all pairs, and both are in the cost."""
    layers, prices = asked
    found = best_route(layers, prices, loop=True, least_movement=True)
    route = taken_by(found.choice, layers)

    def pair(way: tuple[Spot, ...]) -> tuple[int, float]:
        return moved(way, loop=True), round(comfort_of(way, prices, loop=True), 4)

    assert pair(route) == min(pair(way) for way in every_route(layers))
    assert found.cost == pytest.approx(cost_of(route, prices, loop=True), abs=1e-4)


@settings(max_examples=examples(80), deadline=None)
@given(layers=layers_of_spots, prices=weights)
def test_a_loop_costs_no_less(layers: list[list[Spot]], prices: Weights) -> None:
    """The best loop costs at least what the best open route does."""
    assert best_route(layers, prices, loop=True).cost >= best_route(layers, prices).cost - 1e-6


@settings(max_examples=examples(40), deadline=None)
@given(layers=layers_of_spots, prices=weights)
def test_the_tricks_change_the_time_only(layers: list[list[Spot]], prices: Weights) -> None:
    """Fewer tries and smaller blocks give the same loop."""
    with pytest.MonkeyPatch.context() as patch:
        usual = best_route(layers, prices, loop=True)
        patch.setattr(loops, "_TRIED", 1)
        patch.setattr(loops, "_CELLS_AT_ONCE", 1)
        assert best_route(layers, prices, loop=True) == usual


def test_the_way_back_decides() -> None:
    """An open route drifts up to the end; a loop pays to be where it can come back from."""
    layers = [[spot([60])], [spot([61]), spot([60], strain=1.0)], [spot([66]), spot([60], strain=1.0)]]
    prices = Weights(movement=1.0, strain=4.0)
    assert best_route(layers, prices).choice == (0, 0, 0)
    assert best_route(layers, prices, loop=True).choice == (0, 0, 1)


def test_a_rising_line_may_come_back_down() -> None:
    """Every step goes up, and the way back comes down: the first step's own wish does not reach over the end."""
    layers = [[spot([note])] for note in (60, 62, 64)]
    rising = [Link(top="up")] * 3
    assert best_route(layers, MOVEMENT_ONLY, links=rising, loop=True) == Route((0, 0, 0), 8.0)


@pytest.mark.parametrize("cut", range(3))
def test_links_stay_with_their_steps(cut: int) -> None:
    """Wherever the ring is cut, a rising step is the one that rises."""
    layers: list[list[Any]] = [[spot([note], centre_mm=1.0) for note in (60, 62, 64)] for _ in range(3)]
    layers[cut] = layers[cut][:2]
    ties = [Link(), Link(top="up"), Link()]
    route = taken_by(best_route(layers, MOVEMENT_ONLY, links=ties, loop=True).choice, layers)
    notes = [taken.fingering.pitches[0] for taken in route]
    assert notes[1] == notes[0] + 2
    assert moved(route, loop=True) == 4


def test_one_step_goes_round_in_place() -> None:
    """A loop of one chord costs the chord alone."""
    layers = [[spot([60], effort=0.5), spot([72], effort=0.25)]]
    assert best_route(layers, Weights(effort=1.0), loop=True) == Route((1,), 0.25)
