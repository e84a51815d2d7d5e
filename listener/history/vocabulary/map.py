"""The map of the vocabulary: for each kind of voicing its inversions (rows) on its sets of strings (columns). Pure."""

from __future__ import annotations

from collections.abc import Collection, Mapping
from dataclasses import dataclass

from listener.history.vocabulary.vocabulary import SHOWN_KINDS, CellUse, Vocabulary
from listener.music.voicing import KINDS, OTHER
from listener.planning.shapes.cells import Cell, step_between, strings_order


@dataclass(frozen=True, slots=True)
class KindMap:
    """One kind with its ``chords``. ``cells`` by row and column hold those that were used and those that there are; no
    hand has room for the others. ``rows`` are inversions (None over a foreign bass), ``columns`` strings (empty where
    the pickup did not tell them apart)."""

    kind: str
    chords: int
    rows: tuple[int | None, ...]
    columns: tuple[tuple[int, ...], ...]
    cells: Mapping[tuple[int, int], CellUse]


def kind_maps(vocabulary: Vocabulary, there_are: Collection[Cell]) -> tuple[KindMap, ...]:
    """Of every kind that was used and has a name, in teaching order."""
    kinds = {cell.kind for cell in vocabulary.cells}
    return tuple(_map(kind, vocabulary, there_are) for kind in SHOWN_KINDS if kind in kinds and kind != OTHER)


def unused_kinds(vocabulary: Vocabulary, there_are: Collection[Cell]) -> tuple[str, ...]:
    """Kinds that there are on this guitar and that were never used."""
    used = {cell.kind for cell in vocabulary.cells}
    return tuple(kind for kind in KINDS if kind not in used and any(cell.kind == kind for cell in there_are))


def other_chords(vocabulary: Vocabulary) -> int:
    """Chords whose spacing has no name; they are on no map."""
    return sum(chords for cell, chords in vocabulary.cells.items() if cell.kind == OTHER)


def empty_beside(vocabulary: Vocabulary, there_are: Collection[Cell]) -> tuple[Cell, ...]:
    """Cells that were never used and lie one step beside one that is used a lot, beside the most used first."""
    return tuple(ways_to(vocabulary, there_are))


def ways_to(vocabulary: Vocabulary, there_are: Collection[Cell]) -> Mapping[Cell, tuple[Cell, str]]:
    """The same, each with the cell that it lies beside and with what changes from there
    (:func:`listener.planning.shapes.cells.step_between`)."""
    missing = vocabulary.missing(there_are)
    found: dict[Cell, tuple[Cell, str]] = {}
    for source in vocabulary.often:
        for cell in missing:
            differs = step_between(source, cell)
            if differs is not None:
                found.setdefault(cell, (source, differs))
    return found


def _map(kind: str, vocabulary: Vocabulary, there_are: Collection[Cell]) -> KindMap:
    used = {cell: chords for cell, chords in vocabulary.cells.items() if cell.kind == kind}
    every = sorted({*used, *(cell for cell in there_are if cell.kind == kind)}, key=lambda cell: cell.order)
    rows = tuple(sorted({cell.inversion for cell in every}, key=lambda one: (one is None, one or 0)))
    columns = tuple(sorted({cell.strings for cell in every}, key=strings_order))
    cells = {
        (rows.index(cell.inversion), columns.index(cell.strings)): CellUse(
            cell, used.get(cell, 0), vocabulary.level(cell)
        )
        for cell in every
    }
    return KindMap(kind, sum(used.values()), rows, columns, cells)
