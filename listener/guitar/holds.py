"""Which finger presses where: all ways a hand can hold some frets, for many shapes at once.

Rules, the same for every hand (common practice; their limits are data):

- fingers lie in order along the neck, a higher finger never nearer the nut; at one fret the lower finger takes
  the lower string;
- one finger presses one fret, over one string or, lying flat, over neighbouring ones;
- a flat finger may cross muted strings and strings that are pressed higher up, but no string that sounds at a lower
  fret or open, for it would stop it;
- two fingers are never further apart than the hand reaches.

Of the ways that remain the one with the least effort comes first; ``shared/hands.toml`` says what that adds up.

The pressed notes of a shape are put in the order in which fingers take them: by fret, at one fret from the lowest
string up. Fingers are then cuts in that row, three at most. An *assignment* is a set of cuts and the fingers that take
the parts between them; all assignments of all shapes are weighed together. ``tests/support/plain_grip.py`` says the
same one shape, one finger at a time, and the tests hold one against the other to the last bit.
"""

from __future__ import annotations

from dataclasses import dataclass
from enum import Enum
from functools import lru_cache
from itertools import combinations
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.guitar.hand import FINGERS, Hand
from listener.guitar.hand import effort as table_of_effort
from listener.guitar.instrument import Instrument

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Frets = NDArray[np.int8]
    Places = NDArray[np.int16]
    Lengths = NDArray[np.float64]
else:
    Frets = Places = Lengths = Any

#: Efforts that differ by less are equal.
_EFFORT_STEP: Final = 1e-9
#: Sorts behind every note: stands for a string that is not pressed.
_NO_NOTE: Final = 1 << 12


class Ways(Enum):
    """Which ways to hold a shape are asked for.

    ``BEST`` is the one with the least effort, ``SENSIBLE`` those that ask little more than it: what a change of chords
    may choose from.
    """

    BEST = "best"
    SENSIBLE = "sensible"
    ALL = "all"


@dataclass(frozen=True)
class Holds:
    """Rows of frets that a hand holds, once for every way to hold them; arrays are parallel.

    ``frets`` and ``fingers`` have a column for every string, the lowest first (-1 muted, finger 0 where none presses).
    ``barre`` has finger, fret, lowest and highest string of the widest flat finger, finger 0 when there is none.
    ``centre_mm`` is NaN where only open strings sound.
    """

    frets: Frets
    fingers: Frets
    barre: Places
    strain: Lengths
    stretch_mm: Lengths
    centre_mm: Lengths
    effort: Lengths
    over_best: Lengths

    def taken(self, index: NDArray[Any] | slice) -> Holds:
        """Some of the rows."""
        return Holds(
            self.frets[index],
            self.fingers[index],
            self.barre[index],
            self.strain[index],
            self.stretch_mm[index],
            self.centre_mm[index],
            self.effort[index],
            self.over_best[index],
        )


@dataclass(frozen=True)
class _Assignments:
    """All assignments for a number of strings, in the order in which ties are decided.

    ``cuts`` has bit i where a new finger begins after note i; ``first`` and ``last`` are the notes of each finger's
    part (the last part goes on to the last note), ``finger`` its finger, 0 for parts that do not exist.
    """

    cuts: NDArray[np.int64]
    first: NDArray[np.int64]
    last: NDArray[np.int64]
    finger: NDArray[np.int64]
    parts: NDArray[np.int64]


@lru_cache(maxsize=16)
def _assignments(strings: int) -> _Assignments:
    gaps = range(strings - 1)
    rows: list[tuple[tuple[int, ...], tuple[int, ...]]] = []
    for parts in range(1, min(FINGERS, strings) + 1):
        for fingers in combinations(range(1, FINGERS + 1), parts):
            rows.extend((fingers, cuts) for cuts in combinations(gaps, parts - 1))
    first = np.zeros((len(rows), FINGERS), dtype=np.int64)
    last = np.full((len(rows), FINGERS), strings - 1, dtype=np.int64)
    finger = np.zeros((len(rows), FINGERS), dtype=np.int64)
    for index, (fingers, cuts) in enumerate(rows):
        first[index, 1 : len(fingers)] = [cut + 1 for cut in cuts]
        last[index, : len(cuts)] = cuts
        finger[index, : len(fingers)] = fingers
    masks = [sum(1 << cut for cut in cuts) for _, cuts in rows]
    return _Assignments(np.array(masks), first, last, finger, np.array([len(fingers) for fingers, _ in rows]))


