"""The route search: exact, deterministic, and right about movement between pitch sets of any size."""

from __future__ import annotations

from itertools import pairwise, product

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

from listener.drill.manners import PRICES, VOICE_LEADING, Weights, manner
from listener.music.movement import movement
from listener.planning.routes import network as network_module
from listener.planning.routes.layers import prices_for
from listener.planning.routes.route import Link, NoRoute, Route, best_route, least_movement, movement_costs

USUAL = manner(VOICE_LEADING)
Asked = tuple[list[list[Spot]], list[Weights]]
pitch_sets = st.lists(st.integers(40, 76), min_size=1, max_size=6, unique=True).map(lambda notes: tuple(sorted(notes)))


@settings(max_examples=examples(150), deadline=None)
@given(asked=minding_layers())
def test_equals_brute_force(asked: Asked) -> None:
    """No other route through the layers costs less, and the cost is the documented sum, whatever each step minds."""
    layers, prices = asked
    route = best_route(layers, prices)
    assert route.cost == pytest.approx(cost_of(taken_by(route.choice, layers), prices), abs=1e-4)
    assert route.cost == pytest.approx(min(cost_of(path, prices) for path in product(*layers)), abs=1e-4)


def test_one_mind_for_all_is_the_same_mind_each_time() -> None:
    """One set of prices for all steps, or the same for each."""
    layers = [[spot([60, 64], strain=1.0), spot([61, 63])], [spot([60, 64]), spot([62, 64], strain=1.0)]]
    assert best_route(layers, USUAL) == best_route(layers, [USUAL, USUAL])


def test_the_step_that_is_arrived_at_says_what_a_change_costs() -> None:
    """Two steps of which only one minds movement: coming there costs, leaving it does not."""
    layers = [[spot([60])], [spot([64])], [spot([60])]]
    free = Weights()
    assert best_route(layers, [MOVEMENT_ONLY, free, free]).cost == 0.0
    assert best_route(layers, [free, MOVEMENT_ONLY, free]).cost == 4.0
    assert best_route(layers[:2], [MOVEMENT_ONLY, free], loop=True).cost == 4.0
    assert best_route(layers[:2], [MOVEMENT_ONLY, MOVEMENT_ONLY], loop=True).cost == 8.0


def test_the_same_candidates_may_be_minded_otherwise() -> None:
    """A drill comes back to a chord, and this time it minds something else."""
    layer = [spot([60], strain=1.0), spot([60], effort=1.0)]
    easy, quiet = Weights(strain=1.0), Weights(effort=1.0)
    assert best_route([layer] * 3, [easy, quiet, easy]) == Route((1, 0, 1), 0.0)


def test_too_few_minds_are_the_callers_mistake() -> None:
    """Each step minds something, or all the same."""
    with pytest.raises(ValueError):
        best_route([[spot([60])]] * 3, [USUAL, USUAL])


@settings(max_examples=examples(200), deadline=None)
@given(asked=minding_layers(), data=st.data())
def test_links_equal_brute_force(asked: Asked, data: st.DataObject) -> None:
    """Lines that rise, fall, stay, keep or are the outermost, and held notes: the best of the routes they allow."""
    layers, prices = asked
    ties = data.draw(st.lists(links, min_size=len(layers), max_size=len(layers)))
    costs = [cost_of(route, prices) for route in every_route(layers, ties)]
    if not costs:
        with pytest.raises(NoRoute):
            best_route(layers, prices, links=ties)
        return
    route = best_route(layers, prices, links=ties)
    assert taken_by(route.choice, layers) in every_route(layers, ties)
    assert route.cost == pytest.approx(min(costs), abs=1e-4)


@settings(max_examples=examples(100), deadline=None)
@given(layers=layers_of_spots, prices=weights, link=links, loop=st.booleans(), data=st.data())
def test_a_link_never_lowers_the_cost(
    layers: list[list[Spot]], prices: Weights, link: Link, loop: bool, data: st.DataObject
) -> None:
    """What is forbidden can only make a route dearer, or impossible."""
    where = data.draw(st.integers(0, len(layers) - 1))
    ties = [link if index == where else Link() for index in range(len(layers))]
    free = best_route(layers, prices, loop=loop).cost
    try:
        assert best_route(layers, prices, links=ties, loop=loop).cost >= free - 1e-6
    except NoRoute:
        assert not list(every_route(layers, ties))


