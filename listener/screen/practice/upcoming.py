"""What comes next: the chords after the target, each as a small shape."""

from __future__ import annotations

from rich.cells import cell_len

from listener.guitar.fingering import fret_window
from listener.planning.plan import PlannedStep
from listener.screen.neck import neck_rows, places, widest_cell
from listener.screen.practice.played import played_rows
from listener.screen.rows import Row, beside, cut, row, rule
from listener.screen.theme import BOLD, QUIET, TOP_NOTE, Theme
from listener.screen.words import kind_words, top_words
from listener.session.take.state import Snapshot

#: Cells for one small shape, and for one that has note names beside the strings.
_SMALL, _LARGE = 13, 34


def coming(snapshot: Snapshot, count: int) -> tuple[PlannedStep, ...]:
    """The planned steps after the target."""
    return snapshot.plan.steps[snapshot.step + 1 : snapshot.step + 1 + count]


def upcoming_rows(snapshot: Snapshot, width: int, theme: Theme) -> list[Row]:
    """One row of names, then one row per string. As many chords as fit with their whole names: three, and more only
    where each has room for its notes."""
    height = snapshot.plan.string_count + 1
    steps = coming(snapshot, max(3, width // _LARGE))
    if not steps:
        return [row(("the last chord" if snapshot.target else "", QUIET))]
    fitting = [count for count in range(len(steps), 0, -1) if _fits(steps[:count], width, theme)]
    shown = steps[: fitting[0] if fitting else 1]
    each = width // max(len(shown), 2)
    return beside([(_shape(planned, each, snapshot, theme), each) for planned in shown], height, theme)


def below_rows(snapshot: Snapshot, width: int, theme: Theme) -> list[Row]:
    """What comes next under its rule; before it, where the newest chord was not right, what was played."""
    height = snapshot.plan.string_count + 2
    each = _LARGE if width >= 3 * _LARGE else _SMALL + 1
    played = played_rows(snapshot, each - 1, 5 if each == _LARGE else 1, theme)
    left = each if played else 0
    following = [rule("next", width - left, theme), *upcoming_rows(snapshot, width - left, theme)]
    if not played:
        return following
    return beside([([rule("played", left - 1, theme), *played], left), (following, width - left)], height, theme)


def _head(planned: PlannedStep, theme: Theme) -> str:
    """The chord's name and, as on chord boxes, the fret where the shape begins unless the nut is drawn."""
    first, _ = fret_window(planned.fingering.frets)
    name = theme.chord(planned.voicing.chord)
    return f"{name} {first}fr" if first > 1 else name


def _fits(steps: tuple[PlannedStep, ...], width: int, theme: Theme) -> bool:
    each = width // len(steps)
    return each >= _SMALL and all(cell_len(_head(planned, theme)) < each for planned in steps)


def _shape(planned: PlannedStep, width: int, snapshot: Snapshot, theme: Theme) -> list[Row]:
    """A small neck; where there is room, note names and degrees stand behind the strings."""
    count = snapshot.plan.string_count
    roomy = width >= _LARGE
    cell = widest_cell(planned.fingering, width - (11 if roomy else 3), 5 if roomy else 1)
    neck = neck_rows(planned.fingering, count, theme, cell=cell)
    head = row((cut(_head(planned, theme), width - 1, theme), BOLD))
    if not roomy:
        return [head, *(_marked(cells, planned, index, count, theme) for index, cells in enumerate(neck[1:]))]
    return [
        [*head, *row((f"  {theme.words(kind_words(planned))}", QUIET))],
        *(_noted(cells, planned, index, count, theme) for index, cells in enumerate(neck[1:])),
    ]


def _marked(cells: Row, planned: PlannedStep, index: int, count: int, theme: Theme) -> Row:
    """The top note's string carries a sign at its end, for terminals without reverse."""
    is_top = places(planned.fingering, count)[index].is_top
    return [*cells, *row((theme.signs.top, BOLD))] if is_top else cells


def _noted(cells: Row, planned: PlannedStep, index: int, count: int, theme: Theme) -> Row:
    place = places(planned.fingering, count)[index]
    if place.note is None:
        return cells
    rank = planned.voicing.midi.index(planned.fingering.pitches[place.note])
    name = theme.words(str(planned.voicing.pitches[rank]))
    degree = theme.words(planned.voicing.degrees[rank])
    return [*cells, *row(" ", (f"{name}", TOP_NOTE if place.is_top else BOLD), f" {degree}")]


def next_words(snapshot: Snapshot, theme: Theme) -> str:
    """The next chord in words, for screens that cannot draw: ``D7, drop 2, top C5``."""
    steps = coming(snapshot, 1)
    if not steps:
        return ""
    return f"{theme.chord(steps[0].voicing.chord)}, {kind_words(steps[0])}, {top_words(steps[0], theme)}"
