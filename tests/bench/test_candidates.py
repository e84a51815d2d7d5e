"""How quick the search for candidates is, as ratios to trying shapes one by one. Nothing passes or fails on time.

Run with ``pytest tests/bench/test_candidates.py --benchmark-enable -s`` to see the ratios. Every round starts cold:
what was found before is forgotten.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from typing import Any

import numpy as np
import plain_grip
import pytest
from plain_neck import plain_candidates

from listener.drill.drill import Wish
from listener.guitar.hand import make_hand
from listener.guitar.holds import holds
from listener.guitar.instrument import Instrument, make_instrument
from listener.guitar.search import area
from listener.music import voicing
from listener.music.chord import parse_chord
from listener.planning.shapes import candidates as module
from listener.planning.shapes import voiced
from listener.planning.shapes.candidates import Candidate, candidates
from listener.planning.shapes.neck import shapes
from listener.planning.shapes.tones import wished_tones

GUITAR, HAND = make_instrument(), make_hand()
ROOTS = ("C", "D", "G", "F", "Bb", "Eb", "A", "E", "B", "Ab", "Db", "F#", "Am", "Dm")
CASES = {
    "32 sevenths": [Wish(parse_chord(root + "7"), ("any",), size=4) for root in ROOTS],
    "32 ninths": [Wish(parse_chord(root + "9"), ("any",)) for root in ROOTS],
    "32 thirteenths, any and full": [Wish(parse_chord(root + "13"), ("any", "full")) for root in ROOTS],
}


def forget() -> None:
    """Empty every table that is kept between searches."""
    module._candidates.cache_clear()
    module._shape_table.cache_clear()
    voiced._kind_on_c.cache_clear()
    plain_grip._assignments.cache_clear()


def seconds(call: Callable[[], object], rounds: int) -> float:
    """The quickest of some cold rounds."""
    best = float("inf")
    for _ in range(rounds):
        forget()
        start = time.perf_counter()
        call()
        best = min(best, time.perf_counter() - start)
    return best


def found(wishes: Sequence[Wish], instrument: Instrument = GUITAR) -> list[tuple[Candidate, ...]]:
    return [candidates(wishes[index % len(wishes)], instrument, HAND) for index in range(32)]


@pytest.mark.parametrize("name", CASES)
def test_cold_candidates(benchmark: Any, name: str) -> None:
    """Thirty-two chords, fourteen of them different, against trying every fret in one position for one of them."""
    wishes = CASES[name]
    layers = benchmark.pedantic(lambda: found(wishes), setup=forget, rounds=5 if benchmark.enabled else 1)
    assert all(layers)
    few = Wish(wishes[0].chord, wishes[0].kinds, size=wishes[0].size, frets=(3, 6))
    plain = seconds(lambda: plain_candidates(few, GUITAR, HAND), 1)
    ours = seconds(lambda: candidates(few, GUITAR, HAND), 5 if benchmark.enabled else 1)
    benchmark.extra_info.update(
        candidates=[len(layer) for layer in layers[:14]],
        cold_s=seconds(lambda: found(wishes), 3 if benchmark.enabled else 1),
        plain_over_ours_in_one_position=plain / ours,
    )
    print(f"\n{name}: {benchmark.extra_info}")


def test_fingers_for_many_shapes(benchmark: Any) -> None:
    """The sensible fingers for every strummed shape of a thirteenth, all at once, against one after the other."""
    wish = Wish(parse_chord("G13"), ("full",))
    rows = shapes(GUITAR, HAND.longest_mm, wished_tones(wish, "full"), area(GUITAR))
    held = benchmark(lambda: holds(GUITAR, HAND, rows))
    placed = [tuple((6 - i, fret) for i, fret in enumerate(frets) if fret >= 0) for frets in rows.tolist()]
    plain = seconds(lambda: [plain_grip.plain_sensible_grips(GUITAR, HAND, shape) for shape in placed], 1)
    assert len(held.strain) == sum(len(plain_grip.plain_sensible_grips(GUITAR, HAND, shape)) for shape in placed)
    ours = seconds(lambda: holds(GUITAR, HAND, rows), 5 if benchmark.enabled else 1)
    benchmark.extra_info.update(shapes=len(rows), one_by_one_over_ours=plain / ours)
    print(f"\nfingers: {benchmark.extra_info}")


def test_a_second_wish_for_the_same_chord(benchmark: Any) -> None:
    """Another top note over a chord that was met before, against the first search for it."""
    chord = parse_chord("G13")
    first = seconds(lambda: candidates(Wish(chord, ("full",)), GUITAR, HAND), 3 if benchmark.enabled else 1)
    wishes = [Wish(chord, ("full",), inversion=inversion) for inversion in range(5)]

    def again() -> None:
        module._candidates.cache_clear()
        for wish in wishes:
            candidates(wish, GUITAR, HAND)

    benchmark(again)
    start = time.perf_counter()
    again()
    benchmark.extra_info["first_over_second"] = first / ((time.perf_counter() - start) / len(wishes))
    print(f"\nsecond wish: {benchmark.extra_info}")


@pytest.mark.parametrize("strings", ["standard", "seven string", "eight string"])
def test_more_strings(benchmark: Any, strings: str) -> None:
    """The work grows with the shapes that there are, not faster: microseconds for each candidate."""
    guitar = make_instrument(strings)
    wish = Wish(parse_chord("G7"), ("full",))
    layer = benchmark.pedantic(
        lambda: candidates(wish, guitar, HAND), setup=forget, rounds=3 if benchmark.enabled else 1
    )
    took = seconds(lambda: candidates(wish, guitar, HAND), 3 if benchmark.enabled else 1)
    empty = seconds(lambda: np.sort(np.random.default_rng(0).integers(0, 99, len(layer))), 3)
    benchmark.extra_info.update(
        candidates=len(layer), microseconds_each=1e6 * took / len(layer), over_sorting_as_many_numbers=took / empty
    )
    print(f"\n{strings}: {benchmark.extra_info}")
    assert {voicing.FULL} == {one.voicing.kind for one in layer}
