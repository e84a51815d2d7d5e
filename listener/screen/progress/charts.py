"""Small charts of progress for a terminal: time runs to the right, one column for each day, week or month.

Every chart is a heading with its newest value, an axis and a foot with the first and the last date; all say what they
say by height and sign, none by colour alone.
"""

from __future__ import annotations

from collections.abc import Sequence
from math import ceil
from typing import Final

from rich.cells import cell_len

from listener.history.progress.periods import Period
from listener.judging.account import Account
from listener.screen.progress.shown import LEAST_MS, jump_sign
from listener.screen.rows import Row, cut, merged, row
from listener.screen.sparkline import BLOCKS
from listener.screen.theme import BOLD, PLAIN, QUIET, Theme

#: Rows between the heading and the foot.
HEIGHT: Final = 6
#: Cells for the numbers at the axis, with the axis itself.
AXIS: Final = 5
_RANGE_HEIGHT: Final = 7
#: Where the blocks cannot be shown: a third, two thirds, all of a cell.
_ASCII_PARTS: Final = ".=#"


def columns_for(width: int, periods: int) -> int:
    """Cells for each period, 1 to 4; from 2 on the last one is a gap."""
    return max(1, min(4, (width - AXIS) // max(1, periods)))


def bar_chart(
    title: str,
    newest: str,
    values: Sequence[float | None],
    periods: Sequence[Period],
    width: int,
    theme: Theme,
    *,
    high: float = 100.0,
    marked: Sequence[bool] = (),
) -> list[Row]:
    """Bars from 0 to ``high``; None is a gap. ``marked`` columns get an arrow at their foot."""
    parts = _ASCII_PARTS if theme.ascii_only else BLOCKS
    rows = []
    for level in reversed(range(HEIGHT)):
        cells = [_part(value, level, high, parts) for value in values]
        rows.append([*_axis(level, high, theme), *_spread(cells, width, theme)])
    marks = [_marks(marked, width, theme)] if any(marked) else []
    return [_heading(title, newest, width, theme), *rows, *marks, _foot(periods, width)]


def _part(value: float | None, level: int, high: float, parts: str) -> str:
    """What of a bar is seen in the row of this level. A value above nothing shows at least its lowest part."""
    if value is None or value <= 0:
        return " "
    steps = max(1, round(min(1.0, value / high) * HEIGHT * len(parts))) - level * len(parts)
    return " " if steps <= 0 else parts[min(steps, len(parts)) - 1]


def share_chart(
    title: str, newest: str, accounts: Sequence[Account], periods: Sequence[Period], width: int, theme: Theme
) -> list[Row]:
    """Hits, near misses and misses of each period on top of each other; they fill the height."""
    marks = theme.signs
    signs = (marks.hit, marks.near, marks.miss) if theme.ascii_only else ("█", "▒", "·")
    rows = []
    shares = [_levels(account) for account in accounts]
    for level in reversed(range(HEIGHT)):
        cells = [_grade_cell(share, level, signs) for share in shares]
        rows.append([*_axis(level, 100.0, theme), *_spread(cells, width, theme)])
    legend = row(" " * AXIS, *(f"{sign} {word}  " for sign, word in zip(signs, ("hit", "near", "miss"), strict=True)))
    return [_heading(title, newest, width, theme), *rows, _foot(periods, width), legend]


def _levels(account: Account) -> tuple[int, int] | None:
    """Rows of hits, and of hits and near misses together; what there is at all gets a row where rounding allows it."""
    if not account.judged:
        return None
    hits = round(HEIGHT * account.share)
    return hits, max(hits, round(HEIGHT * (account.hits + account.nears) / account.judged))


def _grade_cell(share: tuple[int, int] | None, level: int, signs: tuple[str, str, str]) -> str:
    if share is None:
        return " "
    return signs[0] if level < share[0] else signs[1] if level < share[1] else signs[2]


def range_chart(
    title: str,
    newest: str,
    values: Sequence[tuple[float, float] | None],
    periods: Sequence[Period],
    width: int,
    theme: Theme,
) -> list[Row]:
    """A mean and a spread on either side of it for each period, in ms; the click is the line in the middle."""
    dot, line = ("o", "|") if theme.ascii_only else ("●", "│")
    reach = max((abs(mean) + spread for mean, spread in filter(None, values)), default=0.0)
    limit = max(LEAST_MS, LEAST_MS * ceil(reach / LEAST_MS))
    middle = _RANGE_HEIGHT // 2
    rows = []
    for level in range(middle, -middle - 1, -1):
        label = f"{limit * level / middle:+.0f}" if abs(level) == middle else "0" if level == 0 else ""
        ground = theme.signs.line if level == 0 else " "
        cells = [_range_cell(value, level, middle / limit, (dot, line, ground)) for value in values]
        rows.append([*_label(label, theme), *_thin(cells, width, ground)])
    legend = row(" " * AXIS, cut(f"{dot} mean, {line} spread; + late, - early", width - AXIS, theme))
    return [_heading(title, newest, width, theme), *rows, _foot(periods, width), legend]


def _range_cell(value: tuple[float, float] | None, level: int, per_ms: float, signs: tuple[str, str, str]) -> str:
    if value is None:
        return signs[2]
    mean, spread = value
    if level == round(mean * per_ms):
        return signs[0]
    return signs[1] if round((mean - spread) * per_ms) <= level <= round((mean + spread) * per_ms) else signs[2]


def _heading(title: str, newest: str, width: int, theme: Theme) -> Row:
    room = max(0, width - cell_len(newest) - 2)
    shown = cut(title, room, theme)
    return row((shown, BOLD), " " * (room - cell_len(shown) + 1), (newest, BOLD), " ")


def _axis(level: int, high: float, theme: Theme) -> Row:
    return _label(f"{high:.0f}" if level == HEIGHT - 1 else "0" if level == 0 else "", theme)


def _label(text: str, theme: Theme) -> Row:
    return row((f"{text:>{AXIS - 1}}{theme.signs.bar}", QUIET))


def _spread(cells: Sequence[str], width: int, theme: Theme) -> Row:
    """Each cell as wide as the chart allows, with a gap between neighbours where there is room."""
    each = columns_for(width, len(cells))
    bar = max(1, each - 1)
    styles = {theme.signs.dot: QUIET}
    parts = []
    for cell in cells:
        parts += [(cell * bar, styles.get(cell, PLAIN)), (" " * (each - bar), QUIET)]
    return merged(parts)


def _thin(cells: Sequence[str], width: int, ground: str) -> Row:
    """Each cell one character wide in the middle of its column."""
    each = columns_for(width, len(cells))
    left = max(0, each - 2) // 2
    return row("".join(ground * left + cell + ground * (each - 1 - left) for cell in cells))


def _foot(periods: Sequence[Period], width: int) -> Row:
    """The first date at the left, the last one up to the last column."""
    each = columns_for(width, len(periods))
    first, last = periods[0].label, periods[-1].label if len(periods) > 1 else ""
    gap = max(1, each * len(periods) - len(first) - len(last) - (1 if each > 1 else 0))
    return row(" " * AXIS, (first + " " * gap + last, QUIET))


def _marks(marked: Sequence[bool], width: int, theme: Theme) -> Row:
    """An arrow under each marked column."""
    return [*row(" " * AXIS), *_spread([jump_sign(theme) if mark else " " for mark in marked], width, theme)]
