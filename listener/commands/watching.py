"""``widehand ports --watch``: every note as it arrives, and what the pickup's profile must be."""

from __future__ import annotations

import json
import sys
import time
from argparse import Namespace
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Any, Final, TextIO

from listener.hearing.bends import CENTRE, cents
from listener.hearing.events import Message
from listener.hearing.learning import Learner, Proposal
from listener.hearing.pickup import Pickup, make_pickup
from listener.hearing.sources.port import PortSource, open_input
from listener.music.pitch import spell
from listener.screen.keys import Keyboard
from listener.session.run import Interrupt, interrupts
from listener.settings import load_settings

_WAIT_S: Final = 0.05
#: Bends come by the hundred: a channel's is told at most this often (seconds), and when it differs by so much.
_BEND_S: Final = 0.25
_BEND_CENTS: Final = 5.0
_START: Final = (
    "Pluck each open string once, one at a time, from the lowest to the highest; then the lowest twice more. "
    "End with q or Ctrl-C."
)


@dataclass
class _Teller:
    """Turns messages into lines: channel, note, velocity and bend."""

    port: str
    pickup: Pickup | None
    start_s: float
    bends: dict[int, int] = field(default_factory=dict)
    told: dict[int, tuple[float, float]] = field(default_factory=dict)

    def line(self, message: Message) -> str | None:
        """What to say about a message; None for what only belongs to others."""
        data = message.data
        if len(data) < 3:
            return None
        kind, channel = data[0] >> 4, (data[0] & 0x0F) + 1
        if kind == 0x9 and data[2]:
            what = (
                f"{spell(data[1])!s:<4} ({data[1]:>3})  velocity {data[2]:>3}  bend {self._cents(channel):+6.1f} cents"
            )
            self.told[channel] = (message.time_s, self._cents(channel))
            return self._line(message.time_s, channel, what)
        if kind == 0xE:
            self.bends[channel] = data[1] | data[2] << 7
            return self._bend_line(message.time_s, channel)
        if kind == 0xB and data[1] == 64:
            return self._line(message.time_s, channel, f"sustain pedal {'down' if data[2] >= 64 else 'up'}")
        return None

    def _bend_line(self, time_s: float, channel: int) -> str | None:
        then_s, then_cents = self.told.get(channel, (float("-inf"), 0.0))
        now_cents = self._cents(channel)
        if time_s - then_s < _BEND_S or abs(now_cents - then_cents) < _BEND_CENTS:
            return None
        self.told[channel] = (time_s, now_cents)
        return self._line(time_s, channel, f"bend {now_cents:+.1f} cents")

    def _cents(self, channel: int) -> float:
        span = self.pickup.bend_range_semitones if self.pickup is not None else 2
        return cents(self.bends.get(channel, CENTRE), span)

    def _line(self, time_s: float, channel: int, what: str) -> str:
        string = self.pickup.string_on(channel) if self.pickup is not None else None
        where = f"channel {channel:>2}" + (f" (string {string})" if string is not None else "")
        return f"{time_s - self.start_s:8.3f} s  {self.port}  {where}  {what}"


def watch(arguments: Namespace) -> int:
    """Show what arrives until q, Ctrl-C or ``--seconds``; then say which profile fits."""
    pickup = make_pickup(arguments.pickup) if arguments.pickup else None
    out = sys.stderr if arguments.json else sys.stdout
    with ExitStack() as stack:
        source = open_input(arguments.watch or load_settings().port)
        stack.callback(source.close)
        interrupt = stack.enter_context(interrupts())
        keys = stack.enter_context(Keyboard())
        _tell(out, f"Listening to '{source.name}'. {_START}")
        learner, count = _listen(
            source, keys, interrupt, _Teller(source.name, pickup, time.perf_counter()), out, arguments
        )
    proposal = learner.proposal()
    if arguments.json:
        print(json.dumps(_report(source.name, learner, proposal, count)))
    else:
        for line in _said(proposal, source.name):
            _tell(out, line)
    return 130 if interrupt.raised else 0


def _listen(
    source: PortSource, keys: Keyboard, interrupt: Interrupt, teller: _Teller, out: TextIO, arguments: Namespace
) -> tuple[Learner, int]:
    learner, count, missing, lost = Learner(), 0, False, 0
    latest = learner.proposal()
    end_s = teller.start_s + arguments.seconds if arguments.seconds else float("inf")
    while not interrupt.raised and "quit" not in keys.read() and (now_s := time.perf_counter()) < end_s:
        source.wait(min(_WAIT_S, end_s - now_s))
        messages = source.poll()
        for message in messages:
            count += 1
            learner.feed(message)
            line = teller.line(message)
            if line is not None:
                _tell(out, line)
        if source.missing != missing:
            missing = source.missing
            _tell(out, f"'{source.name}' has gone; plug it in again." if missing else f"'{source.name}' is back.")
        if source.lost != lost:
            _tell(out, f"This computer could not keep up: {source.lost - lost} messages were lost.")
            lost = source.lost
        proposal = learner.proposal() if messages else latest
        if proposal != latest and proposal.profile is not None:
            for line in _said(proposal, source.name):
                _tell(out, line)
        latest = proposal
    return learner, count


def _tell(out: TextIO, line: str) -> None:
    print(line, file=out, flush=True)


def _said(proposal: Proposal, port: str) -> list[str]:
    lines = list(proposal.remarks)
    if proposal.profile is not None:
        sure = "The profile is" if proposal.sure else "The profile may be"
        lines.append(f"{sure} '{proposal.profile}': widehand play DRILL --port '{port}' --pickup '{proposal.profile}'")
    return lines


def _report(port: str, learner: Learner, proposal: Proposal, count: int) -> dict[str, Any]:
    plucks = [
        {"channel": one.channel, "pitch": one.pitch, "name": str(spell(one.pitch)), "velocity": one.velocity}
        for one in learner.plucks
    ]
    return {
        "port": port,
        "messages": count,
        "plucks": plucks,
        "profile": proposal.profile,
        "sure": proposal.sure,
        "remarks": list(proposal.remarks),
    }
