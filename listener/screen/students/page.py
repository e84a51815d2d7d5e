"""A student's page as plain content, and as text or as an HTML file that needs nothing from elsewhere. Pure."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from html import escape
from textwrap import wrap
from typing import Final

#: Says who made a file, so that no other file is ever written over.
MARKER: Final = "widehand students"
_WIDTH: Final = 78
#: Takes in the picture; older ones are in the table.
_BARS: Final = 60
#: Characters of a cell that stay on one line: dates, shares, names of drills.
_SHORT: Final = 24

_HEAD: Final = """\
<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta name="generator" content="{marker}">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{title}</title>
<style>
body {{ font: 1rem/1.5 system-ui, sans-serif; max-width: 60rem; margin: 0 auto; padding: 1rem; color: #111; \
background: #fff; overflow-wrap: anywhere; }}
h1 {{ font-size: 1.6rem; line-height: 1.2; }} h2 {{ font-size: 1.15rem; margin: 2rem 0 .4rem; }}
div.wide {{ overflow-x: auto; }} table {{ border-collapse: collapse; }}
th, td {{ text-align: left; vertical-align: top; padding: .3rem .9rem .3rem 0; border-bottom: 1px solid #bbb; \
overflow-wrap: normal; }}
th {{ border-bottom: 2px solid #111; }} .number {{ text-align: right; }} .short {{ white-space: nowrap; }}
td:not(.short) {{ min-width: 9rem; }}
dl {{ display: grid; grid-template-columns: max-content 1fr; gap: .1rem 1rem; }} dd {{ margin: 0; }}
svg {{ width: 100%; max-width: 36rem; height: auto; }} footer {{ margin-top: 3rem; color: #444; font-size: .9rem; }}
</style>
</head>
<body>
"""


@dataclass(frozen=True)
class PageTable:
    """Rows of cells under column names. ``numbers`` are the columns (from 0) that are set to the right; ``links`` says
    where the first cell of each row leads, empty for nowhere."""

    title: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]
    numbers: frozenset[int] = frozenset()
    links: tuple[str, ...] = ()


@dataclass(frozen=True)
class Page:
    """``facts`` are names with their values, ``say`` sentences, ``shares`` numbers from 0 to 1 for the picture, oldest
    first, ``picture`` what it shows."""

    title: str
    facts: tuple[tuple[str, str], ...] = ()
    say: tuple[str, ...] = ()
    shares: tuple[float, ...] = ()
    picture: str = ""
    tables: tuple[PageTable, ...] = ()
    foot: tuple[str, ...] = ()


def text_page(page: Page) -> str:
    """The page for a terminal or a message, up to 78 characters wide where the tables allow."""
    return "\n".join(_text_lines(page)) + "\n"


def _text_lines(page: Page) -> Iterator[str]:
    yield page.title
    yield "=" * len(page.title)
    for name, value in page.facts:
        yield from wrap(f"{name}: {value}", _WIDTH, subsequent_indent="  ")
    if page.say:
        yield from ("", "What to say next", "----------------")
        for sentence in page.say:
            yield from wrap(sentence, _WIDTH, initial_indent="- ", subsequent_indent="  ")
    for table in page.tables:
        yield from ("", table.title, "-" * len(table.title))
        yield from _text_table(table)
    yield ""
    for line in page.foot:
        yield from wrap(line, _WIDTH)


def _text_table(table: PageTable) -> Iterator[str]:
    rows = [table.columns, *table.rows]
    widths = [max(len(row[column]) for row in rows) for column in range(len(table.columns))]
    for row in rows:
        cells = [
            cell.rjust(width) if column in table.numbers else cell.ljust(width)
            for column, (cell, width) in enumerate(zip(row, widths, strict=True))
        ]
        yield "  ".join(cells).rstrip()


def html_page(page: Page) -> str:
    """One file: no scripts, nothing fetched, readable in black and white and on a telephone."""
    return _HEAD.format(marker=MARKER, title=escape(page.title)) + "\n".join(_html_lines(page)) + "\n</body>\n</html>\n"


def _html_lines(page: Page) -> Iterator[str]:
    yield f"<h1>{escape(page.title)}</h1>"
    if page.facts:
        facts = "".join(f"<dt>{escape(name)}</dt><dd>{escape(value)}</dd>" for name, value in page.facts)
        yield f"<dl>{facts}</dl>"
    if page.say:
        yield "<h2>What to say next</h2>"
        yield "<ul>" + "".join(f"<li>{escape(sentence)}</li>" for sentence in page.say) + "</ul>"
    if page.shares:
        yield f"<h2>{escape(page.picture)}</h2>"
        yield _picture(page.shares[-_BARS:], page.picture)
    for table in page.tables:
        yield f"<h2>{escape(table.title)}</h2>"
        yield '<div class="wide"><table>'
        yield _html_row(table.columns, table.numbers, "th")
        for number, row in enumerate(table.rows):
            yield _html_row(row, table.numbers, "td", table.links[number] if table.links else "")
        yield "</table></div>"
    if page.foot:
        yield "<footer>" + "".join(f"<p>{escape(line)}</p>" for line in page.foot) + "</footer>"


def _html_row(cells: Sequence[str], numbers: frozenset[int], tag: str, link: str = "") -> str:
    shown = [escape(cell) for cell in cells]
    if link:
        shown[0] = f'<a href="{escape(link)}">{shown[0]}</a>'
    ranks = [
        ("number " if column in numbers else "") + ("short" if len(cell) <= _SHORT else "")
        for column, cell in enumerate(cells)
    ]
    return (
        "<tr>" + "".join(f'<{tag} class="{r}">{cell}</{tag}>' for r, cell in zip(ranks, shown, strict=True)) + "</tr>"
    )


def _picture(shares: Sequence[float], about: str) -> str:
    """Bars from 0 to 100 %, the newest at the right, with lines at a half and the whole."""
    said = f"{about}: {', '.join(f'{100 * share:.0f} %' for share in shares)}"
    step = 420 / max(12, len(shares))
    bars = "".join(
        f'<rect x="{56 + number * step + 0.1 * step:.1f}" y="{110 - 100 * share:.1f}" width="{0.8 * step:.1f}" '
        f'height="{100 * share:.1f}" fill="#333"/>'
        for number, share in enumerate(shares)
    )
    lines = "".join(
        f'<line x1="56" x2="476" y1="{y}" y2="{y}" stroke="#999"/>'
        f'<text x="50" y="{y + 4}" text-anchor="end" font-size="13">{percent}</text>'
        for y, percent in ((10, "100 %"), (60, "50 %"), (110, "0 %"))
    )
    return f'<svg viewBox="0 0 480 120" role="img" aria-label="{escape(said)}">{lines}{bars}</svg>'
