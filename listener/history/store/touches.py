"""What the touch of a take came to, as a text beside it (:mod:`listener.judging.touch.account` says what it means).

It does not follow from the verdicts, so it is kept when the take ends or is judged again, with a seal of its own. It is
NULL for takes of older programs, for one that was cut off, and where it could not be trusted any more; judging the take
again makes it anew from its MIDI.
"""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import Any, Final

from listener.history.safekeeping.seals import seal_of
from listener.history.store.backend import Rows
from listener.history.store.rows import compact
from listener.judging.touch.account import TOUCH_SUMS, Degree, TouchAccount
from listener.records import is_whole

_PUT: Final = "UPDATE take SET touch = :touch, touch_seal = :touch_seal WHERE id = :take"
#: Degrees of chords that there can be, and characters of one.
_DEGREES: Final = 64
_LONGEST: Final = 8
#: No take has more of anything; times in ms and products of counts are far below.
_MOST: Final = 2**53


def touch_row(account: TouchAccount) -> dict[str, object]:
    """The sums by name, without those that are none, and for each degree its counts."""
    sums = {name: getattr(account, name) for name in TOUCH_SUMS if getattr(account, name)}
    return {**sums, "early": [[one.degree, one.early, one.alone, one.of] for one in account.early]}


def touch_of(row: Mapping[str, Any]) -> TouchAccount:
    """The account that :func:`touch_row` described; names of a later program are passed over. ValueError for anything
    else."""
    early = row.get("early", [])
    if not isinstance(early, list) or len(early) > _DEGREES:
        raise ValueError("a list of degrees that is none")
    return TouchAccount(
        **{name: _count(row.get(name, 0)) for name in TOUCH_SUMS},
        early=tuple(_degree(entry) for entry in early),
    )


def _degree(entry: object) -> Degree:
    if not isinstance(entry, list) or len(entry) != 4:
        raise ValueError("a degree that is none")
    name, *counts = entry
    if not isinstance(name, str) or not 0 < len(name) <= _LONGEST or not name.isascii() or not name.isalnum():
        raise ValueError("a degree without a name")
    return Degree(name, *map(_count, counts))


def _count(value: object) -> int:
    if not is_whole(value) or not 0 <= value < _MOST:
        raise ValueError("a count that is none")
    return value


def put_touch(db: Rows, take: int, account: TouchAccount | None) -> None:
    """Keep what the touch of a take came to; None where nobody knows."""
    text = compact(touch_row(account)) if account is not None else None
    db.rows(_PUT, take=take, touch=text, touch_seal=None if text is None else touch_seal(text))


def touch_seal(text: str) -> int:
    """The seal of a kept text."""
    return seal_of([text])


def touch_from(text: str | None) -> TouchAccount | None:
    """A kept text read; None where there is none, or none that makes sense."""
    try:
        return None if text is None else touch_of(json.loads(text))
    except (AttributeError, TypeError, ValueError):
        return None
