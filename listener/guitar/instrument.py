"""The instrument: strings, frets, capo, and where things lie on the neck.

Strings are numbered from the highest-placed string, 1, to the lowest, ``string_count``. Frets are counted from the nut
or, with a capo, from the capo; lengths are in mm from the nut. A fret wire lies at L·(1 − 2^(−n/12)) from the nut of a
string of length L (equal temperament; M. Koch, "Building Electric Guitars"). A left-handed instrument is the
mirror image: the same strings, pitches and lengths, drawn the other way round.
"""

from __future__ import annotations

import math
from collections.abc import Sequence
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

from listener.data import shared_table
from listener.errors import InstrumentError, MusicError
from listener.music.pitch import Pitch, parse_pitch

#: Where a finger presses, as a share of the space between two frets, from the lower one. Our choice: near the fret,
#: as teachers ask, with room for the fingertip.
PRESS_SHARE: Final = 0.7
#: What we take for an instrument with frets and strings; our own bounds, wide enough for any guitar.
MOST_STRINGS: Final = 12
MOST_FRETS: Final = 36
SCALE_RANGE_MM: Final = (250.0, 1200.0)


@dataclass(frozen=True)
class Instrument:
    """Strings and neck. ``open_pitches`` run from the lowest string to the highest, without the capo.

    ``fret_count`` counts from the nut, ``capo`` is the fret it lies on (0 for none), ``scale_mm`` is the length of
    the sounding string without capo. Raises :class:`InstrumentError` for what cannot be.
    """

    name: str
    open_pitches: tuple[Pitch, ...]
    fret_count: int = 22
    capo: int = 0
    scale_mm: float = 648.0
    left_handed: bool = False

    def __post_init__(self) -> None:
        _check_strings(self.open_pitches, self.fret_count)
        if not 1 <= self.fret_count <= MOST_FRETS:
            raise InstrumentError(f"a neck has 1 to {MOST_FRETS} frets, not {self.fret_count}")
        if not 0 <= self.capo < self.fret_count:
            raise InstrumentError(
                f"a capo at fret {self.capo} leaves nothing to play on {self.fret_count} frets; "
                f"give 0 (no capo) to {self.fret_count - 1}"
            )
        low, high = SCALE_RANGE_MM
        if not (math.isfinite(self.scale_mm) and low <= self.scale_mm <= high):
            raise InstrumentError(
                f"a scale length of {self.scale_mm:g} mm is not possible; give {low:g} to {high:g} mm"
            )

    @property
    def string_count(self) -> int:
        """How many strings there are."""
        return len(self.open_pitches)

    @property
    def tuning_names(self) -> tuple[str, ...]:
        """Names of the open strings, lowest string first, without the capo."""
        return tuple(map(str, self.open_pitches))

    @property
    def highest_fret(self) -> int:
        """The last fret, counted from the capo."""
        return self.fret_count - self.capo

    @cached_property
    def open_midi(self) -> tuple[int, ...]:
        """What each string sounds open, capo on: MIDI notes by string number, string 1 first."""
        return tuple(pitch.midi + self.capo for pitch in reversed(self.open_pitches))

    @cached_property
    def presses_mm(self) -> tuple[float, ...]:
        """Distance from the nut to where a finger presses, by fret from the capo; 0 for fret 0, the open string."""
        return (0.0, *(press_mm(self.scale_mm, self.capo + fret) for fret in range(1, self.highest_fret + 1)))

    @property
    def range(self) -> tuple[int, int]:
        """Lowest and highest MIDI note."""
        return min(self.open_midi), max(self.open_midi) + self.highest_fret

    def pitch(self, string: int, fret: int) -> int:
        """The MIDI note of a string at a fret counted from the capo (0 is open)."""
        self.check_place(string, fret)
        return self.open_midi[string - 1] + fret

    def check_place(self, string: int, fret: int) -> None:
        """Raise :class:`InstrumentError` when there is no such string or fret."""
        if not 1 <= string <= self.string_count:
            raise InstrumentError(
                f"there is no string {string}; {self.name} has {self.string_count}, 1 the highest and "
                f"{self.string_count} the lowest"
            )
        if not 0 <= fret <= self.highest_fret:
            above = f" above the capo at {self.capo}" if self.capo else ""
            raise InstrumentError(f"there is no fret {fret}; the neck has {self.highest_fret} frets{above}")

    def fret_mm(self, fret: int) -> float:
        """Distance from the nut to a fret wire; fret 0 is the nut, or the capo."""
        self.check_place(1, fret)
        return wire_mm(self.scale_mm, self.capo + fret)

    def finger_mm(self, fret: int) -> float:
        """Distance from the nut to where a finger presses for a fret, 1 or higher."""
        self.check_place(1, fret)
        if fret < 1:
            raise InstrumentError("no finger presses an open string")
        return self.presses_mm[fret]

    def farthest_frets(self, longest_mm: float) -> tuple[int, ...]:
        """By fret the highest one that can be pressed with it when fingers lie at most so far apart; 0 for fret 0."""
        spots = self.presses_mm
        frets = range(1, len(spots))
        return (0, *(max(high for high in frets if spots[high] - spots[low] <= longest_mm) for low in frets))


