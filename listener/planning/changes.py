"""What a change from one pitch set to another costs in movement, for all pairs at once.

The same alignment of voices as :func:`listener.music.movement.movement`, as arrays: rows are what was sounding, columns
what comes next. Costs are in semitones, with the price of voices that enter, leave, split or merge.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.music.movement import ENTER_COST, LEAVE_COST, MERGE_COST, SPLIT_COST

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Semitones = NDArray[np.int16]
else:
    Semitones = Any

#: More than any alignment costs; stands for "not possible" inside one.
_NEVER: Final = 1 << 14


def movement_costs(before: Sequence[tuple[int, ...]], after: Sequence[tuple[int, ...]]) -> Semitones:
    """``movement(b, a).cost`` for every pair of pitch sets (MIDI, low to high), rows ``before``, columns ``after``."""
    rows, columns = _by_size(before), _by_size(after)
    if len(rows) == 1 and len(columns) == 1:
        return _paired(rows[0][1], columns[0][1])
    costs = np.zeros((len(before), len(after)), dtype=np.int16)
    for some, these in rows:
        for others, those in columns:
            costs[np.ix_(some, others)] = _paired(these, those)
    return costs


def _by_size(sets: Sequence[tuple[int, ...]]) -> list[tuple[NDArray[np.intp], Semitones]]:
    """The pitch sets of each size, as their indices and one array of shape (how many, size)."""
    sizes = np.array([len(pitches) for pitches in sets])
    found = []
    for size in np.unique(sizes):
        indices = np.flatnonzero(sizes == size)
        found.append((indices, np.array([sets[int(index)] for index in indices], dtype=np.int16)))
    return found


def _paired(before: Semitones, after: Semitones) -> Semitones:
    """Costs between two arrays of pitch sets, each of one size: by rank when the sizes agree, else aligned."""
    if before.shape[1] != after.shape[1]:
        return _aligned(before, after)
    total = np.zeros((len(before), len(after)), dtype=np.int16)
    for voice in range(before.shape[1]):
        total += np.abs(before[:, voice, None] - after[:, voice])
    return total


def _aligned(before: Semitones, after: Semitones) -> Semitones:
    """The alignment of :func:`listener.music.movement.movement` for all pairs at once; only its cost.

    ``linked[j]`` and ``loose[j]`` hold the cost of having accounted for the first i voices of one side and j of the
    other, with and without a link between the last two; voices split or merge only along such a link.
    """
    shape = (len(before), len(after))
    rows, columns = before.shape[1], after.shape[1]
    never = np.full(shape, _NEVER, dtype=np.int16)
    linked = [never] * (columns + 1)
    loose = [np.full(shape, ENTER_COST * j, dtype=np.int16) for j in range(columns + 1)]
    for i in range(rows):
        apart = [np.abs(before[:, i, None] - after[:, j]) for j in range(columns)]
        next_linked, next_loose = [never], [np.minimum(linked[0], loose[0]) + LEAVE_COST]
        for j in range(1, columns + 1):
            gap = apart[j - 1]
            either = np.minimum(linked[j - 1], loose[j - 1])
            link = np.minimum(either, linked[j] + MERGE_COST)
            next_linked.append(gap + np.minimum(link, next_linked[j - 1] + SPLIT_COST))
            leave = np.minimum(linked[j], loose[j]) + LEAVE_COST
            enter = np.minimum(next_linked[j - 1], next_loose[j - 1]) + ENTER_COST
            next_loose.append(np.minimum(leave, enter))
        linked, loose = next_linked, next_loose
    return np.minimum(linked[-1], loose[-1])


def least_movement(from_pitches: Sequence[int], options: Sequence[tuple[int, ...]]) -> int | None:
    """The least movement cost from what was played to any of the options; None when there is nothing on one side.

    For equal sizes that is the total in semitones; see :func:`listener.music.movement.movement` for the rest.
    Quick enough to be asked while somebody plays, above all when ``options`` is the same tuple each time.
    """
    if not from_pitches or not options:
        return None
    start = np.array([sorted(from_pitches)], dtype=np.int16)
    tables = _option_tables(tuple(options))
    same = tables.get(start.shape[1])
    least = [int(np.abs(same - start).sum(axis=1).min())] if same is not None else []
    others = [table for size, table in tables.items() if size != start.shape[1]]
    return min(least + [int(_aligned(start, table).min()) for table in others])


@lru_cache(maxsize=512)
def _option_tables(options: tuple[tuple[int, ...], ...]) -> dict[int, Semitones]:
    ordered = tuple(tuple(sorted(pitches)) for pitches in options if pitches)
    return {table.shape[1]: table for _, table in _by_size(ordered)}
