"""Progress on one page of a terminal: the words first, then the pictures, side by side where there is room."""

from __future__ import annotations

import textwrap
from collections.abc import Iterator, Sequence
from math import ceil
from typing import Final

from listener.history.progress.facts import ChangeTotals
from listener.history.progress.map import change_map
from listener.history.progress.report import ProgressReport
from listener.history.progress.summary import REACHED
from listener.plain_words import counted
from listener.screen.progress.charts import bar_chart, range_chart, share_chart
from listener.screen.progress.maps import (
    MIDDLING,
    WEAK,
    change_map_rows,
    map_size,
    neck_map_rows,
    quiet,
    tempo_rows,
)
from listener.screen.progress.shown import (
    LEAST_MINUTES,
    ChangesMap,
    Course,
    Hits,
    Minutes,
    Places,
    Tempos,
    Timing,
    jump_sign,
    last_known,
    pictures_of,
    spread_sign,
)
from listener.screen.progress.vocabulary_maps import title, vocabulary_rows
from listener.screen.rows import Row, beside, row, rule
from listener.screen.theme import BOLD, Theme

#: A chart needs this width; as many stand side by side as the terminal has room for.
CHART: Final = 38
_GAP: Final = 2
_DRILLS: Final = 12


def progress_rows(report: ProgressReport, width: int, theme: Theme) -> list[Row]:
    """Everything, no wider than ``width``; empty without a take."""
    if not report.periods:
        return []
    rows = [*_lead(report, width, theme), []]
    charts: list[list[Row]] = []
    sections: list[Row] = []
    for one in pictures_of(report):
        if isinstance(one, Hits | Course | Timing | Minutes):
            charts += _charts(one, report, _chart_width(width), theme)
        else:
            title, picture = _picture(one, width, theme)
            sections += _section(title, picture, width, theme)
    return [*rows, *_grid(charts, width, theme), *sections, *vocabulary_section(report, width, theme)]


def vocabulary_section(report: ProgressReport, width: int, theme: Theme) -> list[Row]:
    """Which voicings are used, and which never; empty without a chord."""
    vocabulary = report.facts.vocabulary
    return _section(title(vocabulary), vocabulary_rows(vocabulary, report.there_are, width, theme), width, theme)


def lead_words(report: ProgressReport) -> list[str]:
    """What the numbers say in words, a paragraph each: first what got easier and what is next."""
    words = report.words
    found = [" ".join(filter(None, (words.easier, words.next))), words.trend, words.care]
    if report.facts.demo_only:
        found.insert(0, "All of this was played by the simulated guitarist of the demo. Your own takes replace it.")
    elif report.facts.simulated:
        takes = counted(report.facts.simulated, "take")
        found.append(f"Left out: {takes} by the simulated guitarist of the demo.")
    return [text for text in found if text]


def _lead(report: ProgressReport, width: int, theme: Theme) -> list[Row]:
    rows: list[Row] = []
    for number, text in enumerate(lead_words(report)):
        rows += [row((line, BOLD) if not number else line) for line in textwrap.wrap(theme.words(text), width)]
    return rows


def _section(title: str, rows: Sequence[Row], width: int, theme: Theme) -> list[Row]:
    return [[], rule(title, width, theme), *rows] if rows else []


def _chart_width(width: int) -> int:
    across = max(1, (width + _GAP) // (CHART + _GAP))
    return min(60, (width + _GAP) // across - _GAP)


def _charts(
    one: Hits | Course | Timing | Minutes, report: ProgressReport, width: int, theme: Theme
) -> Iterator[list[Row]]:
    """One chart, or two of the load of the hand."""
    periods = report.periods
    if isinstance(one, Hits):
        title = f"Hits, {'no whole take yet' if one.only_parts else 'whole takes'}"
        yield share_chart(title, _known(last_known(one.values), " % hits"), one.accounts, periods, width, theme)
    elif isinstance(one, Course):
        yield bar_chart(one.title, _known(last_known(one.values), one.unit), one.values, periods, width, theme)
    elif isinstance(one, Timing):
        mean, spread = last_known(one.values) or (0.0, 0.0)
        words = f"{mean:+.0f} {spread_sign(theme)}{spread:.0f} ms"
        yield range_chart(one.title, words, one.values, periods, width, theme)
    else:
        yield from _load_charts(one, report, width, theme)


def _known(value: float | None, unit: str) -> str:
    return "" if value is None else f"{value:.0f}{unit}"


def _load_charts(load: Minutes, report: ProgressReport, width: int, theme: Theme) -> Iterator[list[Row]]:
    """Minutes, and minutes weighted by stretch, on one scale; weeks with a jump are marked."""
    periods = report.periods
    high = LEAST_MINUTES * max(1, ceil(max(load.whole) / LEAST_MINUTES))
    title = f"Minutes a {report.unit}" + (f" ({jump_sign(theme)} jump)" if any(load.jumps) else "")
    words = _known(load.whole[-1], " min")
    yield bar_chart(title, words, load.whole, periods, width, theme, high=high, marked=load.jumps)
    last = last_known(load.stretch)
    if last is not None:
        title = "... weighted by stretch"
        yield bar_chart(title, _known(last, " min"), load.stretch, periods, width, theme, high=high)


def _picture(one: Tempos | ChangesMap | Places, width: int, theme: Theme) -> tuple[str, list[Row]]:
    """A picture as wide as the page, with what it counts behind its title."""
    if isinstance(one, Tempos):
        # What a tempo needs to count as reached; the ladder's "clean" is another measure.
        title = f"{one.title}: the whole drill, {100 * REACHED:.0f} % hits"
        return title, tempo_rows(one.drills[:_DRILLS], width, theme)
    if isinstance(one, ChangesMap):
        return f"{one.title}: hits in percent", _map_rows(one.changes, width, theme)
    return f"{one.title}, in chords", neck_map_rows(one.neck, width, theme)


def _grid(charts: Sequence[Sequence[Row]], width: int, theme: Theme) -> list[Row]:
    each = _chart_width(width)
    across = max(1, (width + _GAP) // (each + _GAP))
    rows: list[Row] = []
    for start in range(0, len(charts), across):
        line = charts[start : start + across]
        blocks: list[tuple[Sequence[Row], int]] = []
        for chart in line:
            blocks += [(chart, each), ([], _GAP)]
        rows += [[]] if rows else []
        rows += beside(blocks[:-1], max(map(len, line)), theme)
    return rows


def _map_rows(changes: Sequence[ChangeTotals], width: int, theme: Theme) -> list[Row]:
    found = change_map(changes, map_size(width))
    rows = change_map_rows(found, width, theme)
    signs = f"[ ] under {100 * WEAK:.0f} %, ( ) under {100 * MIDDLING:.0f} %"
    rows += quiet(f"{signs}; what has most to gain stands first.", width)
    if found.left_out:
        rows += quiet(f"{counted(found.left_out, 'more change')} in --html, --json and --csv-changes.", width)
    return rows
