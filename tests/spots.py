"""Candidates made by hand and every route through them, so that the searches are tested against plain enumeration."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import pairwise, product

from hypothesis import strategies as st

from listener.guitar.fingering import Fingering
from listener.music.movement import movement
from listener.planning.drill import Weights
from listener.planning.route import Link

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
    strings: tuple[int, ...] = (),
) -> Spot:
    """Some notes on strings 6, 5, 4 ... unless said otherwise."""
    notes = tuple(sorted(pitches))
    zeros = (0,) * len(notes)
    used = strings or tuple(range(6, 6 - len(notes), -1))
    return Spot(Fingering(notes, used, frets or zeros, zeros, None, stretch_mm, strain, centre_mm))


#: Whole numbers of quarters keep sums exact in binary, so that equal costs really are equal.
spots = st.builds(
    spot,
    st.lists(st.integers(40, 47), min_size=1, max_size=3, unique=True),
    centre_mm=st.one_of(st.none(), st.integers(1, 8).map(lambda fret: 25.0 * fret)),
    stretch_mm=st.integers(0, 4).map(lambda steps: 25.0 * steps),
    strain=st.integers(0, 4).map(lambda quarters: quarters / 4),
)
layers_of_spots = st.lists(st.lists(spots, min_size=1, max_size=5), min_size=1, max_size=4)
lines = st.sampled_from([None, None, "up", "down", "same", "keep", "highest", "lowest"])
links = st.builds(Link, lines, lines, st.lists(st.integers(40, 47), max_size=1).map(tuple))
weights = st.builds(Weights, *[st.sampled_from([0.0, 0.25, 1.0, 2.0]) for _ in range(5)])


def step_cost(taken: Spot, prices: Weights) -> float:
    """What a candidate costs by itself, as documented."""
    fingering = taken.fingering
    gap = max(0, fingering.lowest_fret - 1) if 0 in fingering.frets else 0
    return prices.stretch * fingering.stretch_mm + prices.strain * fingering.strain + prices.open_gap * gap


def travel_mm(before: Spot, after: Spot) -> float:
    """How far the hand goes; open strings neither need it nor forbid it."""
    here, there = before.fingering.centre_mm, after.fingering.centre_mm
    return 0.0 if here is None or there is None else abs(here - there)


def changes_of(route: Sequence[Spot], loop: bool) -> list[tuple[Spot, Spot]]:
    return [*pairwise(route), *([(route[-1], route[0])] if loop else [])]


def moved(route: Sequence[Spot], loop: bool = False) -> int:
    """The movement of a route, voices that enter and leave included."""
    return sum(movement(a.fingering.pitches, b.fingering.pitches).cost for a, b in changes_of(route, loop))


def cost_of(route: Sequence[Spot], prices: Weights, loop: bool = False) -> float:
    """The documented cost, added up step by step."""
    total = sum(step_cost(taken, prices) for taken in route) + prices.movement * moved(route, loop)
    return total + prices.travel * sum(travel_mm(a, b) for a, b in changes_of(route, loop))


def line_allows(motion: str | None, before: int, after: int, possible: set[int]) -> bool:
    """Whether a line may go on like this; ``possible`` are the notes that the wish of the later step allows."""
    if motion == "keep":
        return after == before or before not in possible
    return {"up": after > before, "down": after < before, "same": after == before}.get(motion or "", True)


def within(motion: str | None, note: int, possible: set[int]) -> bool:
    """Whether a note is the highest or lowest there is, where that is asked for."""
    return {"highest": note == max(possible), "lowest": note == min(possible)}.get(motion or "", True)


def allowed(route: Sequence[Spot], layers: Sequence[Sequence[Spot]], ties: Sequence[Link]) -> bool:
    """Whether a route keeps to its links; they are read one by one, as the drill reference words them."""
    for index, (taken, link) in enumerate(zip(route, ties, strict=True)):
        tops = {other.fingering.pitches[-1] for other in layers[index]}
        bottoms = {other.fingering.pitches[0] for other in layers[index]}
        here = taken.fingering
        if not within(link.top, here.pitches[-1], tops) or not within(link.bottom, here.pitches[0], bottoms):
            return False
        if not index:
            continue
        before = route[index - 1].fingering
        if not line_allows(link.top, before.pitches[-1], here.pitches[-1], tops):
            return False
        if not line_allows(link.bottom, before.pitches[0], here.pitches[0], bottoms):
            return False
        for pitch in link.hold:
            old = set(zip(before.pitches, before.strings, before.frets, strict=True))
            new = set(zip(here.pitches, here.strings, here.frets, strict=True))
            if not any(place[0] == pitch for place in old & new):
                return False
    return True


def every_route(layers: Sequence[Sequence[Spot]], ties: Sequence[Link] | None = None) -> Iterator[tuple[Spot, ...]]:
    """All routes that the links allow."""
    for route in product(*layers):
        if ties is None or allowed(route, layers, ties):
            yield route


def sounds_of(route: Sequence[Spot]) -> tuple[tuple[int, ...], ...]:
    """What is heard of a route."""
    return tuple(taken.fingering.pitches for taken in route)


def taken_by(choice: Sequence[int], layers: Sequence[Sequence[Spot]]) -> tuple[Spot, ...]:
    return tuple(layer[index] for layer, index in zip(layers, choice, strict=True))
