"""How quick planning is, as ratios to a reference run beside it. Nothing here passes or fails on time.

Run with ``pytest tests/bench/test_planner.py --benchmark-enable -s`` to see the ratios.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from itertools import pairwise
from typing import Any

import networkx as nx
import numpy as np
import pytest

from listener.guitar.grip import quick_grip
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.planning.candidates import Candidate, candidates
from listener.planning.drill import Drill, Step, Weights, Wish
from listener.planning.planner import plan_drill
from listener.planning.route import best_route, least_movement, movement_costs

GUITAR, HAND = make_instrument(), make_hand()
CIRCLE = ["Dm7", "G7", "Cmaj7", "Fmaj7", "Bm7b5", "E7", "Am7", "A7", "Dm7", "Gm7", "C7", "Fmaj7", "Bbmaj7", "Em7b5"]
SEVENTHS = [Wish(parse_chord(chord), ("any",), size=4) for chord in (CIRCLE * 3)[:32]]
#: networkx needs seconds and a gigabyte for all 32 steps; it gets the first ones, and so do we beside it.
NETWORKX_STEPS = 5


@pytest.fixture(scope="module")
def layers() -> list[tuple[Candidate, ...]]:
    return [candidates(wish, GUITAR, HAND) for wish in SEVENTHS]


def seconds(call: Callable[[], object], rounds: int) -> float:
    """The quickest of some rounds."""
    best = float("inf")
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return best


def matrices(layers: Sequence[Sequence[Candidate]], weights: Weights) -> tuple[list[Any], list[Any]]:
    """The cost of every change as one dense array, and every step's own cost, for the reference solvers."""
    own, changes = [], []
    for layer in layers:
        gaps = [max(0, c.fingering.lowest_fret - 1) if 0 in c.fingering.frets else 0 for c in layer]
        hand = [weights.stretch * c.fingering.stretch_mm + weights.strain * c.fingering.strain for c in layer]
        own.append(np.array(hand) + weights.open_gap * np.array(gaps))
    for before, after in pairwise(layers):
        moved = movement_costs([c.fingering.pitches for c in before], [c.fingering.pitches for c in after])
        here = np.array([np.nan if c.fingering.centre_mm is None else c.fingering.centre_mm for c in before])
        there = np.array([np.nan if c.fingering.centre_mm is None else c.fingering.centre_mm for c in after])
        travel = np.nan_to_num(np.abs(here[:, None] - there))
        changes.append(weights.movement * moved + weights.travel * travel)
    return own, changes


def one_pass(own: list[Any], changes: list[Any]) -> float:
    """One numpy pass over ready-made matrices: the least that any exact search has to do."""
    cost = own[0]
    for change, after in zip(changes, own[1:], strict=True):
        cost = (cost[:, None] + change).min(axis=0) + after
    return float(cost.min())


def test_route_search(benchmark: Any, layers: list[tuple[Candidate, ...]]) -> None:
    """Thirty-two sevenths: our search, matrices and all, against one pass over the matrices and against networkx."""
    weights = Weights()
    own, changes = matrices(layers, weights)
    rounds = 5 if benchmark.enabled else 1
    route = benchmark(lambda: best_route(layers, weights))
    assert one_pass(own, changes) == pytest.approx(route.cost, abs=1e-3)

    few = layers[:NETWORKX_STEPS]
    graph = nx.DiGraph()
    for number, change in enumerate(changes[: NETWORKX_STEPS - 1]):
        start = own[0] if number == 0 else np.zeros(len(change))
        costs = change + start[:, None] + own[number + 1]
        edges = (((number, i), (number + 1, j), costs[i, j]) for i in range(len(change)) for j in range(costs.shape[1]))
        graph.add_weighted_edges_from(edges)
    graph.add_weighted_edges_from(("start", (0, i), 0.0) for i in range(len(few[0])))
    graph.add_weighted_edges_from(((NETWORKX_STEPS - 1, i), "end", 0.0) for i in range(len(few[-1])))
    least = nx.dijkstra_path_length(graph, "start", "end")
    assert least == pytest.approx(best_route(few, weights).cost, abs=1e-3)

    ours = seconds(lambda: best_route(layers, weights), rounds)
    ours_few = seconds(lambda: best_route(few, weights), rounds)
    benchmark.extra_info.update(
        candidates=[len(layer) for layer in layers[:14]],
        ours_s=ours,
        over_one_numpy_pass=ours / seconds(lambda: one_pass(own, changes), rounds),
        over_making_the_matrices_and_one_pass=ours / seconds(lambda: one_pass(*matrices(layers, weights)), rounds),
        networkx_over_ours=seconds(lambda: nx.dijkstra_path_length(graph, "start", "end"), 1) / ours_few,
    )
    print(f"\nroute search, 32 sevenths: {benchmark.extra_info}")


def test_whole_plan(benchmark: Any, layers: list[tuple[Candidate, ...]]) -> None:
    """A drill of 32 sevenths planned from its wishes, candidates known, against the route search alone."""
    steps = tuple(Step(i, "p", i + 1, 1.0, 4.0 * i, 4.0, wish) for i, wish in enumerate(SEVENTHS))
    drill = Drill("bench", "Bench", "C major", 80.0, (4, 4), steps)
    plan = benchmark(lambda: plan_drill(drill, GUITAR, HAND))
    assert len(plan.steps) == 32
    rounds = 5 if benchmark.enabled else 1
    search = seconds(lambda: best_route(layers, drill.weights), rounds)
    benchmark.extra_info["over_route_search"] = seconds(lambda: plan_drill(drill, GUITAR, HAND), rounds) / search
    print(f"\nwhole plan: {benchmark.extra_info}")


def test_least_movement(benchmark: Any) -> None:
    """What the judge asks after every stroke, over 300 options, against pairing them one by one."""
    options = tuple(sorted({(40 + i % 7, 50 + i % 11, 60 + i % 13, 70 + i % 17) for i in range(300)}))
    played = (43, 52, 64, 71)
    least = benchmark(lambda: least_movement(played, options))
    assert least == min(movement(played, option).semitones for option in options)
    rounds = 50 if benchmark.enabled else 1
    ours = seconds(lambda: least_movement(played, options), rounds)
    plain = seconds(lambda: min(sum(abs(a - b) for a, b in zip(played, o, strict=True)) for o in options), rounds)
    benchmark.extra_info.update(ours_s=ours, plain_python_over_ours=plain / ours, options=len(options))
    print(f"\nleast movement: {benchmark.extra_info}")


def test_grip_search(benchmark: Any) -> None:
    """Grips a second for 2,000 shapes already met, in calls to an empty function."""
    shapes = [
        tuple((string, (index * string) % 5) for string in range(6, 0, -1) if (index + string) % 4)
        for index in range(2000)
    ]
    found = benchmark(lambda: [quick_grip(GUITAR, HAND, shape) for shape in shapes])
    assert any(found)
    rounds = 5 if benchmark.enabled else 1
    ours = seconds(lambda: [quick_grip(GUITAR, HAND, shape) for shape in shapes], rounds)
    empty = seconds(lambda: [len(shape) for shape in shapes], rounds)
    benchmark.extra_info.update(grips_per_s=round(len(shapes) / ours), over_empty_call=ours / empty)
    print(f"\ngrips: {benchmark.extra_info}")
