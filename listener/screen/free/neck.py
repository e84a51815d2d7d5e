"""Where a chord heard in free listening lies on the neck: one place for it, and that of what would be smoother.

A pickup may not tell strings apart, so what is drawn is the place nearest to the nut, and is called no more than one
place for it.
"""

from __future__ import annotations

from functools import lru_cache
from typing import Final

from listener.errors import WidehandError
from listener.guitar.fingering import Fingering
from listener.guitar.grip import fingerings
from listener.guitar.hand import make_hand
from listener.guitar.instrument import Instrument, string_names
from listener.judging.free.free import HeardChord
from listener.planning.plan import Plan
from listener.screen.neck import apart, neck_rows, places, widest_cell
from listener.screen.rows import Row, beside, row, row_width
from listener.screen.theme import BOLD, QUIET, TOP_NOTE, Theme

#: Widths of the parts beside the neck: string number and name, and note with what is said of it.
_LABEL, _NOTE = 5, 10
#: The widest fret.
_WIDEST_FRET: Final = 7
#: Cells for a neck of four frets with all that stands beside it: the smallest, and more than it ever needs.
LEAST_WIDTH: Final = _LABEL + 3 + 4 * 4 + _NOTE
MOST_WIDTH: Final = _LABEL + 3 + 4 * (_WIDEST_FRET + 1) + _NOTE


def heard_neck_rows(chord: HeardChord, plan: Plan, width: int, theme: Theme, *, roomy: bool) -> list[Row]:
    """The neck with the chord on it; says so where no hand reaches it."""
    found = _all(plan.instrument, plan.hand, chord.pitches)
    if not found:
        return [[], row(("no place where one hand reaches all of it", QUIET))]
    notes = dict(zip(chord.pitches, chord.names, strict=True))
    return _drawn(found[0], notes, frozenset(chord.held), plan, width, theme, roomy)


def smoother_neck_rows(chord: HeardChord, plan: Plan, width: int, theme: Theme, *, roomy: bool) -> list[Row]:
    """The neck with the voicing that would have moved less; says so where there is none."""
    smoother = chord.smoother
    if smoother is None:
        asked = chord.movement is not None and chord.chord is not None
        return [[], row(("nothing found that moves less", QUIET))] if asked else []
    midi = smoother.voicing.midi
    found = _all(plan.instrument, plan.hand, midi)
    where = (smoother.strings, smoother.frets)
    shape = next((one for one in found if (one.strings, one.frets) == where), None)
    if shape is None:
        return []
    notes = dict(zip(midi, smoother.voicing.names, strict=True))
    return _drawn(shape, notes, frozenset(), plan, width, theme, roomy)


@lru_cache(maxsize=64)
def _all(instrument: Instrument | None, hand: str, pitches: tuple[int, ...]) -> tuple[Fingering, ...]:
    """Every place for it, the lowest on the neck first. Searched once for a chord: it takes about a millisecond,
    but there are twenty frames a second."""
    if instrument is None:
        return ()
    try:
        return fingerings(instrument, make_hand(hand), pitches)
    except WidehandError:  # more notes than strings, or none that this guitar has
        return ()


def _drawn(
    shape: Fingering, notes: dict[int, str], held: frozenset[int], plan: Plan, width: int, theme: Theme, roomy: bool
) -> list[Row]:
    count = plan.string_count
    neck = neck_rows(shape, count, theme, cell=widest_cell(shape, width - _LABEL - _NOTE, _WIDEST_FRET), roomy=roomy)
    names = string_names(plan.tuning, count)
    labels = [row((f"{index} {theme.words(name):<2} ", QUIET)) for index, name in enumerate(names, start=1)]
    said: list[Row] = []
    for place in places(shape, count):
        if place.note is None:
            said.append([])
            continue
        pitch = shape.pitches[place.note]
        word = " held" if pitch in held else " top" if place.is_top else ""
        said.append(row(" ", (theme.words(notes[pitch]), TOP_NOTE if place.is_top else BOLD), (word, QUIET)))
    cells = row_width(neck[1])
    parts = [
        ([[], *apart(labels, roomy)], _LABEL),
        (neck, cells),
        ([[], *apart(said, roomy)], width - _LABEL - cells),
    ]
    return beside(parts, len(neck), theme)
