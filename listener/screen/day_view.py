"""The plan for a day, to be read at a glance: a table on a terminal, or plain lines."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from textwrap import wrap
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table
from rich.text import Text

from listener.plain_words import capital
from listener.screen.theme import BOLD, QUIET, Theme


@dataclass(frozen=True)
class DayRow:
    """One line of the plan: minutes, what it is, why it is there, and the command that plays it (may be empty)."""

    minutes: float
    what: str
    title: str
    detail: str
    why: str
    command: str


#: Columns of plain lines.
_WIDTH: Final = 80
#: Something beside the plan: a sentence, and the command that plays it (may be empty).
Extra = tuple[str, str]


def show_day(
    rows: Sequence[DayRow],
    head: str,
    foot: Iterable[str],
    console: Console,
    theme: Theme,
    extra: Extra | None = None,
) -> None:
    """A table: number, minutes, and beside them what, why and how. Fits 80 columns and less."""
    table = Table(
        box=box.ASCII2 if theme.ascii_only else box.SIMPLE_HEAD,
        title=theme.name(head),
        title_justify="left",
        title_style="bold",
        header_style="bold",
        show_lines=theme.ascii_only,
        pad_edge=theme.ascii_only,
        collapse_padding=not theme.ascii_only,
    )
    table.add_column("", justify="right", no_wrap=True)
    table.add_column("min", justify="right", no_wrap=True)
    table.add_column("", no_wrap=True)
    table.add_column("what and why", overflow="fold")
    for number, row in enumerate(rows, 1):
        cell = Text()
        cell.append(theme.name(row.title), BOLD)
        if row.detail:
            cell.append(f"  {theme.words(row.detail)}")
        cell.append(f"\n{theme.words(row.why)}")
        if row.command:
            cell.append(f"\n{row.command}", QUIET)
        table.add_row(str(number), f"{row.minutes:g}", theme.words(row.what), cell)
    console.print(table)
    if extra is not None:
        text, command = extra
        console.print(theme.words(text))
        if command:
            console.print(command, style=QUIET, soft_wrap=True)
    for line in foot:
        console.print(theme.words(line))


def day_lines(rows: Sequence[DayRow], head: str, foot: Iterable[str], extra: Extra | None = None) -> list[str]:
    """The same as plain lines for screen readers and pipes; a command is never broken."""
    lines = [head]
    for number, row in enumerate(rows, 1):
        detail = f" ({row.detail})" if row.detail else ""
        text = f"{number}. {row.minutes:g} min, {row.what}: {row.title}{detail}. {capital(row.why)}."
        lines += wrap(text, _WIDTH, subsequent_indent="   ")
        if row.command:
            lines.append(f"   {row.command}")
    if extra is not None:
        text, command = extra
        lines += [*wrap(text, _WIDTH), *([f"   {command}"] if command else [])]
    for line in foot:
        lines += wrap(line, _WIDTH)
    return lines
