"""What to practise with the minutes there are: a plan for the day. Pure; whatever is due was found out before.

The order is that of a careful teacher (common practice, and our own choice where it gets down to numbers): an easy
stretch first, then what is due, the changes that stick, something new when little is due, and what is left goes to
drills played longest ago. Neighbours differ in their kind of voicing where that can be had: mixed practice feels harder
and is kept better in many motor tasks (C. Shea and R. Morgan, Journal of Experimental Psychology: Human Learning and
Memory 5, 1979; value from memory; not tried on chords). Rests follow the rules of :mod:`listener.session.rest`.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from listener.session.rest import AT_THE_LIMIT, RESTED_S, USUAL_S

WARM_UP: Final = "warm-up"
DUE: Final = "due"
CHANGES: Final = "changes"
NEW: Final = "new"
AGAIN: Final = "again"
REST: Final = "rest"

#: Everything is counted in half minutes.
GRAIN: Final = 0.5
LEAST_MINUTES, MOST_MINUTES = 5, 240
#: Minutes of a rest.
REST_MINUTES: Final = RESTED_S / 60.0
#: Share of the time for the easy stretch, and its limits in minutes.
_WARM_SHARE, _LEAST_WARM, _MOST_WARM = 0.15, 1.0, 5.0
#: The easy stretch is played at this share of the usual tempo.
EASY_TEMPO: Final = 0.75
#: Share of the time for weak changes at most, and minutes for each of them.
_WEAK_SHARE, _WEAK_EACH, _MOST_WEAK = 0.25, 1.0, 6
#: Minutes for a shape that is due and in none of the drills at hand; so many in one go.
_SHAPE_EACH, _MOST_SHAPES = 0.5, 8
#: A drill is worth playing for what is due in it when it has so many of them (or all there are).
_WORTH: Final = 3
#: Minutes at a stretch with one drill: from where it is enough, and never more when there are others.
_ENOUGH, _LONGEST = 3.0, 8.0
#: New drills in one day: when skills are known already, and on the first days.
_NEW_USUAL, _NEW_FIRST = 1, 3


@dataclass(frozen=True, slots=True)
class Piece:
    """Something that can be played. ``minutes`` once through, with count-in and a breath; ``tempo`` in beats a minute;
    ``strain`` is its mean, 0 to 1; ``group`` its kinds of voicing, for mixing; ``covers`` the skills it shows."""

    drill: str
    title: str
    minutes: float
    tempo: float
    group: str = ""
    strain: float = 0.0
    covers: frozenset[str] = frozenset()


@dataclass(frozen=True, slots=True)
class DueSkill:
    """A skill that is due, how pressing (0 to 1), and its kind of voicing."""

    key: str
    urgency: float
    group: str = ""


@dataclass(frozen=True, slots=True)
class Choice:
    """What there is to choose from. ``played`` comes longest ago first, ``fresh`` (of the course, not played yet) in the
    order of the course, ``due`` and ``weak`` most pressing first."""

    due: tuple[DueSkill, ...] = ()
    weak: tuple[DueSkill, ...] = ()
    played: tuple[Piece, ...] = ()
    fresh: tuple[Piece, ...] = ()


@dataclass(frozen=True, slots=True)
class Slot:
    """One item of the day. Without a ``piece`` and with ``skills`` the drill is written for them; a rest, and a warm-up
    of the player's own, have neither. ``times`` through in ``minutes``."""

    what: str
    minutes: float
    piece: Piece | None = None
    skills: tuple[str, ...] = ()
    times: int = 1
    tempo: float | None = None
    group: str = ""
    why: str = ""

    @property
    def strain(self) -> float:
        """0 to 1; written drills count as half-way."""
        return self.piece.strain if self.piece is not None else 0.5 if self.skills else 0.0


@dataclass(frozen=True, slots=True)
class Day:
    """The plan: its items in order. ``waiting`` counts what is due and found no room."""

    slots: tuple[Slot, ...]
    waiting: int = 0

    @property
    def minutes(self) -> float:
        """All together, rests too."""
        return sum(slot.minutes for slot in self.slots)


