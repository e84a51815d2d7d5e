"""The pictures of the progress page as SVG, drawn by matplotlib (the extra ``report``).

Static pictures without scripts, fonts or addresses, made to be read in black and white: bars differ by hatching, lines
by their markers, maps carry their numbers, and what is newest is labelled beside its point. Ink and fills are CSS
variables of the page, so that a dark page has light pictures. The same report gives the same bytes.
"""

from __future__ import annotations

import logging
import re
from collections.abc import Callable, Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass
from io import StringIO
from typing import Any, Final
from xml.sax.saxutils import escape

from listener.screen.progress.shown import LEAST_MINUTES, LEAST_MS
from listener.sheets.extras import extra

#: Width in CSS pixels for which everything is drawn: a phone's. Wider screens have two columns of larger pictures.
WIDTH: Final = 380
#: How dense the fill of a square gets at most, so that its number can be read on light and dark pages.
MOST_INK: Final = 0.45
#: matplotlib knows only fixed colours; these stand for the page's own.
INK, SOFT, FIRST, SECOND, PAPER = "#010203", "#040506", "#070809", "#0a0b0c", "#0d0e0f"
_ON_THE_PAGE: Final = {
    INK: "currentColor", SOFT: "var(--soft)", FIRST: "var(--first)", SECOND: "var(--second)", PAPER: "var(--paper)",
}  # fmt: skip
_SETTINGS: Final = {
    "svg.fonttype": "none", "svg.hashsalt": "widehand", "font.size": 11, "hatch.linewidth": 0.9,
    "text.color": INK, "axes.edgecolor": SOFT, "axes.labelcolor": INK, "xtick.color": INK, "ytick.color": INK,
    "axes.facecolor": "none", "figure.facecolor": "none", "savefig.facecolor": "none", "axes.spines.top": False,
    "axes.spines.right": False, "legend.frameon": False, "lines.linewidth": 1.6, "lines.markersize": 5.0,
    "patch.linewidth": 0.9, "axes.unicode_minus": False, "text.usetex": False, "text.parse_math": False,
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class Alt:
    """What a picture says to whoever cannot see it: a short name and a longer description."""

    title: str
    text: str


@contextmanager
def drawing(height: int, alt: Alt, name: str, found: list[str]) -> Iterator[Any]:
    """Axes to draw on, ``WIDTH`` by ``height`` pixels; the finished SVG is put into ``found`` at the end."""
    # Without a folder to keep its list of fonts in, the library says so on stderr each time; nobody can act on it.
    logging.getLogger("matplotlib").setLevel(logging.ERROR)
    library = extra("matplotlib", "the page with pictures (--html)", "report")
    figures = extra("matplotlib.figure", "the page with pictures (--html)", "report")
    with library.rc_context():
        library.rcdefaults()
        library.rcParams.update(_SETTINGS)
        figure = figures.Figure(figsize=(WIDTH / 72, height / 72), layout="constrained")
        axes = figure.subplots()
        yield axes
        text = StringIO()
        figure.savefig(text, format="svg", metadata={"Date": None, "Creator": None, "Format": None, "Type": None})
    found.append(_for_the_page(text.getvalue(), alt, name, height))


def _for_the_page(svg: str, alt: Alt, name: str, height: int) -> str:
    """Only the picture itself, with names of its own, the page's colours and fonts, and its alternative text."""
    inside = svg[svg.index(">", svg.index("<svg")) + 1 :]
    inside = re.sub(r"<metadata>.*?</metadata>\s*", "", inside, count=1, flags=re.S)
    inside = re.sub(r"<!--.*?-->\s*", "", inside, flags=re.S)
    inside = re.sub(r"""\b(id="|xlink:href="#|url\(#)""", rf"\g<1>{name}-", inside).replace("xlink:href", "href")
    inside = re.sub(r"font: ([\d.]+)px [^;\"]*", r"font: \1px system-ui, sans-serif", inside)
    for colour, page in _ON_THE_PAGE.items():
        inside = inside.replace(colour, page)
    head = (
        f'<svg viewBox="0 0 {WIDTH} {height}" role="img" aria-labelledby="{name}-title {name}-text">\n'
        f'<title id="{name}-title">{escape(alt.title)}</title>\n<desc id="{name}-text">{escape(alt.text)}</desc>\n'
    )
    return head + inside.strip()


def drawn(height: int, alt: Alt, name: str, draw: Callable[[Any], None]) -> str:
    """One picture."""
    found: list[str] = []
    with drawing(height, alt, name, found) as axes:
        draw(axes)
    return found[0]


def time_axis(axes: Any, labels: Sequence[str]) -> None:
    """One place for each period; about four of them are named, the newest always."""
    count = len(labels)
    shown = sorted({round((count - 1) * part / 3) for part in range(4)})
    axes.set_xlim(-0.6, count - 0.4 + 0.08 * count)
    axes.set_xticks(shown, [labels[place] for place in shown])
    axes.tick_params(length=3)


def shares(axes: Any, labels: Sequence[str], columns: Sequence[tuple[float, float, float] | None]) -> None:
    """Hits, near misses and misses in percent on top of each other."""
    places = [place for place, column in enumerate(columns) if column is not None]
    known = [column for column in columns if column is not None]
    styles = ({"color": FIRST, "label": "hit"}, {"color": "none", "hatch": "////", "label": "near"},
              {"color": "none", "label": "miss"})  # fmt: skip
    bottom = [0.0] * len(known)
    for index, style in enumerate(styles):
        heights = [column[index] for column in known]
        axes.bar(places, heights, bottom=bottom, width=0.78, edgecolor=FIRST, **style)
        bottom = [low + height for low, height in zip(bottom, heights, strict=True)]
    _percent_axis(axes)
    time_axis(axes, labels)
    axes.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=3, handlelength=1.6, columnspacing=1.4)


