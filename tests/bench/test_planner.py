"""How quick planning is, as ratios to a reference run beside it. Nothing here passes or fails on time.

Run with ``pytest tests/bench/test_planner.py --benchmark-enable -s`` to see the ratios. networkx gets the first few
steps only, for it needs some 300 bytes for each change; in the plain run all references do, and only the answers are
compared.

The reference for the route search is :func:`one_pass`: one numpy pass over the very same cost matrices, made beforehand
for both sides. For each step it adds the costs so far to the matrix and takes the minimum of each column. It finds what
the best route costs, but keeps nothing from which the route could be read, so it is less than any search has to do.
"""

from __future__ import annotations

import math
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from dataclasses import replace
from itertools import pairwise
from typing import Any

import networkx as nx
import numpy as np
import pytest
from plain_search import plain_changes
from scipy.sparse import csr_array
from scipy.sparse.csgraph import dijkstra

from listener.drill.drill import Drill, Step, Wish
from listener.drill.manners import VOICE_LEADING, manner
from listener.guitar.grip import grip
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.planning.planner import plan_drill
from listener.planning.routes.alternatives import best_sounding
from listener.planning.routes.facts import facts_of
from listener.planning.routes.network import Network
from listener.planning.routes.route import UNITS, best_route, least_cost, least_movement, network
from listener.planning.shapes.candidates import Candidate, candidates

GUITAR, HAND, WEIGHTS = make_instrument(), make_hand(), manner(VOICE_LEADING)
Layers = list[tuple[Candidate, ...]]
SEVENTHS = ["Dm7", "G7", "Cmaj7", "Fmaj7", "Bm7b5", "E7", "Am7", "A7", "Dm7", "Gm7", "C7", "Fmaj7", "Bbmaj7", "Em7b5"]
NINTHS = ["Dm9", "G9", "Cmaj9", "Fmaj9", "Bm9", "E9", "Am9", "A9", "Gm9", "C9", "Bbmaj9", "D9"]
#: Chords, notes in each, by name.
PROGRESSIONS = {"sevenths": (SEVENTHS, 4), "ninths": (NINTHS, 5)}
STEPS = 32
#: Steps that networkx gets, and in the plain run every reference.
FEW = 3


def wishes(chords: Sequence[str], size: int | None, count: int) -> list[Wish]:
    return [Wish(parse_chord(chords[index % len(chords)]), ("any",), size=size) for index in range(count)]


def drill_of(asked: Sequence[Wish]) -> Drill:
    steps = tuple(Step(i, "p", i + 1, 1.0, 4.0 * i, 4.0, wish) for i, wish in enumerate(asked))
    return Drill("bench", "Bench", "C major", 80.0, (4, 4), steps)


@pytest.fixture(scope="module", params=PROGRESSIONS)
def layers(request: pytest.FixtureRequest) -> Layers:
    chords, size = PROGRESSIONS[request.param]
    return [candidates(wish, GUITAR, HAND) for wish in wishes(chords, size, STEPS)]


def seconds(call: Callable[[], object], rounds: int) -> float:
    """The quickest of some rounds."""
    best = float("inf")
    for _ in range(rounds):
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return best


def ready(graph: Network) -> tuple[list[Any], list[Any]]:
    """The costs that the search itself uses, in millionths: each step's own, and every change as a dense array."""
    own = [graph.own(index) for index in range(len(graph))]
    return own, [graph.changes(index, slice(None)) for index in range(1, len(graph))]


def one_pass(own: list[Any], changes: list[Any]) -> int:
    """The reference: add, take the minimum, go on."""
    cost = own[0]
    for change, after in zip(changes, own[1:], strict=True):
        cost = (cost[:, None] + change).min(axis=0) + after
    return int(cost.min())


def made(layers: Layers) -> tuple[list[Any], list[Any]]:
    """The same costs worked out afresh, plainly, in whole arrays; what a reference that makes its own would do."""
    own = [np.rint(UNITS * facts_of(layer).own(WEIGHTS)).astype(np.int64) for layer in layers]
    return own, [plain_changes(before, after, WEIGHTS) for before, after in pairwise(layers)]


def whole_graph(own: list[Any], changes: list[Any]) -> tuple[Any, Any, Any]:
    """All layers as one graph: edge ends and costs, the cost of a step on the edges that lead to it.

    Nodes are numbered through; node 0 is before the first step, the last one after the last.
    """
    starts = np.cumsum([1, *map(len, own)])
    rows, columns, costs = [np.zeros(len(own[0]), int)], [starts[0] + np.arange(len(own[0]))], [own[0]]
    for number, change in enumerate(changes):
        here, there = np.indices(change.shape)
        rows.append(starts[number] + here.ravel())
        columns.append(starts[number + 1] + there.ravel())
        costs.append((change + own[number + 1]).ravel())
    rows.append(starts[-2] + np.arange(len(own[-1])))
    columns.append(np.full(len(own[-1]), starts[-1]))
    costs.append(np.zeros(len(own[-1]), np.int64))
    return np.concatenate(rows), np.concatenate(columns), np.concatenate(costs)


