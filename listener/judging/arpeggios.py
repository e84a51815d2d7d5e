"""Verdicts on arpeggios at the player's own pace; how the notes are cut is :mod:`listener.judging.rolling`'s."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace

from listener.hearing.events import Stroke
from listener.judging.ledger import Ledger
from listener.judging.reading import Part
from listener.judging.rolling import Rolling
from listener.judging.verdict import HIT, Verdict
from listener.judging.words import left_out
from listener.planning.drill import SAME_CHORD, SAME_KIND
from listener.planning.plan import Plan


class FreeArpeggios:
    """Notes in, verdicts out. Each note, or several at once, is a stroke of its own."""

    def __init__(self, plan: Plan, ledger: Ledger) -> None:
        self._ledger = ledger
        self._targets = ledger.targets
        steps = [planned.step for planned in plan.steps]
        self._rolling = Rolling(
            [target.pitches for target in ledger.targets],
            [step.length_beats for step in steps],
            lambda stroke, step: ledger.grade(stroke, step) == HIT,
            [step.strictness in (SAME_KIND, SAME_CHORD) for step in steps],
        )
        #: The first step that nothing was said about.
        self._next = 0
        #: Arpeggios as they were understood; None keeps nothing.
        self.strokes: list[Stroke] | None = None

    @property
    def step(self) -> int:
        """The step that is being played, as far as is known, or due next."""
        return self._rolling.step

    def go_to(self, step: int) -> None:
        """Go on with this step."""
        self._rolling.go_to(step)
        self._next = step

    def target(self) -> tuple[int, ...] | None:
        """The pitches (MIDI) that would be right now; None when all is done."""
        if self.step >= len(self._targets):
            return None
        pitches, playing = self._targets[self.step].pitches, self._rolling.playing
        struck = playing.stroke.struck_pitches if playing is not None else ()
        return tuple(pitch for pitch in pitches if pitch not in struck) or pitches

    def ended(self, time_s: float) -> None:
        """A note fell silent."""
        self._rolling.ended(time_s)

    def tick(self, now_s: float) -> list[Verdict]:
        """What was complete for so long that it is over."""
        return self.flush() if self._rolling.over(now_s) else []

    def flush(self) -> list[Verdict]:
        """Nothing more belongs to what was played."""
        return self._judged(self._rolling.finish())

    def feed(self, stroke: Stroke) -> list[Verdict]:
        """What a note, settled or not yet, makes known."""
        if not stroke.settled:
            return self._so_far(self._rolling.peek(stroke))
        found = self.tick(stroke.onset_s)
        if self.step >= len(self._targets):
            return found
        before = self._rolling.playing
        was_right = before is not None and self._is_right(before)
        found += self._judged(self._rolling.feed(stroke))
        playing = self._rolling.playing
        goes_on = was_right and before is not None and playing is not None and before.step == playing.step
        return found if goes_on else found + self._so_far(playing)

    def _so_far(self, part: Part | None) -> list[Verdict]:
        """An arpeggio that has all its notes is right as long as nothing spoils it."""
        if part is None or part.step in self._ledger.solved or not self._is_right(part):
            return []
        return [self._ledger.verdict(part.step, replace(part.stroke, settled=False), None)]

    def _is_right(self, part: Part) -> bool:
        return self._ledger.grade(part.stroke, part.step) == HIT

    def _judged(self, parts: Sequence[Part]) -> list[Verdict]:
        """What arpeggios are worth that are over; one that was right and is played once more tells nothing new."""
        found: list[Verdict] = []
        for part in parts:
            stroke = replace(part.doubt or part.stroke, settled=True)
            if self.strokes is not None:
                self.strokes.append(replace(part.stroke, settled=True))
            for missed in range(self._next, part.step):
                said = left_out(self._targets[missed].chord)
                found.append(self._ledger.not_played(missed, said, stroke.onset_s))
            if part.step not in self._ledger.solved:
                found.append(self._ledger.verdict(part.step, stroke, None))
            self._next = part.step + 1
        return found
