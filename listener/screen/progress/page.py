"""Progress on one page of a terminal: the words first, then the pictures, side by side where there is room."""

from __future__ import annotations

import textwrap
from collections.abc import Sequence
from math import ceil
from typing import Final

from listener.history.progress.map import change_map
from listener.history.progress.report import Report
from listener.history.progress.summary import REACHED
from listener.screen.progress.charts import bar_chart, range_chart, share_chart
from listener.screen.progress.maps import change_map_rows, map_size, neck_map_rows, quiet, tempo_rows
from listener.screen.progress.vocabulary_maps import title, vocabulary_rows
from listener.screen.rows import Row, beside, row, rule
from listener.screen.theme import BOLD, Theme
from listener.screen.words import counted

#: A chart needs this width; as many stand side by side as the terminal has room for.
CHART: Final = 38
_GAP: Final = 2
_DRILLS: Final = 12
#: What a tempo needs to count as reached; the ladder's "clean" is another measure.
_REACHED: Final = f"Tempo reached: the whole drill, {100 * REACHED:.0f} % hits"


def progress_rows(report: Report, width: int, theme: Theme) -> list[Row]:
    """Everything, no wider than ``width``; empty without a take."""
    if not report.periods:
        return []
    rows = [*_lead(report, width, theme), []]
    rows += _grid(_charts(report, theme, _chart_width(width)), width, theme)
    rows += _section(_REACHED, tempo_rows(report.tempos[:_DRILLS], width, theme), width, theme)
    rows += _section("From chord to chord: hits in percent", _map_rows(report, width, theme), width, theme)
    if report.facts.neck.spots:
        neck = neck_map_rows(report.facts.neck, width, theme)
        rows += _section("Where you have been on the neck, in chords", neck, width, theme)
    return rows + vocabulary_section(report, width, theme)


def vocabulary_section(report: Report, width: int, theme: Theme) -> list[Row]:
    """Which voicings are used, and which never; empty without a chord."""
    vocabulary = report.facts.vocabulary
    return _section(title(vocabulary), vocabulary_rows(vocabulary, report.there_are, width, theme), width, theme)


def lead_words(report: Report) -> list[str]:
    """What the numbers say in words, a paragraph each: first what got easier and what is next."""
    words = report.words
    found = [" ".join(filter(None, (words.easier, words.next))), words.trend, words.care]
    if report.facts.demo_only:
        found.insert(0, "All of this was played by the simulated guitarist of the demo. Your own takes replace it.")
    elif report.facts.simulated:
        takes = counted(report.facts.simulated, "take")
        found.append(f"Left out: {takes} by the simulated guitarist of the demo.")
    return [text for text in found if text]


def _lead(report: Report, width: int, theme: Theme) -> list[Row]:
    rows: list[Row] = []
    for number, text in enumerate(lead_words(report)):
        rows += [row((line, BOLD) if not number else line) for line in textwrap.wrap(theme.words(text), width)]
    return rows


def _section(title: str, rows: Sequence[Row], width: int, theme: Theme) -> list[Row]:
    return [[], rule(title, width, theme), *rows] if rows else []


def _chart_width(width: int) -> int:
    across = max(1, (width + _GAP) // (CHART + _GAP))
    return min(60, (width + _GAP) // across - _GAP)


def _charts(report: Report, theme: Theme, width: int) -> list[list[Row]]:
    periods, unit = report.periods, report.unit
    about = "+-" if theme.ascii_only else "±"

    def shown(value: float | None, form: str = "{:.0f}") -> str:
        return "" if value is None else form.format(value)

    def bars(title: str, values: Sequence[float | None], form: str = "{:.0f}") -> list[Row]:
        last = next((value for value in reversed(values) if value is not None), None)
        return bar_chart(title, shown(last, form), values, periods, width, theme)

    accounts = [report.account(one) for one in periods]
    hits = next((100 * one.share for one in reversed(accounts) if one.judged), None)
    of = "no whole take yet" if report.only_parts else "whole takes"
    charts = [
        share_chart(f"Hits, {of}", shown(hits, "{:.0f} % hits"), accounts, periods, width, theme),
        bars("Movement score", [one.movement_score for one in accounts]),
        bars("Top note right", [_percent(one.top_accuracy) for one in accounts], "{:.0f} %"),
    ]
    ranges = [one.timing_ms for one in periods]
    if any(ranges):
        mean, spread = next(found for found in reversed(ranges) if found is not None)
        title = f"{mean:+.0f} {about}{spread:.0f} ms"
        charts.append(range_chart("Timing to the click", title, ranges, periods, width, theme))
    return [*charts, *_load_charts(report, unit, width, theme)]


def _load_charts(report: Report, unit: str, width: int, theme: Theme) -> list[list[Row]]:
    """Minutes, and minutes weighted by stretch, on one scale; weeks with a jump are marked."""
    periods = report.periods
    minutes = [one.playing_s / 60 for one in periods]
    stretch = [None if one.stretch_s is None else one.stretch_s / 60 for one in periods]
    high = float(max(10, 10 * ceil(max(minutes) / 10)))
    jumps = [unit == "week" and one.start in report.words.jumps for one in periods]
    title = f"Minutes a {unit}" + (f" ({'^' if theme.ascii_only else '▲'} jump)" if any(jumps) else "")
    charts = [bar_chart(title, f"{minutes[-1]:.0f} min", minutes, periods, width, theme, high=high, marked=jumps)]
    if any(value is not None for value in stretch):
        last = next(value for value in reversed(stretch) if value is not None)
        charts.append(
            bar_chart("... weighted by stretch", f"{last:.0f} min", stretch, periods, width, theme, high=high)
        )
    return charts


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share


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


def _map_rows(report: Report, width: int, theme: Theme) -> list[Row]:
    if not report.facts.changes:
        return []
    found = change_map(report.facts.changes, map_size(width))
    rows = change_map_rows(found, width, theme)
    rows += quiet("[ ] under 60 %, ( ) under 85 %; what has most to gain stands first.", width)
    if found.left_out:
        rows += quiet(f"{counted(found.left_out, 'more change')} in --html, --json and --csv-changes.", width)
    return rows