def networkx_least(graph: Any, end: int) -> int:
    return int(nx.dijkstra_path_length(graph, 0, end))


def test_route_search(benchmark: Any, layers: Layers) -> None:
    """Thirty-two sevenths and ninths against one pass over the matrices, and against networkx and scipy."""
    rounds = 20 if benchmark.enabled else 1
    some, first = layers[: STEPS if benchmark.enabled else FEW], layers[:FEW]
    graph = network(layers, WEIGHTS)
    own, changes = ready(graph)
    route = benchmark(lambda: least_cost(graph))
    assert one_pass(own, changes) == round(route.cost * UNITS)
    assert one_pass(*made(some)) == pytest.approx(best_route(some, WEIGHTS).cost * UNITS, abs=STEPS)
    search = seconds(lambda: least_cost(graph), rounds)
    fresh = seconds(lambda: best_route(some, WEIGHTS), rounds)
    benchmark.extra_info.update(
        candidates=sorted({len(layer) for layer in layers}),
        search_ms=1000 * search,
        over_one_numpy_pass=search / seconds(lambda: one_pass(own, changes), rounds),
        with_matrices_made_ms=1000 * fresh,
        with_matrices_made_on_both_sides=fresh / seconds(lambda: one_pass(*made(some)), 1),
    )
    rows, columns, costs = whole_graph(own[:FEW], changes[: FEW - 1])
    expected = round(best_route(first, WEIGHTS).cost * UNITS)
    end = int(columns.max())
    theirs = nx.DiGraph()
    theirs.add_weighted_edges_from(zip(rows.tolist(), columns.tolist(), costs.tolist(), strict=True))
    assert networkx_least(theirs, end) == expected
    sparse = csr_array((costs + 1.0, (rows, columns)), shape=(end + 1, end + 1))
    assert dijkstra(sparse, indices=0)[end] - (FEW + 1) == pytest.approx(expected, abs=1)
    few = network(first, WEIGHTS)
    ready(few)
    ours, ours_fresh = (seconds(call, rounds) for call in (lambda: least_cost(few), lambda: best_route(first, WEIGHTS)))
    networkx_s = seconds(lambda: networkx_least(theirs, end), 3 if benchmark.enabled else 1)
    benchmark.extra_info.update(
        networkx_steps=FEW,
        networkx_edges=len(costs),
        networkx_over_ours=networkx_s / ours,
        networkx_over_ours_with_matrices_made=networkx_s / ours_fresh,
        scipy_over_ours=seconds(lambda: dijkstra(sparse, indices=0), 3) / ours,
    )
    print(f"\nroute search: {benchmark.extra_info}")


def test_loops_and_alternatives(benchmark: Any, layers: Layers) -> None:
    """A loop of sixteen chords and the twenty best sounds of thirty-two, in searches of the same open route."""
    rounds = 3 if benchmark.enabled else 1
    graph, ring = network(layers, WEIGHTS), network(layers[:16], WEIGHTS)
    found = benchmark(lambda: best_sounding(graph, 20))
    assert len(found) == 20
    assert found[0] == least_cost(graph)
    open_route, open_ring = (seconds(lambda g=g: least_cost(g), rounds) for g in (graph, ring))  # type: ignore[misc]
    timed = {
        "loop_of_16": seconds(lambda: least_cost(ring, loop=True), rounds) / open_ring,
        "loop_of_32": seconds(lambda: least_cost(graph, loop=True), rounds) / open_route,
        "best_20": seconds(lambda: best_sounding(graph, 20), rounds) / open_route,
        "best_20_loops_of_16": seconds(lambda: best_sounding(ring, 20, loop=True), rounds) / open_ring,
    }
    benchmark.extra_info.update({f"{name}_over_open_route": ratio for name, ratio in timed.items()})
    benchmark.extra_info.update(open_route_ms=1000 * open_route, open_route_of_16_ms=1000 * open_ring)
    print(f"\nloops and alternatives: {benchmark.extra_info}")


#: Forty-eight chords; a row of them in mixed order has next to no change twice.
ROOTS = ["C", "C#", "D", "Eb", "E", "F", "F#", "G", "Ab", "A", "Bb", "B"]
MIXED = [root + kind for kind in ("7", "maj7", "m7", "m7b5") for root in ROOTS]


def mixed(count: int) -> list[str]:
    generator = np.random.default_rng(5)
    return [MIXED[int(index)] for index in generator.integers(0, len(MIXED), count)]