def plan_day(choice: Choice, minutes: float, rest_after_s: float = USUAL_S) -> Day:
    """The plan for so many minutes, never longer. The same question has the same answer.

    ValueError below :data:`LEAST_MINUTES`.
    """
    if minutes < LEAST_MINUTES:
        raise ValueError(f"a plan needs {LEAST_MINUTES} minutes")
    budget = math.floor(minutes / GRAIN) * GRAIN
    rests = 0
    while True:
        work, waiting = _work(choice, budget - rests * REST_MINUTES)
        slots = _with_rests(work, rests)
        if slots is not None and _rested(slots, rest_after_s):
            return Day(slots, waiting)
        rests += 1


# -- rests


def _with_rests(work: Sequence[Slot], rests: int) -> tuple[Slot, ...] | None:
    """Rests between the slots, where an even share of the playing is over; None with fewer gaps than rests."""
    whole = sum(slot.minutes for slot in work)
    if rests >= len(work) > 1:
        return None
    found: list[Slot] = []
    played, given = 0.0, 0
    for place, slot in enumerate(work):
        found.append(slot)
        played += slot.minutes
        share = played / whole
        gaps_left = len(work) - 1 - place
        if given < rests and gaps_left and (share >= (given + 1) / (rests + 1) - 0.1 or gaps_left <= rests - given):
            found.append(Slot(REST, REST_MINUTES, why="put the guitar down, let the arm hang, look far away"))
            given += 1
    return tuple(found)


def _rested(slots: Iterable[Slot], rest_after_s: float) -> bool:
    """Whether no stretch between two rests is longer than a hand should work; strain counts as in ``rest``."""
    limit = rest_after_s / 60.0
    minutes = strained = 0.0
    for slot in slots:
        if slot.what == REST:
            minutes = strained = 0.0
            continue
        minutes += slot.minutes
        strained += slot.minutes * slot.strain
        if max(minutes, strained / AT_THE_LIMIT) > limit:
            return False
    return True


# -- work


def _work(choice: Choice, minutes: float) -> tuple[tuple[Slot, ...], int]:
    """The slots without rests, and how many due skills are left."""
    warm = _warm_up(choice, minutes)
    left = minutes - warm.minutes
    weak = _weak(choice, left)
    left -= sum(slot.minutes for slot in weak)
    due, waiting = _due(choice, left)
    left -= sum(slot.minutes for slot in due)
    new = _new(choice, left)
    left -= sum(slot.minutes for slot in new)
    slots = [*due[:1], *weak, *due[1:], *new]
    slots += _more(choice, slots, left)
    return (warm, *_mixed(slots, warm.group)), waiting


def _warm_up(choice: Choice, minutes: float) -> Slot:
    room = _down(min(_MOST_WARM, max(_LEAST_WARM, _WARM_SHARE * minutes)))
    at_hand = choice.played or choice.fresh[:1]
    for piece in sorted(at_hand, key=lambda one: (one.strain, one.drill)):
        slow = replace(piece, minutes=piece.minutes / EASY_TEMPO, tempo=max(20.0, round(EASY_TEMPO * piece.tempo)))
        once = _up(slow.minutes)
        if once <= max(room, 0.25 * minutes):
            times = max(1, int(room / slow.minutes))
            why = "an easy stretch, slowly: shapes that ask little of the hand"
            return Slot(WARM_UP, _up(times * slow.minutes), slow, (), times, slow.tempo, piece.group, why)
    return Slot(WARM_UP, room, why="slow, easy chords of your own, nothing that stretches")


def _weak(choice: Choice, minutes: float) -> list[Slot]:
    count = min(len(choice.weak), _MOST_WEAK, int(_WEAK_SHARE * minutes / _WEAK_EACH))
    if count < 1:
        return []
    chosen = choice.weak[:count]
    why = f"{_counted(count, 'change')} that stuck lately, each again and again"
    return [Slot(CHANGES, _up(count * _WEAK_EACH), None, _keys(chosen), 1, None, _groups(chosen), why)]


