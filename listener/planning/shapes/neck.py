"""Every shape on the neck that sounds wished tones, as numpy arrays: the first half of finding candidates.

A shape is a row of frets, one for each string from the lowest to the highest: 0 open, -1 muted. Rows grow string by
string, all positions of the hand at once, and are dropped as soon as they cannot become what is asked for: a tone that
may sound only once comes twice, too few strings are left for the tones that are missing, or more than four fingers
would be needed. Whether a hand really holds what is left is for :mod:`listener.guitar.holds` to say.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.errors import PlanError
from listener.guitar.hand import FINGERS
from listener.guitar.instrument import Instrument
from listener.guitar.search import Area

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Frets = NDArray[np.int8]
    Masks = NDArray[np.int16]
else:
    Frets = Masks = Any

#: Muted strings allowed between sounding ones in a strummed shape (our choice, common practice).
MUTED_INSIDE: Final = 1
#: Rows worked on at once, by a rough guess: wide hands on short necks are searched a few positions at a time.
_ROWS_AT_ONCE: Final = 2_000_000
#: How many times more rows than shapes there may be while they grow.
_SHRINKING: Final = 3
#: Shapes of one chord that are looked at: twice what eight strings in standard tuning need for a thirteenth.
MOST_SHAPES: Final = 100_000


@dataclass(frozen=True)
class Tones:
    """What may sound, each tone as one bit of a mask.

    ``bits`` holds the bit of every pitch class, 0 for those that may not sound. ``bass_bit`` is a tone that sounds once
    and lowest (a slash bass outside the chord), 0 for none. ``top_midi`` sounds once and above all others and has
    ``top_bit``, whatever its class. A shape's mask is one of ``wanted``; with ``doubled`` it may have more tones than
    the one of ``wanted`` (but no others than in ``bits``), as often as it likes, and at most one muted string inside,
    otherwise every tone sounds once.
    """

    bits: tuple[int, ...]
    wanted: tuple[int, ...]
    doubled: bool = False
    bass_bit: int = 0
    top_midi: int | None = None
    top_bit: int = 0

    @property
    def once(self) -> int:
        """Bits of the tones that may sound only once."""
        return self.bass_bit | self.top_bit if self.doubled else -1

    @property
    def needed(self) -> int:
        """Bits that every shape has."""
        common = -1
        for mask in self.wanted:
            common &= mask
        return common if self.wanted else 0


@dataclass
class _Rows:
    """Shapes in the making. ``window`` is the position each belongs to; ``live`` has the bit of every fret (counted
    from the window's lowest, 1) at which a finger lies that could still reach the next string."""

    window: NDArray[np.intp]
    mask: Masks
    frets: Frets
    fingers: NDArray[np.int8]
    live: NDArray[np.int64]
    inside: NDArray[np.int8]
    pending: NDArray[np.int8]

    def taken(self, index: NDArray[Any]) -> _Rows:
        """Some of the rows, by index or by truth."""
        return _Rows(
            self.window[index],
            self.mask[index],
            self.frets[index],
            self.fingers[index],
            self.live[index],
            self.inside[index],
            self.pending[index],
        )


@dataclass(frozen=True)
class _Windows:
    """Positions of the hand: ``low`` is the lowest pressed fret (0: open strings only); ``fret`` and ``bit`` list what
    each string offers there, as arrays of shape (windows, strings, options), bit 0 where an option is missing."""

    low: NDArray[np.int64]
    fret: Frets
    bit: Masks


def shapes(instrument: Instrument, longest_mm: float, tones: Tones, limits: Area) -> Frets:
    """All rows of frets inside the limits whose pressed frets lie at most ``longest_mm`` apart, each once.

    Raises :class:`PlanError` when there are more than :data:`MOST_SHAPES`.
    """
    found = [np.empty((0, instrument.string_count), dtype=np.int8)]
    lows = [0, *range(limits.low, limits.high + 1)] if tones.wanted else []
    reach = [min(fret, limits.high) for fret in instrument.farthest_frets(longest_mm)]
    labels = _labels(instrument, tones, limits)
    while lows:
        count = _how_many(lows, reach, labels)
        found.append(_grown(_windows(lows[:count], reach, labels), tones))
        _check_size(sum(map(len, found)))
        del lows[:count]
    return np.concatenate(found)


def _check_size(rows: int) -> None:
    if rows > MOST_SHAPES:
        raise PlanError(
            f"more than {MOST_SHAPES:,} shapes would have to be looked at; ask for fewer strings, fewer frets or a "
            f"number of notes"
        )


def _labels(instrument: Instrument, tones: Tones, limits: Area) -> Masks:
    """The bit of every string (lowest first) and fret, 0 where nothing wished sounds."""
    midi = np.array(instrument.open_midi[::-1])[:, None] + np.arange(limits.high + 1)
    labels: Masks = np.array(tones.bits, dtype=np.int16)[midi % 12]
    if tones.top_midi is not None:
        labels[midi > tones.top_midi] = 0
        labels[midi == tones.top_midi] = tones.top_bit
    labels[:, 1 : limits.low] = 0
    if not limits.open_strings:
        labels[:, 0] = 0
    strings = instrument.string_count
    labels[[column for column in range(strings) if strings - column not in limits.strings]] = 0
    return labels


def _how_many(lows: list[int], reach: list[int], labels: Masks) -> int:
    """How many of the positions are searched together, by a rough guess at the rows they give: at least one."""
    total = 0.0
    for count, low in enumerate(lows):
        offered = (labels[:, max(low, 1) : reach[low] + 1] > 0).sum(axis=1)
        # Four fingers hold at most four separate notes: beyond them a string adds open, muted and one barre.
        free = np.sort(offered)[::-1][:FINGERS] + 2.0
        total += float(free.prod()) * 3.0 ** max(0, len(labels) - FINGERS)
        if total > _ROWS_AT_ONCE:
            return max(1, count)
    return len(lows)


def _windows(lows: list[int], reach: list[int], labels: Masks) -> _Windows:
    low = np.array(lows)
    high = np.array([reach[fret] for fret in lows])
    steps = np.arange(int((high - low).max()) + 1)
    pressed = low[:, None] + steps
    inside = (pressed <= high[:, None]) & (low[:, None] > 0)
    fret = np.concatenate([np.zeros((len(lows), 1), dtype=pressed.dtype), np.where(inside, pressed, 0)], axis=1)
    offered = np.concatenate([np.ones((len(lows), 1), dtype=bool), inside], axis=1)
    bit = labels[:, fret].transpose(1, 0, 2) * offered[:, None, :]
    return _Windows(low, np.broadcast_to(fret[:, None, :], bit.shape).astype(np.int8), bit.astype(np.int16))


def _grown(windows: _Windows, tones: Tones) -> Frets:
    count, strings = windows.bit.shape[:2]
    rows = _Rows(
        window=np.arange(count),
        mask=np.zeros(count, dtype=np.int16),
        frets=np.full((count, strings), -1, dtype=np.int8),
        fingers=np.zeros(count, dtype=np.int8),
        live=np.zeros(count, dtype=np.int64),
        inside=np.zeros(count, dtype=np.int8),
        pending=np.zeros(count, dtype=np.int8),
    )
    for string in range(strings):
        left = strings - string - 1
        rows = _joined(_muted(rows, tones, left), _sounding(rows, windows, string, tones, left))
        _check_size(len(rows.mask) // _SHRINKING)
    return rows.frets[_is_wanted(rows, windows, tones)]


def _muted(rows: _Rows, tones: Tones, left: int) -> _Rows:
    """The rows that go on without this string."""
    going = rows.taken(_missing(rows.mask, tones) <= left)
    if tones.doubled:
        going.pending = going.pending + (going.mask != 0)
    return going


def _sounding(rows: _Rows, windows: _Windows, string: int, tones: Tones, left: int) -> _Rows:
    """The rows that go on with this string, open or at one of the frets that the position offers."""
    if tones.doubled:
        rows = rows.taken(rows.inside + rows.pending <= MUTED_INSIDE)
    offered = windows.bit[rows.window, string]
    free = (offered != 0) & (offered & rows.mask[:, None] & tones.once == 0)
    row, option = np.nonzero(free)
    bit = offered[row, option]
    fits = _missing(rows.mask[row] | bit, tones) <= left
    row, option, bit = row[fits], option[fits], bit[fits]
    fret = windows.fret[rows.window[row], string, option]
    # A finger reaches on to a further string only while no string between them sounds at a lower fret.
    place = np.where(fret > 0, fret - windows.low[rows.window[row]] + 1, 0)
    live = rows.live[row] & ((2 << place) - 1)
    here = np.where(fret > 0, 1 << place, 0)
    fingers = rows.fingers[row] + ((here != 0) & (live & here == 0))
    can = fingers <= FINGERS
    row = row[can]
    grown = rows.taken(row)
    grown.frets[:, string] = fret[can]
    grown.mask = grown.mask | bit[can]
    grown.fingers = fingers[can].astype(np.int8)
    grown.live = (live | here)[can]
    grown.inside = grown.inside + grown.pending
    grown.pending = np.zeros_like(grown.pending)
    return grown


def _joined(one: _Rows, other: _Rows) -> _Rows:
    return _Rows(
        np.concatenate([one.window, other.window]),
        np.concatenate([one.mask, other.mask]),
        np.concatenate([one.frets, other.frets]),
        np.concatenate([one.fingers, other.fingers]),
        np.concatenate([one.live, other.live]),
        np.concatenate([one.inside, other.inside]),
        np.concatenate([one.pending, other.pending]),
    )


def _missing(mask: Masks, tones: Tones) -> Masks:
    """How many of the needed tones each mask lacks."""
    return bit_count(tones.needed & ~mask)


def bit_count(mask: NDArray[Any]) -> Masks:
    """The bits that are set in each number of 16 bits."""
    count: Masks = _BIT_COUNTS[mask]
    return count


_BIT_COUNTS: Final = np.array([number.bit_count() for number in range(1 << 15)], dtype=np.int16)


def _is_wanted(rows: _Rows, windows: _Windows, tones: Tones) -> NDArray[np.bool_]:
    """Which rows are finished: their position is the one they were looked for in, and their tones are right."""
    pressed = np.where(rows.frets > 0, rows.frets, np.int8(127)).min(axis=1)
    low = windows.low[rows.window]
    right: NDArray[np.bool_] = (np.where(pressed == 127, 0, pressed) == low) & (rows.mask != 0)
    if not tones.doubled:
        right &= np.isin(rows.mask, tones.wanted)
        return right
    enough = np.zeros(len(rows.mask), dtype=bool)
    for mask in tones.wanted:
        enough |= rows.mask & mask == mask
    right &= enough
    return right
