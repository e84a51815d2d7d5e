"""The vocabulary on the progress page: a map for each kind of voicing, one of the roots, each with its numbers."""

from __future__ import annotations

from functools import partial
from typing import Final

from listener.history.progress.report import ProgressReport
from listener.history.vocabulary.map import KindMap, kind_maps
from listener.history.vocabulary.vocabulary import NEVER, root_name
from listener.music.naming_words import inversion_words
from listener.plain_words import counted
from listener.screen.progress import plots
from listener.screen.progress.html import Picture
from listener.screen.progress.maps import short
from listener.screen.progress.plots import Alt, drawn
from listener.screen.progress.vocabulary_maps import (
    COUNTED_WORDS,
    FIFTHS,
    STRINGS_WORDS,
    column_label,
    families_words,
    rest_words,
    row_label,
    told_words,
)
from listener.screen.theme import with_signs

#: A square without a number shows a shape that there is and that never came.
_NEVER: Final = "·"
#: Sets of strings that are side by side on a phone; of more, those that were used least are only in the table.
_MOST_COLUMNS: Final = 9


def vocabulary_figures(report: ProgressReport) -> list[Picture]:
    """All of them; none without a chord."""
    vocabulary = report.facts.vocabulary
    if not vocabulary.chords:
        return []
    return [_roots(report), *map(_kind, kind_maps(vocabulary, report.there_are))]


def _roots(report: ProgressReport) -> Picture:
    vocabulary = report.facts.vocabulary
    most = max(vocabulary.roots)
    cells = {
        (0, place): (short(chords) if chords else _NEVER, chords / most)
        for place, chords in enumerate(vocabulary.roots[root] for root in FIFTHS)
    }
    names = [with_signs(root_name(root)) for root in FIFTHS]
    never = [name for name, root in zip(names, FIFTHS, strict=True) if not vocabulary.roots[root]]
    words = [
        families_words(vocabulary),
        *rest_words(vocabulary, report.there_are),
        *told_words(vocabulary, report.there_are),
        f"Roots that never came: {', '.join(never)}." if never else "Every root came.",
    ]
    return Picture(
        f"Your vocabulary: {counted(vocabulary.chords, 'chord')} by their roots",
        drawn(90, Alt("Roots, in fifths", " ".join(words)), "roots",
              partial(plots.squares, rows=[""], columns=names, cells=cells)),
        f"{' '.join(words)} {COUNTED_WORDS}",
        ("root", "chords", "used"),
        tuple(
            (name, str(vocabulary.roots[root]), vocabulary.level_of(vocabulary.roots[root]))
            for name, root in zip(names, FIFTHS, strict=True)
        ),
    )  # fmt: skip


def _kind(found: KindMap) -> Picture:
    uses = sorted(found.cells.values(), key=lambda one: (-one.chords, one.cell.order))
    shown = sorted(range(len(found.columns)), key=lambda column: (-_in_column(found, column), column))[:_MOST_COLUMNS]
    column = {old: new for new, old in enumerate(sorted(shown))}
    most = max(use.chords for use in uses)
    cells = {
        (row, column[place]): (short(use.chords) if use.chords else _NEVER, use.chords / most)
        for (row, place), use in found.cells.items()
        if place in column
    }
    # Fewer letters than "6-4-3-2": they stand close together on a phone.
    heads = [column_label(found.columns[old]).replace("-", "") for old in sorted(shown)]
    rows = [row_label(inversion) for inversion in found.rows]
    placed = [use for use in uses if use.cell.strings]
    never = sum(use.level == NEVER for use in placed)
    told = f"Most: {inversion_words(uses[0].cell.inversion)} on {column_label(uses[0].cell.strings)}."
    alt = Alt(f"Map of {found.kind} voicings", f"{told} {never} of {len(placed)} shapes that there are never came.")
    hidden = len(found.columns) - len(shown)
    more = f" {counted(hidden, 'more set')} of strings in the table." if hidden else ""
    name = "".join(letter if letter.isalnum() else "-" for letter in found.kind)
    return Picture(
        f"{found.kind.capitalize()}: {counted(found.chords, 'chord')}",
        drawn(60 + 31 * len(rows), alt, f"vocabulary-{name}",
              partial(plots.squares, rows=rows, columns=heads, cells=cells)),
        f"Row: inversion; column: set of strings; {_NEVER} never came. {STRINGS_WORDS} {alt.text}{more}",
        ("inversion", "strings", "chords", "used"),
        tuple(
            (inversion_words(use.cell.inversion), column_label(use.cell.strings), str(use.chords), use.level)
            for use in uses
        ),
    )  # fmt: skip


def _in_column(found: KindMap, column: int) -> int:
    return sum(use.chords for (_, place), use in found.cells.items() if place == column)
