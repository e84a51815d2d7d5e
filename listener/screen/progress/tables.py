"""Progress as tables with sparklines: one row for each drill, and the changes to look at."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table

from listener.history.progress.report import ProgressReport
from listener.history.progress.summary import DrillProgress
from listener.judging.account import Account
from listener.plain_words import counted
from listener.screen.progress.shown import REACHED_WORDS, spread_sign
from listener.screen.sparkline import sparkline
from listener.screen.theme import Theme

#: A sparkline, in a usual terminal and in a narrow one.
_SPARK_WIDTH: Final = 12
_NARROW_SPARK_WIDTH: Final = 6
_NAME_WIDTH: Final = 12
_SHOWN_CHANGES: Final = 8
#: Fewer voices say nothing about how they are held (our choice).
_ENOUGH_VOICES: Final = 20


def show(report: ProgressReport, console: Console, *, plain: bool) -> None:
    """The tables. They fit 80 characters; a narrower window folds long words and cuts none."""
    theme = Theme(ascii_only=plain)
    progress = report.facts.progress
    spark_width = _SPARK_WIDTH if console.width >= 80 else _NARROW_SPARK_WIDTH
    console.print(_drill_table(progress.drills, theme, spark_width))
    console.print(
        "Takes: of the whole drill + of a part of it. Hits and movement are those of whole takes, oldest left, newest "
        f"right with its value. Tempo: the highest that was reached. {REACHED_WORDS}"
    )
    console.print()
    console.print(_detail_table(report, theme))
    console.print(
        "Last take: hits/near/misses at the first attempt; of how many steps when it was not the whole drill."
    )
    console.print(f"Timing: how far from the click on average (- is early), {spread_sign(theme)} how much it varies.")
    if held := held_words(report):
        console.print(theme.words(held))
    if report.weak:
        console.print()
        console.print(_change_table(report, theme))
    console.print()
    console.print(
        f"{counted(progress.strokes, 'stroke')} in {counted(progress.takes, 'take')}, "
        f"{counted(progress.sessions, 'session')}."
    )


def held_words(report: ProgressReport) -> str:
    """How many voices were held to the change, drill by drill, where it can be told of enough of them."""
    told = []
    for drill in report.facts.progress.drills:
        touch = report.touch_lately(drill)
        if touch is not None and touch.held_share is not None and touch.voices >= _ENOUGH_VOICES:
            told.append(f"{drill.drill} {100 * touch.held_share:.0f} %")
    return f"Voices held to the change, of those of which it can be told: {', '.join(told)}." if told else ""


def _drill_table(drills: Sequence[DrillProgress], theme: Theme, spark_width: int) -> Table:
    table = _table("Take by take", theme)
    table.add_column("drill", overflow="fold", min_width=_NAME_WIDTH)
    table.add_column("takes", justify="right", overflow="fold")
    table.add_column("hits", no_wrap=True)
    table.add_column("movement", no_wrap=True)
    table.add_column("tempo", justify="right", overflow="fold")
    for drill in drills:
        shares = [100 * take.account.share for take in drill.whole_takes]
        scores = [take.account.movement_score for take in drill.whole_takes]
        newest = next((score for score in reversed(scores) if score is not None), None)
        table.add_row(
            theme.words(drill.drill),
            _takes(drill),
            f"{_spark(shares, spark_width, theme)} {shares[-1]:3.0f} %" if shares else "-",
            f"{_spark(scores, spark_width, theme)} {newest:3.0f}" if newest is not None else "-",
            f"{drill.tempo_reached:g}" if drill.tempo_reached is not None else "-",
        )
    return table


def _detail_table(report: ProgressReport, theme: Theme) -> Table:
    since = "" if report.lately is None else f" since {report.lately.isoformat()}"
    table = _table(f"Drill by drill{since}", theme)
    table.add_column("drill", overflow="fold")
    table.add_column("last played", overflow="fold")
    table.add_column("last take", justify="right", overflow="fold")
    table.add_column("top note", justify="right", overflow="fold")
    table.add_column("timing ms", justify="right", overflow="fold")
    table.add_column("main fault", overflow="fold")
    for drill in report.facts.progress.drills:
        account = report.account_lately(drill)
        table.add_row(
            theme.words(drill.drill),
            drill.last.started_at.astimezone().strftime("%Y-%m-%d"),
            _grades(drill.last.account),
            f"{100 * account.top_accuracy:.0f} %" if account.top_accuracy is not None else "-",
            _timing(account, theme),
            f"{_fault_words(account.faults[0][0], theme)}: {account.faults[0][1]}" if account.faults else "-",
        )
    return table


def _takes(drill: DrillProgress) -> str:
    """``12``, or ``12 + 3`` of which three were not the whole drill."""
    whole = len(drill.whole_takes)
    parts = len(drill.takes) - whole
    return f"{whole} + {parts}" if parts else str(whole)


def _grades(account: Account) -> str:
    """``12/3/1``, or ``6/2/0 of 16`` of a take that was not the whole drill."""
    told = "/".join(map(str, account.grades))
    return told if account.complete or not account.steps else f"{told} of {account.steps}"


def _fault_words(code: str, theme: Theme) -> str:
    """One or two words, for a narrow column."""
    return theme.words("silence" if code == "nothing" else code.replace("_", " "))


def _change_table(report: ProgressReport, theme: Theme) -> Table:
    """With a column for those that were not tried often enough of late and are counted in all."""
    table = _table("Changes to look at", theme)
    table.add_column("from", overflow="fold")
    table.add_column("to", overflow="fold")
    table.add_column("tried", justify="right", overflow="fold")
    table.add_column("hits", justify="right", overflow="fold")
    if report.lately is not None:
        table.add_column("since", overflow="fold")
    for weak in report.weak[:_SHOWN_CHANGES]:
        change = weak.counted
        cells = [
            theme.words(f"{change.from_chord} {change.from_kind}"),
            theme.words(f"{change.to_chord} {change.to_kind}"),
            str(change.attempts),
            f"{100 * change.hit_rate:.0f} %",
        ]
        if report.lately is not None:
            cells.append(report.lately.isoformat() if weak.lately else "the start")
        table.add_row(*cells)
    return table


def _table(title: str, theme: Theme) -> Table:
    shape = box.ASCII_DOUBLE_HEAD if theme.ascii_only else box.SIMPLE_HEAD
    return Table(
        title=title,
        title_justify="left",
        title_style="bold",
        box=shape,
        header_style="bold",
        pad_edge=theme.ascii_only,
        collapse_padding=not theme.ascii_only,
    )


def _spark(values: Sequence[float | None], width: int, theme: Theme) -> str:
    """Always from 0 to 100, so that rows can be compared and a small change does not look like a great one."""
    return f"{sparkline(values, width, theme.ascii_only, low=0, high=100):>{width}}"


def _timing(account: Account, theme: Theme) -> str:
    mean_ms, spread_ms = account.mean_ms, account.spread_ms
    if mean_ms is None:
        return "-"
    spread = "" if spread_ms is None else f" {spread_sign(theme)}{spread_ms:.0f}"
    return f"{mean_ms:+.0f}{spread}"
