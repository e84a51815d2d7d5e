"""Where pitches can be played: every placement on the neck, whether a hand can hold it or not.

A placement is one (string, fret) pair for each pitch, one note to a string. Strings need not ascend with pitch: a
higher note may lie on a lower string (a crossed placement). Frets count from the capo.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from typing import Final

from listener.errors import InstrumentError
from listener.guitar.instrument import Instrument

#: (string, fret) pairs, frets from the capo, 0 open.
Shape = tuple[tuple[int, int], ...]

#: Highest fret pressed when nothing is said; beyond it a guitar's body is in the way (our choice).
USUAL_HIGHEST_FRET: Final = 15


@dataclass(frozen=True, slots=True)
class Area:
    """The part of the neck that may be used: ``strings`` from the lowest up, pressed frets ``low`` to ``high``."""

    strings: tuple[int, ...]
    low: int
    high: int
    open_strings: bool

    def frets_for(self, open_midi: Sequence[int], string: int, pitch: int) -> int | None:
        """The fret of a pitch on a string, None when it is not in the area."""
        fret = pitch - open_midi[string - 1]
        if fret == 0:
            return 0 if self.open_strings else None
        return fret if self.low <= fret <= self.high else None


def area(
    instrument: Instrument,
    strings: Collection[int] | None = None,
    frets: tuple[int, int] | None = None,
    open_strings: bool = True,
) -> Area:
    """Read the limits of a search; ``frets`` is the lowest and the highest fret that may be pressed.

    The highest is cut to the neck. Raises :class:`InstrumentError` for strings or frets that do not exist and for
    frets in the wrong order.
    """
    used = range(1, instrument.string_count + 1) if strings is None else set(strings)
    if not used:
        raise InstrumentError("no string may sound; name at least one")
    for string in used:
        instrument.check_place(string, 0)
    low, high = frets if frets is not None else (0, USUAL_HIGHEST_FRET)
    if low > high:
        raise InstrumentError(f"frets {low} to {high} are the wrong way round; write the lower one first")
    if low < 0:
        raise InstrumentError(f"there is no fret {low}; frets count from 0, the open string")
    if low > instrument.highest_fret:
        above = f" above the capo at {instrument.capo}" if instrument.capo else ""
        raise InstrumentError(f"there is no fret {low}; the neck has {instrument.highest_fret} frets{above}")
    return Area(tuple(sorted(used, reverse=True)), max(low, 1), min(high, instrument.highest_fret), open_strings)


def placements(
    instrument: Instrument,
    pitches: Sequence[int],
    *,
    strings: Collection[int] | None = None,
    frets: tuple[int, int] | None = None,
    open_strings: bool = True,
    longest_mm: float | None = None,
) -> tuple[Shape, ...]:
    """Every placement of exactly these MIDI notes, pairs from the lowest string to the highest.

    With ``longest_mm`` those are left out whose outer pressed frets lie further apart. Any hand is
    disregarded otherwise. Raises :class:`InstrumentError` for an empty set and for limits that make no sense.
    """
    if not pitches:
        raise InstrumentError("there is nothing to finger: the set of pitches is empty")
    limits = area(instrument, strings, frets, open_strings)
    return tuple(_placed(instrument, sorted(pitches), limits, longest_mm))


def _placed(instrument: Instrument, pitches: Sequence[int], limits: Area, longest_mm: float | None) -> Iterator[Shape]:
    """Depth-first over the pitches, those with the fewest places first."""
    open_midi = instrument.open_midi
    choices = []
    for pitch in pitches:
        found = [(string, limits.frets_for(open_midi, string, pitch)) for string in limits.strings]
        choices.append([(string, fret) for string, fret in found if fret is not None])
    if not all(choices):
        return
    farthest = None if longest_mm is None else instrument.farthest_frets(longest_mm)
    twins = [index > 0 and pitches[index - 1] == pitch for index, pitch in enumerate(pitches)]

    def extend(index: int, taken: tuple[tuple[int, int], ...], low: int, high: int) -> Iterator[Shape]:
        if index == len(choices):
            yield tuple(sorted(taken, reverse=True))
            return
        used = [string for string, _ in taken]
        for string, fret in choices[index]:
            # Two equal notes are one placement, whichever is named first.
            if string in used or (twins[index] and string > used[-1]):
                continue
            lower, higher = (min(low, fret), max(high, fret)) if fret else (low, high)
            if farthest is not None and higher and higher > farthest[lower]:
                continue
            yield from extend(index + 1, (*taken, (string, fret)), lower, higher)

    yield from extend(0, (), limits.high + 1, 0)
