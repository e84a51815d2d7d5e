"""The route search as plainly as it can be: every change in full, in whole numbers, for comparison with the quick one.

Nothing is left out, folded or bounded, and movement is worked out voice by voice for every pair of candidates.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np

from listener.music.movement import ENTER_COST, LEAVE_COST, MERGE_COST, SPLIT_COST
from listener.planning.drill import Weights
from listener.planning.facts import Choice, own_cost

UNITS = 1_000_000
NEVER = 1 << 14


def plain_route(layers: Sequence[Sequence[Choice]], weights: Weights) -> tuple[int, tuple[int, ...]]:
    """Cost in millionths and choice of the best route; of equal ones the earliest, first step first."""
    to_go = [_own(layers[-1], weights)]
    changes = [_changes(before, after, weights) for before, after in pairwise(layers)]
    for layer, change in zip(layers[-2::-1], changes[::-1], strict=True):
        to_go.insert(0, _own(layer, weights) + (change + to_go[0]).min(axis=1))
    choice = [int(to_go[0].argmin())]
    for change, rest in zip(changes, to_go[1:], strict=True):
        choice.append(int((change[choice[-1]] + rest).argmin()))
    return int(to_go[0].min()), tuple(choice)


def plain_least(layers: Sequence[Sequence[Choice]]) -> int:
    """The least movement of any route."""
    least = np.zeros(len(layers[0]), dtype=np.int64)
    for before, after in pairwise(layers):
        least = (least[:, None] + plain_moves(before, after)).min(axis=0)
    return int(least.min())


def plain_moves(before: Sequence[Choice], after: Sequence[Choice]) -> Any:
    """Movement in semitones between all candidates of two layers, one size with another at a time."""
    costs = np.zeros((len(before), len(after)), dtype=np.int64)
    rows, columns = _by_size(before), _by_size(after)
    for size, (here, from_notes) in rows.items():
        for other, (there, to_notes) in columns.items():
            if size == other:
                found = np.abs(from_notes[:, None, :] - to_notes).sum(axis=2)
            else:
                found = _aligned(from_notes, to_notes)
            costs[np.ix_(here, there)] = found
    return costs


def _by_size(layer: Sequence[Choice]) -> dict[int, tuple[list[int], Any]]:
    found: dict[int, list[int]] = {}
    for index, candidate in enumerate(layer):
        found.setdefault(len(candidate.fingering.pitches), []).append(index)
    return {size: (at, np.array([layer[index].fingering.pitches for index in at])) for size, at in found.items()}


def _aligned(before: Any, after: Any) -> Any:
    """Voices linked, left, entered, split and merged in order, two at a time, for all pairs."""
    shape = (len(before), len(after))
    columns = after.shape[1]
    never = np.full(shape, NEVER)
    linked = [never] * (columns + 1)
    loose = [np.full(shape, ENTER_COST * j) for j in range(columns + 1)]
    for i in range(before.shape[1]):
        next_linked, next_loose = [never], [np.minimum(linked[0], loose[0]) + LEAVE_COST]
        for j in range(1, columns + 1):
            gap = np.abs(before[:, i, None] - after[:, j - 1])
            apart = np.minimum(linked[j - 1], loose[j - 1])
            joined = np.minimum(linked[j] + MERGE_COST, next_linked[j - 1] + SPLIT_COST)
            next_linked.append(gap + np.minimum(apart, joined))
            leave = np.minimum(linked[j], loose[j]) + LEAVE_COST
            next_loose.append(np.minimum(leave, np.minimum(next_linked[j - 1], next_loose[j - 1]) + ENTER_COST))
        linked, loose = next_linked, next_loose
    return np.minimum(linked[-1], loose[-1])


def _own(layer: Sequence[Choice], weights: Weights) -> Any:
    return np.array([round(UNITS * own_cost(candidate.fingering, weights)) for candidate in layer], dtype=np.int64)


def _changes(before: Sequence[Choice], after: Sequence[Choice], weights: Weights) -> Any:
    moved = np.rint(plain_moves(before, after) * weights.movement * UNITS).astype(np.int64)
    here, there = (
        np.array([np.nan if c.fingering.centre_mm is None else c.fingering.centre_mm for c in layer])
        for layer in (before, after)
    )
    from_nut, to_nut = (np.rint(weights.travel * UNITS * centre) for centre in (here, there))
    return moved + np.nan_to_num(np.abs(from_nut[:, None] - to_nut)).astype(np.int64)