@dataclass(frozen=True)
class _Notes:
    """The pressed notes of each shape in finger order, one column each, padded to the number of strings.

    ``bound`` has bit i where notes i and i + 1 cannot share a finger, ``gaps`` a bit for every gap between two notes;
    ``arched`` is true where a higher string than the note's sounds at a lower fret.
    """

    count: NDArray[np.int64]
    fret: Places
    string: Places
    bound: NDArray[np.int64]
    gaps: NDArray[np.int64]
    arched: NDArray[np.bool_]


def holds(instrument: Instrument, hand: Hand, frets: Frets, ways: Ways = Ways.SENSIBLE) -> Holds:
    """Those of the shapes that the hand can hold, each in these ways.

    The ways of one shape follow each other, the least effort first, then fewer and lower fingers. ``frets`` has a row
    for each shape and a column for each string, lowest first: 0 open, -1 muted.
    """
    notes = _notes(frets)
    row, which, strain = _possible(instrument, hand, notes)
    taken, effort, over_best = _chosen(row, which, strain, notes, ways)
    row, which, strain = row[taken], which[taken], strain[taken]
    bare = np.flatnonzero((notes.count == 0) & (frets >= 0).any(axis=1))
    return _described(instrument, frets, notes, row, which, strain, effort, over_best, bare)


def _notes(frets: Frets) -> _Notes:
    strings = frets.shape[1]
    number = np.arange(strings, 0, -1, dtype=np.int16)
    keys = np.sort(np.where(frets > 0, frets.astype(np.int16) * 32 + (31 - number), _NO_NOTE), axis=1)
    fret, string = (keys >> 5).astype(np.int16), (31 - (keys & 31)).astype(np.int16)
    count = (frets > 0).sum(axis=1)
    bound = np.zeros(len(frets), dtype=np.int64)
    sounding = np.where(frets >= 0, frets, 127)
    for gap in range(strings - 1):
        apart = fret[:, gap] != fret[:, gap + 1]
        between = (number < string[:, gap, None]) & (number > string[:, gap + 1, None])
        stopped = (between & (sounding < fret[:, gap, None])).any(axis=1)
        bound |= (apart | stopped).astype(np.int64) << gap
    gaps = (1 << np.maximum(count - 1, 0)) - 1
    # The lowest fret that sounds on any string above a given one; string 1 has none above it.
    above = np.full((len(frets), strings + 1), 127, dtype=np.int16)
    for column in range(strings - 1, 0, -1):
        high = strings - column
        above[:, high + 1] = np.minimum(above[:, high], sounding[:, column])
    arched = np.take_along_axis(above, np.minimum(string, strings).astype(np.int64), axis=1) < fret
    return _Notes(count, fret, string, bound & gaps, gaps, arched)


def _possible(instrument: Instrument, hand: Hand, notes: _Notes) -> tuple[NDArray[np.intp], NDArray[np.intp], Lengths]:
    """(shape, assignment, strain) for every assignment that keeps the rules and stays within reach."""
    table = _assignments(notes.fret.shape[1])
    allowed = (notes.bound[:, None] & ~table.cuts == 0) & (table.cuts & ~notes.gaps[:, None] == 0)
    row, which = np.nonzero(allowed & (notes.count > 0)[:, None])
    row, which = _narrow_enough(row, which, table, notes, hand)
    strain = _strain(row, which, table, notes, instrument, hand)
    within = strain <= 1.0
    return row[within], which[within], strain[within]


def _ends(
    row: NDArray[np.intp], which: NDArray[np.intp], table: _Assignments, notes: _Notes, part: int
) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """First and last note of one part of each assignment; nonsense where it has no such part."""
    return table.first[which, part], np.minimum(table.last[which, part], notes.count[row] - 1)


def _narrow_enough(
    row: NDArray[np.intp], which: NDArray[np.intp], table: _Assignments, notes: _Notes, hand: Hand
) -> tuple[NDArray[np.intp], NDArray[np.intp]]:
    most = np.array([127, *hand.barre_strings])
    fits = np.ones(len(row), dtype=bool)
    for part in range(FINGERS):
        first, last = _ends(row, which, table, notes, part)
        width = notes.string[row, first] - notes.string[row, last] + 1
        fits &= (width <= most[table.finger[which, part]]) | (first >= last)
    return row[fits], which[fits]


def _strain(
    row: NDArray[np.intp],
    which: NDArray[np.intp],
    table: _Assignments,
    notes: _Notes,
    instrument: Instrument,
    hand: Hand,
) -> Lengths:
    """Largest share of its reach that any pair of fingers uses."""
    spots = np.array(instrument.presses_mm)
    reach = np.full((FINGERS + 1, FINGERS + 1), np.inf)
    for one, other in combinations(range(1, FINGERS + 1), 2):
        reach[one, other] = hand.reach(one, other)
    places = [spots[notes.fret[row, table.first[which, part]]] for part in range(FINGERS)]
    strain = np.zeros(len(row))
    for one, other in combinations(range(FINGERS), 2):
        apart = (places[other] - places[one]) / reach[table.finger[which, one], table.finger[which, other]]
        np.maximum(strain, apart, out=strain)
    return strain


