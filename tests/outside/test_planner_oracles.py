"""The route search against optima that were found without this program, and against other solvers.

The three progressions keep the oracles' own limits: one note to a string, frets 0 to 12, pressed frets at most 3
apart, open strings free, exactly the chord's tones, none doubled; the cost is movement alone.
"""

from __future__ import annotations

import csv
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product
from pathlib import Path

import networkx as nx
import numpy as np
import pytest
from scipy.sparse import lil_array
from scipy.sparse.csgraph import dijkstra

from listener.guitar.fingering import Fingering
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.guitar.search import placements
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.planning.candidates import candidates
from listener.planning.drill import Weights, Wish
from listener.planning.route import Choice, best_route

GUITAR = make_instrument()
MOVEMENT_ONLY = Weights(movement=1.0, travel=0.0, stretch=0.0, strain=0.0, open_gap=0.0)
PitchSets = list[tuple[int, ...]]


@dataclass(frozen=True)
class Place:
    """A pitch set somewhere on the neck; the hand is left out of account here."""

    fingering: Fingering


def place(pitches: tuple[int, ...]) -> Place:
    zeros = (0,) * len(pitches)
    return Place(Fingering(pitches, zeros, zeros, zeros, None, 0.0, 0.0, None))


def pitch_sets(symbol: str, highest_fret: int, fretted_span: int, open_triads: bool) -> PitchSets:
    """All distinct pitch sets of a chord that can be placed within the oracle's limits."""
    tones = sorted(parse_chord(symbol).pitch_classes)
    found = set()
    for notes in product(*([note for note in range(40, 77) if note % 12 == tone] for tone in tones)):
        pitches = tuple(sorted(notes))
        if open_triads and pitches[-1] - pitches[0] <= 12:
            continue
        for shape in placements(GUITAR, pitches, frets=(0, highest_fret)):
            pressed = [fret for _, fret in shape if fret]
            if not pressed or max(pressed) - min(pressed) <= fretted_span:
                found.add(pitches)
                break
    return sorted(found)


def best_paths(layers: Sequence[PitchSets]) -> tuple[int, int]:
    """Least total movement and how many paths have it, by counting forward in plain Python."""
    best = {pitches: (0, 1) for pitches in layers[0]}
    for before, after in pairwise(layers):
        reached = {}
        for there in after:
            costs = [(best[here][0] + movement(here, there).cost, best[here][1]) for here in before]
            least = min(cost for cost, _ in costs)
            reached[there] = (least, sum(count for cost, count in costs if cost == least))
        best = reached
    least = min(cost for cost, _ in best.values())
    return least, sum(count for cost, count in best.values() if cost == least)


def oracles() -> list[dict[str, str]]:
    with (Path(__file__).parent / "tables" / "planner_oracles.csv").open(newline="", encoding="utf-8") as file:
        return list(csv.DictReader(file))


@pytest.mark.parametrize("row", oracles(), ids=lambda row: row["name"])
def test_planner_oracle(row: dict[str, str]) -> None:
    """Number of pitch sets, least movement and number of best paths are exactly those of the exhaustive search."""
    layers = [
        pitch_sets(symbol, int(row["highest_fret"]), int(row["fretted_span"]), "span" in row["filter"])
        for symbol in row["progression"].split("-")
    ]
    assert " ".join(str(len(layer)) for layer in layers) == row["pitch_sets"]
    assert best_paths(layers) == (int(row["least_movement"]), int(row["optimal_paths"]))
    route = best_route([[place(pitches) for pitches in layer] for layer in layers], MOVEMENT_ONLY)
    assert route.cost == int(row["least_movement"])
    path = [layer[index] for layer, index in zip(layers, route.choice, strict=True)]
    assert sum(movement(here, there).semitones for here, there in pairwise(path)) == int(row["least_movement"])


def step_cost(candidate: Choice, weights: Weights) -> float:
    fingering = candidate.fingering
    gap = max(0, fingering.lowest_fret - 1) if 0 in fingering.frets else 0
    return weights.stretch * fingering.stretch_mm + weights.strain * fingering.strain + weights.open_gap * gap


def change_cost(before: Choice, after: Choice, weights: Weights) -> float:
    here, there = before.fingering, after.fingering
    apart = 0.0
    if here.centre_mm is not None and there.centre_mm is not None:
        apart = abs(here.centre_mm - there.centre_mm)
    return weights.movement * movement(here.pitches, there.pitches).cost + weights.travel * apart


def real_layers() -> list[Sequence[Choice]]:
    """Real candidates of mixed sizes, with everything the cost depends on."""
    wishes = [
        Wish(parse_chord("Dm7"), ("drop 2", "shell")),
        Wish(parse_chord("G7"), ("drop 3", "close")),
        Wish(parse_chord("C"), ("spread",)),
        Wish(parse_chord("F#ø"), ("drop 2",), frets=(0, 9)),
        Wish(parse_chord("Am"), ("full",), frets=(0, 3)),
    ]
    return [candidates(wish, GUITAR, make_hand()) for wish in wishes]


def test_same_optimum_as_networkx() -> None:
    """Dijkstra's algorithm in networkx finds the same least cost on the same graph."""
    layers, weights = real_layers(), Weights()
    graph = nx.DiGraph()
    for index, candidate in enumerate(layers[0]):
        graph.add_edge("start", (0, index), weight=step_cost(candidate, weights))
    for number, (before, after) in enumerate(pairwise(layers)):
        for i, here in enumerate(before):
            for j, there in enumerate(after):
                cost = change_cost(here, there, weights) + step_cost(there, weights)
                graph.add_edge((number, i), (number + 1, j), weight=cost)
    for index in range(len(layers[-1])):
        graph.add_edge((len(layers) - 1, index), "end", weight=0.0)
    route = best_route(layers, weights)
    assert nx.dijkstra_path_length(graph, "start", "end") == pytest.approx(route.cost, abs=1e-4)
    nodes = ["start", *enumerate(route.choice), "end"]
    assert nx.path_weight(graph, nodes, "weight") == pytest.approx(route.cost, abs=1e-4)


def test_same_optimum_as_scipy() -> None:
    """scipy's sparse Dijkstra does too; one is added to every edge, for it takes a zero for no edge."""
    layers, weights = real_layers(), Weights()
    starts = np.cumsum([1, *map(len, layers)])
    size = int(starts[-1]) + 1
    graph = lil_array((size, size))
    for index, candidate in enumerate(layers[0]):
        graph[0, 1 + index] = 1 + step_cost(candidate, weights)
    for number, (before, after) in enumerate(pairwise(layers)):
        for i, here in enumerate(before):
            for j, there in enumerate(after):
                cost = change_cost(here, there, weights) + step_cost(there, weights)
                graph[int(starts[number]) + i, int(starts[number + 1]) + j] = 1 + cost
    for index in range(len(layers[-1])):
        graph[int(starts[-2]) + index, size - 1] = 1.0
    least = dijkstra(graph.tocsr(), indices=0)[size - 1] - (len(layers) + 1)
    assert least == pytest.approx(best_route(layers, weights).cost, abs=1e-4)
