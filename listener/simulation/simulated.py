"""A simulated guitar with a simulated pickup: a plan in, MIDI messages out. Everything but ``wait`` is pure.

What the pickup does, and how far each number can be trusted:

- A note is known after ``delay_periods`` periods of its pitch, times 0.85 to 1.25 (assumed), so low strings arrive
  later than high ones. Two periods are what pitch estimators usually need (Fonseca & Tavares, RITA 27(4), 2020,
  abstract).
- 3 ms more for computing and sending, and a half-normal 1.5 ms (assumed).
- A note-off comes late by an exponential 15 ms (assumed), but never after the next note of its string.

So much for a pickup without errors of its own. With a :class:`~listener.simulation.converter.Converter` there are
ghosts, double triggers, glitches and bends too.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Mapping, Sequence
from dataclasses import dataclass
from random import Random
from typing import Final

from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import Pickup
from listener.music.pitch import frequency_hz
from listener.planning.plan import Plan
from listener.simulation.converter import Converter, Sent, convert
from listener.simulation.player import Intent, Player, Pluck, perform

_PERIOD_SHARE: Final = (0.85, 1.25)
_SENDING_S: Final = 0.003
_SENDING_SD_S: Final = 0.0015
_LATE_OFF_S: Final = 0.015
_RELEASE_VELOCITY: Final = 64


@dataclass(frozen=True, slots=True)
class Performance:
    """The messages; for every step what was meant and which slip happened; every string that was plucked, and what the
    pickup made of each (nothing is said about a pickup without errors of its own)."""

    messages: tuple[Message, ...]
    intents: tuple[Intent, ...]
    plucks: tuple[Pluck, ...]
    sent: tuple[Sent, ...] = ()


def simulate(
    plan: Plan,
    *,
    seed: int,
    pickup: Pickup,
    tempo: float | None,
    first_beat_s: float,
    player: Player | None = None,
    slips: Mapping[int, str] | None = None,
    converter: Converter | None = None,
) -> Performance:
    """A plan played once, and the truth about it.

    ``tempo`` is in beats per minute, None for the player's own pace; step 0 is due at ``first_beat_s``. ``slips``
    (step index to one of :data:`listener.simulation.slips.SLIPS`) replaces chance by choice. ``converter``
    makes the pickup's errors (:func:`listener.simulation.converter.make_converter`); None makes none.
    """
    random = Random(seed)
    plucks, intents = perform(
        plan, random, tempo=tempo, first_beat_s=first_beat_s, player=player or Player(), slips=slips
    )
    if converter is None:
        return Performance(tuple(sent(plucks, pickup, random)), tuple(intents), tuple(plucks))
    messages, fates = convert(plucks, pickup, random, converter, plan.open_midi)
    return Performance(messages, tuple(intents), tuple(plucks), fates)


def sent(plucks: Sequence[Pluck], pickup: Pickup, random: Random) -> list[Message]:
    """What the pickup makes of plucked strings: note-ons and note-offs on the grid, offs before ons at one time."""
    heard = [(pluck, pluck.onset_s + _delay_s(pluck.pitch, pickup, random)) for pluck in plucks]
    messages: list[tuple[float, int, Message]] = []
    next_on: dict[int, float] = {}
    for pluck, on_s in sorted(heard, key=lambda item: item[1], reverse=True):
        channel = pickup.channel_of(pluck.string) - 1
        off_s = max(pluck.end_s + random.expovariate(1 / _LATE_OFF_S), on_s + 0.01)
        off_s = min(off_s, next_on.get(pluck.string, off_s))
        next_on[pluck.string] = on_s
        on_s, off_s = on_grid(on_s), on_grid(off_s)
        messages.append((on_s, 1, Message(on_s, (0x90 | channel, pluck.pitch, pluck.velocity))))
        messages.append((off_s, 0, Message(off_s, (0x80 | channel, pluck.pitch, _RELEASE_VELOCITY))))
    return [message for _, _, message in sorted(messages, key=lambda item: (item[0], item[1], item[2].data))]


def _delay_s(pitch: int, pickup: Pickup, random: Random) -> float:
    periods_s = pickup.delay_periods / frequency_hz(pitch) * random.uniform(*_PERIOD_SHARE)
    return periods_s + _SENDING_S + abs(random.gauss(0.0, _SENDING_SD_S))


class SimulatedSource:
    """Gives out messages when their time has come; the same shape as a port.

    ``clock`` says the time in seconds; messages count from ``start_s`` on it and are given out with the clock's time.
    ``sleep`` is how :meth:`wait` waits, for a clock that needs no waiting.
    """

    name: str = "simulated guitar"

    def __init__(
        self,
        messages: Sequence[Message],
        clock: Callable[[], float],
        *,
        start_s: float = 0.0,
        sleep: Callable[[float], None] = time.sleep,
    ) -> None:
        self._messages = messages
        self._clock = clock
        self._start_s = start_s
        self._sleep = sleep
        self._position = 0

    @property
    def finished(self) -> bool:
        """All messages are out."""
        return self._position >= len(self._messages)

    def poll(self) -> list[Message]:
        """What has become due since the last time; never waits."""
        now_s = self._clock() - self._start_s
        start = self._position
        while not self.finished and self._messages[self._position].time_s <= now_s:
            self._position += 1
        due = self._messages[start : self._position]
        return [message._replace(time_s=message.time_s + self._start_s) for message in due]

    def wait(self, timeout_s: float) -> None:
        """Until the next message is due or the time is up."""
        pause_s = timeout_s
        if not self.finished:
            pause_s = min(timeout_s, self._messages[self._position].time_s + self._start_s - self._clock())
        if pause_s > 0:
            self._sleep(pause_s)

    def close(self) -> None:
        """Nothing more is given out."""
        self._position = len(self._messages)
