"""The two measurements of ``widehand calibrate``: notes sent round a loop, and plucks against a click."""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import zip_longest
from typing import Final

from listener.errors import SourceError
from listener.hearing.delays import TimedPluck
from listener.hearing.events import Message
from listener.hearing.pickup import Pickup
from listener.hearing.sources.port import PortSource
from listener.hearing.sources.port_output import PortOutput
from listener.music.pitch import frequency_hz
from listener.session.sound.click import Beat
from listener.session.take.run import Interrupt

#: Notes sent round the loop, how long after the ports were opened (a server passes nothing on until it has taken a
#: connection into its round: on a busy machine the first note was lost now and then), how far apart (seconds), and how
#: long the last may take.
LOOP_NOTES: Final = 60
_LOOP_FIRST_S: Final = 0.25
_LOOP_GAP_S: Final = 0.03
_LOOP_LAST_S: Final = 1.0
#: Clicks before the first pluck.
COUNT_IN: Final = 4
_LEAD_S: Final = 1.0
_WAIT_S: Final = 0.02


def loop_delays_ms(source: PortSource, output: PortOutput, interrupt: Interrupt) -> list[float]:
    """How long each note took that came back, in milliseconds.

    Every note is known by its pitch and velocity, so late, lost and doubled ones are not taken for others.
    """
    sent_s: dict[tuple[int, int], float] = {}
    found: dict[tuple[int, int], float] = {}
    start_s = time.perf_counter() + _LOOP_FIRST_S
    for number in range(LOOP_NOTES):
        _gather(source, sent_s, found, start_s + number * _LOOP_GAP_S, interrupt)
        key = (36 + number % 48, 60 + number // 48)
        sent_s[key] = time.perf_counter()
        output.send(bytes((0x90, *key)))
        output.send(bytes((0x80, key[0], 0)))
    _gather(source, sent_s, found, time.perf_counter() + _LOOP_LAST_S, interrupt, until=LOOP_NOTES)
    return [1000 * delay_s for delay_s in found.values()]


def _gather(
    source: PortSource,
    sent_s: dict[tuple[int, int], float],
    found: dict[tuple[int, int], float],
    end_s: float,
    interrupt: Interrupt,
    until: int | None = None,
) -> None:
    """Listen until ``end_s``, or until so many notes have come back."""
    while (now_s := time.perf_counter()) < end_s and (until is None or len(found) < until):
        _stop_if(interrupt)
        source.wait(min(_WAIT_S, end_s - now_s))
        for message in source.poll():
            key = (message.data[1], message.data[2]) if len(message.data) > 2 else (0, 0)
            if message.data[0] & 0xF0 == 0x90 and key in sent_s and key not in found:
                found[key] = message.time_s - sent_s[key]


@dataclass(frozen=True)
class AskedPluck:
    """One click and the string that is to be plucked on it (counted from the highest); None in the count-in."""

    number: int
    string: int | None
    due_s: float
    #: The string on the next click; None in the count-in but for its last click, and at the end.
    then: int | None = None


def asked_plucks(rounds: int, strings: int, tempo: float, start_s: float) -> list[AskedPluck]:
    """A count-in, then the strings from the lowest to the highest, round after round, one on each click.

    In turn, because a player who drifts is then late on all strings alike.
    """
    beat_s = 60.0 / tempo
    order = [None] * COUNT_IN + [strings - n for _ in range(rounds) for n in range(strings)]
    return [
        AskedPluck(number, string, start_s + _LEAD_S + number * beat_s, then)
        for number, (string, then) in enumerate(zip_longest(order, order[1:]))
    ]


def play_plucks(
    source: PortSource,
    asked: Sequence[AskedPluck],
    click: PortOutput | None,
    show: Callable[[AskedPluck], None],
    interrupt: Interrupt,
) -> list[Message]:
    """Let the clicks sound and show them; every message that came meanwhile, with its time.

    :class:`SourceError` when nothing at all came in the first round: nobody should pluck a hundred strings for that.
    """
    heard: list[Message] = []
    beat_s = asked[1].due_s - asked[0].due_s
    round_end = COUNT_IN + max(one.string or 0 for one in asked)
    for index, one in enumerate(asked):
        heard += _until(source, one.due_s, interrupt)
        if index == round_end and not any(message.data[0] & 0xF0 == 0x90 for message in heard):
            raise SourceError(
                f"nothing came from '{source.name}' in the whole first round; what arrives is shown by: "
                "widehand ports --watch"
            )
        if click is not None:
            for data in Beat(one.due_s, 0, 0, index < COUNT_IN, False).messages():
                click.send(data)
        show(one)
    return heard + _until(source, asked[-1].due_s + beat_s / 2, interrupt)


def _until(source: PortSource, end_s: float, interrupt: Interrupt) -> list[Message]:
    heard: list[Message] = []
    while (now_s := time.perf_counter()) < end_s:
        _stop_if(interrupt)
        source.wait(min(_WAIT_S, end_s - now_s))
        heard += source.poll()
        if source.missing:
            raise SourceError(f"'{source.name}' has gone; plug it in and start again")
    return heard


def _stop_if(interrupt: Interrupt) -> None:
    if interrupt.raised:
        raise KeyboardInterrupt


def timed(asked: Sequence[AskedPluck], heard: Sequence[Message], pickup: Pickup) -> list[TimedPluck]:
    """The plucks that were meant, each the loudest note within half a beat of its click.

    Where strings are told apart only the string that was asked for counts.
    """
    half_s = (asked[1].due_s - asked[0].due_s) / 2
    notes = [m for m in heard if len(m.data) > 2 and m.data[0] & 0xF0 == 0x90 and m.data[2] >= pickup.velocity_floor]
    found = []
    for one in asked:
        if one.string is None:
            continue
        near = [
            note
            for note in notes
            if abs(note.time_s - one.due_s) < half_s
            and (not pickup.tells_strings or pickup.string_on((note.data[0] & 0x0F) + 1) == one.string)
        ]
        if near:
            note = max(near, key=lambda candidate: candidate.data[2])
            period_ms = 1000 / frequency_hz(note.data[1])
            found.append(TimedPluck(one.string, period_ms, 1000 * (note.time_s - one.due_s)))
    return found
