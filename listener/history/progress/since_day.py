"""From when on takes count: a date, or so many days, weeks, months or years ago. Pure."""

from __future__ import annotations

import re
from calendar import monthrange
from datetime import date, timedelta
from typing import Final

from listener.safe_text import echo

_AGO: Final = re.compile(r"(\d{1,5})([dwmy])")
_HOW: Final = "give a date such as 2031-09-01, or how long ago: 10d, 4w, 3m, 1y"


def since_day(text: str, today: date) -> date:
    """The first day that counts; ValueError with a line for the player when it cannot be read or is still to come.

    >>> since_day("3m", date(2031, 5, 31))
    datetime.date(2031, 2, 28)
    """
    ago = _AGO.fullmatch(text.strip().lower())
    day = _before(int(ago[1]), ago[2], today) if ago else _read(text.strip())
    if day > today:
        raise ValueError(f"{echo(text)} is still to come; {_HOW}")
    return day


def _read(text: str) -> date:
    # Python reads more forms of ISO 8601 than people write; one is enough.
    if not re.fullmatch(r"\d{4}-\d{2}-\d{2}", text, re.ASCII):
        raise ValueError(f"'{echo(text)}' is not a date; {_HOW}")
    try:
        return date.fromisoformat(text)
    except ValueError:
        raise ValueError(f"{echo(text)} is not in the calendar; {_HOW}") from None


def _before(count: int, unit: str, today: date) -> date:
    """That long ago; the last day of a month that is too short. Never before the calendar begins."""
    try:
        if unit in "dw":
            return today - timedelta(days=count * (7 if unit == "w" else 1))
        months = 12 * today.year + today.month - 1 - count * (12 if unit == "y" else 1)
        year, month = months // 12, months % 12 + 1
        return date(year, month, min(today.day, monthrange(year, month)[1]))
    except (OverflowError, ValueError):
        return date.min
