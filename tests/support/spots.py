"""Candidates made by hand and every route through them, so that the searches are tested against plain enumeration."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise, product
from random import Random

from hypothesis import strategies as st
from plain_costs import change_cost, own_cost

from listener.drill.drill import Wish
from listener.drill.manners import PRICES, Weights
from listener.guitar.fingering import Fingering
from listener.music.movement import movement
from listener.planning.routes.facts import Searchable
from listener.planning.routes.route import Link

MOVEMENT_ONLY = Weights(movement=1.0)
#: What all steps mind, or what each does.
Minded = Weights | Sequence[Weights]


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
    effort: float = 0.0,
    frets: tuple[int, ...] = (),
    strings: tuple[int, ...] = (),
    fingers: tuple[int, ...] = (),
) -> Spot:
    """Some open notes on strings 6, 5, 4 ... unless said otherwise; a finger for every fret, the lowest first."""
    notes = tuple(sorted(pitches))
    at = frets or (0,) * len(notes)
    used = strings or tuple(range(6, 6 - len(notes), -1))
    pressed = sorted({fret for fret in at if fret})
    taken = fingers or tuple(pressed.index(fret) + 1 if fret else 0 for fret in at)
    return Spot(Fingering(notes, used, at, taken, None, stretch_mm, strain, centre_mm, effort))


#: A small neck: its open strings lie near each other, so that one sound has several places and voices cross.
_OPEN = {6: 40, 5: 43, 4: 45, 3: 48}


def _press_mm(fret: int) -> float:
    """Where a finger presses: frets get narrower; whole numbers, so that sums of costs are exact."""
    return float(fret * (40 - fret))


def _dealt(chance: Random) -> Spot:
    """Strings muted, open or under one of four fingers, which lie in order along the neck, each at one fret."""
    fret_of = [0, *sorted(chance.choices(range(1, 8), k=4))]
    by = dict.fromkeys(chance.sample(sorted(_OPEN), k=chance.randint(1, 4)), 0)
    by.update((string, chance.choice((0, 1, 1, 2, 3, 4))) for string in by)
    notes = sorted((_OPEN[string] + fret_of[finger], -string, fret_of[finger], finger) for string, finger in by.items())
    spots_mm = [_press_mm(fret) for _, _, fret, _ in notes if fret]
    return laid(notes, spots_mm, strain=chance.randint(0, 4) / 4, effort=chance.randint(0, 4) / 4)


def laid(
    notes: Sequence[tuple[int, int, int, int]], spots_mm: Sequence[float], strain: float = 0.0, effort: float = 0.0
) -> Spot:
    """Notes from the lowest up as (pitch, minus the string, fret, finger), pressed in these places."""
    return Spot(
        Fingering(
            pitches=tuple(note[0] for note in notes),
            strings=tuple(-note[1] for note in notes),
            frets=tuple(note[2] for note in notes),
            fingers=tuple(note[3] for note in notes),
            barre=None,
            stretch_mm=max(spots_mm, default=0.0) - min(spots_mm, default=0.0),
            strain=strain,
            centre_mm=(max(spots_mm) + min(spots_mm)) / 2 if spots_mm else None,
            effort=effort,
        )
    )


def _pack(seed: int, count: int) -> list[Spot]:
    """A pack of them, the simplest first, so that what fails is made simple."""
    chance = Random(seed)
    return sorted((_dealt(chance) for _ in range(count)), key=lambda dealt: len(dealt.fingering.pitches))


#: Drawn from a pack: drawing each string and finger would take longer than all of the searches.
spots = st.sampled_from(_pack(1957, 3000))
layers_of_spots = st.lists(st.lists(spots, min_size=1, max_size=5), min_size=1, max_size=4)
lines = st.sampled_from([None, None, "up", "down", "same", "keep", "highest", "lowest"])
held = st.lists(st.integers(40, 50), max_size=1).map(tuple)
links = st.builds(Link, lines, lines, held, st.sampled_from([False, False, False, True]))
#: A handful of prices. Whole numbers of quarters keep sums exact in binary, so that equal costs really are equal.
weights = st.builds(
    lambda prices, low, high: Weights(**prices, low_fret=low, high_fret=high),
    st.dictionaries(st.sampled_from(PRICES), st.sampled_from([0.25, 1.0, 2.0]), max_size=9),
    st.sampled_from([1.0, 3.0]),
    st.sampled_from([15.0, 2.0]),
)


@st.composite
def minding_layers(draw: st.DrawFn) -> tuple[list[list[Spot]], list[Weights]]:
    """Layers, and what each of them minds: a few minds among all steps; a drill may come back to a layer, too."""
    layers = draw(layers_of_spots)
    layers = [draw(st.sampled_from([layer, layers[0]])) for layer in layers]
    minds = draw(st.lists(weights, min_size=1, max_size=3))
    return layers, [draw(st.sampled_from(minds)) for _ in layers]


def each(prices: Minded, count: int) -> list[Weights]:
    """What each of so many steps minds."""
    return [prices] * count if isinstance(prices, Weights) else list(prices)


def changes_of(route: Sequence[Searchable], loop: bool) -> list[tuple[Searchable, Searchable]]:
    """Neighbours; the way back of a loop comes last."""
    return [*pairwise(route), *([(route[-1], route[0])] if loop else [])]


def moved(route: Sequence[Searchable], loop: bool = False) -> int:
    """The movement of a route, voices that enter and leave included."""
    return sum(movement(a.fingering.pitches, b.fingering.pitches).cost for a, b in changes_of(route, loop))


def cost_of(
    route: Sequence[Searchable], prices: Minded, loop: bool = False, wishes: Sequence[Wish | None] | None = None
) -> float:
    """The documented cost, added up step by step: a change costs what the step that is arrived at minds."""
    minded = each(prices, len(route))
    wished = wishes if wishes is not None else [None] * len(route)
    total = sum(own_cost(taken.fingering, *what) for taken, *what in zip(route, minded, wished, strict=True))
    arrived = [*minded[1:], *minded[:1]]
    for (before, after), mind in zip(changes_of(route, loop), arrived, strict=False):
        total += change_cost(before.fingering, after.fingering, mind)
    return total


def comfort_of(route: Sequence[Searchable], prices: Minded, loop: bool = False) -> float:
    """All of the cost but movement."""
    return cost_of(route, [replace(mind, movement=0.0) for mind in each(prices, len(route))], loop)


def line_allows(motion: str | None, before: int, after: int, possible: set[int]) -> bool:
    """Whether a line may go on like this; ``possible`` are the notes that the wish of the later step allows."""
    if motion == "keep":
        return after == before or before not in possible
    return {"up": after > before, "down": after < before, "same": after == before}.get(motion or "", True)


def within(motion: str | None, note: int, possible: set[int]) -> bool:
    """Whether a note is the highest or lowest there is, where that is asked for."""
    return {"highest": note == max(possible), "lowest": note == min(possible)}.get(motion or "", True)


def allowed(route: Sequence[Searchable], layers: Sequence[Sequence[Searchable]], ties: Sequence[Link]) -> bool:
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
        if link.under and under(before) != under(here):
            return False
    return True


def under(fingering: Fingering) -> set[tuple[int, int]]:
    """Strings and frets of all notes but the highest."""
    return set(zip(fingering.strings[:-1], fingering.frets[:-1], strict=True))


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
