"""What a hand can hold: one shape, several, or every place for some notes. :mod:`listener.guitar.holds` has the rules.

Whoever asks about many shapes asks about all of them at once: one by one takes a hundred times as long.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Sequence
from itertools import chain, pairwise

from listener.errors import InstrumentError
from listener.guitar.fingering import Fingering
from listener.guitar.hand import Hand
from listener.guitar.holds import Ways, holds
from listener.guitar.instrument import Instrument
from listener.guitar.search import placements
from listener.guitar.shape_table import ShapeTable, fret_rows, table_of

#: (string, fret) pairs in any order.
Placed = Sequence[tuple[int, int]]


def grip(instrument: Instrument, hand: Hand, placed: Placed) -> Fingering | None:
    """The best fingers for (string, fret) pairs, or None when this hand cannot hold them.

    Frets count from the capo, 0 is an open string. Raises :class:`InstrumentError` for strings and frets that do not
    exist, a string that is used twice, and for nothing at all.
    """
    return next(iter(_grips(instrument, hand, placed, Ways.BEST)), None)


def grips(instrument: Instrument, hand: Hand, placed: Placed) -> tuple[Fingering, ...]:
    """Every way this hand can hold (string, fret) pairs, least effort first; errors as for :func:`grip`."""
    return _grips(instrument, hand, placed, Ways.ALL)


def sensible_grips(instrument: Instrument, hand: Hand, placed: Placed) -> tuple[Fingering, ...]:
    """Those of :func:`grips` that ask little more than the best: what a change of chords may choose from."""
    return _grips(instrument, hand, placed, Ways.SENSIBLE)


def which_held(instrument: Instrument, hand: Hand, shapes: Sequence[Placed]) -> list[bool]:
    """Which of several shapes of (string, fret) pairs the hand can hold; errors as for :func:`grip`."""
    for placed in shapes:
        _check(instrument, placed)
    rows = fret_rows(shapes, instrument.string_count)
    held = set(map(tuple, holds(instrument, hand, rows, Ways.BEST).frets.tolist()))
    return [frets in held for frets in map(tuple, rows.tolist())]


def fingerings(
    instrument: Instrument,
    hand: Hand,
    pitches: Sequence[int],
    *,
    strings: Collection[int] | None = None,
    frets: tuple[int, int] | None = None,
    open_strings: bool = True,
) -> tuple[Fingering, ...]:
    """Every place where this hand can play exactly these MIDI notes, with the best fingers, lowest position first.

    ``frets`` is the lowest and highest fret pressed (0 to 15 when not given), ``open_strings`` allows fret 0. Errors as
    for :func:`listener.guitar.search.placements`.
    """
    found = held_places(
        instrument, hand, [pitches], strings=strings, frets=frets, open_strings=open_strings, ways=Ways.BEST
    )
    return tuple(found.fingerings())


def held_places(
    instrument: Instrument,
    hand: Hand,
    chords: Iterable[Sequence[int]],
    *,
    strings: Collection[int] | None = None,
    frets: tuple[int, int] | None = None,
    open_strings: bool = True,
    ways: Ways = Ways.SENSIBLE,
) -> ShapeTable:
    """The places of :func:`fingerings` for each of some sets of MIDI notes, all in one table, lowest position first;
    each comes once for every way to hold it that is asked for."""
    placed = chain.from_iterable(
        placements(
            instrument, pitches, strings=strings, frets=frets, open_strings=open_strings, longest_mm=hand.longest_mm
        )
        for pitches in chords
    )
    return table_of(instrument, hand, fret_rows(placed, instrument.string_count), ways)


def _grips(instrument: Instrument, hand: Hand, placed: Placed, ways: Ways) -> tuple[Fingering, ...]:
    _check(instrument, placed)
    return tuple(table_of(instrument, hand, fret_rows([placed], instrument.string_count), ways).fingerings())


def _check(instrument: Instrument, placed: Placed) -> None:
    if not placed:
        raise InstrumentError("there is nothing to finger: no string sounds")
    for string, fret in placed:
        instrument.check_place(string, fret)
    for string, other in pairwise(sorted((string for string, _ in placed), reverse=True)):
        if string == other:
            raise InstrumentError(f"string {string} cannot sound at two frets at once")
