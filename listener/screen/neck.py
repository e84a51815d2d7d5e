"""A fingering drawn on the neck, as the player sees it when looking down: strings lie flat, the highest on top, as in
tab.

``(2)`` is a finger, ``[2]`` the finger on the top note; beside the nut stand ``o`` for an open string, ``x`` for a
muted one. Left-handed players get the mirror image, with the nut on the right.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from rich.style import Style

from listener.guitar.fingering import Fingering, fret_window
from listener.screen.rows import Row, merged, row
from listener.screen.theme import BOLD, NOW, PLAIN, QUIET, Theme

#: Frets with an inlay, in every octave of a string (common practice); the octave itself has two dots.
_INLAYS: Final = frozenset({0, 3, 5, 7, 9})


@dataclass(frozen=True, slots=True)
class DrawnString:
    """One string of the drawing: ``note`` is the index in the fingering, None for a muted string."""

    string: int
    note: int | None
    fret: int
    finger: int
    is_top: bool


@lru_cache(maxsize=256)
def places(fingering: Fingering, string_count: int) -> tuple[DrawnString, ...]:
    """What each string does, string 1 (the highest) first."""
    top = max(range(len(fingering.pitches)), key=fingering.pitches.__getitem__)
    by_string = {string: note for note, string in enumerate(fingering.strings)}
    found = []
    for string in range(1, string_count + 1):
        note = by_string.get(string)
        fret, finger = (fingering.frets[note], fingering.fingers[note]) if note is not None else (0, 0)
        found.append(DrawnString(string, note, fret, finger, note == top))
    return tuple(found)


def neck_width(fingering: Fingering, cell: int) -> int:
    """Cells from the open-string sign to the end of the last fret."""
    first, last = fret_window(fingering.frets)
    return 3 + (last - first + 1) * (cell + 1)


def widest_cell(fingering: Fingering, width: int, most: int = 7) -> int:
    """The widest odd fret that lets the whole window fit in ``width`` cells, at least one cell."""
    first, last = fret_window(fingering.frets)
    cell = (width - 3) // (last - first + 1) - 1
    return max(1, min(most, cell if cell % 2 else cell - 1))


def neck_rows(
    fingering: Fingering, string_count: int, theme: Theme, *, cell: int = 5, roomy: bool = False
) -> list[Row]:
    """The drawing: a row of fret numbers, then one row for each string. ``cell`` is the width of a fret, odd.

    A ``roomy`` neck has a row between each two strings, with the inlays in the middle.
    """
    rows = list(_neck(fingering, string_count, theme, cell))
    if not roomy:
        return rows
    gaps = [_gap_row(fingering, cell, gap == string_count // 2, theme) for gap in range(1, string_count)]
    return [*rows[:1], *(cells for pair in zip(rows[1:], gaps, strict=False) for cells in pair), rows[-1]]


@lru_cache(maxsize=256)
def _neck(fingering: Fingering, string_count: int, theme: Theme, cell: int) -> tuple[Row, ...]:
    first, last = fret_window(fingering.frets)
    frets = range(first, last + 1)
    rows = [_fret_numbers(frets, cell, theme)]
    rows += [_string_row(place, frets, cell, theme) for place in places(fingering, string_count)]
    return tuple(rows)


def _fret_numbers(frets: range, cell: int, theme: Theme) -> Row:
    """Each number over the middle of its fret; two digits run over the wire behind it."""
    if theme.left_handed:
        text = "".join(str(fret).center(cell).rjust(cell + 1)[-cell - 1 :] for fret in reversed(frets)) + "   "
    else:
        text = "   " + "".join(str(fret).center(cell).ljust(cell + 1) for fret in frets)
    return row((text, QUIET))


def _string_row(place: DrawnString, frets: range, cell: int, theme: Theme) -> Row:
    if place.note is None:
        return _row_of({0: ("x", QUIET)}, QUIET, frets, cell, theme)
    if place.fret == 0:
        return _row_of({0: ("o", NOW if place.is_top else BOLD)}, PLAIN, frets, cell, theme)
    return _row_of({place.fret: _pressed(place, cell, theme)}, PLAIN, frets, cell, theme)


#: What stands at a fret: a sign of an odd number of cells (one beside the nut), and how it looks.
Mark = tuple[str, Style]


def marked_rows(
    marks: Mapping[int, Mapping[int, Mark]], string_count: int, frets: range, cell: int, theme: Theme
) -> list[Row]:
    """A row for each string with any marks on it; those at fret 0 stand before the nut."""
    unused: Mapping[int, Mark] = {0: ("x", QUIET)}
    strings = [marks.get(string) or unused for string in range(1, string_count + 1)]
    return [_row_of(found, PLAIN, frets, cell, theme) for found in strings]


def _row_of(marks: Mapping[int, Mark], style: Style, frets: range, cell: int, theme: Theme) -> Row:
    """One string in this style with the marks on it."""
    signs = theme.signs
    nut = signs.nut if frets[0] == 1 else signs.bar
    parts: list[tuple[str, Style]] = [marks.get(0, (" ", BOLD)), (" ", PLAIN), (nut, PLAIN)]
    for fret in frets:
        sign, look = marks.get(fret, (signs.line, style))
        side = (signs.line * ((cell - len(sign)) // 2), style)
        wire = (signs.left_edge if theme.left_handed else signs.edge) if fret == frets[-1] else signs.cross
        parts += [side, (sign, look), side, (wire, style)]
    return merged(reversed(parts) if theme.left_handed else parts)


def _gap_row(fingering: Fingering, cell: int, with_inlays: bool, theme: Theme) -> Row:
    """Between two strings: the fret wires."""
    first, last = fret_window(fingering.frets)
    bar = theme.signs.bar
    spaces = [_inlay(fret, theme).center(cell) if with_inlays else " " * cell for fret in range(first, last + 1)]
    nut = theme.signs.nut if first == 1 else bar
    if theme.left_handed:
        return merged([*((f"{bar}{space}", QUIET) for space in reversed(spaces)), (nut, PLAIN), ("  ", PLAIN)])
    wires = [(f"{space}{bar}", QUIET) for space in spaces]
    return merged([("  ", PLAIN), (nut, PLAIN), *wires])


def _inlay(fret: int, theme: Theme) -> str:
    if fret % 12 not in _INLAYS:
        return ""
    return theme.signs.dot if fret % 12 else f"{theme.signs.dot} {theme.signs.dot}"


def _pressed(place: DrawnString, cell: int, theme: Theme) -> Mark:
    sign = str(place.finger) if place.finger > 0 else theme.signs.pressed
    style = NOW if place.is_top else BOLD
    if cell < 3:
        return sign, style
    return f"[{sign}]" if place.is_top else f"({sign})", style


def apart(rows: list[Row], roomy: bool) -> list[Row]:
    """Rows that stand beside a neck, with an empty one after each where it is roomy."""
    return [cells for shown in rows for cells in (shown, [])] if roomy else rows
