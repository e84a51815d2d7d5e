"""The route search against optima that were found without this program.

The three progressions keep the oracles' own limits: one note to a string, frets 0 to 12, pressed frets at most 3
apart, open strings free, exactly the chord's tones, none doubled; the cost is movement alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise, product

import pytest
from outside.tables.reading import table_rows

from listener.drill.manners import PRICES, Weights
from listener.guitar.fingering import Fingering
from listener.guitar.instrument import make_instrument
from listener.guitar.search import placements
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.planning.routes.alternatives import best_sounding
from listener.planning.routes.route import best_route, network

GUITAR = make_instrument()
MOVEMENT_ONLY = Weights(movement=1.0)
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


@pytest.mark.parametrize("row", table_rows("planner_oracles.csv"), ids=lambda row: row["name"])
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


@pytest.mark.parametrize("row", table_rows("planner_oracles.csv"), ids=lambda row: row["name"])
def test_oracle_alternatives(row: dict[str, str]) -> None:
    """The best few in sound begin with exactly the oracle's number of best paths, and the next one moves more."""
    layers = [
        [place(pitches) for pitches in pitch_sets(symbol, int(row["highest_fret"]), int(row["fretted_span"]), wide)]
        for wide in ["span" in row["filter"]]
        for symbol in row["progression"].split("-")
    ]
    best = int(row["optimal_paths"])
    found = best_sounding(network(layers, MOVEMENT_ONLY), best + 1)
    assert [route.cost for route in found[:best]] == [int(row["least_movement"])] * best
    assert found[best].cost > int(row["least_movement"])
    assert len({route.choice for route in found}) == best + 1


@pytest.mark.parametrize("row", table_rows("planner_oracles.csv"), ids=lambda row: row["name"])
def test_oracle_whatever_the_weights(row: dict[str, str]) -> None:
    """Least movement first reaches the oracle's total even where movement weighs nothing."""
    layers = [
        [place(pitches) for pitches in pitch_sets(symbol, int(row["highest_fret"]), int(row["fretted_span"]), wide)]
        for wide in ["span" in row["filter"]]
        for symbol in row["progression"].split("-")
    ]
    others = Weights(**{**dict.fromkeys(PRICES, 1.0), "movement": 0.0})
    route = best_route(layers, others, least_movement=True)
    taken = [layer[index].fingering.pitches for layer, index in zip(layers, route.choice, strict=True)]
    assert sum(movement(here, there).semitones for here, there in pairwise(taken)) == int(row["least_movement"])
