"""What a hand can hold, one shape and one finger at a time: the referee of ``listener/guitar/holds.py``.

The rules are written down there. Here every way to share the notes of a fret among fingers is tried with every choice
of fingers, and the effort of each is added up finger by finger.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache
from itertools import combinations, pairwise, product

from listener.guitar.fingering import Barre, Fingering
from listener.guitar.hand import Effort, Hand, effort
from listener.guitar.instrument import Instrument, press_mm

EFFORT_STEP = 1e-9
#: (string, fret) pairs from the lowest string to the highest; in a *shape* the lowest pressed fret counts as 1.
Shape = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class Press:
    """One finger, the fret of the shape that it presses, and its strings from the lowest up."""

    finger: int
    fret: int
    strings: tuple[int, ...]

    @property
    def width(self) -> int:
        """Strings from the first to the last, muted ones counted."""
        return self.strings[0] - self.strings[-1] + 1


def plain_grip(instrument: Instrument, hand: Hand, placed: Sequence[tuple[int, int]]) -> Fingering | None:
    """The best fingers for (string, fret) pairs, None when this hand cannot hold them."""
    return next(iter(plain_grips(instrument, hand, placed)), None)


def plain_sensible_grips(
    instrument: Instrument, hand: Hand, placed: Sequence[tuple[int, int]]
) -> tuple[Fingering, ...]:
    """Those ways that ask little more than the best."""
    ways = plain_grips(instrument, hand, placed)
    return tuple(way for way in ways if way.effort <= ways[0].effort + effort().sensible + EFFORT_STEP)


def plain_grips(instrument: Instrument, hand: Hand, placed: Sequence[tuple[int, int]]) -> tuple[Fingering, ...]:
    """All ways within reach, least effort first, then fewer and lower fingers."""
    frets = tuple(sorted(placed, reverse=True))
    lowest = min((fret for _, fret in frets if fret), default=0)
    shape = tuple((string, fret and fret - lowest + 1) for string, fret in frets)
    found = []
    for presses in _assignments(shape, hand.barre_strings):
        strain = _strain(hand, instrument.scale_mm, instrument.capo + lowest, presses)
        if strain <= 1.0:
            found.append((_effort_of(effort(), strain, shape, presses), strain, presses))
    found.sort(key=lambda way: (round(way[0], 9), len(way[2]), [press.finger for press in way[2]]))
    return tuple(_fingering(instrument, frets, lowest, *way, over_best=way[0] - found[0][0]) for way in found)


def _strain(hand: Hand, scale_mm: float, lowest: int, presses: tuple[Press, ...]) -> float:
    """Largest share of its reach that any pair of fingers uses; ``lowest`` is counted from the nut."""
    most = 0.0
    for one, other in combinations(presses, 2):
        if other.fret > one.fret:
            apart = press_mm(scale_mm, lowest - 1 + other.fret) - press_mm(scale_mm, lowest - 1 + one.fret)
            most = max(most, apart / hand.reach(one.finger, other.finger))
    return most


def _effort_of(weights: Effort, strain: float, shape: Shape, presses: tuple[Press, ...]) -> float:
    total = weights.strain * strain + weights.finger * len(presses)
    if presses:
        total += weights.idle * (presses[0].finger - 1)
    for press in presses:
        if len(press.strings) > 1:
            total += weights.first_barre if press.finger == 1 else weights.other_barre
            if any(string < press.strings[-1] and fret < press.fret for string, fret in shape):
                total += weights.arched
    for one, other in pairwise(presses):
        total += weights.crowding * abs((other.fret - one.fret) - (other.finger - one.finger))
    return total


@lru_cache(maxsize=1 << 15)
def _assignments(shape: Shape, barre_strings: tuple[int, ...]) -> tuple[tuple[Press, ...], ...]:
    """Fingers for a shape by all rules but reach, which depends on the place."""
    frets = sorted({fret for _, fret in shape if fret})
    rows = []
    for fret in frets:
        strings = [string for string, at in shape if at == fret]
        rows.append([parts for parts in _parts(strings) if all(_free(shape, fret, part) for part in parts)])
    found = []
    for choice in product(*rows):
        groups = [(fret, part) for fret, parts in zip(frets, choice, strict=True) for part in parts]
        for fingers in combinations((1, 2, 3, 4), len(groups)):
            presses = tuple(Press(f, fret, part) for f, (fret, part) in zip(fingers, groups, strict=True))
            if all(press.width <= barre_strings[press.finger - 1] or press.width == 1 for press in presses):
                found.append(presses)
    return tuple(found)


def _parts(strings: list[int]) -> Iterator[list[tuple[int, ...]]]:
    """Every way to share strings at one fret, low to high, among fingers that do not overlap."""
    if not strings:
        yield []
        return
    for size in range(1, len(strings) + 1):
        for rest in _parts(strings[size:]):
            yield [tuple(strings[:size]), *rest]


def _free(shape: Shape, fret: int, part: tuple[int, ...]) -> bool:
    """Whether a finger may lie over these strings: nothing inside sounds at a lower fret."""
    return len(part) == 1 or not any(part[-1] < string < part[0] and at < fret for string, at in shape)


def _fingering(
    instrument: Instrument,
    frets: Shape,
    lowest: int,
    cost: float,
    strain: float,
    presses: tuple[Press, ...],
    *,
    over_best: float,
) -> Fingering:
    fingers = {string: press.finger for press in presses for string in press.strings}
    open_midi = instrument.open_midi
    notes = sorted((open_midi[string - 1] + fret, -string, fret) for string, fret in frets)
    spots = [press_mm(instrument.scale_mm, instrument.capo + lowest - 1 + press.fret) for press in presses]
    return Fingering(
        pitches=tuple(note[0] for note in notes),
        strings=tuple(-note[1] for note in notes),
        frets=tuple(note[2] for note in notes),
        fingers=tuple(fingers.get(-note[1], 0) for note in notes),
        barre=_barre(presses, lowest),
        stretch_mm=max(spots) - min(spots) if spots else 0.0,
        strain=strain,
        centre_mm=(max(spots) + min(spots)) / 2 if spots else None,
        effort=cost,
        over_best=over_best,
    )


def _barre(presses: tuple[Press, ...], lowest: int) -> Barre | None:
    """The widest flat finger; the lower finger when two are equally wide."""
    flat = [press for press in presses if len(press.strings) > 1]
    if not flat:
        return None
    widest = max(flat, key=lambda press: (press.width, -press.finger))
    return Barre(widest.finger, lowest - 1 + widest.fret, widest.strings[0], widest.strings[-1])
