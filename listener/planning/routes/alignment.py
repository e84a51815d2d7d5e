"""What the voices pay from some pitch sets to some others: the cost of :func:`listener.music.movement.movement`, for
many pairs at once.

The alignment of voices stands twice for a reason. For one pair the plain one takes 3 to 7 microseconds and says what
each voice does; arrays take 120 to 470 and know costs only. For two layers of 2,000 pitch sets it is the other way
round: 0.05 seconds here, half a minute one by one. So whoever looks at one change asks there, needing no numpy, and the
search asks here. ``tests/planning/test_big_layers.py`` holds the two against each other, and both against a third.

Pitch sets that begin alike are accounted for alike as far as they agree. Rows are therefore laid out as a tree: one
node for every different beginning, so that a layer of big chords is worked out in about twice as many nodes as it has
pitch sets, instead of once for each of their notes.
"""

from __future__ import annotations

from collections import OrderedDict
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.music.movement import ENTER_COST, LEAVE_COST, MERGE_COST, SPLIT_COST

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Notes = NDArray[np.int16]
    Small = NDArray[np.signedinteger[Any]]
    Table = NDArray[np.uint16]
else:
    Notes = Small = Table = Any

#: Rows and columns worked on at once: few enough that all arrays in use stay near the processor.
_ROWS_AT_ONCE: Final = 256
_COLUMNS_AT_ONCE: Final = 512


@dataclass(frozen=True, eq=False)
class Tree:
    """Some pitch sets of one size in rising order, as the tree of their beginnings.

    Level i holds the different beginnings of i + 1 notes: for each the node of the level above that it goes on from,
    and its last note. The nodes of the last level are the pitch sets themselves. ``rows`` is where they stand.
    """

    rows: slice
    levels: tuple[tuple[NDArray[np.intp], Notes], ...]


@dataclass(frozen=True, eq=False)
class PitchSets:
    """Different pitch sets (MIDI, low to high) in order of size, then of pitch.

    ``notes`` has a row for each set, filled up with -1; ``sizes`` is parallel to it. ``key`` is equal for equal sets.
    """

    notes: Notes
    sizes: NDArray[np.intp]
    trees: tuple[Tree, ...]
    key: bytes

    @classmethod
    def of(cls, sets: Sequence[tuple[int, ...]]) -> PitchSets:
        """Each of these sets once."""
        return cls.with_places(filled(sets))[0]

    @classmethod
    def with_places(cls, rows: Notes) -> tuple[PitchSets, NDArray[np.intp]]:
        """Each pitch set of some rows once, and its place for each row; rows are filled up with -1."""
        sizes = (rows >= 0).sum(axis=1)
        order = np.lexsort((*rows.T[::-1], sizes))
        notes, sizes = rows[order], sizes[order]
        new = np.concatenate([[True], (notes[1:] != notes[:-1]).any(axis=1)]) if len(notes) else np.zeros(0, dtype=bool)
        place = np.empty(len(rows), dtype=np.intp)
        place[order] = np.cumsum(new) - 1
        return cls._ordered(notes[new], sizes[new]), place

    @classmethod
    def _ordered(cls, notes: Notes, sizes: NDArray[np.intp]) -> PitchSets:
        trees: list[Tree] = []
        for size in np.unique(sizes).tolist():
            start, end = np.searchsorted(sizes, [size, size + 1]).tolist()
            for first in range(start, end, _ROWS_AT_ONCE):
                rows = slice(first, min(first + _ROWS_AT_ONCE, end))
                trees.append(Tree(rows, _levels(notes[rows, :size])))
        return cls(notes, sizes, tuple(trees), np.int16(notes.shape[1]).tobytes() + notes.tobytes())

    def __len__(self) -> int:
        return len(self.sizes)

    def some(self, index: NDArray[np.intp]) -> PitchSets:
        """Those at some places, given in rising order."""
        return self._ordered(self.notes[index], self.sizes[index])


def filled(sets: Sequence[tuple[int, ...]]) -> Notes:
    """Pitch sets as rows of one array, filled up with -1."""
    notes = np.full((len(sets), max(map(len, sets), default=0)), -1, dtype=np.int16)
    for row, pitches in enumerate(sets):
        notes[row, : len(pitches)] = pitches
    return notes


