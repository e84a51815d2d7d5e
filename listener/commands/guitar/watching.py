"""``widehand ports --watch``: every note as it arrives, and what the pickup's profile must be."""

from __future__ import annotations

import sys
import time
from argparse import Namespace
from contextlib import ExitStack
from dataclasses import dataclass, field
from typing import Any, Final, TextIO

from listener.commands.guitar.settings_keeping import keep_pickup, kept_settings
from listener.commands.json_out import print_json
from listener.commands.playing.at_the_screen import broken
from listener.errors import WidehandError
from listener.hearing.bends import CENTRE, cents
from listener.hearing.events import Message
from listener.hearing.learning import PLUCK_S, USUAL_STRINGS, Learner, Proposal
from listener.hearing.pickup import Pickup, make_pickup
from listener.hearing.sources.port import PortSource, input_ports, open_input
from listener.hearing.sources.port_names import lasting_name, match_port
from listener.music.pitch import spell
from listener.screen.keys import Keyboard
from listener.session.take.run import Interrupt, interrupts
from listener.settings import load_settings

_WAIT_S: Final = 0.05
#: Bends come by the hundred: a channel's is told at most this often (seconds), and when it differs by so much.
_BEND_S: Final = 0.25
_BEND_CENTS: Final = 5.0
#: A proposal with fewer strings than usual is told when nothing was plucked for so long (seconds).
_QUIET_S: Final = 3.0
#: What is wrong with a pluck is told once, however many notes it has (seconds).
_AGAIN_S: Final = 1.0
#: Messages that may say a bend range or a zone, and are remembered.
_MOST_PARAMETERS: Final = 1000
_START: Final = (
    "Pluck each open string once, one at a time, from the lowest to the highest; then the lowest twice more. "
    "End with q or Ctrl-C."
)


@dataclass
class _Teller:
    """Turns messages into lines: channel, note, velocity and bend."""

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
            bend = self._cents(channel)
            self.told[channel] = (message.time_s, bend)
            bent = f"  bend {bend:+6.1f} cents" if bend else ""
            what = f"{spell(data[1])!s:<4} ({data[1]:>3})  velocity {data[2]:>3}{bent}"
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
        return f"{time_s - self.start_s:8.3f} s  {where}  {what}"


def watch(arguments: Namespace) -> int:
    """Show what arrives until q, Ctrl-C or ``--seconds``; then say which profile fits."""
    pickup = make_pickup(arguments.pickup) if arguments.pickup else None
    out = sys.stderr if arguments.json else sys.stdout
    with ExitStack() as stack:
        source = open_input(arguments.watch or load_settings().port, option="--watch PORT")
        stack.callback(source.close)
        interrupt = stack.enter_context(interrupts())
        keys = stack.enter_context(Keyboard())
        _tell(out, f"Listening to '{source.name}'. {_START}")
        listening = _Listening(source, _Teller(pickup, time.perf_counter()), out)
        listening.run(keys, interrupt, arguments.seconds)
    proposal = listening.proposal()
    if arguments.json:
        print_json("watch", _report(source.name, listening.learner, proposal, listening.count))
    else:
        for line in ("", *_said(proposal, source.name), *_kept(proposal, source.name)):
            _tell(out, line)
    return 130 if interrupt.raised else 0


def _gone(source: PortSource) -> str:
    return (
        "The MIDI server stopped; start it again."
        if source.server_gone
        else f"'{source.name}' has gone; plug it in again."
    )