def _due(choice: Choice, minutes: float) -> tuple[list[Slot], int]:
    """Drills that show much of what is due for their minutes; what none of them shows gets a drill of its own."""
    open_ones = {one.key: one for one in choice.due}
    found: list[Slot] = []
    at_hand = list(choice.played)
    while True:
        best = max(
            (piece for piece in at_hand if _up(piece.minutes) <= minutes and _worth(piece, open_ones)),
            key=lambda piece: (_gain(piece, open_ones) / piece.minutes, piece.drill),
            default=None,
        )
        if best is None:
            break
        shown = [key for key in open_ones if key in best.covers]
        slot = _stretch(DUE, best, minutes, f"{_counted(len(shown), 'skill')} due in it")
        found.append(slot)
        minutes -= slot.minutes
        at_hand.remove(best)
        for key in shown:
            del open_ones[key]
    rest = list(open_ones.values())
    while rest and minutes >= _up(_SHAPE_EACH):
        part = rest[: min(_MOST_SHAPES, int(minutes / _SHAPE_EACH))]
        why = f"{_counted(len(part), 'skill')} due, on {'its' if len(part) == 1 else 'their'} own"
        slot = Slot(DUE, _up(len(part) * _SHAPE_EACH), None, _keys(part), 1, None, _groups(part), why)
        found.append(slot)
        minutes -= slot.minutes
        rest = rest[len(part) :]
    return found, len(rest)


def _worth(piece: Piece, due: dict[str, DueSkill]) -> bool:
    shown = sum(key in piece.covers for key in due)
    return shown >= min(_WORTH, len(due)) > 0


def _gain(piece: Piece, due: dict[str, DueSkill]) -> float:
    # What was played a moment ago is hardly pressing and yet due: every skill counts for something.
    return sum(0.05 + one.urgency for key, one in due.items() if key in piece.covers)


def _new(choice: Choice, minutes: float) -> list[Slot]:
    """The next of the course, when there is room for it."""
    found: list[Slot] = []
    first_days = not choice.played
    for piece in choice.fresh[: _NEW_FIRST if first_days else _NEW_USUAL]:
        if _up(piece.minutes) > minutes:
            break
        why = "where the course begins" if first_days and not found else "new: the next of the course"
        found.append(_stretch(NEW, piece, minutes, f"{why}; slowly at first"))
        minutes -= found[-1].minutes
    return found


def _more(choice: Choice, slots: Sequence[Slot], minutes: float) -> list[Slot]:
    """What is left goes to drills played longest ago, then to those of today once more."""
    today = {slot.piece.drill for slot in slots if slot.piece is not None}
    others = [piece for piece in choice.played if piece.drill not in today]
    same = [slot.piece for slot in slots if slot.piece is not None]
    found: list[Slot] = []
    for piece, why in [*((one, "not played for longest") for one in others), *((one, "once more") for one in same)]:
        if _up(piece.minutes) <= minutes:
            found.append(_stretch(AGAIN, piece, minutes, why))
            minutes -= found[-1].minutes
    at_hand = choice.played or choice.fresh[:1]
    while at_hand and min(_up(piece.minutes) for piece in at_hand) <= minutes:
        for piece in at_hand:
            if _up(piece.minutes) <= minutes:
                found.append(_stretch(AGAIN, piece, minutes, "once more"))
                minutes -= found[-1].minutes
    return found


def _stretch(what: str, piece: Piece, minutes: float, why: str) -> Slot:
    """As often as makes sense in one go."""
    times = max(1, min(int(minutes / piece.minutes), math.ceil(_ENOUGH / piece.minutes), int(_LONGEST / piece.minutes)))
    while times > 1 and _up(times * piece.minutes) > minutes:
        times -= 1
    return Slot(what, _up(times * piece.minutes), piece, (), times, piece.tempo, piece.group, why)


def _mixed(slots: Sequence[Slot], before: str) -> list[Slot]:
    """In their order, but the next of another kind goes first where two of the same kind would meet."""
    left, found = list(slots), []
    while left:
        place = next((place for place, slot in enumerate(left) if slot.group != before), 0)
        found.append(left.pop(place))
        before = found[-1].group
    return found


def _keys(skills: Iterable[DueSkill]) -> tuple[str, ...]:
    return tuple(skill.key for skill in skills)


def _groups(skills: Iterable[DueSkill]) -> str:
    return ", ".join(sorted({skill.group for skill in skills}))


def _counted(count: int, what: str) -> str:
    return f"{count} {what}{'' if count == 1 else 's'}"


def _up(minutes: float) -> float:
    return math.ceil(round(minutes / GRAIN, 6)) * GRAIN


def _down(minutes: float) -> float:
    return math.floor(minutes / GRAIN) * GRAIN
