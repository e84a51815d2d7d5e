"""A drill written on the spot for one cell of the map of voicings: its shape on a few roots, one chord in a bar."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.drill.drill_file import read_drill
from listener.drill.making.skill_drill import drill_head
from listener.errors import WidehandError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.planning.planner import plan_drill
from listener.planning.shapes.cells import ROOMY, Cell
from listener.safe_text import toml_text

#: How often the chords come round.
_TIMES: Final = 2


def cell_drill(cell: Cell, chords: Sequence[str], *, title: str, about: str = "") -> str:
    """The text of the drill file. ``cell`` needs its strings and its inversion; without open strings, so that the shape
    is one that moves."""
    return (
        f"{drill_head(title, about)}\n"
        f"[[passage]]\nchords = {toml_text(' | '.join(chords))}\ntimes = {_TIMES}\nkind = {toml_text(cell.kind)}\n"
        f"inversion = {cell.inversion}\nvoices = {len(cell.strings)}\n"
        f"strings = [{', '.join(map(str, cell.strings))}]\nopen_strings = false\n"
    )


def fits(text: str, cell: Cell, instrument: Instrument, hand: Hand) -> bool:
    """Whether the planner finds every chord of such a drill in this very cell, with room left for the hand."""
    try:
        plan = plan_drill(read_drill(text, "cell"), instrument, hand)
    except WidehandError:
        return False
    return all(
        Cell.of(step.voicing.kind, step.voicing.inversion, step.fingering.strings) == cell
        and step.fingering.strain <= ROOMY
        for step in plan.steps
    )
