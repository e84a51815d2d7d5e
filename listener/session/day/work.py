"""What goes into a day of practice, in which order and for how long, before rests are put between. Pure.

All numbers are our own choice.
"""

from __future__ import annotations

import math
from collections.abc import Iterable, Sequence
from dataclasses import replace
from typing import Final

from listener.plain_words import counted
from listener.session.day.day import AGAIN, CHANGES, DUE, FREE, NEW, WARM_UP, Choice, DueSkill, Piece, Slot

#: Everything is counted in half minutes.
GRAIN: Final = 0.5
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
#: Minutes at a stretch with one drill: from where it is enough, and never more.
_ENOUGH, _LONGEST = 3.0, 8.0
#: New drills in one day: when skills are known already, and on the first days.
_NEW_USUAL, _NEW_FIRST = 1, 3
#: How often one and the same drill comes in a day; after that it is better to do something else.
_MOST_OFTEN: Final = 3
#: Minutes to play what one likes, at the end.
_LEAST_FREE, _MOST_FREE = 2.0, 10.0


def work_of(choice: Choice, minutes: float, most_load: float) -> tuple[Slot, ...]:
    """The items for so many minutes. None loads the hand by more than ``most_load`` minutes."""
    return _Work(choice, down(min(_LONGEST, most_load)), minutes).slots()


class _Work:
    """Deals the minutes out; ``left`` is what there still is of them."""

    def __init__(self, choice: Choice, longest: float, minutes: float) -> None:
        self.choice = choice
        self.longest = longest
        self.minutes = self.left = down(minutes)
        self.played = [piece for piece in choice.played if self.stretch(DUE, piece, "").load <= longest]
        self.fresh = [piece for piece in choice.fresh if self.stretch(NEW, piece, "").load <= longest]

    def slots(self) -> tuple[Slot, ...]:
        """All of them, in order."""
        warm = self.spend(self.warm_up())
        weak = self.weak()
        due = self.due()
        first = [*due[:1], *weak, *due[1:], *self.new()]
        rest = self.more([slot.piece for slot in first if slot.piece is not None], warm.piece)
        free = min(_MOST_FREE, self.longest, self.left)
        last = [self.spend(Slot(FREE, free, why="whatever you like"))] if free >= _LEAST_FREE else []
        return tuple(slot for slot in (warm, *_mixed([*first, *rest]), *last) if slot.minutes)

    def spend(self, slot: Slot) -> Slot:
        """The slot is in the plan, with what there is to tell of its drill."""
        self.left -= slot.minutes
        told = slot.piece.told if slot.piece is not None else ""
        return replace(slot, why=f"{slot.why}; {told}") if told else slot

    def stretch(self, what: str, piece: Piece, why: str) -> Slot:
        """One drill as often as makes sense in one go, once at least, within what is left."""
        most = min(self.left, self.longest)
        slots = [
            Slot(what, up(times * piece.minutes), piece, (), times, piece.tempo, piece.group, why)
            for times in range(1, max(1, math.ceil(_ENOUGH / piece.minutes)) + 1)
        ]
        fitting = [slot for slot in slots if slot.minutes <= most and slot.load <= self.longest]
        return fitting[-1] if fitting else slots[0]

    def fits(self, piece: Piece) -> bool:
        """Whether there is room for it once."""
        return up(piece.minutes) <= self.left

    def warm_up(self) -> Slot:
        """The shapes that ask least of the hand, slowly."""
        room = min(self.longest, down(min(_MOST_WARM, max(_LEAST_WARM, _WARM_SHARE * self.minutes))))
        for piece in sorted(self.played or self.fresh[:1], key=lambda one: (one.strain, one.drill)):
            tempo = max(20.0, float(round(EASY_TEMPO * piece.tempo)))
            slow = replace(piece, minutes=piece.minutes * piece.tempo / tempo, tempo=tempo)
            if up(slow.minutes) <= min(self.longest, max(room, self.minutes / 4)):
                times = max(1, int(room / slow.minutes))
                why = "an easy stretch, slowly: shapes that ask little of the hand"
                return Slot(WARM_UP, up(times * slow.minutes), slow, (), times, tempo, piece.group, why)
        return Slot(WARM_UP, min(room, self.left), why="slow, easy chords of your own, nothing that stretches")

    def weak(self) -> list[Slot]:
        """One drill for the changes that stick."""
        most = min(_WEAK_SHARE * self.left, self.longest)
        chosen = self.choice.weak[: min(_MOST_WEAK, int(most / _WEAK_EACH))]
        if not chosen:
            return []
        why = f"{counted(len(chosen), 'change')} that stuck lately, again and again"
        return [self.spend(Slot(CHANGES, up(len(chosen) * _WEAK_EACH), None, _keys(chosen), 1, None, "changes", why))]

    def due(self) -> list[Slot]:
        """Drills that show much of what is due for their minutes; what none of them shows gets a drill of its own."""
        due = {one.key: one for one in self.choice.due}
        found: list[Slot] = []
        at_hand = list(self.played)
        while True:
            worth = [piece for piece in at_hand if self.fits(piece) and _worth(piece, due)]
            if not worth:
                break
            best = max(worth, key=lambda piece: (_gain(piece, due) / piece.minutes, piece.drill))
            shown = [key for key in due if key in best.covers]
            found.append(self.spend(self.stretch(DUE, best, f"{_things(len(shown))} due in it")))
            at_hand.remove(best)
            for key in shown:
                del due[key]
        rest = list(due.values())
        while rest and (count := min(len(rest), _MOST_SHAPES, int(min(self.left, self.longest) / _SHAPE_EACH))):
            part, rest = rest[:count], rest[count:]
            why = f"{_things(count)} due, put together for today"
            slot = Slot(DUE, up(count * _SHAPE_EACH), None, _keys(part), 1, None, _groups(part), why)
            found.append(self.spend(slot))
        return found

    def new(self) -> list[Slot]:
        """The next of the course, when there is room for it."""
        found: list[Slot] = []
        first_days = not self.choice.played
        for piece in self.fresh[: _NEW_FIRST if first_days else _NEW_USUAL]:
            if not self.fits(piece):
                break
            why = "where the course begins" if first_days and not found else "the next of the course"
            found.append(self.spend(self.stretch(NEW, piece, why)))
        return found

    def more(self, today: Sequence[Piece], warm: Piece | None) -> list[Slot]:
        """What is left goes to drills that were not played today, those of longest ago first; then to the others once
        more, beginning with those that the plan has not had yet."""
        often = {piece.drill: 1 for piece in today}
        others = [piece for piece in self.played if piece.drill not in often]
        begun = {warm.drill} if warm is not None else set()
        found: list[Slot] = []
        for piece in others:
            if piece.ago and piece.drill not in begun and self.fits(piece):
                found.append(self.spend(self.stretch(AGAIN, piece, f"last played {piece.ago}")))
                often[piece.drill] = 1
        for _ in range(_MOST_OFTEN - 1):
            for piece in dict.fromkeys([*others, *today]):
                if self.fits(piece) and often.get(piece.drill, 0) < _MOST_OFTEN:
                    found.append(self.spend(self.stretch(AGAIN, piece, "once more")))
                    often[piece.drill] = often.get(piece.drill, 0) + 1
        return found


