"""How far the voices go from one voicing to the next.

Equal sizes: voices are paired by rank, lowest with lowest. On a line this pairing is the cheapest for every
convex cost (monotone rearrangement; D. Tymoczko, "The Geometry of Musical Chords", Science 313, 2006, for music).
Unequal sizes: the voices are aligned in order, and a voice may enter, leave, split in two or merge with its
neighbour. Each has a price in semitones (:data:`ENTER_COST` and its like, our own choice: dearer than a step, cheaper
than a leap), so that a voice which could have moved by step is not thought to have vanished.

This is for one change at a time; :mod:`listener.planning.routes.alignment` has the costs of very many, and says why
there are two.

Words: a hold is 0, a step 1-2, a skip 3-4, a leap 5 or more semitones.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from operator import sub
from typing import Final

#: Price in semitones of a voice that starts, ends, divides or joins another. Our own choice.
ENTER_COST: Final = 3
LEAVE_COST: Final = 3
SPLIT_COST: Final = 2
MERGE_COST: Final = 2


@dataclass(frozen=True, slots=True)
class Movement:
    """One change. ``voices`` are signed semitones, low to high, of the voices that go on.

    ``semitones`` adds up what moved, ``cost`` adds the price of voices that entered, left, split or merged,
    ``common`` counts voices that held, ``largest`` is the largest single move.
    """

    semitones: int
    voices: tuple[int, ...]
    common: int
    largest: int
    cost: int
    entered: int = 0
    left: int = 0
    split: int = 0
    merged: int = 0

    def as_json(self) -> dict[str, object]:
        """The fields others may rely on, with those for unequal sizes beside them."""
        return {
            "semitones": self.semitones,
            "voices": list(self.voices),
            "common": self.common,
            "largest": self.largest,
            "cost": self.cost,
            "entered": self.entered,
            "left": self.left,
            "split": self.split,
            "merged": self.merged,
        }


def step_word(semitones: int) -> str:
    """hold, step, skip or leap, for a signed or unsigned distance in semitones."""
    distance = abs(semitones)
    return "hold" if distance == 0 else "step" if distance <= 2 else "skip" if distance <= 4 else "leap"


def movement(before: Sequence[int], after: Sequence[int]) -> Movement:
    """The cheapest way for the voices of ``before`` to become ``after`` (MIDI notes in any order).

    >>> movement([48, 55, 64], [48, 57, 65]).voices
    (0, 2, 1)
    """
    return _movement(tuple(sorted(before)), tuple(sorted(after)))


@lru_cache(maxsize=4096)
def _movement(before: tuple[int, ...], after: tuple[int, ...]) -> Movement:
    if len(before) == len(after):
        return _summed(list(map(sub, after, before)))
    if len(set(before)) == len(before) and len(set(after)) == len(after):
        moves = _matched(before, after)
        return _summed(moves, len(after) - len(moves), len(before) - len(moves))
    moves, counts = _align(before, after)
    return _summed(moves, **counts)


def _summed(moves: list[int], entered: int = 0, left: int = 0, split: int = 0, merged: int = 0) -> Movement:
    sizes = list(map(abs, moves))
    semitones = sum(sizes)
    extra = entered * ENTER_COST + left * LEAVE_COST + split * SPLIT_COST + merged * MERGE_COST
    common, largest = moves.count(0), max(sizes, default=0)
    return Movement(semitones, tuple(moves), common, largest, semitones + extra, entered, left, split, merged)


#: Cost counts first and semitones second: one number for both.
_COST: Final = 1 << 20
#: What it saves, in that number, that a voice moves so many semitones and does not leave for another to enter. From
#: here on it saves nothing.
_SAVED: Final = tuple((ENTER_COST + LEAVE_COST - size) * _COST - size for size in range(ENTER_COST + LEAVE_COST))
_TOO_FAR: Final = len(_SAVED)


def _matched(before: tuple[int, ...], after: tuple[int, ...]) -> list[int]:
    """The moves, low to high, of the alignment that :func:`_align` finds where no two notes of a row are the same.

    A split or merge never pays there: of two links to one voice at least one moves a semitone or more, and without it
    the change costs no more (a voice that enters or leaves is at most a semitone dearer) and has fewer semitones. So
    some voices go on and the others leave or enter, and only pairs that are near each other save anything: few of all.
    Ties go the same ways: the uppermost voices go on if they may, and below them a voice of ``before`` leaves if it
    may, then one of ``after`` enters.
    """
    columns = len(after)
    # saved[i][j]: the most that can be saved among the first i and j voices; it never falls with either.
    row = [0] * (columns + 1)
    saved = [row]
    first = 0
    for note in before:
        above, row = row, row.copy()
        while first < columns and note - after[first] >= _TOO_FAR:
            first += 1
        for j in range(first, columns):
            best = row[j]
            away = after[j] - note
            if away < _TOO_FAR:
                linked = above[j] + _SAVED[abs(away)]
                if linked > best:
                    best = linked
            elif best <= row[j + 1]:
                break  # from here on the row is as the one above
            if best > row[j + 1]:
                row[j + 1] = best
        saved.append(row)
    return _gone_on(before, after, saved)


def _gone_on(before: tuple[int, ...], after: tuple[int, ...], saved: list[list[int]]) -> list[int]:
    """The moves of the voices that go on: the way back through the cells of :func:`_matched`."""
    i, j = len(before), len(after)
    moves: list[int] = []
    if i and j:
        away = after[-1] - before[-1]
        if abs(away) < _TOO_FAR and saved[i][j] == saved[i - 1][j - 1] + _SAVED[abs(away)]:
            moves.append(away)
            i, j = i - 1, j - 1
    while saved[i][j]:
        if saved[i][j] == saved[i - 1][j]:
            i -= 1
        elif saved[i][j] == saved[i][j - 1]:
            j -= 1
        else:
            i, j = i - 1, j - 1
            moves.append(after[j] - before[i])
    moves.reverse()
    return moves


_NEVER: Final = 1 << 60
_MATCH, _MERGE, _SPLIT, _LEAVE, _ENTER = range(5)


def _align(before: tuple[int, ...], after: tuple[int, ...]) -> tuple[list[int], dict[str, int]]:
    """Cheapest in-order alignment by dynamic programming over the two rows of voices.

    ``linked[j]`` is the cheapest way to account for the first i and j voices with the last of both belonging together:
    a match, a merge (voice i joins what voice i - 1 went to) or a split; ``loose[j]`` the cheapest with a voice that
    left or entered last. Ties go to what has fewer semitones, then to the rule that stands first here.
    """
    columns = len(after)
    enter, leave, split, merge = (cost * _COST for cost in (ENTER_COST, LEAVE_COST, SPLIT_COST, MERGE_COST))
    linked, loose = [_NEVER] * (columns + 1), [enter * j for j in range(columns + 1)]
    # The cheaper of both; and how each cell was reached when linked and when loose, and whether loose is no dearer.
    least = loose.copy()
    ways = [[(_MATCH, _ENTER, True)] * (columns + 1)]
    for note in before:
        diagonal, left = least[0], least[0] + leave
        loose[0] = least[0] = left
        left_linked = _NEVER
        row = [(_MATCH, _LEAVE, True)]
        for j, other in enumerate(after, start=1):
            above = least[j]
            best, way = diagonal, _MATCH
            if linked[j] + merge < best:
                best, way = linked[j] + merge, _MERGE
            if left_linked + split < best:
                best, way = left_linked + split, _SPLIT
            best += (other - note if other > note else note - other) * (_COST + 1)
            last, end = above + leave, _LEAVE
            if left + enter < last:
                last, end = left + enter, _ENTER
            row.append((way, end, last <= best))
            linked[j] = left_linked = best
            loose[j] = last
            least[j] = left = last if last <= best else best
            diagonal = above
        ways.append(row)
    return _walked(before, after, ways, joined=linked[columns] <= loose[columns])


def _walked(
    before: tuple[int, ...], after: tuple[int, ...], ways: list[list[tuple[int, int, bool]]], *, joined: bool
) -> tuple[list[int], dict[str, int]]:
    """The moves, low to high, and how often a voice entered, left, split or merged: the way back through the cells."""
    i, j = len(before), len(after)
    moves: list[int] = []
    counts = dict.fromkeys((_MATCH, _MERGE, _SPLIT, _LEAVE, _ENTER), 0)
    while i or j:
        way = ways[i][j][0 if joined else 1]
        counts[way] += 1
        if way in (_MATCH, _MERGE, _SPLIT):
            moves.append(after[j - 1] - before[i - 1])
        i -= way in (_MATCH, _MERGE, _LEAVE)
        j -= way in (_MATCH, _SPLIT, _ENTER)
        joined = way in (_MERGE, _SPLIT) or not ways[i][j][2]
    moves.reverse()
    named = {"entered": counts[_ENTER], "left": counts[_LEAVE], "split": counts[_SPLIT], "merged": counts[_MERGE]}
    return moves, named


def least_between(before: Sequence[int], after: Sequence[int]) -> int:
    """The fewest semitones in which one chord can become another of the same size, octaves left free.

    Pitch classes (MIDI notes will do), every tone used once. Round the circle of pitch classes a cheapest pairing never
    crosses, so one of the rotations of the sorted classes is it (D. Tymoczko, "Scale Theory, Serial Theory and Voice
    Leading", Music Analysis 27, 2008). ValueError for unequal sizes.

    >>> least_between([0, 4, 7], [9, 0, 4])
    2
    """
    ours = sorted(note % 12 for note in before)
    theirs = sorted(note % 12 for note in after)
    if len(ours) != len(theirs):
        raise ValueError("both chords need the same number of tones")
    rotations = (theirs[turn:] + theirs[:turn] for turn in range(max(1, len(theirs))))
    return min(sum(min((b - a) % 12, (a - b) % 12) for a, b in zip(ours, turned, strict=True)) for turned in rotations)


def movement_score(least: float, played: float, voices: int) -> float:
    """100 * (least + n) / (played + n): 100 means nobody could have moved less.

    ``least`` is the smallest total a playable voicing of the wish could have had from what was really played
    before, ``played`` the total that was, ``voices`` the number of voices n. Never above 100.
    """
    if voices <= 0:
        return 0.0
    return round(min(100.0, 100.0 * (least + voices) / (played + voices)), 1)