class _Listening:
    """Tells what arrives; what is learnt from it is told when all strings are there, or after a while of silence.

    A pluck that cannot be right is told at once, and learning starts anew with what comes then.
    """

    def __init__(self, source: PortSource, teller: _Teller, out: TextIO) -> None:
        self.count = 0
        self.learner = Learner()
        self._source, self._teller, self._out = source, teller, out
        #: What the sender says of itself, which holds after a new start too.
        self._parameters: list[Message] = []
        self._last_s = self._trouble_s = float("-inf")
        self._trouble = ""
        self._told: Proposal | None = None

    def run(self, keys: Keyboard, interrupt: Interrupt, seconds: float | None) -> None:
        """Until q, Ctrl-C or so many seconds."""
        source, missing, lost = self._source, False, 0
        end_s = self._teller.start_s + seconds if seconds else float("inf")
        while not interrupt.raised and "quit" not in keys.read() and (now_s := time.perf_counter()) < end_s:
            source.wait(min(_WAIT_S, end_s - now_s))
            for message in source.poll():
                self._feed(message)
            if source.missing != missing:
                missing = source.missing
                self._say(_gone(source) if missing else f"'{source.name}' is back.")
            if source.lost != lost:
                self._say(f"This computer could not keep up: {source.lost - lost} messages were lost.")
                lost = source.lost
            self._tell_proposal(time.perf_counter())

    def proposal(self) -> Proposal:
        """What the plucks say; as long as there are none again, what was wrong with those before."""
        found = self.learner.proposal()
        if self._trouble and len(self.learner.plucks) < 2:
            return Proposal(None, False, (self._trouble,))
        return found

    def _feed(self, message: Message) -> None:
        self.count += 1
        is_note = message.data[0] >> 4 == 0x9
        if not is_note or message.time_s - self._trouble_s >= PLUCK_S:  # the rest of several strings is no pluck
            self.learner.feed(message)
        line = self._teller.line(message)
        if line is not None:
            self._say(line)
        if message.data[0] >> 4 == 0xB and len(self._parameters) < _MOST_PARAMETERS:
            self._parameters.append(message)
        elif is_note:
            self._last_s = message.time_s
            self._start_anew(message)

    def _start_anew(self, message: Message) -> None:
        """If a pluck cannot be right. A string lower than the one before may be the lowest, plucked as the first."""
        plucks = self.learner.plucks
        strings = list(dict.fromkeys(pluck.pitch for pluck in plucks))
        is_lower = strings != sorted(strings)
        if not is_lower and not any(pluck.others for pluck in plucks):
            return
        trouble = self.learner.proposal().remarks[0]
        if trouble != self._trouble and message.time_s - self._trouble_s > _AGAIN_S:
            self._say(trouble)
        self._trouble, self._trouble_s, self._told = trouble, message.time_s, None
        self.learner = Learner()
        for one in (*self._parameters, message) if is_lower else self._parameters:
            self.learner.feed(one)

    def _tell_proposal(self, now_s: float) -> None:
        strings = {pluck.pitch for pluck in self.learner.plucks}
        if len(strings) < USUAL_STRINGS and now_s - self._last_s < _QUIET_S:
            return
        found = self.learner.proposal()
        if found.profile is not None and found != self._told:
            self._told = found
            for line in _said(found, self._source.name):
                self._say(line)

    def _say(self, line: str) -> None:
        _tell(self._out, line)


def _tell(out: TextIO, line: str) -> None:
    print(line if "widehand " in line else broken(line, out), file=out, flush=True)  # commands are copied whole


def _said(proposal: Proposal, port: str) -> list[str]:
    lines = list(proposal.remarks)
    if proposal.profile is not None:
        sure = "The profile is" if proposal.sure else "The profile may be"
        lines.append(
            f"{sure} '{proposal.profile}': widehand play paddock-gate --port '{port}' --pickup '{proposal.profile}'"
        )
    return lines


def _kept(proposal: Proposal, port: str) -> list[str]:
    """Keep what is sure, unless the player has named another port in the settings: then it is said how to."""
    if proposal.profile is None:
        return []
    try:
        saved = kept_settings()
        if proposal.sure and (saved.port is None or match_port(saved.port, [port]) == port):
            place = keep_pickup(lasting_name(port, input_ports()), proposal.profile, saved)
            return [f"Kept in {place}: this port and how it sends. From now on widehand play is enough."]
    except WidehandError:
        pass  # another port, or nowhere to keep it: the player can
    return [f'To keep it: pickup = "{proposal.profile}" under [midi] in your settings, or run: widehand setup']


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
