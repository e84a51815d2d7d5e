"""The map of voicings: which cells there are, what lies beside what, and the drill that is written for one of them."""

from __future__ import annotations

import pytest
from how_many import some
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill_file import read_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.voicing import CLOSE, DROP_2, DROP_2_4, DROP_3, FULL, KINDS, SHELL, SPREAD
from listener.planning.cell_drill import cell_drill, fits
from listener.planning.planner import plan_drill
from listener.planning.shapes.cells import INVERSION, ROOMY, STRINGS, Cell, cells_there_are, step_between

GUITAR = make_instrument()
HANDS = ("small", "medium", "large")
#: Sets of strings that method books teach for each kind (common practice, from memory).
TAUGHT = {
    CLOSE: ("6-5-4", "5-4-3", "4-3-2", "3-2-1"),
    SPREAD: ("6-4-3", "5-3-2"),
    DROP_2: ("6-5-4-3", "5-4-3-2", "4-3-2-1"),
    DROP_3: ("6-4-3-2", "5-3-2-1"),
    SHELL: ("6-4-3", "5-4-3"),
    FULL: ("6-5-4-3-2-1", "5-4-3-2-1"),
}
CELLS = st.builds(
    Cell.of,
    st.sampled_from(KINDS),
    st.none() | st.integers(0, 3),
    st.lists(st.integers(1, 6), unique=True, min_size=3, max_size=5),
)


@pytest.mark.parametrize(("kind", "sets"), TAUGHT.items())
def test_what_is_taught_is_there(kind: str, sets: tuple[str, ...]) -> None:
    """Every set of strings of the books has its kind, for every hand."""
    for hand in HANDS:
        found = {cell.where for cell in cells_there_are(GUITAR, make_hand(hand)) if cell.kind == kind}
        assert set(sets) <= found, hand


def test_inversions_of_the_map() -> None:
    """Triads have three, four-note chords four; a shell has its root in the bass, and so have strummed shapes."""
    found: dict[str, set[int | None]] = {}
    for cell in cells_there_are(GUITAR, make_hand("medium")):
        found.setdefault(cell.kind, set()).add(cell.inversion)
    wanted = {(CLOSE, SPREAD): {0, 1, 2}, (DROP_2, DROP_3, DROP_2_4): {0, 1, 2, 3}, (SHELL, FULL): {0}}
    assert found == {kind: numbers for kinds, numbers in wanted.items() for kind in kinds}


def test_a_larger_hand_has_a_larger_map() -> None:
    """What a small hand has room for, a larger one has too."""
    small, medium, large = (cells_there_are(GUITAR, make_hand(hand)) for hand in HANDS)
    assert small < medium < large
    # Not every set of strings is a cell: there are 20 of three strings alone, for each of three inversions.
    assert len([cell for cell in large if cell.kind == SPREAD]) < 30


@pytest.mark.parametrize("tuning", ["drop D", "B1 E2 A2 D3 G3 B3 E4", "G2 D3 A3 E4", "E2"])
def test_other_guitars(tuning: str) -> None:
    """Seven strings, four in fifths, one: a map, smaller where there is less, and no error."""
    strings = len(make_instrument(tuning).tuning_names)
    found = cells_there_are(make_instrument(tuning), make_hand("medium"))
    assert all(max(cell.strings) <= strings for cell in found)
    assert bool(found) == (strings > 1)


def test_a_short_neck() -> None:
    """A capo leaves fewer frets; the map is what still lies on them."""
    assert cells_there_are(make_instrument(capo=12, fret_count=15), make_hand("medium")) != frozenset()


@given(CELLS, CELLS)
def test_steps(one: Cell, other: Cell) -> None:
    """A step goes both ways, never to where one is, never to another kind, and changes one thing."""
    step = step_between(one, other)
    assert step == step_between(other, one)
    if step is not None:
        assert one.kind == other.kind
        assert (one.inversion != other.inversion) == (step == INVERSION)
        assert (one.strings != other.strings) == (step == STRINGS)


@pytest.mark.parametrize(
    ("there", "step"),
    [
        (Cell(SPREAD, 0, (6, 4, 3)), None),
        (Cell(SPREAD, 1, (6, 4, 3)), INVERSION),
        (Cell(SPREAD, 2, (6, 4, 3)), None),
        (Cell(SPREAD, 0, (5, 3, 2)), STRINGS),
        (Cell(SPREAD, 0, (6, 4, 2)), STRINGS),
        (Cell(SPREAD, 0, (6, 5, 3)), STRINGS),
        (Cell(SPREAD, 0, (4, 2, 1)), None),
        (Cell(SPREAD, 0, (5, 4, 2)), None),
        (Cell(SPREAD, 1, (5, 3, 2)), None),
        (Cell(SPREAD, None, (6, 4, 3)), None),
        (Cell(CLOSE, 0, (6, 4, 3)), None),
        (Cell(SPREAD, 0, ()), None),
    ],
)
def test_what_lies_beside(there: Cell, step: str | None) -> None:
    """From a spread triad in root position on 6-4-3, as a guitarist would see it."""
    assert step_between(Cell(SPREAD, 0, (6, 4, 3)), there) == step


@pytest.mark.parametrize(("number", "hand"), [*enumerate(HANDS)])
def test_a_drill_for_every_cell(number: int, hand: str) -> None:
    """Of everything on the map a drill can be written, and it is played in that cell with room for the hand; a chord
    that does not lie there is found out."""
    mine = make_hand(hand)
    for cell in some(sorted(cells_there_are(GUITAR, mine), key=str), first=number, each=8):
        symbols = ("", "m") if cell.kind in (CLOSE, SPREAD, FULL) else ("maj7", "7", "m7")
        texts = [cell_drill(cell, [root + symbol], title="T", about="a") for symbol in symbols for root in ("C", "F#")]
        good = [text for text in texts if fits(text, cell, GUITAR, mine)]
        assert good, cell
        (step, *_) = plan_drill(read_drill(good[0], "x"), GUITAR, mine).steps
        assert Cell.of(step.voicing.kind, step.voicing.inversion, step.fingering.strings) == cell
        assert step.fingering.strain <= ROOMY
    assert not fits(cell_drill(Cell(SPREAD, 0, (6, 5, 1)), ["C"], title="T"), Cell(SPREAD, 0, (6, 5, 1)), GUITAR, mine)
