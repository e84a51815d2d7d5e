"""What goes wrong under a guitarist's hands, as changes to a chord on the neck."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import combinations
from random import Random
from typing import Final

WRONG_TOP: Final = "wrong top note"
DROPPED: Final = "tone dropped"
CLOSED_UP: Final = "closed up"
OCTAVE: Final = "octave off"
LATE: Final = "late"
EXTRA: Final = "extra note"
SLIPS: Final = (WRONG_TOP, DROPPED, CLOSED_UP, OCTAVE, LATE, EXTRA)

_HIGHEST_FRET: Final = 20

#: A string (1 the highest), a fret counted from the capo, and the MIDI note there.
Place = tuple[int, int, int]


def slipped(
    slip: str, meant: tuple[Place, ...], open_strings: Sequence[int], random: Random
) -> tuple[Place, ...] | None:
    """The chord with that slip, low to high in pitch; None where it cannot be made. ``open_strings`` are MIDI notes,
    string 1 first. :data:`LATE` changes no note and is not made here."""
    make = {
        WRONG_TOP: _wrong_top,
        DROPPED: _dropped,
        CLOSED_UP: _closed_up,
        OCTAVE: _octave_off,
        EXTRA: _extra,
    }[slip]
    places = make(meant, open_strings, random)
    return None if places is None else tuple(sorted(places, key=lambda place: place[2]))


def _wrong_top(meant: tuple[Place, ...], _open: Sequence[int], random: Random) -> list[Place] | None:
    """The finger on the top note lands a fret or two away; the note stays on top."""
    rest, (string, fret, pitch) = list(meant[:-1]), meant[-1]
    below = max((place[2] for place in rest), default=0)
    away = [step for step in (-2, -1, 1, 2) if 0 <= fret + step <= _HIGHEST_FRET and pitch + step > below]
    if not away:
        return None
    step = random.choice(away)
    return [*rest, (string, fret + step, pitch + step)]


def _dropped(meant: tuple[Place, ...], _open: Sequence[int], random: Random) -> list[Place] | None:
    """A string is not reached. A doubled tone would not be missed, so it is one that stands alone."""
    classes = [place[2] % 12 for place in meant]
    alone = [index for index, tone in enumerate(classes) if classes.count(tone) == 1]
    if len(meant) < 2 or not alone:
        return None
    gone = random.choice(alone)
    return [place for index, place in enumerate(meant) if index != gone]


def _closed_up(meant: tuple[Place, ...], open_strings: Sequence[int], _random: Random) -> list[Place] | None:
    """The same tones within an octave: the everyday grip instead of the spread one."""
    pitches = [place[2] for place in meant]
    close = sorted({pitches[0] + (pitch - pitches[0]) % 12 for pitch in pitches})
    if close == pitches or len(close) < len(pitches):
        return None
    return on_neck(close, open_strings)


def _octave_off(meant: tuple[Place, ...], open_strings: Sequence[int], random: Random) -> list[Place] | None:
    """The whole chord an octave low, or high where low is not on the neck."""
    ways = [on_neck([place[2] + shift for place in meant], open_strings) for shift in (-12, 12)]
    found = [way for way in ways if way is not None]
    return random.choice(found) if found else None


def _extra(meant: tuple[Place, ...], open_strings: Sequence[int], random: Random) -> list[Place] | None:
    """An open string rings along."""
    used = {place[0] for place in meant}
    pitches = {place[2] for place in meant}
    free = [
        (string, 0, pitch)
        for string, pitch in enumerate(open_strings, start=1)
        if string not in used and pitch not in pitches
    ]
    return [*meant, random.choice(free)] if free else None


def on_neck(pitches: Sequence[int], open_strings: Sequence[int]) -> list[Place] | None:
    """These pitches (low to high) on different strings, lower pitch on lower string, frets as near each other as can
    be; None when the neck has no room."""
    found: list[tuple[int, list[Place]]] = []
    for strings in combinations(range(len(open_strings), 0, -1), len(pitches)):
        places = [
            (string, pitch - open_strings[string - 1], pitch) for string, pitch in zip(strings, pitches, strict=True)
        ]
        frets = [fret for _, fret, _ in places]
        if min(frets) >= 0 and max(frets) <= _HIGHEST_FRET:
            found.append((max(frets) - min(frets), places))
    return min(found)[1] if found else None
