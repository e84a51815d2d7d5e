"""What to practise with the minutes there are: a plan for the day. Pure; whatever is due was found out before.

The order is that of a careful teacher (common practice, and our own choice where it gets down to numbers): an easy
stretch first, then what is due, the changes that stick, something new when little is due, and what is left goes to
drills played longest ago. Neighbours differ in their kind of voicing where that can be had: mixed practice feels harder
and is kept better in many motor tasks (C. Shea and R. Morgan, Journal of Experimental Psychology: Human Learning and
Memory 5, 1979; from memory; not tried on chords). Rests follow the rules of :mod:`listener.session.rest`.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.session.day.day import LEAST_MINUTES, REST, Choice, Day, Slot
from listener.session.day.work import down, work_of
from listener.session.rest import RESTED_S, USUAL_S

#: Minutes of a rest.
REST_MINUTES: Final = RESTED_S / 60.0
_REST_WORDS: Final = "put the guitar down, let the arms hang, look far away"
#: A stretch may be this much longer than an even share, since it ends where an item ends. Our own choice.
_EVEN: Final = 1.15


def plan_day(choice: Choice, minutes: float, rest_after_s: float = USUAL_S) -> Day:
    """The plan for so many minutes, never longer. The same question has the same answer.

    Between two rests the hand never works longer than ``rest_after_s``. ValueError below :data:`LEAST_MINUTES`.
    """
    if minutes < LEAST_MINUTES:
        raise ValueError(f"a plan needs {LEAST_MINUTES} minutes")
    limit = rest_after_s / 60.0
    slots = _slots(choice, down(minutes), limit)
    shown = {key for slot in slots for key in (slot.piece.covers if slot.piece is not None else slot.skills)}
    return Day(slots, sum(one.key not in shown for one in choice.due))


def _slots(choice: Choice, minutes: float, limit: float) -> tuple[Slot, ...]:
    """As few rests as will do, and those at even distances."""
    rests = 0
    while (playing := minutes - rests * REST_MINUTES) >= min(minutes, REST_MINUTES):
        # An item takes at most half of what the hand may do in one go, so that there is always a place for a rest.
        work = work_of(choice, playing, limit / 2)
        even = _EVEN * sum(slot.load for slot in work) / (rests + 1)
        for most in (even, limit) if even < limit else (limit,):
            slots = _with_rests(work, most)
            if len(slots) - len(work) <= rests:
                return slots
        rests += 1
    return _cut(_with_rests(work_of(choice, minutes, limit / 2), limit), minutes)


def _with_rests(work: Sequence[Slot], most: float) -> tuple[Slot, ...]:
    """A rest before every item that would bring more than so many minutes of load together."""
    found: list[Slot] = []
    load = 0.0
    for slot in work:
        if found and load + slot.load > most:
            found.append(Slot(REST, REST_MINUTES, why=_REST_WORDS))
            load = 0.0
        found.append(slot)
        load += slot.load
    return tuple(found)


def _cut(slots: Sequence[Slot], minutes: float) -> tuple[Slot, ...]:
    """What fits, and no rest at the end."""
    found: list[Slot] = []
    for slot in slots:
        minutes -= slot.minutes
        if minutes < 0:
            break
        found.append(slot)
    while len(found) > 1 and found[-1].what == REST:
        found.pop()
    return tuple(found)
