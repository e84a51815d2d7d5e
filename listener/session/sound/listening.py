"""A plan sounds through a MIDI output, in time, and whatever begins also ends."""

from __future__ import annotations

import time
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import replace
from typing import Final

from listener.errors import SourceError
from listener.session.sound.outgoing import Note, Outgoing
from listener.session.sound.sounds import MidiOutput
from listener.session.take.clock import Clock
from listener.session.take.run import Interrupt
from listener.sounding.string_sound import StringSound

#: All on one channel, as every synthesiser listens; program 26 of General MIDI, a steel-string guitar (25 on the wire).
CHANNEL: Final = 1
PROGRAM: Final = bytes((0xC0 | (CHANNEL - 1), 25))
#: Before the first note and after the last, in seconds: a port that was just opened may need a moment, and so may what
#: was sent before it is closed.
_MARGIN_S: Final = 0.2
#: Ctrl-C is looked for this often, in seconds.
_LOOK_S: Final = 0.05


class _Nothing:
    """Nothing comes from it: waiting is sleeping."""

    @staticmethod
    def wait(timeout_s: float) -> None:
        time.sleep(max(0.0, timeout_s))


def play_sounds(sounds: Iterable[StringSound], output: MidiOutput, clock: Clock, interrupt: Interrupt) -> None:
    """Send every note when it is due; returns after the last, or soon after an interrupt, with nothing left sounding.

    :class:`SourceError` when the output takes no more messages.
    """
    outgoing = Outgoing()
    start_s = clock.now() + _MARGIN_S
    notes = (Note(CHANNEL, one.pitch, one.velocity, one.start_s, one.end_s) for one in sounds)
    outgoing.add(replace(note, on_s=note.on_s + start_s, off_s=note.off_s + start_s) for note in notes)
    output.send(PROGRAM)
    try:
        while (next_s := outgoing.next_s) is not None and not interrupt.raised:
            clock.wait(_Nothing, min(_LOOK_S, next_s - clock.now()))
            for data in outgoing.due(clock.now()):
                output.send(data)
    finally:
        with suppress(SourceError):
            for data in outgoing.silence():
                output.send(data)
        clock.wait(_Nothing, _MARGIN_S)
