"""The searches against solvers that others wrote, on real candidates: networkx, scipy, and plain enumeration.

networkx 3 (BSD): Dijkstra's algorithm and ``shortest_simple_paths`` (J. Y. Yen, Management Science 17(11), 1971); scipy
1 (BSD): ``csgraph.dijkstra``. All get the same graph, its costs worked out one by one from the documented formula.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import islice, pairwise, product

import networkx as nx
import numpy as np
import pytest
from how_many import some
from plain_costs import change_cost, own_cost
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra
from spots import Minded, allowed, cost_of, each, moved

from listener.drill.drill import Wish
from listener.drill.manners import COMPING, EVERYDAY, VOICE_LEADING, Weights, manner
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.planning.routes.alternatives import best_sounding
from listener.planning.routes.route import Link, best_route, network
from listener.planning.shapes.candidates import Candidate, candidates
from listener.planning.shapes.found import Candidates

GUITAR, HAND = make_instrument(), make_hand()
Layers = Sequence[Sequence[Candidate]]
USUAL, MOVEMENT_ONLY = manner(VOICE_LEADING), Weights(movement=1.0)
#: A strummed beginning, a comped middle, and voices that lead to the end.
MIXED = [manner(EVERYDAY), manner(COMPING), manner(COMPING), USUAL]
LINKS = [Link(), Link(top="up"), Link(top="keep", bottom="down"), Link(bottom="up")]


def few_frets(*chords: str, kinds: tuple[str, ...] = ("drop 2", "close", "spread"), high: int = 5) -> list[Candidates]:
    wishes = [Wish(parse_chord(chord), kinds, frets=(0, high)) for chord in chords]
    return [candidates(wish, GUITAR, HAND) for wish in wishes]


def wishes_of(layers: Layers) -> list[Wish | None]:
    """What the ear knows of each layer, where anything."""
    return [getattr(layer, "wish", None) for layer in layers]


def follows(layers: Layers, ties: Sequence[Link] | None, index: int, here: Candidate, there: Candidate) -> bool:
    """Whether one candidate may follow another; both are checked as a route of two steps."""
    return ties is None or allowed([here, there], layers[index - 1 : index + 1], [Link(), ties[index]])


def edges(layers: Layers, prices: Minded, ties: Sequence[Link] | None = None) -> list[tuple[object, object, float]]:
    """Every change as an edge that also pays for the step it leads to."""
    minded, wishes = each(prices, len(layers)), wishes_of(layers)
    own = [
        [own_cost(candidate.fingering, mind, wish) for candidate in layer]
        for layer, mind, wish in zip(layers, minded, wishes, strict=True)
    ]
    found: list[tuple[object, object, float]] = [("start", (0, i), cost) for i, cost in enumerate(own[0])]
    for number, (before, after) in enumerate(pairwise(layers), start=1):
        for (i, here), (j, there) in product(enumerate(before), enumerate(after)):
            if follows(layers, ties, number, here, there):
                cost = change_cost(here.fingering, there.fingering, minded[number])
                found.append(((number - 1, i), (number, j), cost + own[number][j]))
    found.extend(((len(layers) - 1, i), "end", 0.0) for i in range(len(layers[-1])))
    return found


def graph_of(layers: Layers, prices: Minded, ties: Sequence[Link] | None = None) -> nx.DiGraph:
    graph = nx.DiGraph()
    graph.add_weighted_edges_from(edges(layers, prices, ties))
    return graph


@pytest.mark.parametrize(
    ("prices", "ties"),
    some(
        (
            pytest.param(prices, ties, id=f"{one}-{other}")
            for one, prices in {"all": USUAL, "movement": MOVEMENT_ONLY, "mixed": MIXED}.items()
            for other, ties in {"free": None, "tied": LINKS}.items()
        ),
        each=5,
    ),
)
def test_same_optimum_as_networkx(prices: Minded, ties: list[Link] | None) -> None:
    """Dijkstra's algorithm finds the same least cost, with lines and without, sizes mixed."""
    layers = few_frets("Dm7", "G7", "C", "Am7")
    least = nx.dijkstra_path_length(graph_of(layers, prices, ties), "start", "end")
    assert best_route(layers, prices, links=ties).cost == pytest.approx(least, abs=1e-4)


