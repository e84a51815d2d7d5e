"""The player's vocabulary for a terminal: a small map for each kind of voicing, roots in fifths, and the same in words.

Brackets and words say what a colour would: ``[ 62]`` is used a lot, a bare number a little, a dot never.
"""

from __future__ import annotations

from collections.abc import Collection, Sequence
from typing import Final

from rich.style import Style

from listener.history.vocabulary.map import KindMap, empty_beside, kind_maps, other_chords, unused_kinds
from listener.history.vocabulary.vocabulary import FAMILIES, NEVER, OFTEN, OFTEN_WORDS, SELDOM, Vocabulary, root_name
from listener.music.naming_words import inversion_words
from listener.plain_words import counted
from listener.planning.shapes.cells import Cell, strings_words
from listener.screen.progress.maps import quiet, short
from listener.screen.rows import Row, beside, row, row_width
from listener.screen.theme import BOLD, PLAIN, QUIET, REVERSED, Theme

#: Roots a fifth apart, from C upwards: what lies together on paper lies together in keys.
FIFTHS: Final = tuple(7 * step % 12 for step in range(12))
_INDENT: Final = 2
_LABEL: Final = 12
_LEAST_CELL: Final = 6
_GAP: Final = 3
_SHORT: Final = ("root", "first inv", "second inv", "third inv")
#: What the names of sets of strings mean, and what is counted.
STRINGS_WORDS: Final = "Strings by number, 6 is the lowest; ? where the pickup did not tell them apart."
COUNTED_WORDS: Final = "In free playing a chord counts once until another comes, in drills each hit counts."
#: So many cells are told in words.
_TOLD: Final = 3


def vocabulary_rows(vocabulary: Vocabulary, there_are: Collection[Cell], width: int, theme: Theme) -> list[Row]:
    """Everything, no wider than ``width`` (40 and more); empty without a chord."""
    if not vocabulary.chords:
        return []
    blocks = [_kind_rows(one, width, theme) for one in kind_maps(vocabulary, there_are)]
    rows = [*_text(families_words(vocabulary), width), *_packed(blocks, width, theme)]
    rows += [[], *_root_rows(vocabulary, width, theme), []]
    for text in (*rest_words(vocabulary, there_are), *told_words(vocabulary, there_are)):
        rows += _text(theme.words(text), width)
    return [*rows, *quiet(_legend(theme), width)]


def title(vocabulary: Vocabulary) -> str:
    """``Your vocabulary: 412 chords in 30 takes``."""
    return f"Your vocabulary: {counted(vocabulary.chords, 'chord')} in {counted(vocabulary.takes, 'take')}"


def families_words(vocabulary: Vocabulary) -> str:
    """The families of chords, each with its share."""
    shares = [f"{family} {100 * vocabulary.families[family] / vocabulary.chords:.0f} %" for family in FAMILIES]
    return f"{', '.join(shares)}.".capitalize()


def rest_words(vocabulary: Vocabulary, there_are: Collection[Cell]) -> list[str]:
    """What stands on no map."""
    other, unused = other_chords(vocabulary), unused_kinds(vocabulary, there_are)
    found = []
    if other:
        found.append(f"Other spacings, without a name: {counted(other, 'chord')}.")
    if unused:
        found.append(f"Kinds that never came: {', '.join(unused)}.")
    if vocabulary.unheard:
        takes = counted(vocabulary.unheard, "older take")
        found.append(f"{takes} of free playing not counted yet; to count them all now: widehand rejudge --write")
    return found


def told_words(vocabulary: Vocabulary, there_are: Collection[Cell]) -> list[str]:
    """The map in words: what is used most, and what is empty beside it."""
    often = [f"{cell_words(cell)} ({vocabulary.cells[cell]})" for cell in vocabulary.often[:_TOLD]]
    empty = [cell_words(cell) for cell in empty_beside(vocabulary, there_are)]
    more = f"; and {len(empty) - _TOLD} more" if len(empty) > _TOLD else ""
    found = [f"A lot: {'; '.join(often)}."] if often else []
    return [*found, f"Never, and one step beside: {'; '.join(empty[:_TOLD])}{more}."] if empty else found


def cell_words(cell: Cell) -> str:
    """``spread, first inversion, on 6-4-3``."""
    where = f", on {cell.where}" if cell.strings else ""
    return f"{cell.kind}, {inversion_words(cell.inversion)}{where}"