@settings(max_examples=examples(150), deadline=None)
@given(asked=minding_layers())
def test_least_movement_comes_first(asked: Asked) -> None:
    """Movement and then comfort are the least of all pairs; no weights at all give a route that moves less."""
    layers, prices = asked
    route = best_route(layers, prices, least_movement=True)
    taken = taken_by(route.choice, layers)

    def pair(way: tuple[Spot, ...]) -> tuple[int, float]:
        return moved(way), round(comfort_of(way, prices), 4)

    assert pair(taken) == min(map(pair, product(*layers)))
    assert route.cost == pytest.approx(cost_of(taken, prices), abs=1e-4)
    assert moved(taken) <= moved(taken_by(best_route(layers, prices).choice, layers))


def test_movement_first_fits_into_whole_numbers() -> None:
    """Ten thousand steps at the largest weights: comfort is counted coarser, movement stays exact."""
    layer = [spot([60, 64], centre_mm=600.0, stretch_mm=100.0, strain=1.0), spot([60, 65], centre_mm=100.0)]
    heavy = Weights(**dict.fromkeys(PRICES, 1000.0))
    prices = prices_for([layer] * 10_000, [heavy] * 10_000, True)[heavy]
    assert prices.units < 1_000_000
    assert prices.semitone is not None
    assert prices.semitone * 10_000 * 2 * 140 < 2**58
    start, end = [spot([60, 64], centre_mm=600.0)], [spot([60, 64], centre_mm=600.0)]
    route = best_route([start, *[layer] * 9_998, end], heavy, least_movement=True)
    assert set(route.choice) == {0}


@settings(max_examples=examples(100), deadline=None)
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


@settings(max_examples=examples(100), deadline=None)
@given(asked=minding_layers(), data=st.data(), least_movement=st.booleans())
def test_ties_go_to_the_earliest_whatever_is_minded(asked: Asked, data: st.DataObject, least_movement: bool) -> None:
    """Layers that have things twice, and every price: still the earliest of the equal routes."""
    layers, prices = asked
    layers = [[*layer, *data.draw(st.lists(st.sampled_from(layer), max_size=2))] for layer in layers]

    def rank(choice: tuple[int, ...]) -> tuple[int, float, tuple[int, ...]]:
        way = taken_by(choice, layers)
        return (
            moved(way) if least_movement else 0,
            comfort_of(way, prices) if least_movement else cost_of(way, prices),
            choice,
        )

    best = min(map(rank, product(*(range(len(layer)) for layer in layers))))
    assert best_route(layers, prices, least_movement=least_movement).choice == best[-1]


@settings(max_examples=examples(60), deadline=None)
@given(before=st.lists(pitch_sets, min_size=1, max_size=6), after=st.lists(pitch_sets, min_size=1, max_size=6))
def test_movement_costs_are_those_of_movement(before: list[tuple[int, ...]], after: list[tuple[int, ...]]) -> None:
    """The costs for all pairs at once equal the one-by-one alignment, sizes equal or not."""
    costs = movement_costs(before, after)
    assert costs.tolist() == [[movement(here, there).cost for there in after] for here in before]


@settings(max_examples=examples(60), deadline=None)
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
    low, high, low_too = (
        spot([note], centre_mm=mm, frets=(fret,)) for note, mm, fret in ((60, 30.0, 1), (60, 300.0, 9), (61, 30.0, 1))
    )
    prices = Weights(movement=1.0, travel=0.02, shift=0.5)
    assert best_route([[low], [spot([60])], [high, low_too]], prices).choice == (0, 0, 0)
    assert best_route([[low], [spot([60])], [high]], prices).cost == 0.0
    assert best_route([[low], [high]], prices).cost == 0.02 * 270 + 0.5 * 8


