"""The steps of a drill as arrays: what each candidate costs by itself, and which may follow which.

Costs are whole numbers, so that sums are exact and equal routes tie on every machine. In the ordinary mode they are
millionths of the weights' unit. Where least movement comes first, a semitone costs more than all the comfort of a route
together: the sum then orders routes by movement and, among those that move equally little, by comfort.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.drill.drill import Step
from listener.drill.manners import Weights
from listener.guitar.fingering import Fingering
from listener.planning.routes.alignment import PitchSets
from listener.planning.routes.facts import CandidateFacts, Searchable, facts_of
from listener.planning.routes.hands import Hands, most_of_change

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Costs = NDArray[np.int64]
    Flags = NDArray[np.bool_]
    Indices = NDArray[np.intp]
    Chosen = slice | Indices
else:
    Costs = Flags = Indices = Chosen = Any

#: Costs are whole numbers of this part of one.
UNITS: Final = 1_000_000
#: More than any route costs; a change that may not be made, and what is to go where there is no way on.
NEVER: Final = 1 << 60
#: What the cost of a whole route stays below.
_MOST: Final = 1 << 58


@dataclass(frozen=True, slots=True)
class Link:
    """What ties a step to the one before it: words of :data:`listener.drill.drill.MOTIONS`, held pitches, and
    whether all notes under the top one stay."""

    top: str | None = None
    bottom: str | None = None
    hold: tuple[int, ...] = ()
    under: bool = False

    @classmethod
    def of(cls, step: Step) -> Link:
        """What a step says about the step before it."""
        return cls(step.top_motion, step.bottom_motion, tuple(sorted(set(step.hold))), step.under)

    @property
    def among_changes(self) -> bool:
        """Whether it forbids any change at all, rather than only candidates of the step itself."""
        return bool(self.hold) or self.under or not {self.top, self.bottom} <= {None, "highest", "lowest"}


FREE: Final = Link()


@dataclass(frozen=True, slots=True)
class Prices:
    """What movement and comfort cost in whole numbers; ``semitone`` is None where the weights say it."""

    weights: Weights
    units: int = UNITS
    semitone: int | None = None

    def of_movement(self, most: int) -> Costs:
        """The price of 0, 1, 2 ... ``most`` semitones."""
        semitones = np.arange(most + 1)
        if self.semitone is not None:
            dear: Costs = semitones.astype(np.int64) * self.semitone
            return dear
        usual: Costs = np.rint(semitones * self.weights.movement * UNITS).astype(np.int64)
        return usual

    def of_comfort(self, values: NDArray[np.float64]) -> Costs:
        """Prices of things that are counted in the weights' unit already."""
        found: Costs = np.rint(values * self.units).astype(np.int64)
        return found

    def of_one(self, name: str) -> int:
        """The price of one of these, by the name of its weight."""
        price: float = getattr(self.weights, name)
        return round(price * self.units)


def prices_for(
    layers: Sequence[Sequence[Searchable]], weights: Sequence[Weights], least_movement: bool
) -> dict[Weights, Prices]:
    """Prices for the different weights of a route's steps, with room for the way back to its start.

    Where movement comes first and a drill is so long, or its weights so large, that both do not fit into one whole
    number, comfort is counted in coarser parts; movement stays exact.
    """
    different = dict.fromkeys(weights)
    if not least_movement:
        return {one: Prices(one) for one in different}
    facts = [facts_of(layer) for layer in {id(layer): layer for layer in layers}.values()]
    reach_mm = max((float(np.nan_to_num(one.centre_mm).max(initial=0.0)) for one in facts), default=0.0)
    dearest = max((float(fact.own(one).max(initial=0.0)) for one in different for fact in facts), default=0.0)
    size = max((one.notes.shape[1] for one in facts), default=0)
    most_comfort = len(layers) * (
        dearest + max((most_of_change(one, reach_mm, size) for one in different), default=0.0)
    )
    most_movement = len(layers) * size * 140  # MIDI's range, and what it costs to leave and enter
    units = UNITS
    while True:
        # What is rounded in one step comes to less than a hundred parts.
        semitone = int(most_comfort * units) + 100 * len(layers) + 1
        if units == 1 or semitone * most_movement < _MOST:
            return {one: Prices(one, units, semitone) for one in different}
        units //= 10


