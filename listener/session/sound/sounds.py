"""All that the program makes heard: the click, the bass of the backing, and the chord that is due when it is asked for.

What goes out is never taken for what was played: it does not pass through the ears. Should an output be looped back
into the guitar's input, the ears hear it as they hear everything from there.
"""

from __future__ import annotations

from collections.abc import Iterable
from typing import Protocol

from listener.errors import SourceError
from listener.session.sound.backing import BASS_PROGRAM, bass_notes, target_notes
from listener.session.sound.outgoing import Outgoing
from listener.session.take.practice import Practice


class MidiOutput(Protocol):
    """A MIDI output port."""

    def send(self, data: bytes) -> None:
        """Send one message; :class:`SourceError` when the port does not take it."""


class Sounds:
    """For one take. ``click`` gets the click and, with ``backing``, the bass; ``target`` the chord that is due.

    An output that takes no more messages is left alone from then on; ``trouble`` says so, and the take goes on.
    """

    def __init__(
        self,
        click: MidiOutput | None = None,
        target: MidiOutput | None = None,
        *,
        backing: bool = False,
        roll: bool = False,
    ) -> None:
        self._click = click
        self._target = target
        self._roll = roll
        self._backing = backing
        self._bass, self._chord = Outgoing(), Outgoing()
        #: The timetable that the waiting bass notes belong to; another one means a new beginning.
        self._timetable: object = None
        self._told_program = False
        self.trouble = ""

    @property
    def can_sound(self) -> bool:
        """There is an output for the chord that is due."""
        return self._target is not None

    def follow(self, practice: Practice, now_s: float) -> None:
        """Send what has become due; when the take stands still the backing is silent."""
        for beat in practice.clicks(now_s):
            self._to_click(beat.messages())
        if self._backing:
            self._follow_bass(practice)
            self._to_click(self._bass.due(now_s))
        self._to_target(self._chord.due(now_s))

    def sound(self, practice: Practice, now_s: float) -> None:
        """Let the chord that is due be heard; whatever of the last one still sounds ends first."""
        planned = practice.snapshot(now_s).target
        if self._target is None or planned is None:
            return
        self._to_target(self._chord.silence())
        self._chord.add(target_notes(planned, now_s, roll=self._roll))
        self._to_target(self._chord.due(now_s))

    def next_s(self) -> float | None:
        """When the next note begins or ends; None when nothing is waiting."""
        return min((time_s for time_s in (self._bass.next_s, self._chord.next_s) if time_s is not None), default=None)

    def silence(self) -> None:
        """End everything that sounds, now."""
        self._to_click(self._bass.silence())
        self._to_target(self._chord.silence())

    def _follow_bass(self, practice: Practice) -> None:
        timetable = None if practice.paused or practice.ended else practice.timetable
        if timetable is self._timetable:
            return
        self._timetable = timetable
        self._to_click(self._bass.silence())
        if timetable is not None:
            if not self._told_program:
                self._to_click([BASS_PROGRAM])
                self._told_program = True
            first, last = timetable.anchor.step, practice.last_step
            self._bass.add(bass_notes(practice.plan.steps, timetable, first, last))

    def _to_click(self, messages: Iterable[bytes]) -> None:
        if not self._sent(self._click, messages):
            self._click = None

    def _to_target(self, messages: Iterable[bytes]) -> None:
        if not self._sent(self._target, messages):
            self._target = None

    def _sent(self, output: MidiOutput | None, messages: Iterable[bytes]) -> bool:
        """False when the output has gone."""
        try:
            for data in messages:
                if output is not None:
                    output.send(data)
        except SourceError as error:
            self.trouble = f"{error}; the take goes on without it"
            return False
        return True
