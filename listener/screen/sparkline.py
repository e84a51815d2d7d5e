"""A row of small bars: how a number went over time, in one line of text."""

from __future__ import annotations

import os
import sys
from collections.abc import Mapping, Sequence
from itertools import pairwise
from typing import Final

from listener.screen.theme import theme_for

#: Eighths of a character cell (Unicode block elements, U+2581 to U+2588), lowest first.
BLOCKS: Final = "▁▂▃▄▅▆▇█"
#: The same idea where the blocks cannot be shown: height by where the ink lies, and no mark of a grade among them.
PLAIN: Final = ".-+=#"
#: Shown where there is no value.
GAP: Final = " "


def sparkline(
    values: Sequence[float | None],
    width: int,
    plain: bool = False,
    *,
    low: float | None = None,
    high: float | None = None,
) -> str:
    """At most ``width`` characters, oldest value left; more values than that are averaged in neighbouring groups.

    The lowest bar stands for ``low`` and the highest for ``high`` (by default the smallest and largest value); values
    beyond them are drawn at the edge, None as a gap. When all values are the same and no range is given, the bars are
    of middle height. ``plain`` uses ASCII only.

    >>> sparkline([0, 25, 50, 75, 100], 5)
    '▁▃▅▆█'
    >>> sparkline([0, None, 100], 10, plain=True)
    '. #'
    """
    bars = PLAIN if plain else BLOCKS
    shown = _grouped(values, max(1, width))
    known = [value for value in shown if value is not None]
    if not known:
        return GAP * len(shown)
    bottom = min(known) if low is None else low
    top = max(known) if high is None else high
    return "".join(GAP if value is None else bars[_height(value, bottom, top, len(bars))] for value in shown)


def _height(value: float, bottom: float, top: float, count: int) -> int:
    if top <= bottom:
        return count // 2
    share = min(1.0, max(0.0, (value - bottom) / (top - bottom)))
    return int(share * (count - 1) + 0.5)


def _grouped(values: Sequence[float | None], width: int) -> list[float | None]:
    if len(values) <= width:
        return list(values)
    edges = [len(values) * column // width for column in range(width + 1)]
    return [_mean(values[start:end]) for start, end in pairwise(edges)]


def _mean(values: Sequence[float | None]) -> float | None:
    known = [value for value in values if value is not None]
    return sum(known) / len(known) if known else None


def wants_plain(encoding: str | None, environment: Mapping[str, str]) -> bool:
    """Whether only ASCII should be used: NO_COLOR is set, or the terminal cannot show the blocks or the other signs."""
    if environment.get("NO_COLOR") or theme_for(encoding, environment=environment).ascii_only:
        return True
    try:
        BLOCKS.encode(encoding or "ascii")
    except (UnicodeEncodeError, LookupError):
        return True
    return False


def output_wants_plain() -> bool:
    """The same of standard output."""
    return wants_plain(sys.stdout.encoding, os.environ)
