"""The map of voicings against music21: what its shapes are called, by a library that we did not write.

music21 10 (BSD): ``chord.Chord.inversion()`` counts inversions in thirds from the root, and ``closedPosition()`` puts
the tones as close together as they lie over the same bass. A close voicing is its own closed position; a spread triad's
has the middle note an octave lower, a drop 2 chord's has its lowest note up an octave as second voice from the top.
"""

from __future__ import annotations

from typing import Any

import pytest

from listener.drill.drill import Wish
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.voicing import CLOSE, DROP_2, SPREAD
from listener.planning.shapes.candidates import candidates
from listener.planning.shapes.cells import Cell, cells_there_are

pytest.importorskip("music21")
GUITAR, HAND = make_instrument(), make_hand("large")
SYMBOLS = {CLOSE: ("C", "F#m"), SPREAD: ("C", "F#m"), DROP_2: ("C7", "F#m7")}


@pytest.fixture(scope="module")
def shapes() -> list[tuple[Cell, tuple[str, ...], tuple[int, ...]]]:
    """Every shape of these kinds on the map: its cell, the names of its notes and their numbers."""
    there_are = cells_there_are(GUITAR, HAND)
    found = []
    for kind, symbols in SYMBOLS.items():
        for symbol in symbols:
            wish = Wish(parse_chord(symbol), (kind,), frets=(3, 15), open_strings=False)
            for one in candidates(wish, GUITAR, HAND):
                cell = Cell.of(kind, one.voicing.inversion, one.fingering.strings)
                if cell in there_are:
                    found.append((cell, one.voicing.names, one.voicing.midi))
    return found


def test_inversions_are_those_of_music21(shapes: list[tuple[Cell, tuple[str, ...], tuple[int, ...]]]) -> None:
    """The row of each shape on the map is the inversion that music21 finds."""
    import music21

    assert len(shapes) > 60
    for cell, names, _ in shapes:
        chord: Any = music21.chord.Chord([name.replace("b", "-") for name in names])
        assert chord.inversion() == cell.inversion, (cell, names)


def test_spacings_are_those_of_music21(shapes: list[tuple[Cell, tuple[str, ...], tuple[int, ...]]]) -> None:
    """Each kind is what its definition says, with the closed position taken from music21."""
    import music21

    seen = set()
    for cell, names, midi in shapes:
        chord: Any = music21.chord.Chord([name.replace("b", "-") for name in names])
        closed = tuple(sorted(pitch.midi for pitch in chord.closedPosition().pitches))
        if cell.kind == CLOSE:
            assert closed == midi, (cell, names)
        elif cell.kind == SPREAD:
            low, middle, high = closed
            assert midi == (low, high, middle + 12), (cell, names)
        else:  # raising the lowest of a drop 2 chord by an octave closes it over the note above
            raised = tuple(sorted((midi[0] + 12, *midi[1:])))
            over = music21.chord.Chord(list(raised)).closedPosition()
            assert tuple(sorted(pitch.midi for pitch in over.pitches)) == raised == tuple(sorted(raised))
            assert raised[-2] == midi[0] + 12
        seen.add(cell.kind)
    assert seen == {CLOSE, SPREAD, DROP_2}