def _worth(piece: Piece, due: dict[str, DueSkill]) -> bool:
    shown = sum(key in piece.covers for key in due)
    return shown >= min(_WORTH, len(due)) > 0


def _gain(piece: Piece, due: dict[str, DueSkill]) -> float:
    # What was played a moment ago is hardly pressing and yet due: every skill counts for something.
    return sum(0.05 + one.urgency for key, one in due.items() if key in piece.covers)


def _mixed(slots: Sequence[Slot]) -> list[Slot]:
    """In their order, but the next of another kind goes first where two of the same kind would meet."""
    left, found = list(slots), []
    before = None
    while left:
        place = next((place for place, slot in enumerate(left) if slot.group != before), 0)
        found.append(left.pop(place))
        before = found[-1].group
    return found


def _things(count: int) -> str:
    return counted(count, "shape or change", "shapes and changes")


def _keys(skills: Iterable[DueSkill]) -> tuple[str, ...]:
    return tuple(skill.key for skill in skills)


def _groups(skills: Iterable[DueSkill]) -> str:
    return ", ".join(sorted({skill.group for skill in skills}))


def up(minutes: float) -> float:
    """To the next half minute."""
    return math.ceil(round(minutes / GRAIN, 6)) * GRAIN


def down(minutes: float) -> float:
    """To the half minute before."""
    return max(0.0, math.floor(minutes / GRAIN) * GRAIN)