@pytest.mark.parametrize("ties", [None, LINKS], ids=["free", "tied"])
def test_same_optimum_as_scipy(ties: list[Link] | None) -> None:
    """scipy's sparse Dijkstra does too; one is added to every edge, for it takes a zero for no edge."""
    layers = few_frets("Dm7", "G7", "C", "Am7")
    listed = edges(layers, USUAL, ties)
    names = {name: index for index, name in enumerate(dict.fromkeys(end for edge in listed for end in edge[:2]))}
    rows, columns = ([names[edge[side]] for edge in listed] for side in (0, 1))
    costs = np.array([1 + edge[2] for edge in listed])
    graph = csr_array((costs, (rows, columns)), shape=(len(names), len(names)))
    least = dijkstra(graph, indices=names["start"])[names["end"]] - (len(layers) + 1)
    assert best_route(layers, USUAL, links=ties).cost == pytest.approx(least, abs=1e-4)


@pytest.mark.parametrize(
    ("chords", "loop"),
    [
        pytest.param("Dm7 G7 Cmaj7", False, id="open-Dm7 G7 Cmaj7"),
        pytest.param("Dm7 G7 Cmaj7", True, id="loop-Dm7 G7 Cmaj7"),
        pytest.param("C F G C", False, id="open-C F G C", marks=pytest.mark.slow),
        pytest.param("C F G C", True, id="loop-C F G C", marks=pytest.mark.slow),
    ],
)
def test_same_optimum_as_enumeration(chords: str, loop: bool) -> None:
    """Every route through three or four chords in the first frets, one after the other."""
    layers = few_frets(*chords.split(), kinds=("drop 2", "spread"), high=3)
    routes = list(product(*layers))
    assert 500 < len(routes) < 100_000
    least = min(cost_of(route, USUAL, loop, wishes_of(layers)) for route in routes)
    assert best_route(layers, USUAL, loop=loop).cost == pytest.approx(least, abs=1e-4)
    fewest = min(moved(route, loop) for route in routes)
    taken = best_route(layers, USUAL, loop=loop, least_movement=True).choice
    assert moved([layer[i] for layer, i in zip(layers, taken, strict=True)], loop) == fewest


def test_same_loop_as_networkx() -> None:
    """The best loop is the best over all first candidates of a shortest path from it to a copy of itself."""
    layers = few_frets("Dm7", "G7", "Cmaj7", kinds=("drop 2",))
    ring = [*layers, layers[0]]
    graph = graph_of(ring, USUAL)
    least = min(
        nx.dijkstra_path_length(graph, (0, i), (len(layers), i))  # the last edge pays for the first step
        for i in range(len(layers[0]))
    )
    assert best_route(layers, USUAL, loop=True).cost == pytest.approx(least, abs=1e-4)


@pytest.mark.parametrize("ties", [None, LINKS], ids=["free", "tied"])
def test_same_alternatives_as_yen(ties: list[Link] | None) -> None:
    """With one fingering for each sound, different sounds are different paths: networkx lists the same costs."""
    every = few_frets("Dm7", "G7", "C", "Am7", kinds=("drop 2", "spread"), high=7)
    layers = [list({c.fingering.pitches: c for c in layer}.values()) for layer in every]
    paths = islice(nx.shortest_simple_paths(graph_of(layers, USUAL, ties), "start", "end", "weight"), 12)
    graph = graph_of(layers, USUAL, ties)
    expected = [nx.path_weight(graph, path, "weight") for path in paths]
    found = best_sounding(network(layers, USUAL, links=ties), 12)
    assert [route.cost for route in found] == pytest.approx(expected, abs=1e-4)
