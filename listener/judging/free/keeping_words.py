"""What is said of playing that became a drill: where its bars come from, and what could not be understood."""

from __future__ import annotations

from collections.abc import Mapping, Sequence
from typing import Final

from listener.drill.making.played import PlayedChord, Unclear
from listener.hearing.cleaning import counted_words

#: Places and parts that are said one by one.
_MOST: Final = 12
_COUNTS: Final = {2: "two", 3: "three", 4: "four", 5: "five", 6: "six", 7: "seven", 9: "nine", 12: "twelve"}


def clock(time_s: float) -> str:
    """A time in a take, in minutes and seconds.

    >>> clock(67.42)
    '1:07.4'
    """
    tenths = round(10 * max(0.0, time_s))
    return f"{tenths // 600}:{tenths // 10 % 60:02}.{tenths % 10}"


def pace_words(tempo: float, meter: tuple[int, int]) -> str:
    """``92 a minute, four beats in a bar``."""
    count, unit = meter
    return f"{tempo:g} a minute, {_COUNTS.get(count, count)} {'eighths' if unit == 8 else 'beats'} in a bar"


def cleaned_words(cleaned: Mapping[str, int]) -> list[str]:
    """What of the pickup's errors was set right."""
    said = counted_words(cleaned)
    return [f"Of the pickup's errors: {', '.join(said)}."] if said else []


def unclear_words(unclear: Sequence[Unclear]) -> list[str]:
    """The places that were not clear, one by one, as far as anybody reads."""
    lines = [f"At {clock(one.from_s)}: {one.text}." for one in unclear[:_MOST]]
    if len(unclear) > _MOST:
        lines.append(f"And {len(unclear) - _MOST} more such places; --json lists them all.")
    return lines


def nothing_words(name: str, unclear: Sequence[Unclear]) -> str:
    """That there is no chord, and what there is."""
    if not unclear:
        return f"{name}: nothing was heard in it, so there is nothing to keep"
    more = len(unclear) - 1
    others = f", and {more} more such place{'s' if more > 1 else ''}" if more else ""
    return f"{name}: no chord was heard in it; at {clock(unclear[0].from_s)}: {unclear[0].text}{others}"


def part_list(parts: Sequence[Sequence[PlayedChord]]) -> str:
    """The parts of a take, with their times."""
    shown = [
        f"{number} from {clock(part[0].onset_s)} to {clock(part[-1].end_s)}"
        for number, part in enumerate(parts[:_MOST], start=1)
    ]
    more = f" and {len(parts) - _MOST} more" if len(parts) > _MOST else ""
    return f"there {'is' if len(parts) == 1 else 'are'} {', '.join(shown)}{more}"