def line(axes: Any, labels: Sequence[str], values: Sequence[float | None], *, marker: str, unit: str = "") -> None:
    """One value for each period, 0 to 100; where nothing was played the line is broken."""
    nan = float("nan")
    axes.plot(
        range(len(values)), [nan if value is None else value for value in values], color=FIRST, marker=marker,
        markerfacecolor=PAPER, markeredgewidth=1.4,
    )  # fmt: skip
    last = max((place for place, value in enumerate(values) if value is not None), default=None)
    if last is not None:
        _beside(axes, last, values[last] or 0.0, f"{values[last]:.0f}{unit}")
    _percent_axis(axes)
    time_axis(axes, labels)


def ranges(axes: Any, labels: Sequence[str], values: Sequence[tuple[float, float] | None]) -> None:
    """Mean and spread in ms; the click is the line across."""
    known = [(place, *value) for place, value in enumerate(values) if value is not None]
    places, means, spreads = zip(*known, strict=True)
    axes.axhline(0, color=SOFT, linewidth=1.2, linestyle=(0, (4, 3)))
    axes.errorbar(places, means, yerr=spreads, fmt="o", color=FIRST, markerfacecolor=FIRST, elinewidth=1.4, capsize=3)
    _beside(axes, places[-1], means[-1], f"{means[-1]:+.0f}")
    reach = max(LEAST_MS, 1.15 * max(abs(mean) + spread for _, mean, spread in known))
    axes.set_ylim(-reach, reach)
    axes.set_ylabel("ms; late is up")
    time_axis(axes, labels)


