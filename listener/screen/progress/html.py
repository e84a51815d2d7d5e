"""Progress as one page of HTML: the words, a picture for each question, and its numbers in a table beneath.

One file with everything in it: no script, no font, no address, and a policy that forbids the browser to fetch any.
It is laid out for a phone; a wider screen has two columns, a dark one light ink, and paper black ink only.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from html import escape
from typing import Final

from listener.history.progress.report import ProgressReport

STYLE: Final = """
:root { color-scheme: light dark; --ink: #1b1d22; --paper: #fdfdfb; --soft: #8a8d94; --line: #d9d9d3;
  --first: #0a5c96; --second: #b04a00; --care: #fbf3e4; }
@media (prefers-color-scheme: dark) { :root { --ink: #e4e5e8; --paper: #17191d; --soft: #8d9098; --line: #34373d;
  --first: #7db7e8; --second: #f0a35e; --care: #2a2418; } }
* { box-sizing: border-box; }
body { margin: 0; background: var(--paper); color: var(--ink); font: 1rem/1.5 system-ui, sans-serif; }
main { max-width: 74rem; margin: 0 auto; padding: 1rem; }
h1 { font-size: 1.5rem; margin: .2rem 0 .6rem; }
h2 { font-size: 1.1rem; margin: 0 0 .2rem; }
p { margin: 0 0 .7rem; max-width: 46rem; overflow-wrap: anywhere; }
.lead { font-size: 1.15rem; }
.care { border-left: .3rem solid var(--second); background: var(--care); padding: .5rem .8rem; }
.quiet { color: var(--ink); opacity: .75; font-size: .9rem; }
.pictures { display: grid; gap: 1.6rem 2rem; grid-template-columns: minmax(0, 1fr); margin-top: 1.4rem; }
@media (min-width: 56rem) { .pictures { grid-template-columns: repeat(2, minmax(0, 1fr)); } }
figure { margin: 0; border-top: 1px solid var(--line); padding-top: .8rem; break-inside: avoid; }
figure svg { display: block; width: 100%; max-width: 36rem; height: auto; }
summary { cursor: pointer; padding: .4rem 0; }
.table { overflow-x: auto; max-height: 24rem; overflow-y: auto; }
table { border-collapse: collapse; font-size: .9rem; font-variant-numeric: tabular-nums; }
th, td { text-align: right; padding: .15rem .7rem .15rem 0; border-bottom: 1px solid var(--line); white-space: nowrap; }
th { font-weight: 600; }
th:first-child, td:first-child { text-align: left; }
@media print { :root { --ink: #000; --paper: #fff; --first: #000; --second: #000; --soft: #777; --care: #fff; }
  .pictures { grid-template-columns: repeat(2, minmax(0, 1fr)); } .table { max-height: none; } }
""".strip()
#: A table on the page has at most so many rows; CSV has them all.
MOST_ROWS: Final = 400


@dataclass(frozen=True, slots=True)
class Picture:
    """One question with its answer: ``svg`` is the picture, ``note`` how to read it, then the numbers themselves."""

    title: str
    svg: str
    note: str
    columns: tuple[str, ...]
    rows: tuple[tuple[str, ...], ...]


def page(report: ProgressReport, lead: Sequence[str], pictures: Iterable[Picture], program: str) -> str:
    """The whole page. ``lead`` are the paragraphs before the pictures, the first of them the one that matters most;
    ``program`` says what made it."""
    title = _title(report)
    first, *others = lead
    care = report.words.care
    words = [f'<p class="lead">{escape(first)}</p>']
    words += [f'<p class="care" role="note">{escape(text)}</p>' if text == care else f"<p>{escape(text)}</p>"
              for text in others]  # fmt: skip
    shown = "\n".join(map(_figure, pictures))
    return f"""<!DOCTYPE html>
<html lang="en">
<head>
<meta charset="utf-8">
<meta name="viewport" content="width=device-width, initial-scale=1">
<meta http-equiv="Content-Security-Policy" content="default-src 'none'; style-src 'unsafe-inline'">
<title>{escape(title)}</title>
<style>
{STYLE}
</style>
</head>
<body>
<main>
<h1>{escape(title)}</h1>
{chr(10).join(words)}
<div class="pictures">
{shown}
</div>
<p class="quiet">{escape(program)}</p>
</main>
</body>
</html>
"""


def _title(report: ProgressReport) -> str:
    about = f" with {report.drill}" if report.drill else ""
    since = f" since {report.since.isoformat()}" if report.since else ""
    return f"How it went{about}{since}"


def _figure(picture: Picture) -> str:
    return f"""<figure>
<figcaption><h2>{escape(picture.title)}</h2></figcaption>
{picture.svg}
<p class="quiet">{escape(picture.note)}</p>
<details><summary>The numbers</summary><div class="table">
{_table(picture.columns, picture.rows)}
</div></details>
</figure>"""


def _table(columns: Sequence[str], rows: Sequence[Sequence[str]]) -> str:
    head = "".join(f'<th scope="col">{escape(name)}</th>' for name in columns)
    shown = ["<tr>" + "".join(f"<td>{escape(cell)}</td>" for cell in row) + "</tr>" for row in rows[:MOST_ROWS]]
    if len(rows) > MOST_ROWS:
        more = f"and {len(rows) - MOST_ROWS} more; the tables of --csv and --csv-changes have all of them"
        shown.append(f'<tr><td colspan="{len(columns)}">{more}</td></tr>')
    return f"<table>\n<thead><tr>{head}</tr></thead>\n<tbody>\n{chr(10).join(shown)}\n</tbody>\n</table>"
