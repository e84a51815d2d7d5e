"""Finding out how a pickup sends, from its open strings plucked one at a time, the lowest first.

What decides is which channel each string came on, whether a string that was plucked twice came on the same one, and
what the sender says of itself: its bend range (RPN 0) and its zone (RPN 6).
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import median
from typing import Final

from listener.errors import SourceError
from listener.hearing.bends import BEND_RANGE, ZONE, Parameters
from listener.hearing.events import Message
from listener.hearing.pickup import Pickup, make_pickup

#: Notes closer together than this are one pluck and what a pickup makes of it (ghosts, double triggers).
PLUCK_S: Final = 0.15
#: A note this much softer than a usual pluck is none (our choice, as for ghost notes).
_SOFT: Final = 0.4
#: A second note this loud in one pluck is a second string (our choice).
_LOUD: Final = 0.8
_FEWEST: Final = 4
USUAL_STRINGS: Final = 6


@dataclass(frozen=True, slots=True)
class OpenStringPluck:
    """One string, plucked. ``channel`` counts from 1; ``others`` are further notes that came with it."""

    time_s: float
    channel: int
    pitch: int
    velocity: int
    others: int = 0


@dataclass(frozen=True, slots=True)
class Proposal:
    """``profile`` is a name for :func:`make_pickup`, None while nothing fits; ``sure`` when nothing else would fit as
    well. ``remarks`` say what is unclear and what to do, in whole sentences."""

    profile: str | None
    sure: bool
    remarks: tuple[str, ...]


class Learner:
    """Feed it everything that arrives; ask for a proposal at any time."""

    def __init__(self) -> None:
        self._notes: list[OpenStringPluck] = []
        self._parameters = [Parameters() for _ in range(16)]
        self._ranges: dict[int, float] = {}
        self._manager: int | None = None

    def feed(self, message: Message) -> None:
        """One message."""
        data = message.data
        if len(data) < 3:
            return
        kind, channel = data[0] >> 4, (data[0] & 0x0F) + 1
        if kind == 0x9 and data[2]:
            self._notes.append(OpenStringPluck(message.time_s, channel, data[1], data[2]))
        elif kind == 0xB:
            found = self._parameters[channel - 1].feed(data[1], data[2])
            if found is not None and found[0] == BEND_RANGE:
                self._ranges[channel] = found[1]
            elif found is not None and found[0] == ZONE and channel in (1, 16):
                self._manager = channel if found[1] else None

    @property
    def plucks(self) -> tuple[OpenStringPluck, ...]:
        """The strings that were plucked so far, in order; what is far softer than the others is none of them."""
        groups: list[list[OpenStringPluck]] = []
        for note in self._notes:
            if groups and note.time_s - groups[-1][0].time_s < PLUCK_S:
                groups[-1].append(note)
            else:
                groups.append([note])
        loudest = [max(group, key=lambda note: note.velocity) for group in groups]
        if not loudest:
            return ()
        least = _SOFT * median(note.velocity for note in loudest)
        return tuple(
            OpenStringPluck(best.time_s, best.channel, best.pitch, best.velocity, _second_strings(best, group))
            for best, group in zip(loudest, groups, strict=True)
            if best.velocity >= least
        )

    def proposal(self) -> Proposal:
        """What the plucks so far say."""
        plucks = self.plucks
        problem = _problem(plucks)
        if problem:
            return Proposal(None, False, (problem,))
        channels: dict[int, list[int]] = {}
        for pluck in plucks:
            channels.setdefault(pluck.pitch, []).append(pluck.channel)
        found = self.proposal_of(list(channels.values()))
        if len(channels) == USUAL_STRINGS:
            return found
        return replace(found, remarks=(f"{len(channels)} strings were plucked.", *found.remarks))

    def proposal_of(self, channels: Sequence[Sequence[int]]) -> Proposal:
        """What it means that the strings came on these channels: for each string, from the lowest to the highest, the
        channel of every pluck of it. What the sender said of itself is known from what was fed."""
        firsts = [row[0] for row in channels]
        repeated = any(len(row) > 1 for row in channels)
        remarks: list[str] = []
        if len({channel for row in channels for channel in row}) == 1:
            return self._with_range("single", True, ["Strings cannot be told apart."], firsts)
        if any(len(set(row)) > 1 for row in channels):
            remarks.append("A string's channel changes from pluck to pluck, so strings cannot be told apart.")
            return self._with_range(self._zone(firsts), True, remarks, firsts)
        if self._manager is not None and not repeated:
            remarks.append(
                "The pickup spreads its notes over channels. Pluck the lowest string twice more: if its channel stays, "
                "strings can be told apart."
            )
            return self._with_range(self._zone(firsts), False, remarks, firsts)
        return self._per_string(firsts, repeated, remarks)

    def _per_string(self, firsts: list[int], repeated: bool, remarks: list[str]) -> Proposal:
        """``firsts`` are the channels from the lowest string to the highest."""
        twice = next((channel for channel in firsts if firsts.count(channel) > 1), None)
        if twice is not None:
            where = " and ".join(str(len(firsts) - n) for n, channel in enumerate(firsts) if channel == twice)
            said = f"Strings {where} came on the same channel ({twice}), the others did not; no profile is like that."
            return Proposal("single", False, (*remarks, said, "With 'single' every channel is heard all the same."))
        name = _fitting(tuple(reversed(firsts)), self._manager)
        if name is None:
            said = f"The channels, lowest string first, are {' '.join(map(str, firsts))}; no profile has that order."
            return Proposal("single", False, (*remarks, said, "With 'single' every channel is heard all the same."))
        in_turn = firsts == sorted(firsts) or max(firsts) == 15
        if in_turn and not repeated:
            remarks.append(
                "Channels might also be handed out in turn. Pluck the lowest string twice more: it should come on "
                f"channel {firsts[0]} again."
            )
        return self._with_range(name, repeated or not in_turn, remarks, firsts)

    def _zone(self, channels: Sequence[int]) -> str:
        manager = self._manager or (16 if 1 in channels or (15 in channels and 2 not in channels) else 1)
        return "zone upper" if manager == 16 else "zone"

    def _with_range(self, name: str, sure: bool, remarks: list[str], channels: list[int]) -> Proposal:
        pickup = make_pickup(name)
        ranges = {self._ranges[channel] for channel in channels if channel in self._ranges}
        if len(ranges) > 1:
            remarks.append("The strings say different bend ranges; each is taken at its word.")
        elif not ranges:
            remarks.append(f"No bend range was sent; {pickup.bend_range_semitones:g} semitones are taken for it.")
        elif ranges != {pickup.bend_range_semitones}:
            name = f"{name} bend {ranges.pop():g}"
        return Proposal(name, sure, tuple(remarks))


def _second_strings(best: OpenStringPluck, group: Sequence[OpenStringPluck]) -> int:
    """How many further strings were plucked with it: as loud, and neither the same note nor its octave or twelfth."""
    return len(
        {
            note.pitch
            for note in group
            if note.velocity >= _LOUD * best.velocity and abs(note.pitch - best.pitch) not in (0, 12, 19, 24)
        }
    )


def _problem(plucks: Sequence[OpenStringPluck]) -> str:
    """Why the plucks say nothing yet; empty when they do."""
    if not plucks:
        return "Nothing has come yet: pluck each open string once, from the lowest to the highest."
    for number, pluck in enumerate(plucks, 1):
        if pluck.others:
            return f"Pluck {number} was several strings at once; start again and pluck them one at a time."
    firsts = list(dict.fromkeys(pluck.pitch for pluck in plucks))
    for number, (low, high) in enumerate(pairwise(firsts), 2):
        if high < low:
            return (
                f"String number {number} was lower than the one before; start again and pluck the open strings from "
                "the lowest to the highest."
            )
    if len(firsts) < _FEWEST:
        return f"{len(firsts)} of {USUAL_STRINGS} strings so far; go on to the next higher one."
    return ""


_FIXED: Final = {
    None: ("per-string", "per-string low first"),
    1: ("zone per string", "zone per string low first"),
    16: ("zone upper per string", "zone upper per string low first"),
}


def _fitting(channels: tuple[int, ...], manager: int | None) -> str | None:
    """The profile with these channels, string 1 first."""
    for base in _FIXED[manager]:
        plain = make_pickup(base)
        words = [base]
        if manager is None and min(channels) != min(plain.channels):
            words.append(f"from {min(channels)}")
        if len(channels) != len(plain.channels):
            words.append(f"strings {len(channels)}")
        pickup = _made(" ".join(words))
        if pickup is not None and pickup.channels == channels:
            return pickup.name
    return None


def _made(name: str) -> Pickup | None:
    try:
        return make_pickup(name)
    except SourceError:
        return None
