"""What was found for a wish: candidates that are rows of arrays until somebody looks at them.

A layer of big chords has thousands of candidates, and a plan takes one of them. The search reads the arrays; a
candidate's voicing is made when it is asked for, and the fingerings of a layer with the first few that are.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np

from listener.drill.drill import Wish
from listener.guitar.fingering import Fingering
from listener.guitar.shape_table import ShapeTable
from listener.music.voicing import Voicing
from listener.planning.shapes.voiced import Voicer

#: Fingerings that are made one by one; whoever asks for more will want them all.
_ONE_BY_ONE: Final = 4


class Candidate:
    """A voicing and where it lies; both hold the same pitches."""

    __slots__ = ("_index", "_source")

    def __init__(self, source: _Source, index: int) -> None:
        self._source = source
        self._index = index

    @property
    def voicing(self) -> Voicing:
        """What it is."""
        return self._source.voicing(self._index)

    @property
    def fingering(self) -> Fingering:
        """Where it lies on the neck."""
        return self._source.fingering(self._index)

    def __eq__(self, other: object) -> bool:
        if not isinstance(other, Candidate):
            return NotImplemented
        return self.fingering == other.fingering and self.voicing == other.voicing

    def __hash__(self) -> int:
        return hash(self.fingering)

    def __repr__(self) -> str:
        return f"Candidate(voicing={self.voicing!r}, fingering={self.fingering!r})"


class Candidates(tuple[Candidate, ...]):
    """All candidates of a wish, on an instrument of so many strings. ``table`` has the same in arrays."""

    table: ShapeTable
    wish: Wish
    string_count: int

    @classmethod
    def of_table(cls, table: ShapeTable, kinds: Sequence[str], voicer: Voicer) -> Candidates:
        """The rows of a table, each found as a voicing of the kind beside it."""
        source = _Source(voicer, kinds, table)
        made = cls([Candidate(source, index) for index in range(len(table))])
        made.table = table
        made.wish, made.string_count = voicer.wish, table.holds.frets.shape[1]
        return made

    def only(self, rows: Sequence[int]) -> Candidates:
        """Some of them, by index."""
        taken = Candidates([self[row] for row in rows])
        taken.table = self.table.taken(np.array(rows, dtype=np.intp))
        taken.wish, taken.string_count = self.wish, self.string_count
        return taken


class _Source:
    """What all candidates of one wish share."""

    def __init__(self, voicer: Voicer, kinds: Sequence[str], table: ShapeTable) -> None:
        self._voicer = voicer
        self._kinds = kinds
        self._table = table
        self._all: list[Fingering] | None = None
        self._some: dict[int, Fingering] = {}

    def voicing(self, index: int) -> Voicing:
        return self._voicer.voicing(self._kinds[index], self.fingering(index).pitches)

    def fingering(self, index: int) -> Fingering:
        if self._all is not None:
            return self._all[index]
        if index not in self._some:
            if len(self._some) >= _ONE_BY_ONE:
                self._all = self._table.fingerings()
                return self._all[index]
            self._some[index] = self._table.fingerings(np.array([index]))[0]
        return self._some[index]
