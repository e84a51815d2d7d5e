"""The best few routes that sound different: exact, sorted, and each in its best fingering."""

from __future__ import annotations

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from spots import (
    MOVEMENT_ONLY,
    Spot,
    cost_of,
    every_route,
    layers_of_spots,
    links,
    minding_layers,
    sounds_of,
    spot,
    taken_by,
    weights,
)

from listener.drill.manners import VOICE_LEADING, Weights, manner
from listener.planning.routes.alternatives import best_sounding
from listener.planning.routes.route import Link, NoRoute, best_route, network


def best_by_sound(layers: list[list[Spot]], prices: list[Weights], ties: list[Link], loop: bool) -> list[float]:
    """The least cost of every different sound, by enumeration, best first."""
    best: dict[object, float] = {}
    for route in every_route(layers, ties):
        cost = cost_of(route, prices, loop)
        best[sounds_of(route)] = min(cost, best.get(sounds_of(route), cost))
    return sorted(best.values())


@settings(max_examples=examples(150), deadline=None)
@given(asked=minding_layers(), wanted=st.integers(1, 12), loop=st.booleans(), data=st.data())
def test_equals_brute_force(
    asked: tuple[list[list[Spot]], list[Weights]], wanted: int, loop: bool, data: st.DataObject
) -> None:
    """Costs are those of the cheapest sounds, no sound comes twice, each route has the cost that is told."""
    layers, prices = asked
    ties = data.draw(st.lists(links, min_size=len(layers), max_size=len(layers)))
    expected = best_by_sound(layers, prices, ties, loop)[:wanted]
    graph = network(layers, prices, links=ties)
    if not expected:
        with pytest.raises(NoRoute):
            best_sounding(graph, wanted, loop=loop)
        return
    found = best_sounding(graph, wanted, loop=loop)
    assert [route.cost for route in found] == pytest.approx(expected, abs=1e-4)
    ways = [taken_by(route.choice, layers) for route in found]
    assert len({sounds_of(way) for way in ways}) == len(ways)
    assert [cost_of(way, prices, loop) for way in ways] == pytest.approx(expected, abs=1e-4)


@settings(max_examples=examples(100), deadline=None)
@given(layers=layers_of_spots, prices=weights, loop=st.booleans(), least=st.booleans())
def test_the_first_is_the_plan(layers: list[list[Spot]], prices: Weights, loop: bool, least: bool) -> None:
    """The best alternative is the route itself, fingering for fingering."""
    graph = network(layers, prices, least_movement=least)
    assert best_sounding(graph, 3, loop=loop)[0] == best_route(layers, prices, loop=loop, least_movement=least)


@settings(max_examples=examples(60), deadline=None)
@given(layers=layers_of_spots, prices=weights, loop=st.booleans())
def test_more_of_the_same(layers: list[list[Spot]], prices: Weights, loop: bool) -> None:
    """Asking for more changes nothing about the cost of the first ones."""
    graph = network(layers, prices)
    many = [route.cost for route in best_sounding(graph, 9, loop=loop)]
    for wanted in (1, 4):
        assert [route.cost for route in best_sounding(graph, wanted, loop=loop)] == many[:wanted]


def test_a_moved_finger_is_no_alternative() -> None:
    """Two places for one sound count once, and the better place stands for it."""
    layers = [[spot([60], strain=0.9), spot([60]), spot([62], strain=0.7)]]
    found = best_sounding(network(layers, manner(VOICE_LEADING)), 5)
    assert [route.choice for route in found] == [(1,), (2,)]


def test_many_steps_keep_their_best_few() -> None:
    """A long drill with one choice at every step: the alternatives differ from the best in one step each."""
    layers = [[spot([60]), spot([60 + 2 * (1 + index % 3)])] for index in range(300)]
    found = best_sounding(network(layers, MOVEMENT_ONLY), 50)
    assert found[0].cost == 0.0
    assert len({route.choice for route in found}) == 50
    assert [route.cost for route in found] == sorted(route.cost for route in found)
