"""Contrast: the same changes (or others) quiet and wide, then loud and full, like a verse and its chorus.

It is two progressions in turn. ``quiet`` and ``loud`` are tables whose fields go before those of the passage.
"""

from __future__ import annotations

from typing import Final

from listener.drill.drill import LOUD, QUIET
from listener.drill.exercises.chords import NOTATIONS
from listener.drill.exercises.progression import FIELDS as PROGRESSION_FIELDS
from listener.drill.reading.fields import Table
from listener.drill.reading.patterns import PATTERN
from listener.drill.reading.touching import DRILL_TOUCH_FIELDS, LEVEL
from listener.drill.reading.wish_fields import WISH_FIELDS

FIELDS: Final = (*PROGRESSION_FIELDS, "turns", QUIET, LOUD)
#: How each side is played, for its name, and its kind where nothing is said.
SIDES: Final = {QUIET: ("picked", "spread or drop 2"), LOUD: ("strummed", "full")}
_INNER: Final = ("name", "strictness", PATTERN, *DRILL_TOUCH_FIELDS, *PROGRESSION_FIELDS, *WISH_FIELDS)
_OUTER_ONLY: Final = ("exercise", "turns", QUIET, LOUD, "keys", "shuffle", "seed", LEVEL)


def sides(table: Table, name: str) -> list[tuple[str, Table]]:
    """The two progressions in the order in which they are played, each with its name."""
    turns = table.whole("turns", 1, 20) or 1
    if table.has(LEVEL):
        table.wrong(LEVEL, f"is what '{QUIET}' and '{LOUD}' say here; leave it out")
    pair = [_side(table, name, side) for side in SIDES]
    return pair * turns


def _side(table: Table, name: str, side: str) -> tuple[str, Table]:
    how, kind = SIDES[side]
    own = table.inner(side, f'a table such as {{ kind = "{kind}" }}') or Table({}, table.place(side), table.report)
    own.check_names(_INNER, f"'{side}'")
    left = _OUTER_ONLY + (NOTATIONS if any(map(own.has, NOTATIONS)) else ())
    found = table.with_inner(side, left)
    found = found.with_values({LEVEL: side} if found.has("kind") else {"kind": kind, LEVEL: side})
    return own.text("name") or f"{name}, {side} and {how}", found
