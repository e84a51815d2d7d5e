"""Meters: how many beats a bar has, and which note lasts a beat."""

from __future__ import annotations

import re
from typing import Final

_METER: Final = re.compile(r"(\d{1,2})/(\d{1,2})")
_UNITS: Final = (1, 2, 4, 8, 16)
_MOST_BEATS: Final = 16


def read_meter(text: str) -> tuple[int, int] | None:
    """A meter as it is written; None for what is none that a drill can have.

    >>> read_meter("6/8"), read_meter("4/5")
    ((6, 8), None)
    """
    match = _METER.fullmatch(text.strip())
    if match is None or not 1 <= int(match[1]) <= _MOST_BEATS or int(match[2]) not in _UNITS:
        return None
    return int(match[1]), int(match[2])
