"""The route search as plainly as it can be: every change in full, in whole numbers, for comparison with the quick one.

Nothing is left out, folded, looked up or bounded. Movement is worked out voice by voice, and the hand's work string by
string and finger by finger, for every pair of candidates; what a shape costs by itself comes from ``plain_costs``.
"""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from typing import Any

import numpy as np
from plain_costs import own_cost, position
from spots import Minded, each

from listener.drill.manners import Weights
from listener.music.movement import ENTER_COST, LEAVE_COST, MERGE_COST, SPLIT_COST
from listener.planning.routes.facts import Searchable

UNITS = 1_000_000
NEVER = 1 << 14
#: Rows of a change worked on at once.
_ROWS = 500


def plain_route(layers: Sequence[Sequence[Searchable]], weights: Minded) -> tuple[int, tuple[int, ...]]:
    """Cost in millionths and choice of the best route; of equal ones the earliest, first step first."""
    minded = each(weights, len(layers))
    own = [plain_own(layer, mind) for layer, mind in zip(layers, minded, strict=True)]
    changes = [
        plain_changes(before, after, mind) for (before, after), mind in zip(pairwise(layers), minded[1:], strict=True)
    ]
    to_go = [own[-1]]
    for here, change in zip(own[-2::-1], changes[::-1], strict=True):
        to_go.insert(0, here + (change + to_go[0]).min(axis=1))
    choice = [int(to_go[0].argmin())]
    for change, rest in zip(changes, to_go[1:], strict=True):
        choice.append(int((change[choice[-1]] + rest).argmin()))
    return int(to_go[0].min()), tuple(choice)


def plain_least(layers: Sequence[Sequence[Searchable]]) -> int:
    """The least movement of any route."""
    least = np.zeros(len(layers[0]), dtype=np.int64)
    for before, after in pairwise(layers):
        least = (least[:, None] + plain_moves(before, after)).min(axis=0)
    return int(least.min())


def plain_moves(before: Sequence[Searchable], after: Sequence[Searchable]) -> Any:
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


def _by_size(layer: Sequence[Searchable]) -> dict[int, tuple[list[int], Any]]:
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


def plain_own(layer: Sequence[Searchable], weights: Weights) -> Any:
    """What each candidate costs by itself, in millionths."""
    wish, strings = getattr(layer, "wish", None), getattr(layer, "string_count", 6)
    costs = [round(UNITS * own_cost(candidate.fingering, weights, wish, strings)) for candidate in layer]
    return np.array(costs, dtype=np.int64)


def plain_changes(before: Sequence[Searchable], after: Sequence[Searchable], weights: Weights) -> Any:
    """What every change from one layer to another costs, in millionths."""
    costs = np.rint(plain_moves(before, after) * weights.movement * UNITS).astype(np.int64)
    strings = max(max(c.fingering.strings) for c in (*before, *after))
    to = _Laid(after, strings)
    for start in range(0, len(before), _ROWS):
        rows = slice(start, start + _ROWS)
        here = _Laid(before[rows], strings)
        costs[rows] += _price(weights.leap) * _leaps(here, to)
        for name, way, goal in (("travel", here.centre_mm, to.centre_mm), ("shift", here.position, to.position)):
            from_nut, to_nut = (np.rint(UNITS * getattr(weights, name) * place) for place in (way, goal))
            costs[rows] += np.nan_to_num(np.abs(from_nut[:, None] - to_nut)).astype(np.int64)
        for name, times in _work(here, to).items():
            costs[rows] += _price(getattr(weights, name)) * times
    return costs


def _price(weight: float) -> int:
    return round(UNITS * weight)


class _Laid:
    """Some candidates as arrays: for each string the fret and the finger, 0 where none presses; NaN without a hand."""

    def __init__(self, layer: Sequence[Searchable], strings: int) -> None:
        shapes = [candidate.fingering for candidate in layer]
        self.bottom = np.array([shape.pitches[0] for shape in shapes])
        self.top = np.array([shape.pitches[-1] for shape in shapes])
        self.centre_mm = np.array([np.nan if shape.centre_mm is None else shape.centre_mm for shape in shapes])
        self.position = np.array([np.nan if shape.centre_mm is None else position(shape) for shape in shapes])
        self.fret, self.finger = np.zeros((2, len(shapes), strings), dtype=np.int64)
        for row, shape in enumerate(shapes):
            for string, fret, finger in zip(shape.strings, shape.frets, shape.fingers, strict=True):
                self.fret[row, string - 1], self.finger[row, string - 1] = fret, finger


def _leaps(here: _Laid, to: _Laid) -> Any:
    bottom, top = to.bottom - here.bottom[:, None], to.top - here.top[:, None]
    up, down = np.minimum(bottom, top), np.minimum(-bottom, -top)
    return np.maximum(np.maximum(up, down) - 5, 0)


def _work(here: _Laid, to: _Laid) -> dict[str, Any]:
    """How many notes change their finger, and how many fingers slide, are set down, and turn flat or back."""
    fret, to_fret = here.fret[:, None], to.fret
    kept = (fret == to_fret) & (fret > 0)
    found = {"refinger": (kept & (here.finger[:, None] != to.finger)).sum(axis=2)}
    found.update({name: np.zeros_like(found["refinger"]) for name in ("slide", "place", "barre")})
    for finger in (1, 2, 3, 4):
        mine, be_mine = (here.finger == finger)[:, None], to.finger == finger
        stays = (mine & be_mine & kept).any(axis=2)
        on_its_string = (mine & be_mine).any(axis=2)
        found["slide"] += on_its_string & ~stays
        found["place"] += be_mine.any(axis=1) & ~on_its_string
        found["barre"] += (mine.sum(axis=2) > 1) != (be_mine.sum(axis=1) > 1)
    return found
