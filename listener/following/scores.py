"""How well notes fit each step: tables made once for a drill, looked up for each stroke.

Rows are MIDI notes, columns the different chords of the drill; entries are prices (:mod:`listener.following.prices`).
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
import numpy.typing as npt

from listener.following import prices
from listener.following.prices import price

Prices = npt.NDArray[np.int64]

_NOTES = 128
#: Beyond both ends, so that shifted notes can be looked up.
_MARGIN = 24
#: Rows of a note that lies as far away as a whole attempt may.
_SHIFTED: Prices = np.array(prices.SHIFTS, dtype=np.int64) + _MARGIN
_ANY_NOTE = price(1 / prices.NECK)
#: A note of a tune above the chord costs no more.
_TUNE = price(prices.FILL / (prices.FILL_BELOW + prices.FILL_ABOVE + 1))
#: Nor does one of a bass run below it.
_BASS = price(prices.FILL_BASS / (2 * prices.BASS_REACH + 1) + (1 - prices.FILL - prices.FILL_BASS) / prices.NECK)


@dataclass(frozen=True)
class Wanted:
    """What a step asks for: its pitches (MIDI); with ``any_octave`` every octave of them is as good, and of those in
    ``also``, which need not be there."""

    pitches: tuple[int, ...]
    any_octave: bool = False
    also: tuple[int, ...] = ()

    @property
    def tones(self) -> tuple[int, ...]:
        """What is counted as one tone: a pitch, or every octave of it."""
        return tuple(sorted({pitch % 12 for pitch in self.pitches} if self.any_octave else set(self.pitches)))


@dataclass(frozen=True)
class Fit:
    """What a stroke costs for each step at it, in a wrong attempt and in a fill (arrays of one entry for each step),
    and elsewhere; ``tones`` are bits of the tones of each step that it has or that rang on, ``clean`` says of each step
    whether it has nothing else."""

    at: Prices
    wrong: Prices
    fill: Prices
    elsewhere: int
    tones: Prices
    clean: npt.NDArray[np.bool_]


class Scores:
    """The tables of a drill. With ``by_pitch`` each pitch of the plan is a tone of its own, whatever else will do."""

    def __init__(self, wanted: Sequence[Wanted], *, by_pitch: bool = False) -> None:
        kinds = list(dict.fromkeys(wanted))
        column = {one: number for number, one in enumerate(kinds)}
        #: The column of each step.
        self.chord_of = np.array([column[one] for one in wanted], dtype=np.int64)
        self._at = _table([_at_step(one) for one in kinds])
        self._wrong = _table([_wrong(one) for one in kinds])
        self._fill = _table([_fill(one) for one in kinds])
        self._bits = _table([_bits(one, by_pitch) for one in kinds])
        whole = [sum(1 << place for place in range(len(_counted(one, by_pitch)))) for one in kinds]
        #: All tones of each step, as bits.
        self.whole = np.array(whole, dtype=np.int64)[self.chord_of] if kinds else np.zeros(0, dtype=np.int64)
        self._another = price(prices.ANOTHER / max(prices.OTHERS, len(kinds) - 1))

    def fit(self, struck: Sequence[int], ringing: Iterable[int], before: Sequence[int] = ()) -> Fit:
        """Notes that were plucked together (MIDI), those that rang on, and those that were plucked just before."""
        rows = [pitch + _MARGIN for pitch in struck]
        at = self._at[rows].sum(axis=0)
        wrong = self._wrong[rows].sum(axis=0)
        fill = self._fill[rows].sum(axis=0)
        if len(rows) > 1:
            fill += prices.FILL_MORE + prices.FILL_CHORD * (len(rows) - 2)
            shifted = self._at[np.add.outer(_SHIFTED, struck)].sum(axis=1)
            other = int(at.min()) + self._another if len(at) else 0
            wrong = np.minimum(wrong, np.minimum(shifted.min(axis=0) + prices.SHIFTED, other))
        if len(rows) == 1 and len(before) == 1 and struck[0] != before[0]:
            # Two notes one after the other that are both as far from the chord go wrong together.
            was_tone = self._bits[before[0] + _SHIFTED] > 0
            shifted = np.where(was_tone, self._at[struck[0] + _SHIFTED], prices.NEVER)
            wrong = np.minimum(wrong, shifted.min(axis=0) + prices.SHIFTED_ON)
        if len(rows) == 1 and _noodled(struck[0], before) == prices.BY_STEP:
            by_step = np.where(fill <= _TUNE, prices.BY_STEP, prices.BY_STEP_BELOW)
            fill = np.where(fill <= _BASS, by_step, fill)
        elsewhere = sum(_noodled(pitch, before) for pitch in struck)
        if len(rows) > 1:
            elsewhere += prices.NOODLED_CHORD if len(rows) > 2 else prices.NOODLED_PAIR
        heard = [*rows, *(pitch + _MARGIN for pitch in ringing)]
        tones = np.bitwise_or.reduce(self._bits[heard], axis=0)
        clean = np.asarray(self._bits[rows].all(axis=0), dtype=np.bool_)
        by_step = self.chord_of
        return Fit(at[by_step], wrong[by_step], fill[by_step], elsewhere, tones[by_step], clean[by_step])


def _table(columns: Sequence[Sequence[int]]) -> Prices:
    """One row for each note."""
    return np.array(columns, dtype=np.int64).reshape(len(columns), len(_notes())).T.copy()


def _noodled(pitch: int, before: Sequence[int]) -> int:
    """Lines go by steps; strings are tuned by octaves."""
    away = [abs(pitch - one) for one in before]
    if any(0 < one <= prices.LINE_STEP for one in away):
        return prices.BY_STEP
    return prices.TUNED if any(one % 12 == 0 for one in away) else _ANY_NOTE


def _notes() -> range:
    return range(-_MARGIN, _NOTES + _MARGIN)


def _chances(wanted: Wanted) -> list[float]:
    tones = wanted.tones
    any_note = prices.ANY_NOTE / prices.NECK
    if wanted.any_octave:
        # Some four octaves of each tone are within reach.
        allowed = {*tones, *(note % 12 for note in wanted.also)}
        planned = set(wanted.pitches)
        elsewhere = (prices.TONE - prices.AS_PLANNED) / (4 * len(allowed))
        foreign = any_note + prices.BESIDE / 12
        return [
            prices.AS_PLANNED / len(planned) if note in planned else elsewhere if note % 12 in allowed else foreign
            for note in _notes()
        ]
    found = []
    for note in _notes():
        away = [abs(note - tone) for tone in tones]
        if 0 in away:
            found.append(prices.TONE / len(tones))
            continue
        beside = sum(one in (1, 2) for one in away) * prices.BESIDE / 4
        octave = sum(one in (12, 24) for one in away) * prices.OCTAVE / 4
        three = away.count(3) * prices.THREE / 2
        found.append(any_note + (beside + octave + three) / len(tones))
    return found


@lru_cache(maxsize=4096)
def _at_step(wanted: Wanted) -> list[int]:
    return [price(chance) for chance in _chances(wanted)]


@lru_cache(maxsize=4096)
def _wrong(wanted: Wanted) -> list[int]:
    tones = wanted.tones
    octaves = 12 if wanted.any_octave else 0
    missed_octave = 0.0 if wanted.any_octave else prices.MISSED_OCTAVE
    rest = 1 - prices.WILD - prices.MISSED - missed_octave
    found = []
    for note, chance in zip(_notes(), _chances(wanted), strict=True):
        beside = sum(_away(note, tone, octaves) in (1, 2) for tone in tones) * prices.MISSED / (4 * len(tones))
        octave = sum(abs(note - tone) == 12 for tone in tones) * missed_octave / (2 * len(tones))
        found.append(price(prices.WILD / prices.NECK + rest * chance + beside / (4 if octaves else 1) + octave))
    return found


def _away(note: int, tone: int, octaves: int) -> int:
    """Semitones between them, in any octave if asked."""
    away = abs(note - tone)
    return min(away % octaves, -away % octaves) if octaves else away


@lru_cache(maxsize=4096)
def _fill(wanted: Wanted) -> list[int]:
    top, bass = max(wanted.pitches), min(wanted.pitches)
    above = prices.FILL / (prices.FILL_BELOW + prices.FILL_ABOVE + 1)
    below = prices.FILL_BASS / (2 * prices.BASS_REACH + 1)
    any_note = (1 - prices.FILL - prices.FILL_BASS) / prices.NECK
    found = []
    for note in _notes():
        in_tune = top - prices.FILL_BELOW <= note <= top + prices.FILL_ABOVE
        in_bass = abs(note - bass) <= prices.BASS_REACH
        found.append(price(above * in_tune + below * in_bass + any_note))
    return found


def _counted(wanted: Wanted, by_pitch: bool) -> tuple[int, ...]:
    return tuple(sorted(set(wanted.pitches))) if by_pitch else wanted.tones


def _bits(wanted: Wanted, by_pitch: bool) -> list[int]:
    place = {tone: 1 << number for number, tone in enumerate(_counted(wanted, by_pitch))}
    octaves = wanted.any_octave and not by_pitch
    return [place.get(note % 12 if octaves else note, 0) for note in _notes()]