def row_label(inversion: int | None) -> str:
    """An inversion in a narrow column."""
    if inversion is None:
        return "other bass"
    return _SHORT[inversion] if inversion < len(_SHORT) else f"{inversion}th inv"


def column_label(strings: Sequence[int]) -> str:
    """A set of strings, ``?`` where they are not known."""
    return strings_words(strings) or "?"


def _legend(theme: Theme) -> str:
    return (
        f"[ ] {OFTEN}: {OFTEN_WORDS}. A bare number: {SELDOM}. {theme.signs.dot} {NEVER}. Blank: no shape "
        f"there with room for your hand. {STRINGS_WORDS} {COUNTED_WORDS}"
    )


def _text(text: str, width: int) -> list[Row]:
    return [row(*(segment.text for segment in line)) for line in quiet(text, width)]


def _kind_rows(found: KindMap, width: int, theme: Theme) -> list[Row]:
    """One kind; where sets of strings have no room they lose their hyphens, and then go on beneath."""
    heads = [column_label(strings) for strings in found.columns]
    if _LABEL + len(heads) * _column(heads) > width:
        heads = [head.replace("-", "") for head in heads]
    cell = _column(heads)
    across = max(1, (width - _LABEL) // cell)
    rows = [[], row((f"{found.kind}: {counted(found.chords, 'chord')}", BOLD))]
    for first in range(0, len(heads), across):
        columns = range(first, min(first + across, len(heads)))
        rows.append(row((" " * _LABEL, QUIET), *((f"{heads[column]:>{cell}}", QUIET) for column in columns)))
        for place, inversion in enumerate(found.rows):
            uses = [found.cells.get((place, column)) for column in columns]
            if any(uses):
                shown = [_cell(one.chords, one.level, theme) if one else ("", PLAIN) for one in uses]
                parts = [part for text, style in shown for part in ((" " * (cell - len(text)), PLAIN), (text, style))]
                rows.append(row(" " * _INDENT + f"{row_label(inversion):<{_LABEL - _INDENT}}", *parts))
    return rows


def _column(heads: Sequence[str]) -> int:
    return max(_LEAST_CELL, *(len(head) + 1 for head in heads))


def _cell(chords: int, level: str, theme: Theme) -> tuple[str, Style]:
    """Five cells, so that numbers stand beneath each other with and without brackets."""
    if level == OFTEN:
        return f"[{short(chords):>3}]", REVERSED
    return (f"{short(chords)} ", PLAIN) if level == SELDOM else (f"{theme.signs.dot} ", QUIET)


def _packed(blocks: Sequence[list[Row]], width: int, theme: Theme) -> list[Row]:
    """Kinds side by side as far as there is room."""
    rows: list[Row] = []
    line: list[tuple[list[Row], int]] = []
    for block in blocks:
        wide = max(map(row_width, block))
        if line and sum(each + _GAP for _, each in line) + wide > width:
            rows += _beside(line, theme)
            line = []
        line.append((block, wide))
    return [*rows, *_beside(line, theme)] if line else rows


def _beside(line: Sequence[tuple[list[Row], int]], theme: Theme) -> list[Row]:
    blocks: list[tuple[list[Row], int]] = []
    for block, wide in line:
        blocks += [(block, wide), ([], _GAP)]
    return beside(blocks[:-1], max(len(block) for block, _ in line), theme)


def _root_rows(vocabulary: Vocabulary, width: int, theme: Theme) -> list[Row]:
    across = max(1, min(12, (width - _INDENT) // _LEAST_CELL))
    rows = [row(("roots, in fifths", BOLD))]
    for first in range(0, 12, across):
        roots = FIFTHS[first : first + across]
        names = [f"{theme.words(root_name(root)):>{_LEAST_CELL - 1}} " for root in roots]
        rows.append(row(" " * _INDENT, *((name, QUIET) for name in names)))
        parts = []
        for root in roots:
            text, style = _cell(vocabulary.roots[root], vocabulary.level_of(vocabulary.roots[root]), theme)
            parts += [(" " * (_LEAST_CELL - len(text)), PLAIN), (text, style)]
        rows.append(row(" " * _INDENT, *parts))
    return rows
