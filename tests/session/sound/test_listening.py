"""A plan through a MIDI output: in time, and nothing hangs, however it ends."""

from __future__ import annotations

import pytest

from listener.errors import SourceError
from listener.session.sound.listening import play_sounds
from listener.session.take.clock import JumpingClock
from listener.session.take.run import Interrupt
from listener.sounding.string_sound import StringSound

SOUNDS = (
    StringSound(2, 64, 0.0, 1.0, 80),
    StringSound(1, 64, 0.5, 1.5, 80),
    StringSound(2, 67, 1.0, 1.5, 102),
)


class Synth:
    """Keeps what it is sent, with the time; refuses everything after ``most`` messages."""

    def __init__(self, clock: JumpingClock, most: int = 1000) -> None:
        self.sent: list[tuple[float, bytes]] = []
        self._clock, self._most = clock, most

    def send(self, data: bytes) -> None:
        if len(self.sent) >= self._most:
            raise SourceError("gone")
        self.sent.append((self._clock.now(), data))

    def hanging(self) -> set[int]:
        on: set[int] = set()
        for _, (status, pitch, *_velocity) in self.sent:
            on = on | {pitch} if status >> 4 == 9 else on - {pitch} if status >> 4 == 8 else on
        return on


def test_everything_is_sent_in_time() -> None:
    """A steel-string guitar, then each note when it is due; one pitch on two strings ends with the later one."""
    clock = JumpingClock()
    synth = Synth(clock)
    play_sounds(SOUNDS, synth, clock, Interrupt())
    (_, program), *notes = synth.sent
    assert program == bytes((0xC0, 25))
    start_s = notes[0][0]
    assert [(round(time_s - start_s, 6), data[:2]) for time_s, data in notes] == [
        (0.0, bytes((0x90, 64))),
        (0.5, bytes((0x90, 64))),
        (1.0, bytes((0x90, 67))),
        (1.5, bytes((0x80, 64))),
        (1.5, bytes((0x80, 67))),
    ]
    assert [data[2] for _, data in notes[:3]] == [80, 80, 102]


def test_ctrl_c_leaves_nothing_sounding() -> None:
    """It ends at once, and what sounds is ended first."""

    class Impatient(JumpingClock):
        def wait(self, source: object, timeout_s: float) -> None:
            super().wait(source, timeout_s)  # type: ignore[arg-type]
            interrupt.raised = interrupt.raised or self.now() > 0.8

    interrupt = Interrupt()
    clock = Impatient()
    synth = Synth(clock)
    play_sounds(SOUNDS, synth, clock, interrupt)
    assert [data[0] >> 4 for _, data in synth.sent].count(9) == 2
    assert synth.hanging() == set()
    assert clock.now() < 1.2


def test_a_port_that_goes_is_told() -> None:
    """Whatever it still takes."""
    clock = JumpingClock()
    with pytest.raises(SourceError, match="gone"):
        play_sounds(SOUNDS, Synth(clock, most=3), clock, Interrupt())
