"""Which finger presses where: all ways a hand can hold some frets, and the one a teacher would write down.

Rules, the same for every hand (common practice; their limits are data):

- fingers lie in order along the neck, a higher finger never nearer the nut; at one fret the lower finger takes
  the lower string;
- one finger presses one fret, over one string or, lying flat, over neighbouring ones;
- a flat finger may cross muted strings and strings that are pressed higher up, but no string that sounds at a lower
  fret or open, for it would stop it;
- two fingers are never further apart than the hand reaches.

Of the ways that remain the one with the least effort is proposed; ``shared/hands.toml`` says what that adds up.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from functools import cache, lru_cache
from itertools import combinations, pairwise, product
from typing import Final

from listener.errors import InstrumentError
from listener.guitar.fingering import Barre, Fingering
from listener.guitar.hand import Effort, Hand, effort
from listener.guitar.instrument import Instrument, press_mm

#: Efforts that differ by less are equal.
EFFORT_STEP: Final = 1e-9

#: (string, fret) pairs from the lowest string to the highest; in a *shape* the lowest pressed fret counts as 1.
Shape = tuple[tuple[int, int], ...]


@dataclass(frozen=True, slots=True)
class _Press:
    """One finger, the fret of the shape that it presses, and its strings from the lowest up."""

    finger: int
    fret: int
    strings: tuple[int, ...]

    @property
    def width(self) -> int:
        """Strings from the first to the last, muted ones counted."""
        return self.strings[0] - self.strings[-1] + 1


@dataclass(frozen=True, slots=True)
class _Hold:
    """A way to hold a shape at one place of the neck. ``presses`` are in the order of their fingers."""

    effort: float
    over_best: float
    strain: float
    presses: tuple[_Press, ...]


def grip(instrument: Instrument, hand: Hand, placed: Sequence[tuple[int, int]]) -> Fingering | None:
    """The best fingers for (string, fret) pairs, or None when this hand cannot hold them.

    Frets count from the capo, 0 is an open string. Raises :class:`InstrumentError` for strings and frets that do not
    exist, a string that is used twice, and for nothing at all.
    """
    frets = _checked(instrument, placed)
    return quick_grip(instrument, hand, frets)


def grips(instrument: Instrument, hand: Hand, placed: Sequence[tuple[int, int]]) -> tuple[Fingering, ...]:
    """Every way this hand can hold (string, fret) pairs, least effort first; errors as for :func:`grip`."""
    frets = _checked(instrument, placed)
    lowest, shape = _shape(frets)
    holds = _holds(hand, instrument.scale_mm, instrument.capo + lowest, shape)
    return tuple(_fingering(instrument, frets, lowest, hold) for hold in holds)


def sensible_grips(instrument: Instrument, hand: Hand, placed: Sequence[tuple[int, int]]) -> tuple[Fingering, ...]:
    """Those of :func:`grips` that ask little more than the best: what a change of chords may choose from."""
    ways = grips(instrument, hand, placed)
    return tuple(way for way in ways if way.effort <= ways[0].effort + _effort().sensible + EFFORT_STEP)


def quick_grip(instrument: Instrument, hand: Hand, frets: Shape) -> Fingering | None:
    """:func:`grip` for pairs that are known to be right, given from the lowest string to the highest."""
    lowest, shape = _shape(frets)
    hold = _best(hand, instrument.scale_mm, instrument.capo + lowest, shape)
    return _fingering(instrument, frets, lowest, hold) if hold is not None else None


def can_hold(instrument: Instrument, hand: Hand, frets: Shape) -> bool:
    """Whether the hand can, without making the :class:`Fingering`; pairs as for :func:`quick_grip`."""
    lowest, shape = _shape(frets)
    return _best(hand, instrument.scale_mm, instrument.capo + lowest, shape) is not None


def _checked(instrument: Instrument, placed: Sequence[tuple[int, int]]) -> Shape:
    if not placed:
        raise InstrumentError("there is nothing to finger: no string sounds")
    for string, fret in placed:
        instrument.check_place(string, fret)
    ordered = tuple(sorted(((string, fret) for string, fret in placed), reverse=True))
    for (string, _), (other, _) in pairwise(ordered):
        if string == other:
            raise InstrumentError(f"string {string} cannot sound at two frets at once")
    return ordered


def _shape(frets: Shape) -> tuple[int, Shape]:
    """The lowest pressed fret (0 when all strings are open) and the frets counted so that it is 1."""
    lowest = min((fret for _, fret in frets if fret), default=0)
    if lowest <= 1:
        return lowest, frets
    return lowest, tuple([(string, fret and fret - lowest + 1) for string, fret in frets])


@lru_cache(maxsize=1 << 17)
def _best(hand: Hand, scale_mm: float, lowest: int, shape: Shape) -> _Hold | None:
    holds = _holds(hand, scale_mm, lowest, shape)
    return holds[0] if holds else None


def _holds(hand: Hand, scale_mm: float, lowest: int, shape: Shape) -> list[_Hold]:
    """All ways within reach, least effort first, then fewer and lower fingers; ``lowest`` is counted from the nut."""
    weights = _effort()
    found = []
    for presses in _assignments(shape, hand.barre_strings):
        strain = _strain(hand, scale_mm, lowest, presses)
        if strain <= 1.0:
            found.append(_Hold(_effort_of(weights, strain, shape, presses), 0.0, strain, presses))
    found.sort(key=lambda hold: (round(hold.effort, 9), len(hold.presses), [press.finger for press in hold.presses]))
    return [replace(hold, over_best=hold.effort - found[0].effort) for hold in found]


@cache
def _effort() -> Effort:
    return effort()


def _strain(hand: Hand, scale_mm: float, lowest: int, presses: tuple[_Press, ...]) -> float:
    """Largest share of its reach that any pair of fingers uses."""
    most = 0.0
    for one, other in combinations(presses, 2):
        if other.fret > one.fret:
            apart = press_mm(scale_mm, lowest - 1 + other.fret) - press_mm(scale_mm, lowest - 1 + one.fret)
            most = max(most, apart / hand.reach(one.finger, other.finger))
    return most


def _effort_of(weights: Effort, strain: float, shape: Shape, presses: tuple[_Press, ...]) -> float:
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
def _assignments(shape: Shape, barre_strings: tuple[int, ...]) -> tuple[tuple[_Press, ...], ...]:
    """Fingers for a shape by all rules but reach, which depends on the place."""
    rows = []
    for fret in sorted({fret for _, fret in shape if fret}):
        strings = [string for string, at in shape if at == fret]
        rows.append([parts for parts in _parts(strings) if all(_free(shape, fret, part) for part in parts)])
    found = []
    for choice in product(*rows):
        groups = [
            (fret, part)
            for fret, parts in zip(sorted({f for _, f in shape if f}), choice, strict=True)
            for part in parts
        ]
        for fingers in combinations((1, 2, 3, 4), len(groups)):
            presses = tuple(_Press(f, fret, part) for f, (fret, part) in zip(fingers, groups, strict=True))
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


def _fingering(instrument: Instrument, frets: Shape, lowest: int, hold: _Hold) -> Fingering:
    fingers = {string: press.finger for press in hold.presses for string in press.strings}
    open_midi = instrument.open_midi
    notes = sorted((open_midi[string - 1] + fret, -string, fret) for string, fret in frets)
    spots = [press_mm(instrument.scale_mm, instrument.capo + lowest - 1 + press.fret) for press in hold.presses]
    return Fingering(
        pitches=tuple([note[0] for note in notes]),
        strings=tuple([-note[1] for note in notes]),
        frets=tuple([note[2] for note in notes]),
        fingers=tuple([fingers.get(-note[1], 0) for note in notes]),
        barre=_barre(hold, lowest),
        stretch_mm=max(spots) - min(spots) if spots else 0.0,
        strain=hold.strain,
        centre_mm=(max(spots) + min(spots)) / 2 if spots else None,
        effort=hold.effort,
        over_best=hold.over_best,
    )


def _barre(hold: _Hold, lowest: int) -> Barre | None:
    """The widest flat finger; the lower finger when two are equally wide."""
    flat = [press for press in hold.presses if len(press.strings) > 1]
    if not flat:
        return None
    widest = max(flat, key=lambda press: (press.width, -press.finger))
    return Barre(widest.finger, lowest - 1 + widest.fret, widest.strings[0], widest.strings[-1])
