"""Remarks as faults, in drills that ask for it: parallels and wide gaps that the player chose and the plan lacks.

Only where the drill leaves the voicing to the player: whoever played the very notes that were wanted did what was
asked. The rules are those of :mod:`listener.judging.remarks.remarks`.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache

from listener.judging.remarks.remarks import Remark, placing, remarks
from listener.judging.strictness import StepTarget
from listener.judging.verdict import Fault


class RemarkFaults:
    """Chords that were heard in, faults out. Another attempt at a step is compared with what came before the first."""

    def __init__(self, targets: Sequence[StepTarget]) -> None:
        self._targets = targets
        self._came_from: dict[int, tuple[int, ...] | None] = {}
        self._last_step: int | None = None

    def faults(self, step: int, before: tuple[int, ...] | None, heard: tuple[int, ...]) -> tuple[Fault, ...]:
        """What there is to remark about ``heard`` (MIDI) and the way to it, but for what the planned change has too.

        ``before`` is what was heard last, None where nobody moved.
        """
        if not self._targets[step].planned.step.free_voicing:
            return ()
        origin = self._origin(step, before)
        planned = _said(self._targets[step - 1].pitches if step else None, self._targets[step].pitches)
        return tuple(Fault(one.code, one.text) for one in _said(origin, heard) if one not in planned)

    def settle(self, step: int, before: tuple[int, ...] | None) -> None:
        """An attempt at the step has been judged; ``before`` as above."""
        self._came_from[step] = self._origin(step, before)
        self._last_step = step

    def _origin(self, step: int, before: tuple[int, ...] | None) -> tuple[int, ...] | None:
        """The chord that came before the step, which is not what was heard last when the step is tried again."""
        if before is None or self._last_step == step - 1:
            return before
        return self._came_from.get(step)


@lru_cache(maxsize=1024)
def _said(before: tuple[int, ...] | None, after: tuple[int, ...]) -> tuple[Remark, ...]:
    return remarks(before, after) if before else placing(after)
