"""The touch of a take, chord by chord, put down while it is played.

What was heard of a chord is put down when it is left, and looked at when somebody asks, so that listening costs the
player nothing.
"""

from __future__ import annotations

from dataclasses import dataclass

from listener.hearing.rings import Ringing, Rings
from listener.judging.touch.account import TouchAccount, TouchCounting
from listener.judging.touch.touch import StepTouch, Visited, step_touch
from listener.judging.touch.words import TouchVerdict, touch_verdict
from listener.planning.plan import Plan, PlannedStep


@dataclass(frozen=True, slots=True)
class _Left:
    """A chord that was left: what was heard of it (MIDI), and what had rung until then."""

    planned: PlannedStep
    heard: tuple[int, ...]
    rings: tuple[Ringing, ...]
    visited: Visited


class TouchLog:
    """Chords in, in the order in which they were left."""

    def __init__(self, plan: Plan, rings: Rings) -> None:
        self._plan = plan
        self._rings = rings
        self._waiting: list[_Left] = []
        self._touches: list[StepTouch] = []
        self._counting = TouchCounting(plan)

    def left(self, planned: PlannedStep, heard: tuple[int, ...], visited: Visited) -> TouchVerdict | None:
        """One more chord that was right; what is to be said of it, where its drill asks for that."""
        ended_s = visited.from_s if visited.change_s is None else visited.change_s
        self._waiting.append(_Left(planned, heard, self._rings.taken(ended_s), visited))
        if not planned.step.ring and planned.step.balance is None:
            return None
        return touch_verdict(planned.step, self.touches[-1])

    @property
    def touches(self) -> list[StepTouch]:
        """All chords so far."""
        for one in self._waiting:
            touch = step_touch(
                one.planned,
                one.heard,
                self._rings.read(one.rings, one.visited.change_s),
                one.visited,
                opens=self._plan.open_midi,
                arpeggio=self._plan.drill.arpeggio,
            )
            self._touches.append(touch)
            self._counting.add(touch)
        self._waiting.clear()
        return self._touches

    @property
    def account(self) -> TouchAccount:
        """What they come to."""
        return self._counting.account if self.touches else TouchAccount()