@dataclass(frozen=True, slots=True, eq=False)
class Layer:
    """One step's candidates as arrays, all parallel but the last four.

    ``place`` is the index in the step's candidates, ``sound`` the index in ``sets``, the distinct pitch sets.
    ``hand`` is how each lies under the fingers, ``prices`` what the step minds. ``wished_tops`` and ``wished_bottoms``
    are the outer notes that the wish allows.
    """

    candidates: Sequence[Searchable]
    place: Indices
    sound: Indices
    own: Costs
    hand: Hands
    top: NDArray[np.int64]
    bottom: NDArray[np.int64]
    prices: Prices
    sets: PitchSets
    wished_tops: NDArray[np.int64]
    wished_bottoms: NDArray[np.int64]

    def __len__(self) -> int:
        return len(self.place)

    def fingering(self, index: int) -> Fingering:
        """The fingering of one candidate."""
        return self.candidates[int(self.place[index])].fingering

    @property
    def fingerings(self) -> tuple[Fingering, ...]:
        """Those of all."""
        return tuple(self.candidates[index].fingering for index in self.place.tolist())


def make_layer(candidates: Sequence[Searchable], facts: CandidateFacts, prices: Prices, link: Link = FREE) -> Layer:
    """The candidates of a step, of which these are the facts, but for those its ``highest`` and ``lowest`` rule out."""
    sizes = (facts.notes >= 0).sum(axis=1)
    tops = facts.notes[np.arange(len(sizes)), sizes - 1]
    bottoms = facts.notes[:, 0]
    place = np.flatnonzero(_extreme(tops, link.top) & _extreme(bottoms, link.bottom))
    sets, sound = PitchSets.with_places(facts.notes[place].astype(np.int16))
    return Layer(
        candidates=candidates,
        place=place,
        sound=sound,
        own=prices.of_comfort(facts.own(prices.weights)[place]),
        hand=Hands.of(facts, place),
        top=tops[place],
        bottom=bottoms[place],
        prices=prices,
        sets=sets,
        wished_tops=np.unique(tops),
        wished_bottoms=np.unique(bottoms),
    )


def _extreme(notes: NDArray[np.int64], motion: str | None) -> Flags:
    extremes = {"highest": notes.max, "lowest": notes.min}
    if motion not in extremes:
        return np.ones(len(notes), dtype=bool)
    found: Flags = notes == extremes[motion]()
    return found


def may_follow(
    before: Layer, after: Layer, link: Link, rows: Chosen = slice(None), columns: Chosen = slice(None)
) -> Flags:
    """Which of some candidates of ``after`` (``columns``) may follow which of some of ``before`` (``rows``)."""
    tops, bottoms = after.top[columns], after.bottom[columns]
    allowed = np.ones((len(before.top[rows]), len(tops)), dtype=bool)
    allowed &= _line(before.top[rows][:, None], tops, after.wished_tops, link.top)
    allowed &= _line(before.bottom[rows][:, None], bottoms, after.wished_bottoms, link.bottom)
    for pitch in link.hold:
        here, there = _strings_of(before.fingerings, pitch)[rows], _strings_of(after.fingerings, pitch)[columns]
        allowed &= (here[:, None] & there) != 0
    if link.under:
        here, there = _under(before, after)
        allowed &= here[rows][:, None] == there[columns]
    return allowed


def _under(before: Layer, after: Layer) -> tuple[Indices, Indices]:
    """Numbers for what lies under the top notes of two layers, equal where the same strings sound at the same frets."""
    numbers: dict[frozenset[tuple[int, int]], int] = {}

    def number(fingering: Fingering) -> int:
        places = frozenset(zip(fingering.strings[:-1], fingering.frets[:-1], strict=True))
        return numbers.setdefault(places, len(numbers))

    here, there = (np.array(list(map(number, layer.fingerings)), dtype=np.intp) for layer in (before, after))
    return here, there


def _line(before: NDArray[Any], after: NDArray[Any], wished: NDArray[np.int64], motion: str | None) -> Flags:
    found: Flags = np.ones((1, 1), dtype=bool)
    if motion == "up":
        found = np.greater(after, before)
    elif motion == "down":
        found = np.less(after, before)
    elif motion == "same":
        found = np.equal(after, before)
    elif motion == "keep":
        found = np.equal(after, before) | ~np.isin(before, wished)
    return found


def _strings_of(fingerings: Sequence[Fingering], pitch: int) -> NDArray[np.int64]:
    """The strings that sound a pitch, as bits: the same pitch on the same string is the same fret."""
    found = np.zeros(len(fingerings), dtype=np.int64)
    for index, fingering in enumerate(fingerings):
        for note, string in zip(fingering.pitches, fingering.strings, strict=True):
            if note == pitch:
                found[index] |= 1 << string
    return found