def _chosen(
    row: NDArray[np.intp], which: NDArray[np.intp], strain: Lengths, notes: _Notes, ways: Ways
) -> tuple[NDArray[np.intp], Lengths, Lengths]:
    """The places of the ways that are asked for, shape by shape, the best first; ties go to the earlier assignment.
    With their efforts, and what these are beyond the least for their shape."""
    effort = _effort_of(row, which, strain, _assignments(notes.fret.shape[1]), notes)
    # Rows are in order already: sorting by effort within them keeps the earlier assignment first.
    order = np.lexsort((np.rint(effort / _EFFORT_STEP).astype(np.int64), row))
    fresh = np.ones(len(order), dtype=bool)
    fresh[1:] = row[order][1:] != row[order][:-1]
    least = effort[order][fresh][np.cumsum(fresh) - 1]
    over_best = effort[order] - least
    if ways is Ways.BEST:
        taken = fresh
    elif ways is Ways.SENSIBLE:
        taken = over_best <= table_of_effort().sensible + _EFFORT_STEP
    else:
        taken = np.ones(len(order), dtype=bool)
    return order[taken], effort[order[taken]], over_best[taken]


def _effort_of(
    row: NDArray[np.intp], which: NDArray[np.intp], strain: Lengths, table: _Assignments, notes: _Notes
) -> Lengths:
    weights = table_of_effort()
    parts = table.parts[which]
    total: Lengths = weights.strain * strain + weights.finger * parts
    total += weights.idle * (table.finger[which, 0] - 1) * (parts > 0)
    for part in range(FINGERS):
        first, last = _ends(row, which, table, notes, part)
        flat = (first < last) & (part < parts)
        total += np.where(table.finger[which, part] == 1, weights.first_barre, weights.other_barre) * flat
        total += weights.arched * (flat & notes.arched[row, last])
    for part in range(FINGERS - 1):
        frets = notes.fret[row, table.first[which, part + 1]] - notes.fret[row, table.first[which, part]]
        fingers = table.finger[which, part + 1] - table.finger[which, part]
        total += weights.crowding * np.abs(frets - fingers) * (part + 1 < parts)
    return total


def _described(
    instrument: Instrument,
    frets: Frets,
    notes: _Notes,
    row: NDArray[np.intp],
    which: NDArray[np.intp],
    strain: Lengths,
    effort: Lengths,
    over_best: Lengths,
    bare: NDArray[np.intp],
) -> Holds:
    """The chosen assignments as fingers on strings; ``bare`` are the shapes of open strings alone."""
    table = _assignments(notes.fret.shape[1])
    strings = frets.shape[1]
    fingers = np.zeros((len(row), strings), dtype=np.int8)
    barre = np.zeros((len(row), 4), dtype=np.int16)
    widest = np.ones(len(row), dtype=np.int16)
    index = np.arange(len(row))
    for part in range(FINGERS):
        first, last = _ends(row, which, table, notes, part)
        finger = table.finger[which, part]
        for note in range(strings):
            inside = (finger > 0) & (first <= note) & (note <= last)
            fingers[index[inside], strings - notes.string[row[inside], note]] = finger[inside]
        low, high = notes.string[row, first], notes.string[row, last]
        wider = (finger > 0) & (low - high + 1 > widest)
        widest[wider] = (low - high + 1)[wider]
        barre[wider] = np.stack([finger, notes.fret[row, first], low, high], axis=1)[wider]
    spots = np.array(instrument.presses_mm)
    lowest, highest = spots[notes.fret[row, 0]], spots[notes.fret[row, notes.count[row] - 1]]
    none = np.zeros(len(bare))
    return Holds(
        frets=np.concatenate([frets[row], frets[bare]]),
        fingers=np.concatenate([fingers, np.zeros((len(bare), strings), dtype=np.int8)]),
        barre=np.concatenate([barre, np.zeros((len(bare), 4), dtype=np.int16)]),
        strain=np.concatenate([strain, none]),
        stretch_mm=np.concatenate([highest - lowest, none]),
        centre_mm=np.concatenate([(highest + lowest) / 2, none + np.nan]),
        effort=np.concatenate([effort, none]),
        over_best=np.concatenate([over_best, none]),
    )
