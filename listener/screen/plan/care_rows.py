"""Shapes near the limit of the hand, each with an easier one beside it."""

from __future__ import annotations

from listener.guitar.fingering import Fingering
from listener.planning.easier import easier_shape, near_limit
from listener.planning.plan import Plan, PlannedStep
from listener.screen.rows import Row, row, wrapped
from listener.screen.theme import BOLD, Theme
from listener.session.rest import PAIN


def frets_words(fingering: Fingering, strings: int) -> str:
    """A shape as guitarists write it, lowest string first: ``x 3 x 2 x 1``."""
    return " ".join(fingering.written(strings))


def wide_words(planned: PlannedStep, plan: Plan) -> str:
    """``wide for the hand; easier: x 3 x 2 x 1``; empty for a shape that is not near the limit."""
    if not near_limit(planned):
        return ""
    easier = easier_shape(planned, plan)
    if easier is None:
        return f"wide: {100 * planned.fingering.strain:.0f} % of the reach"
    return f"wide; easier: {frets_words(easier.fingering, plan.string_count)}"


def care_rows(plan: Plan, width: int, theme: Theme) -> list[Row]:
    """A line for each shape near the limit, and what to do about pain; nothing when there is none."""
    rows = []
    for number, planned in enumerate(plan.steps, start=1):
        if not near_limit(planned):
            continue
        easier = easier_shape(planned, plan)
        shape = frets_words(planned.fingering, plan.string_count)
        text = f"step {number} ({theme.chord(planned.voicing.chord)}, {shape}): {100 * planned.fingering.strain:.0f} %"
        if easier is not None:
            beside = frets_words(easier.fingering, plan.string_count)
            names = theme.words(" ".join(easier.voicing.names))
            text += f"; easier: {beside} ({names}), {100 * easier.fingering.strain:.0f} %"
        else:
            text += "; nothing easier does what the drill asks"
        rows += [row(line) for line in wrapped(text, width, 2, theme)]
    return [*rows, row((PAIN, BOLD))] if rows else []
