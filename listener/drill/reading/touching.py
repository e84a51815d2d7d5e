"""What a drill asks of the touch: voices held to the change, one that stands out, passages quiet and loud."""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.drill.drill import BALANCES, LEVELS, Step
from listener.drill.reading.fields import Table
from listener.music.pattern import Pattern

RING: Final = "ring"
BALANCE: Final = "balance"
LEVEL: Final = "level"
#: Fields of a passage; those of the whole drill are all but the last.
TOUCH_FIELDS: Final = (RING, BALANCE, LEVEL)
DRILL_TOUCH_FIELDS: Final = (RING, BALANCE)
#: The word for chords that no voice shall stand out of, where the drill says otherwise.
FREE: Final = "free"


@dataclass(frozen=True, slots=True)
class Touching:
    """The fields as read: see :class:`listener.drill.drill.Step`."""

    ring: bool = False
    balance: str | None = None
    level: str | None = None


def read_touching(table: Table, drill: Table, pattern: Pattern | None) -> Touching:
    """The fields of a passage, over those of its drill; what is wrong is reported and left out.

    Its ``pattern`` must not stop the strings where they are to ring.
    """
    ring = table.flag(RING, drill.values.get(RING) is True)
    if ring and pattern is not None and any(place.rests for place in pattern.places):
        text = "wants every voice held to the change, and the pattern stops the strings ('-')"
        table.wrong(RING, f"{text}; keep one of them, or write {RING} = false in this passage")
    return Touching(ring, read_balance(table if table.has(BALANCE) else drill), table.word(LEVEL, LEVELS))


def read_balance(table: Table) -> str | None:
    """The field ``balance``."""
    word = table.word(BALANCE, (*BALANCES, FREE))
    return None if word == FREE else word


def check_drill(table: Table, steps: tuple[Step, ...]) -> None:
    """Read the drill's own fields for their faults, and complain about a level that nothing is beside."""
    table.flag(RING, False)
    read_balance(table)
    levels = {step.level for step in steps} - {None}
    if len(levels) == 1:
        (level,) = levels
        other = next(word for word in LEVELS if word != level)
        passages = table.values.get("passage")
        entries = passages if isinstance(passages, list) else []
        for index, values in enumerate(entries):
            if isinstance(values, dict) and values.get(LEVEL) == level:
                text = f"'{LEVEL}' says {level}, and no passage says {other}; say which one it is beside"
                table.report.add(("passage", index, LEVEL), text)
                return