def test_near_beats_far() -> None:
    """The same notes are taken where the hand already is."""
    far, near = spot([60, 64], centre_mm=300.0), spot([60, 64], centre_mm=40.0)
    assert best_route([[spot([60, 64], centre_mm=30.0)], [far, near]], USUAL).choice == (0, 1)


def test_the_first_step_prefers_low_strain() -> None:
    """Nothing comes before it, so only the hand decides."""
    assert best_route([[spot([60], strain=0.9), spot([72], strain=0.1)]], USUAL).choice == (1,)


def test_open_strings_below_a_high_hand_cost() -> None:
    """Open strings ring best beside low frets; the first fret costs nothing."""
    high, low = spot([60, 64], frets=(0, 12)), spot([60, 64], frets=(0, 1))
    prices = Weights(open_gap=0.5, high_open=2.0)
    assert best_route([[high, low]], prices) == Route((1,), 0.0)
    assert best_route([[high]], prices).cost == 0.5 * 11 + 2.0 * 8


@settings(max_examples=examples(40), deadline=None)
@given(layers=layers_of_spots, prices=weights, loop=st.booleans(), data=st.data())
def test_blocks_and_forgetting_change_nothing(
    layers: list[list[Spot]], prices: Weights, loop: bool, data: st.DataObject
) -> None:
    """Changes worked on row by row and never kept give the same route."""
    ties = data.draw(st.lists(links, min_size=len(layers), max_size=len(layers)))
    try:
        usual = best_route(layers, prices, links=ties, loop=loop)
    except NoRoute:
        return
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(network_module, "_CELLS_AT_ONCE", 1)
        patch.setattr(network_module, "_CELLS_KEPT", 0)
        assert best_route(layers, prices, links=ties, loop=loop) == usual


def test_large_layers_are_worked_in_blocks() -> None:
    """Layers too large to keep whole give the same optimum as their best candidates alone."""
    many = [spot([40 + index % 30, 70], centre_mm=float(index)) for index in range(1200)]
    start, end = [spot([40, 70], centre_mm=0.0)], [spot([50, 70], centre_mm=350.0)]
    route = best_route([start, many, many, end], Weights(movement=1.0, travel=0.02))
    assert route.cost == pytest.approx(10 + 0.02 * 350)


def test_a_held_note_stays_on_its_string() -> None:
    """The same note elsewhere on the neck is not held."""
    here = spot([60, 64], strings=(3, 2), frets=(5, 5))
    moved_away = spot([60, 65], strings=(4, 3), frets=(10, 10))
    stays = spot([60, 71], strings=(3, 1), frets=(5, 7))
    assert best_route([[here], [moved_away, stays]], MOVEMENT_ONLY).choice == (0, 0)
    assert best_route([[here], [moved_away, stays]], MOVEMENT_ONLY, links=[Link(), Link(hold=(60,))]).choice == (0, 1)


def test_keep_gives_way_only_where_it_must() -> None:
    """The same top note wherever the chord has it; where it has not, anything may follow."""
    keep = [Link(top="keep")] * 3
    layers = [[spot([64])], [spot([65]), spot([64], strain=1.0)], [spot([67]), spot([72])]]
    assert best_route(layers, Weights(movement=1.0, strain=9.0)).choice == (0, 0, 0)
    assert best_route(layers, Weights(movement=1.0, strain=9.0), links=keep).choice == (0, 1, 0)


def test_the_first_step_has_nothing_before_it() -> None:
    """Rising, falling, staying and holding say nothing at the first step; the outermost note does."""
    layers = [[spot([60]), spot([67])]]
    assert best_route(layers, USUAL, links=[Link("up", "down", (55,))]).choice == (0,)
    assert best_route(layers, USUAL, links=[Link(top="highest")]).choice == (1,)


def test_no_steps_and_empty_steps() -> None:
    """Nothing to route costs nothing; a step without candidates is the caller's mistake."""
    assert best_route([], USUAL) == Route((), 0.0)
    with pytest.raises(ValueError, match="layer 1 has no candidates"):
        best_route([[spot([60])], []], USUAL)
