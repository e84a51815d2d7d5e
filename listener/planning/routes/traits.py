"""What a shape is like, as numbers that a price can be put on: what the hand minds, and what the ear minds.

All functions take arrays with a row for each candidate. ``notes`` are MIDI, low to high, filled up with -1; ``strings``
are parallel to them, filled up with 0; ``frets`` are parallel too, -1 where there is no note.
"""

from __future__ import annotations

from functools import cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.data import shared_table
from listener.drill.drill import Wish
from listener.guitar.shape_table import lowest_and_highest

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Numbers = NDArray[np.float64]
    Notes = NDArray[np.int64]
else:
    Numbers = Notes = Any

#: From this fret on an open string sounds under a hand that is far from it.
HIGH_HAND: Final = 4
#: Semitones below which an interval that is too low does not get muddier (our choice).
MUD: Final = 2
_THIRDS: Final = ("3", "b3")
_PLAIN: Final = ("1", "3", "b3", "5", "b5", "#5", "2", "4")
_NONE: Final = 127


def near_limit(strain: Numbers) -> Numbers:
    """How near a shape is to what the hand can do: 0 up to half of its reach, 1 at the limit."""
    beyond: Numbers = np.maximum(0.0, 2.0 * strain - 1.0)
    return beyond


def of_the_hand(notes: Notes, frets: Notes, strings: Notes, string_count: int) -> dict[str, Numbers]:
    """Open strings away from the hand, crossings, muted strings inside and strings left out."""
    lowest, _ = lowest_and_highest(frets)
    sounds_open = (frets == 0).any(axis=1)
    used = strings > 0
    count = used.sum(axis=1)
    span = np.where(
        count > 0, strings.max(axis=1, initial=0) - np.where(used, strings, 99).min(axis=1, initial=99) + 1, 0
    )
    return {
        "open_gap": np.where(sounds_open, np.maximum(lowest - 1, 0), 0).astype(np.float64),
        "high_open": np.where(sounds_open, np.maximum(lowest - HIGH_HAND, 0), 0).astype(np.float64),
        "open_inside": _open_inside(frets, strings),
        "crossing": _crossings(notes, frets),
        "muted": (span - count).astype(np.float64),
        "unused": (string_count - count).astype(np.float64),
    }


def _crossings(notes: Notes, frets: Notes) -> Numbers:
    """Pairs of notes of which the lower one lies on the string that sounds higher when it is open."""
    found = np.zeros(len(notes))
    string = notes - frets
    for low in range(notes.shape[1]):
        for high in range(low + 1, notes.shape[1]):
            found += (notes[:, low] < notes[:, high]) & (string[:, low] > string[:, high]) & (frets[:, high] >= 0)
    return found


def _open_inside(frets: Notes, strings: Notes) -> Numbers:
    """Places where the fingers have to clear open strings: runs of open strings between pressed ones."""
    order = np.argsort(-strings, axis=1, kind="stable")
    across = np.take_along_axis(frets, order, axis=1)  # from the lowest string up, what does not sound at the end
    pressed = across > 0
    found = np.zeros(len(frets))
    for column in range(1, frets.shape[1] - 1):
        begins = (across[:, column] == 0) & pressed[:, column - 1]
        found += begins & pressed[:, column + 1 :].any(axis=1)
    return found


def of_the_ear(notes: Notes, wish: Wish) -> dict[str, Numbers]:
    """The bass, minor ninths over it, rubs, intervals too low to be clear, and tones that should not be doubled."""
    sounds = notes >= 0
    bottom = notes[:, 0]
    return {
        "bass": _other_bass(bottom, wish),
        "minor_ninth": _minor_ninths(notes, sounds, bottom, wish),
        "semitone": ((np.diff(notes, axis=1) == 1) & sounds[:, 1:]).sum(axis=1).astype(np.float64),
        "low_interval": _too_low(notes, wish),
        "doubled_third": _doubled(notes, wish, _THIRDS),
        "doubled_color": _doubled(notes, wish, [d for d in wish.chord.quality.degrees if d not in _PLAIN]),
    }


def _other_bass(bottom: Notes, wish: Wish) -> Numbers:
    """1 where another tone than the chord's bass lies lowest and nobody asked for one."""
    asked = wish.inversion is not None or wish.exact is not None
    asked = asked or wish.bottom.pitch is not None or wish.bottom.degree is not None
    bass = wish.chord.bass or wish.chord.root
    return np.zeros(len(bottom)) if asked else (bottom % 12 != bass.pitch_class).astype(np.float64)


def _minor_ninths(notes: Notes, sounds: Any, bottom: Notes, wish: Wish) -> Numbers:
    """Notes a minor ninth (or more octaves) over the bass, unless the chord's name asks for just that."""
    above = notes - bottom[:, None]
    rubs = (sounds & (above % 12 == 1) & (above > 12)).sum(axis=1)
    chord = wish.chord
    asked = [chord.root.pitch_class] if "b9" in chord.quality.degrees else []
    asked += [chord.bass.pitch_class] if chord.bass is not None else []
    return np.where(np.isin(bottom % 12, asked), 0, rubs).astype(np.float64)


def of_the_strings(strings: Notes, string_count: int, wish: Wish) -> dict[str, Numbers]:
    """Strings left out on either side of a chord whose name asks for a bass; 0 for any other."""
    used = strings > 0
    asked = used.any(axis=1) & (wish.chord.bass is not None)
    top = np.where(used, strings, _NONE).min(axis=1, initial=_NONE)
    return {
        "cut_top": np.where(asked, top - 1, 0).astype(np.float64),
        "high_bass": np.where(asked, string_count - strings.max(axis=1, initial=0), 0).astype(np.float64),
    }


@cache
def _limits() -> Notes:
    """The lowest clear bottom note for each interval of 0 to 127 semitones; 0 where there is no limit."""
    limits = np.zeros(128, dtype=np.int64)
    for entry in shared_table("manners")["low_interval_limits"]:
        limits[entry["semitones"]] = entry["midi"]
    return limits


def _too_low(notes: Notes, wish: Wish) -> Numbers:
    """Semitones by which the two lowest notes lie too low for their interval to be clear, :data:`MUD` at most.

    A bass that the chord's name puts below it is a line of its own, and nobody minds where it lies (common practice).
    """
    if notes.shape[1] < 2 or wish.chord.bass is not None:
        return np.zeros(len(notes))
    apart = np.where(notes[:, 1] >= 0, notes[:, 1] - notes[:, 0], 0)
    below: Numbers = np.clip(_limits()[apart] - notes[:, 0], 0, MUD).astype(np.float64)
    return below


def _doubled(notes: Notes, wish: Wish, degrees: Any) -> Numbers:
    """How many times these tones sound beyond the first; a bass that the chord's name asks for does not count."""
    found = np.zeros(len(notes))
    above = notes[:, 1:] if wish.chord.bass is not None else notes
    for degree in degrees:
        if degree in wish.chord.tones:
            times = ((above >= 0) & (above % 12 == wish.chord.tones[degree].pitch_class)).sum(axis=1)
            found += np.maximum(times - 1, 0)
    return found