def _levels(notes: Notes) -> tuple[tuple[NDArray[np.intp], Notes], ...]:
    new = np.ones(notes.shape, dtype=bool)
    new[1:] = np.logical_or.accumulate(notes[1:] != notes[:-1], axis=1)
    node = np.cumsum(new, axis=0) - 1
    above = np.zeros(len(notes), dtype=np.intp)
    levels = []
    for level in range(notes.shape[1]):
        first = new[:, level]
        levels.append((above[first], notes[first, level]))
        above = node[:, level]
    return tuple(levels)


def movement_costs(before: Sequence[tuple[int, ...]], after: Sequence[tuple[int, ...]]) -> Table:
    """``movement(b, a).cost`` for every pair of pitch sets (MIDI, low to high), rows ``before``, columns ``after``."""
    (rows, here), (columns, there) = PitchSets.with_places(filled(before)), PitchSets.with_places(filled(after))
    costs: Table = movement_table(rows, columns)[np.ix_(here, there)]
    return costs


def least_movement(from_pitches: Sequence[int], options: Sequence[tuple[int, ...]]) -> int | None:
    """The least movement cost from what was played to any of the options; None when there is nothing on one side.

    For equal sizes that is the total in semitones; see :func:`listener.music.movement.movement` for the rest.
    Quick enough to be asked while somebody plays, above all when ``options`` is the same tuple each time.
    """
    if not from_pitches or not options:
        return None
    start = PitchSets.of([tuple(sorted(from_pitches))])
    return int(movement_table(start, _option_sets(tuple(options))).min())


@lru_cache(maxsize=512)
def _option_sets(options: tuple[tuple[int, ...], ...]) -> PitchSets:
    return PitchSets.of([tuple(sorted(pitches)) for pitches in options if pitches])


def movement_table(before: PitchSets, after: PitchSets) -> Table:
    """``movement(b, a).cost`` in semitones for every pair, rows ``before``, columns ``after``."""
    table = np.empty((len(before), len(after)), dtype=np.uint16)
    for tree in before.trees:
        _fill(table[tree.rows], tree, after)
    return table


def _fill(found: Table, tree: Tree, after: PitchSets) -> None:
    """Write the rows of the table of movement that belong to one tree."""
    size = len(tree.levels)
    start, end = np.searchsorted(after.sizes, [size, size + 1]).tolist()
    for columns in _pieces(start, end):
        found[:, columns] = _by_rank(tree, after.notes[columns, :size])
    for columns in (*_pieces(0, start), *_pieces(end, len(after))):
        for place, costs in _aligned(tree, after.notes[columns], after.sizes[columns]):
            found[:, columns.start + place.start : columns.start + place.stop] = costs


def _pieces(start: int, end: int) -> list[slice]:
    return [slice(at, min(at + _COLUMNS_AT_ONCE, end)) for at in range(start, end, _COLUMNS_AT_ONCE)]


def _by_rank(tree: Tree, notes: Notes) -> Notes:
    """Equal sizes: the lowest note goes to the lowest, and so on."""
    total = np.zeros((1, len(notes)), dtype=np.int16)
    for voice, (parent, last) in enumerate(tree.levels):
        moves = last[:, None] - notes[:, voice]
        total = np.abs(moves, out=moves) + total.take(parent, axis=0)
    return total


