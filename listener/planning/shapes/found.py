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
from listener.music.voicing import Voicing
from listener.planning.shapes.shape_table import ShapeTable
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
    """All candidates of a wish, on an instrument of so many strings. ``table`` has the same in arrays, None where they
    were not found in arrays."""

    table: ShapeTable | None
    wish: Wish
    string_count: int

    @classmethod
    def of_table(cls, table: ShapeTable, kinds: Sequence[str], voicer: Voicer) -> Candidates:
        """The rows of a table, each found as a voicing of the kind beside it."""
        return cls._made(_Source(voicer, kinds, len(table), table=table), table.holds.frets.shape[1])

    @classmethod
    def of_fingerings(cls, fingerings: Sequence[Fingering], kind: str, voicer: Voicer, string_count: int) -> Candidates:
        """Fingerings that are there already."""
        source = _Source(voicer, [kind] * len(fingerings), len(fingerings), made=list(fingerings))
        return cls._made(source, string_count)

    def only(self, rows: Sequence[int]) -> Candidates:
        """Some of them, by index."""
        taken = Candidates([self[row] for row in rows])
        taken.table = self.table.taken(np.array(rows, dtype=np.intp)) if self.table is not None else None
        taken.wish, taken.string_count = self.wish, self.string_count
        return taken

    @classmethod
    def _made(cls, source: _Source, string_count: int) -> Candidates:
        made = cls([Candidate(source, index) for index in range(source.count)])
        made.table = source.table
        made.wish, made.string_count = source.wish, string_count
        return made


class _Source:
    """What all candidates of one wish share."""

    def __init__(
        self,
        voicer: Voicer,
        kinds: Sequence[str],
        count: int,
        *,
        table: ShapeTable | None = None,
        made: list[Fingering] | None = None,
    ) -> None:
        self.count = count
        self.table = table
        self.wish = voicer.wish
        self._voicer = voicer
        self._kinds = kinds
        self._all = made
        self._some: dict[int, Fingering] = {}

    def voicing(self, index: int) -> Voicing:
        return self._voicer.voicing(self._kinds[index], self.fingering(index).pitches)

    def fingering(self, index: int) -> Fingering:
        if self._all is not None:
            return self._all[index]
        if index not in self._some and self.table is not None:
            if len(self._some) >= _ONE_BY_ONE:
                self._all = self.table.fingerings(np.arange(self.count))
                return self._all[index]
            self._some[index] = self.table.fingerings(np.array([index]))[0]
        return self._some[index]
