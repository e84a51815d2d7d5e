"""The simulated player as a partner in the loop: it looks at the take, pauses with it and goes on where it goes on."""

from __future__ import annotations

from dataclasses import replace

from listener.hearing.events import Message
from listener.hearing.pickup import Pickup
from listener.history.skills.reviews import SIMULATED
from listener.judging.marks import PAUSE, click_of
from listener.planning.plan import Plan
from listener.session.take.clock import Clock
from listener.session.take.practice import LEAD_S, Practice
from listener.simulation.converter import Converter
from listener.simulation.simulated import SimulatedSource, simulate


class SimulatedPlayer:
    """A source of messages that follows a take's marks: anchors of the click, jumps and pauses."""

    def __init__(
        self,
        practice: Practice,
        pickup: Pickup,
        *,
        seed: int,
        clock: Clock,
        start_s: float,
        converter: Converter | None = None,
    ) -> None:
        self.name = SIMULATED
        self._practice = practice
        self._pickup = pickup
        self._seed = seed
        self._clock = clock
        self._start_s = start_s
        self._converter = converter
        self._seen = 0
        self._playing = self._perform(0, LEAD_S)

    @property
    def finished(self) -> bool:
        """Everything has been played and nothing is being waited for."""
        self._follow()
        return self._playing.finished and (self._practice.waits or not self._practice.paused)

    def poll(self) -> list[Message]:
        """What has sounded since the last call."""
        self._follow()
        return self._playing.poll()

    def wait(self, timeout_s: float) -> None:
        """Until the next note, or the timeout."""
        self._follow()
        self._playing.wait(timeout_s)

    def close(self) -> None:
        """Play no more."""
        self._playing.close()

    def _follow(self) -> None:
        marks = self._practice.marks
        for mark in marks[self._seen :]:
            if mark.word == PAUSE:
                self._playing.close()
            elif (anchor := click_of(mark)) is not None:
                self._playing = self._perform(anchor.step, anchor.time_s)
            elif mark.word.startswith("step "):
                self._playing = self._perform(int(mark.word.removeprefix("step ")), mark.time_s + LEAD_S)
        self._seen = len(marks)

    def _perform(self, step: int, due_s: float) -> SimulatedSource:
        messages = simulate(
            _from(self._practice.plan, step),
            # Another performance after each jump, but always the same one for the same seed.
            seed=self._seed + self._seen,
            pickup=self._pickup,
            tempo=self._practice.settings.tempo,
            first_beat_s=due_s,
            converter=self._converter,
        ).messages
        return SimulatedSource(messages, self._clock.now, start_s=self._start_s)


def _from(plan: Plan, step: int) -> Plan:
    return replace(plan, steps=plan.steps[step:], options=plan.options[step:])
