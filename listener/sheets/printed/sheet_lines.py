"""How the bars of a plan go on the lines of a printed page, and which chords get their name and diagram."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import accumulate, groupby, pairwise
from typing import Final

from listener.planning.plan import Plan, PlannedStep
from listener.sheets.bars import Bar, bars_of
from listener.sheets.printed.neck_diagram import diagram_width
from listener.sheets.printed.text_width import text_width

NAME_SIZE_MM: Final = 3.6
#: Bars on a line where there is room; six for long passages.
_USUAL: Final = 4
_MOST: Final = 6
_LONG_PASSAGE: Final = 16
#: Room for clefs and signature, for a chord without a name, and for the narrowest bar.
_HEAD_MM: Final = 24.0
_CHORD_MM: Final = 6.5
_BAR_MM: Final = 16.0
_GAP_MM: Final = 1.5


@dataclass(frozen=True, slots=True)
class Label:
    """What stands over a chord; ``number`` counts the chords of the plan from 1.

    ``is_change`` tells whether chord or shape are others than before, ``with_diagram`` whether the shape is shown.
    """

    number: int
    planned: PlannedStep
    is_change: bool
    with_diagram: bool

    def width_mm(self, string_count: int) -> float:
        """Room that it needs from side to side."""
        name = text_width(self.planned.voicing.chord.symbol, NAME_SIZE_MM, bold=True)
        return max(name, diagram_width(string_count) if self.with_diagram else 0.0) + _GAP_MM


@dataclass(frozen=True, slots=True)
class SheetLine:
    """One line of music: its bars, what stands over them, and the passage that begins with it, if one does."""

    first_bar: int
    bars: tuple[Bar, ...]
    labels: tuple[Label, ...]
    passage: str | None


def sheet_lines(plan: Plan, width_mm: float) -> tuple[SheetLine, ...]:
    """All lines: passages begin new ones, and the bars of a passage are shared out evenly."""
    labels = _labels(plan)
    found: list[SheetLine] = []
    before = ""
    for passage, bars in _passages(bars_of(plan)):
        for index, row in enumerate(_shared_out(bars, labels, plan.string_count, width_mm - _HEAD_MM)):
            over = _shown([label for bar in row for label in labels[bar.number]])
            begins = index == 0 and passage != before
            found.append(SheetLine(row[0].number, tuple(row), over, passage if begins else None))
        before = passage
    return tuple(found)


def _labels(plan: Plan) -> dict[int, list[Label]]:
    """The chords of each bar; a shape needs its diagram the first time that a passage has it."""
    found: dict[int, list[Label]] = {}
    seen: set[object] = set()
    number, before, passage = 0, None, ""
    for bar in bars_of(plan):
        row = found.setdefault(bar.number, [])
        for slot in bar.slots:
            if slot.planned is None or not slot.begins:
                continue
            number += 1
            if slot.planned.step.passage != passage:
                passage, before = slot.planned.step.passage, None
                seen.clear()
            shape = (slot.planned.voicing.chord.symbol, slot.planned.fingering)
            row.append(Label(number, slot.planned, shape != before, shape not in seen))
            seen.add(shape)
            before = shape
    return found


def _shown(labels: Sequence[Label]) -> tuple[Label, ...]:
    """Those of a line that are printed: changes, and always the first. Where one has a diagram, all have."""
    kept = [label for index, label in enumerate(labels) if label.is_change or index == 0]
    with_diagram = any(label.with_diagram for label in kept)
    return tuple(replace(label, with_diagram=with_diagram) for label in kept)


def _passages(bars: Sequence[Bar]) -> Iterator[tuple[str, list[Bar]]]:
    """Bars by the passage that begins in or goes on through them."""
    now = ""
    names = []
    for bar in bars:
        now = next((slot.planned.step.passage for slot in bar.slots if slot.planned is not None), now)
        names.append(now)
    for name, group in groupby(zip(names, bars, strict=True), key=lambda pair: pair[0]):
        yield name, [bar for _, bar in group]


def _shared_out(
    bars: list[Bar], labels: dict[int, list[Label]], string_count: int, width_mm: float
) -> Iterator[list[Bar]]:
    """As few lines as the bars need, about equally long."""
    most = _USUAL if len(bars) <= _LONG_PASSAGE else _MOST
    needs = [_need(bar, labels[bar.number], string_count) for bar in bars]
    count = -(-len(bars) // most)
    while count < len(bars):
        edges = [len(bars) * line // count for line in range(count + 1)]
        if all(sum(needs[first:last]) <= width_mm for first, last in pairwise(edges)):
            break
        count += 1
    for line in range(count):
        yield bars[len(bars) * line // count : len(bars) * (line + 1) // count]


def _need(bar: Bar, labels: Sequence[Label], string_count: int) -> float:
    changes = (replace(label, with_diagram=True) for label in labels if label.is_change)
    with_diagrams = (label.width_mm(string_count) for label in changes)
    return max(sum(with_diagrams), len(bar.slots) * _CHORD_MM, _BAR_MM)


def spread_out(wanted: Sequence[float], widths: Sequence[float], left: float, right: float) -> list[float]:
    """Middles for labels of these widths, in order and without overlap, as near as can be to where they are wanted.

    They stay between ``left`` and ``right`` when there is room for all of them. Labels that would overlap move apart
    evenly: least squares, by pooling neighbours (isotonic regression).
    """
    offsets = list(accumulate(((one + other) / 2 for one, other in pairwise(widths)), initial=0.0))
    pools: list[tuple[float, int]] = []  # mean of the shifted places, and how many labels share it
    for place, offset in zip(wanted, offsets, strict=False):
        mean, count = place - offset, 1
        while pools and pools[-1][0] > mean:
            before, many = pools.pop()
            mean, count = (mean * count + before * many) / (count + many), count + many
        pools.append((mean, count))
    shifted = [mean for mean, count in pools for _ in range(count)]
    middles = [place + offset for place, offset in zip(shifted, offsets, strict=False)]
    return _inside(middles, widths, left, right)


def _inside(middles: list[float], widths: Sequence[float], left: float, right: float) -> list[float]:
    """Pushed in from both edges, from the right one last."""
    edge = left
    for index, width in enumerate(widths):
        middles[index] = max(middles[index], edge + width / 2)
        edge = middles[index] + width / 2
    edge = right
    for index in reversed(range(len(widths))):
        middles[index] = min(middles[index], edge - widths[index] / 2)
        edge = middles[index] - widths[index] / 2
    return middles