def minutes(
    axes: Any, labels: Sequence[str], whole: Sequence[float], stretch: Sequence[float | None], marked: Sequence[bool]
) -> None:
    """Minutes as bars, what of them was stretch as a hatched bar within, an arrow over a jump."""
    axes.bar(range(len(whole)), whole, width=0.78, color="none", edgecolor=FIRST, label="minutes played")
    if any(value is not None for value in stretch):
        load = [value or 0.0 for value in stretch]
        axes.bar(range(len(load)), load, width=0.78, color="none", edgecolor=FIRST, hatch="\\\\\\\\",
                 label="weighted by stretch")  # fmt: skip
    top = max(LEAST_MINUTES, 1.18 * max(whole))
    for place, mark in enumerate(marked):
        if mark:
            axes.text(place, whole[place] + 0.02 * top, "▼", ha="center", va="bottom", color=SECOND)
    if len(whole) > 0:
        _beside(axes, len(whole) - 1, whole[-1], f"{whole[-1]:.0f}")
    axes.set_ylim(0, top)
    time_axis(axes, labels)
    axes.legend(loc="lower left", bbox_to_anchor=(-0.02, 1.0), ncols=2, handlelength=1.6, columnspacing=1.4)


def tempos(axes: Any, rows: Sequence[tuple[str, float | None, float | None, float]]) -> None:
    """From the first tempo reached to the highest, a row for each drill; a cross for the highest that was tried."""
    for place, (_, first, highest, tried) in enumerate(rows):
        if highest is None or tried > highest:
            axes.plot([tried], [place], marker="x", color=SECOND, markersize=7, linestyle="none")
        if first is not None and highest is not None:
            axes.plot([first, highest], [place, place], color=FIRST, linewidth=2.2, zorder=1)
            axes.plot([first], [place], marker="o", color=FIRST, markerfacecolor=PAPER, markersize=7)
            axes.plot([highest], [place], marker="o", color=FIRST, markersize=7)
            axes.annotate(f"{highest:g}", (highest, place), (0, 8), textcoords="offset points", ha="center")
    axes.set_yticks(range(len(rows)), [name for name, *_ in rows])
    axes.set_ylim(len(rows) - 0.4, -0.7)
    known = [tempo for _, *found in rows for tempo in found if tempo is not None]
    axes.set_xlim(min(known) - 6, max(known) + 6)
    axes.set_xlabel("beats per minute")
    axes.spines["left"].set_visible(False)
    axes.tick_params(axis="y", length=0)
    axes.grid(axis="y", color=SOFT, alpha=0.4, linewidth=0.7)


def squares(
    axes: Any,
    rows: Sequence[str],
    columns: Sequence[str],
    cells: Mapping[tuple[int, int], tuple[str, float]],
) -> None:
    """A map: a square with its number at (row, column); the more ink (0 to 1), the more it asks for a look."""
    patches = extra("matplotlib.patches", "the page with pictures (--html)", "report")
    for (row, column), (text, ink) in cells.items():
        place = (column - 0.46, row - 0.46)
        axes.add_patch(patches.Rectangle(place, 0.92, 0.92, facecolor=PAPER, edgecolor="none", zorder=2))
        axes.add_patch(
            patches.Rectangle(place, 0.92, 0.92, facecolor=FIRST, alpha=MOST_INK * ink, edgecolor="none", zorder=3)
        )
        axes.add_patch(patches.Rectangle(place, 0.92, 0.92, facecolor="none", edgecolor=FIRST, linewidth=0.8, zorder=4))
        size = 10.5 if len(text) < 4 else 10
        axes.text(column, row, text, ha="center", va="center_baseline", color=INK, fontsize=size)
    axes.set_xlim(-0.6, len(columns) - 0.4)
    axes.set_ylim(len(rows) - 0.4, -0.6)
    axes.set_xticks(range(len(columns)), columns)
    axes.set_yticks(range(len(rows)), rows)
    axes.xaxis.tick_top()
    axes.tick_params(length=0)
    axes.grid(color=SOFT, alpha=0.35, linewidth=0.7)
    axes.set_axisbelow(True)
    for spine in axes.spines.values():
        spine.set_visible(False)


def _percent_axis(axes: Any) -> None:
    axes.set_ylim(0, 104)
    axes.set_yticks([0, 25, 50, 75, 100])
    axes.grid(axis="y", color=SOFT, alpha=0.4, linewidth=0.7)
    axes.set_axisbelow(True)


def _beside(axes: Any, place: float, value: float, text: str) -> None:
    axes.annotate(text, (place, value), (7, 0), textcoords="offset points", va="center", fontweight="bold")