@lru_cache(maxsize=1024)
def wire_mm(scale_mm: float, fret: int) -> float:
    """Distance from the nut to fret wire ``fret``, counted from the nut."""
    return float(scale_mm * (1.0 - 2.0 ** (-fret / 12)))


@lru_cache(maxsize=1024)
def press_mm(scale_mm: float, fret: int) -> float:
    """Distance from the nut to the fingertip for ``fret``, counted from the nut, 1 or higher."""
    below = wire_mm(scale_mm, fret - 1)
    return below + PRESS_SHARE * (wire_mm(scale_mm, fret) - below)


def _check_strings(open_pitches: tuple[Pitch, ...], fret_count: int) -> None:
    if not 1 <= len(open_pitches) <= MOST_STRINGS:
        raise InstrumentError(f"a tuning has 1 to {MOST_STRINGS} strings, not {len(open_pitches)}")
    for pitch in open_pitches:
        if pitch.midi < 0 or pitch.midi + fret_count > 127:
            raise InstrumentError(f"a string tuned to {pitch} with {fret_count} frets leaves MIDI's range, 0 to 127")


def tuning_list() -> dict[str, str]:
    """The tunings that have a name, each with what it is for."""
    return {name: row["about"] for name, row in shared_table("tunings").items()}


def make_instrument(
    tuning: str = "standard",
    *,
    fret_count: int = 22,
    capo: int = 0,
    scale_mm: float = 648.0,
    left_handed: bool = False,
) -> Instrument:
    """An instrument with a named tuning, or with its strings listed lowest first.

    >>> make_instrument("D2 A2 D3 G3 B3 E4", capo=2).open_midi
    (66, 61, 57, 52, 47, 40)

    Raises :class:`InstrumentError`, naming what cannot be.
    """
    name = " ".join(tuning.split()).lower()
    row = shared_table("tunings").get(name)
    strings = str(row["strings"]) if row is not None else tuning
    if row is None and not any(character.isdigit() for character in tuning):
        raise InstrumentError(
            f"there is no tuning '{tuning}'; name one of {', '.join(tuning_list())}, or list the strings from the "
            f"lowest up with their octaves, such as 'D2 A2 D3 G3 B3 E4'"
        )
    return Instrument(
        name=name if row is not None else " ".join(strings.split()),
        open_pitches=_read_strings(strings),
        fret_count=fret_count,
        capo=capo,
        scale_mm=scale_mm,
        left_handed=left_handed,
    )


def _read_strings(text: str) -> tuple[Pitch, ...]:
    try:
        return tuple(parse_pitch(word) for word in text.replace(",", " ").split())
    except MusicError as error:
        raise InstrumentError(f"the tuning '{text}' is not possible: {error}") from error


def string_names(tuning: Sequence[str], string_count: int) -> tuple[str, ...]:
    """Short names of the strings, string 1 first, from open-string names low to high such as ``E2``."""
    names = [name.rstrip("0123456789-") for name in reversed(tuning)]
    return tuple(names[:string_count]) + ("",) * (string_count - len(names))