def _aligned(tree: Tree, notes: Notes, sizes: NDArray[np.intp]) -> Iterator[tuple[slice, Small]]:
    """Unequal sizes: the columns of each size and their costs.

    At level i and voice j, ``linked`` is the cost of having accounted for the first i notes of a row and the first j
    of a column with a link between the last two, and ``best`` with or without; voices split or merge only along such a
    link. The arrays for voice j hold only columns that have a j-th voice, which are the last ones.
    """
    voices = int(sizes[-1])
    starts = np.searchsorted(sizes, np.arange(voices + 2)).tolist()
    gaps = _Gaps(tree, notes, starts, voices)
    never = gaps.most_aligned
    linked = [np.full((1, len(notes) - starts[j]), never, dtype=gaps.dtype) for j in range(voices + 1)]
    best = [np.full((1, len(notes) - starts[j]), ENTER_COST * j, dtype=gaps.dtype) for j in range(voices + 1)]
    for i, (parent, last) in enumerate(tree.levels, start=1):
        shape = (len(parent), len(notes))
        next_linked = [np.full(shape, never, dtype=gaps.dtype)]
        next_best = [np.full(shape, LEAVE_COST * i, dtype=gaps.dtype)]
        left = best[0].take(parent, axis=0)
        for j in range(1, voices + 1):
            fewer = starts[j] - starts[j - 1]
            link = np.minimum(linked[j].take(parent, axis=0) + _MERGE, next_linked[-1][:, fewer:] + _SPLIT)
            np.minimum(link, left[:, fewer:], out=link)
            link += gaps.of(last, j)
            left = best[j].take(parent, axis=0)
            loose = np.minimum(left + _LEAVE, next_best[-1][:, fewer:] + _ENTER)
            next_linked.append(link)
            next_best.append(np.minimum(loose, link, out=loose))
        linked, best = next_linked, next_best
    for size in range(1, voices + 1):
        if starts[size + 1] > starts[size]:
            yield slice(starts[size], starts[size + 1]), best[size][:, : starts[size + 1] - starts[size]]


_MERGE, _SPLIT = np.int8(MERGE_COST), np.int8(SPLIT_COST)
_LEAVE, _ENTER = np.int8(LEAVE_COST), np.int8(ENTER_COST)


class _Gaps:
    """Semitones from every note that rows have to each voice of the columns, in numbers as small as can be."""

    def __init__(self, tree: Tree, notes: Notes, starts: Sequence[int], voices: int) -> None:
        self._lowest = min(int(last.min()) for _, last in tree.levels)
        highest = max(int(last.max()) for _, last in tree.levels)
        ladder = np.arange(self._lowest, highest + 1, dtype=np.int16)[:, None]
        found = [np.abs(ladder - notes[starts[j] :, j - 1]) for j in range(1, voices + 1)]
        #: No alignment costs more than letting all voices leave and enter.
        self.most_aligned = LEAVE_COST * len(tree.levels) + ENTER_COST * voices
        most = max(int(gap.max()) for gap in found) + self.most_aligned + MERGE_COST + SPLIT_COST
        self.dtype = _smallest(most)
        self._gaps = [gap.astype(self.dtype) for gap in found]

    def of(self, last: Notes, voice: int) -> Small:
        """From each of some notes to one voice (counted from 1) of each column that has it."""
        found: Small = self._gaps[voice - 1].take(last - self._lowest, axis=0)
        return found


def _smallest(most: int) -> type[np.signedinteger[Any]]:
    """The type of whole numbers that has room for this one."""
    return np.int8 if most <= np.iinfo(np.int8).max else np.int16


class Tables:
    """Tables of movement, the latest kept: drills repeat themselves, and a plan's yardsticks ask for what it asked."""

    def __init__(self, most_pairs: int) -> None:
        self._most = most_pairs
        self._pairs = 0
        self._kept: OrderedDict[tuple[bytes, bytes], Table] = OrderedDict()

    def kept(self, before: PitchSets, after: PitchSets) -> Table | None:
        """The table, when it is there."""
        key = (before.key, after.key)
        if key in self._kept:
            self._kept.move_to_end(key)
            return self._kept[key]
        back = self._kept.get((after.key, before.key))
        # Movement costs the same in both directions.
        return None if back is None else back.T

    def table(self, before: PitchSets, after: PitchSets) -> Table | None:
        """The table, made when it is not there yet; None when it is too large to be kept."""
        found = self.kept(before, after)
        if found is None and len(before) * len(after) <= self._most // 4:
            self._kept[before.key, after.key] = found = movement_table(before, after)
            self._pairs += found.size
            while self._pairs > self._most:
                self._pairs -= self._kept.popitem(last=False)[1].size
        return found


#: The tables of whatever was planned last: at most 64 MB.
TABLES: Final = Tables(32_000_000)