@pytest.mark.parametrize("order", ["repeating", "mixed"])
def test_cost_grows_with_the_steps(benchmark: Any, order: str) -> None:
    """From 8 to 512 chords, candidates known: milliseconds, and the slope between their logarithms (1: linear).

    Fourteen chords that go round need fourteen matrices however often they go round, so their slope is below 1; in
    mixed order almost every change is new.
    """
    counts = [8, 16, 32, 64, 128, 256, 512] if benchmark.enabled else [8, 16]
    row = SEVENTHS * 40 if order == "repeating" else mixed(512)
    drills = {count: drill_of(wishes(row[:count], 4, count)) for count in counts}
    plan = benchmark(lambda: plan_drill(drills[counts[0]], GUITAR, HAND))
    assert len(plan.steps) == counts[0]
    for count in counts:
        plan_drill(drills[count], GUITAR, HAND)
    taken = {count: seconds(lambda c=count: plan_drill(drills[c], GUITAR, HAND), 3) for count in counts}  # type: ignore[misc]
    logs = [(math.log2(count), math.log2(spent)) for count, spent in taken.items()]
    slope = float(np.polyfit(*zip(*logs, strict=True), 1)[0])
    benchmark.extra_info.update(ms={c: round(1000 * s, 2) for c, s in taken.items()}, slope=slope)
    print(f"\ngrowth, {order}: {benchmark.extra_info}")


#: Run by itself, for the time that a player waits and the memory that it takes.
ALONE = """
import time
start = time.perf_counter()
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.drill.drill import Drill, Step, Wish
from listener.planning.planner import plan_drill
imported = time.perf_counter() - start
def peak_mb():  # Linux only; getrusage would tell the parent's peak
    with open("/proc/self/status") as status:
        return next(int(line.split()[1]) / 1024 for line in status if line.startswith("VmHWM"))

wishes = [Wish(parse_chord(chord), ("any",), size={size!r}) for chord in {chords!r}]
steps = tuple(Step(i, "p", i + 1, 1.0, 4.0 * i, 4.0, wishes[i % len(wishes)]) for i in range({count}))
drill = Drill("d", "D", "C major", 80.0, (4, 4), steps, loop={loop!r}, least_movement={least!r})
before = peak_mb()
start = time.perf_counter()
plan = plan_drill(drill, make_instrument(), make_hand())
spent = time.perf_counter() - start
assert len(plan.steps) == {count}
print(imported, spent, peak_mb() - before)
"""


def alone(
    chords: Sequence[str], count: int, *, size: int | None, loop: bool = False, least: bool = False
) -> list[float]:
    """Seconds to import, seconds to plan from nothing, and megabytes above that, in a process of its own."""
    program = ALONE.format(chords=list(chords), count=count, size=size, loop=loop, least=least)
    done = subprocess.run([sys.executable, "-c", program], capture_output=True, text=True, check=True)
    return [float(number) for number in done.stdout.split()]


THIRTEENTHS = ["Dm13", "G13", "Cmaj13", "F13", "Bbmaj13", "Em13", "A13", "D13"]


def test_thirteenths_from_nothing(benchmark: Any) -> None:
    """Thirty-two thirteenths, nothing known before: seconds above import, and the plan again with candidates known."""
    drill = drill_of(wishes(THIRTEENTHS, None, 32 if benchmark.enabled else 2))
    plan_drill(drill, GUITAR, HAND)
    assert benchmark(lambda: plan_drill(drill, GUITAR, HAND)).drill is drill
    if not benchmark.enabled or sys.platform != "linux":
        return
    imported, spent, more_mb = alone(THIRTEENTHS, 32, size=None)
    known = seconds(lambda: plan_drill(drill, GUITAR, HAND), 3)
    benchmark.extra_info.update(above_import_s=spent, over_import=spent / imported, more_mb=more_mb, known_s=known)
    print(f"\nthirteenths: {benchmark.extra_info}")


def test_a_thousand_steps(benchmark: Any) -> None:
    """A thousand sevenths: seconds and megabytes, open, in a loop, and with movement first."""
    drill = drill_of(wishes(SEVENTHS, 4, 64))
    assert benchmark(lambda: plan_drill(replace(drill, loop=True), GUITAR, HAND)).way_back is not None
    if not benchmark.enabled or sys.platform != "linux":
        return
    cases = {
        "open": (SEVENTHS, False, False),
        "open, hardly a change twice": (mixed(1_000), False, False),
        "loop": (SEVENTHS, True, False),
        "loop, movement first": (SEVENTHS, True, True),
        "loop, movement first, hardly a change twice": (mixed(1_000), True, True),
    }
    for name, (chords, loop, least) in cases.items():
        _, spent, more_mb = alone(chords, 1_000, size=4, loop=loop, least=least)
        benchmark.extra_info[name] = {"s": round(spent, 2), "more_mb": round(more_mb)}
    print(f"\na thousand steps: {benchmark.extra_info}")


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
    """Grips a second for 2,000 shapes asked about one by one, in calls to an empty function."""
    shapes = [
        tuple((string, (index * string) % 5) for string in range(6, 0, -1) if (index + string) % 4)
        for index in range(2000)
    ]
    found = benchmark(lambda: [grip(GUITAR, HAND, shape) for shape in shapes])
    assert any(found)
    rounds = 5 if benchmark.enabled else 1
    ours = seconds(lambda: [grip(GUITAR, HAND, shape) for shape in shapes], rounds)
    empty = seconds(lambda: [len(shape) for shape in shapes], rounds)
    benchmark.extra_info.update(grips_per_s=round(len(shapes) / ours), over_empty_call=ours / empty)
    print(f"\ngrips: {benchmark.extra_info}")
