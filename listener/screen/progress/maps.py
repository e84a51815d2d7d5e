"""Maps of progress for a terminal: from which chord to which, where on the neck, and the tempos of each drill."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from typing import Final

from rich.cells import cell_len
from rich.style import Style

from listener.history.progress.facts import Neck
from listener.history.progress.map import ChangeMap, key
from listener.history.progress.report import Reached
from listener.screen.progress.shown import frets_shown
from listener.screen.rows import Row, cut, filled, row
from listener.screen.theme import BOLD, PLAIN, QUIET, REVERSED, TOP_NOTE, Theme

#: Cells for one column of a map.
_CELL: Final = 4
#: Below these shares of hits a change is weak, or middling. Our own choice; how it is drawn says so as well.
WEAK: Final = 0.6
MIDDLING: Final = 0.85
_NAME: Final = 20


def map_size(width: int) -> int:
    """How many chords a map of this width has room for."""
    return max(2, min(12, (width - _NAME - 3) // _CELL))


def change_map_rows(found: ChangeMap, width: int, theme: Theme) -> list[Row]:
    """Rows are where a change starts, columns where it goes; each cell is the share of hits in percent.

    ``[ 45]`` is weak, ``( 70)`` in between, a bare number goes well: brackets say it where there is no colour.
    """
    room = width - _CELL * len(found.names) - 4
    name = max(8, min(room, max((cell_len(theme.words(text)) for text in found.names), default=0)))
    head = row((f"{'from':<{name + 3}}", QUIET), ("  to".ljust(3), QUIET))
    rows = [head, row(" " * (name + 3), *((f"{key(index):>{_CELL - 1}} ", BOLD) for index in range(len(found.names))))]
    for place, text in enumerate(found.names):
        parts = row((f"{key(place)} ", BOLD), filled(cut(theme.words(text), name, theme), name), " ")
        for column in range(len(found.names)):
            change = found.cells.get((place, column))
            parts += row(_rate(change.whole.hit_rate) if change else (f"{theme.signs.dot:>{_CELL - 1}} ", QUIET))
        rows.append(parts)
    return rows


def _rate(share: float) -> tuple[str, Style]:
    percent = f"{100 * share:.0f}"
    if share < WEAK:
        return f"[{percent:>2}]", REVERSED
    return (f"({percent:>2})", BOLD) if share < MIDDLING else (f"{percent:>3} ", PLAIN)


def tempo_rows(tempos: Sequence[Reached], width: int, theme: Theme) -> list[Row]:
    """For each drill the way from the first tempo reached to the highest, and the highest tried, on one scale."""
    if not tempos:
        return []
    first, last, tried = ("o", "O", "+") if theme.ascii_only else ("○", "●", "+")
    name = min(max(_NAME, width // 3), max(cell_len(theme.words(one.drill)) for one in tempos))
    known = [tempo for one in tempos for tempo in (one.first, one.highest, one.tried) if tempo is not None]
    low, high = min(known), max(known)
    room = max(10, width - name - 16)
    rows = []
    for one in tempos:
        line = [" "] * room

        def at(tempo: float) -> int:
            return round((tempo - low) / (high - low) * (room - 1)) if high > low else room // 2

        if one.tried is not None:
            line[at(one.tried)] = tried
        if one.first is not None and one.highest is not None:
            line[at(one.first) : at(one.highest)] = theme.signs.line * (at(one.highest) - at(one.first))
            line[at(one.first)] = first
            line[at(one.highest)] = last
        words = one.words(theme.signs.to) or "not yet"
        shown = cut(theme.words(one.drill), name, theme)
        rows.append(row(filled(shown, name + 1), ("".join(line), BOLD), f" {words}"))
    legend = f"{first} first reached, {last} highest reached, {tried} highest tried; {low:g} to {high:g}"
    return [*rows, *quiet(legend, width)]


def neck_map_rows(neck: Neck, width: int, theme: Theme) -> list[Row]:
    """Strings lie flat, the highest on top, as the player sees them; each number counts the chords with a note there.

    The busiest third of the places is reversed, the next third bold.
    """
    counts = {(spot.string, spot.fret): spot.strokes for spot in neck.spots}
    name = max((cell_len(text) for text in neck.strings), default=1)
    frets = list(frets_shown(neck))
    cell = max(4, min(5, (width - name - 2) // len(frets)))
    shown = frets[: max(2, (width - name - 2) // cell)]
    ranked = sorted(counts.values(), reverse=True)
    busy, known = (ranked[min(len(ranked) - 1, len(ranked) * third // 3)] for third in (1, 2)) if ranked else (0, 0)
    order = list(reversed(shown)) if theme.left_handed else shown
    rows = [row(" " * (name + 1), *((f"{fret:>{cell - 1}} ", QUIET) for fret in order))]
    for string, text in enumerate(neck.strings, 1):
        parts = row(f"{text:>{name}} ")
        for fret in order:
            count = counts.get((string, fret), 0)
            sign = theme.signs.nut if fret == 0 else theme.signs.bar
            style = QUIET if not count else REVERSED if count > busy else BOLD if count > known else PLAIN
            number = (short(count) if count else theme.signs.dot).rjust(cell - 1)
            parts += row((number, TOP_NOTE if style is BOLD else style), (sign, QUIET))
        rows.append(parts)
    if len(shown) < len(frets):
        rows += quiet(f"frets above {shown[-1]} have no room here; see --html or --json", width)
    return rows


def quiet(text: str, width: int) -> list[Row]:
    """A remark beneath a picture, broken between words."""
    return [row((line, QUIET)) for line in textwrap.wrap(text, width)]


def short(count: int) -> str:
    """A count in at most three characters: ``950``, ``12k``, ``3M``.

    >>> short(999), short(1499), short(2_600_000)
    ('999', '1k', '3M')
    """
    if count < 1000:
        return str(count)
    for size, letter in ((1e3, "k"), (1e6, "M"), (1e9, "G")):
        if round(count / size) < 1000:
            return f"{round(count / size)}{letter}"
    return "..."
