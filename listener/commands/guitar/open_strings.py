"""Every open string plucked once, one after the other, as asked: which channel each comes on, and what is wrong.

A string that is wrong or silent is said and waited for again. What was found says which pickup profile fits.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from statistics import median
from typing import Final, Protocol

from listener.guitar.instrument import Instrument
from listener.hearing.events import Message
from listener.hearing.learning import PLUCK_S, Learner, OpenStringPluck, Proposal
from listener.music.pitch import spell
from listener.session.take.run import Interrupt, Keys, Source

_WAIT_S: Final = 0.05
#: A string that stays silent for so long is said, and again after the same time (seconds).
SILENT_S: Final = 8.0
#: The string before, heard once more within this time, is its pluck ringing on or triggering twice (seconds).
_RING_S: Final = 0.6
#: A note so much softer than the plucks before is none (our choice, as for ghost notes).
_SOFT: Final = 0.4
#: With fewer strings nothing is concluded.
_FEWEST: Final = 4


class OpenPort(Source, Protocol):
    """An open port."""

    @property
    def name(self) -> str:
        """What it is called."""

    @property
    def missing(self) -> bool:
        """Unplugged just now."""


@dataclass(frozen=True)
class Found:
    """What the plucks came to. ``pitches`` are those heard, by string, ``silent`` the strings that never came."""

    proposal: Proposal
    pitches: dict[int, int]
    silent: tuple[int, ...]


class OpenStrings:
    """Asks for each string of a guitar, listens to one port, and says what it hears."""

    def __init__(
        self, source: OpenPort, instrument: Instrument, say: Callable[[str], None], silent_s: float = SILENT_S
    ) -> None:
        self._source, self._instrument, self._say, self._silent_s = source, instrument, say, silent_s
        self._heard: dict[int, list[OpenStringPluck]] = {}
        self._learner = Learner()
        self._group, self._group_end_s = Learner(), float("inf")
        self._last: OpenStringPluck | None = None

    def run(self, keys: Keys, interrupt: Interrupt) -> bool:
        """Ask for every string, the lowest first; False when the player left with q.

        KeyboardInterrupt when the program was told to end.
        """
        order = range(self._instrument.string_count, 0, -1)
        at = 0
        while at < len(order):
            word = self._one(order[at], keys, interrupt, first=True)
            if word == "quit":
                return False
            at = max(0, at - 1) if word == "again" else at + 1
        return self._sure(keys, interrupt)

    def found(self) -> Found:
        """What is known so far."""
        pitches = {string: plucks[0].pitch for string, plucks in self._heard.items()}
        strings = range(self._instrument.string_count, 0, -1)
        silent = tuple(string for string in strings if string not in self._heard)
        return Found(self._proposal(silent), pitches, silent)

    def _sure(self, keys: Keys, interrupt: Interrupt) -> bool:
        """Channels that may only have been handed out in turn are told apart by the lowest string, plucked again."""
        for _ in range(2):
            found = self.found()
            if found.silent or found.proposal.sure or found.proposal.profile is None:
                return True
            lowest = max(self._heard)
            if self._one(lowest, keys, interrupt, first=False) == "quit":
                return False
        return True

    def _one(self, string: int, keys: Keys, interrupt: Interrupt, *, first: bool) -> str:
        """One string, until it was heard, or a key says to go back, go on or leave; the word that says which."""
        name = self._name(string)
        self._say(f"Pluck {name}." if first else f"Once more, to see whether its channel stays: {name}.")
        silent_s, before, missing = time.perf_counter() + self._silent_s, None, False
        while True:
            if interrupt.raised:
                raise KeyboardInterrupt
            word = next((word for word in keys.read() if word in ("quit", "next", "again")), None)
            if word is not None:
                if first:
                    self._heard.pop(string, None)
                return word
            pluck = self._pluck()
            if self._source.missing != missing:
                missing = self._source.missing
                self._say(f"'{self._source.name}' has gone; plug it in again." if missing else "It is back.")
            if pluck is None:
                if time.perf_counter() > silent_s:
                    self._say(self._silence(name))
                    silent_s = time.perf_counter() + self._silent_s
                continue
            silent_s = time.perf_counter() + self._silent_s
            fault = self._fault(string, pluck, before)
            if not fault:
                self._heard[string] = [pluck] if first else [*self._heard[string], pluck]
                self._say(f"  {spell(pluck.pitch)} on channel {pluck.channel}")
                return "next"
            self._say(f"  {fault}")
            before = pluck.pitch

    def _name(self, string: int) -> str:
        end = {1: ", the highest", self._instrument.string_count: ", the lowest"}.get(string, "")
        return f"string {string}{end} ({self._pitch_name(string)})"

    def _pitch_name(self, string: int) -> str:
        """As the tuning spells it; over a capo the strings sound something else."""
        guitar = self._instrument
        return str(spell(guitar.pitch(string, 0))) if guitar.capo else guitar.tuning_names[-string]

    def _silence(self, name: str) -> str:
        if not self._heard and self._last is None:
            return (
                f"Nothing has come from '{self._source.name}' yet. Is the pickup on, and its volume up? "
                "If this is another device, q leaves."
            )
        return f"Nothing came. Pluck {name} again, a little harder; n goes on without it."

    def _fault(self, string: int, pluck: OpenStringPluck, before: int | None) -> str:
        """What is wrong with a pluck of this string; empty when nothing is, or when it came twice just so."""
        guitar = self._instrument
        wanted, heard = guitar.pitch(string, 0), spell(pluck.pitch)
        if pluck.others:
            return f"That was several strings at once. Pluck string {string} alone."
        if pluck.pitch == wanted:
            return ""
        other = next((n for n in range(1, guitar.string_count + 1) if guitar.pitch(n, 0) == pluck.pitch), None)
        if other is not None:
            return f"That was {heard}, string {other}. Pluck string {string}."
        if pluck.pitch == before:
            return ""
        if (pluck.pitch - wanted) % 12 == 0:
            way = "higher" if pluck.pitch > wanted else "lower"
            return f"That was {heard}, an octave {way}. Pluck it again; the same once more is taken as it is."
        return (
            f"That was {heard}; {self._pitch_name(string)} was expected. Tune it if need be and pluck it again; "
            "the same once more is taken as it is."
        )

    def _pluck(self) -> OpenStringPluck | None:
        """The next pluck when all of it has come; what only rings on, or is far softer than the others, is none."""
        self._source.wait(_WAIT_S)
        now_s = time.perf_counter()
        for message in self._source.poll():
            self._feed(message, now_s)
        if now_s < self._group_end_s:
            return None
        pluck = self._group.plucks[0]
        self._group, self._group_end_s = Learner(), float("inf")
        last, self._last = self._last, pluck
        plucks = [one.velocity for row in self._heard.values() for one in row]
        if plucks and pluck.velocity < _SOFT * median(plucks):
            self._last = last
            return None
        if last is not None and last.pitch == pluck.pitch and pluck.time_s - last.time_s < _RING_S:
            return None
        return pluck

    def _feed(self, message: Message, now_s: float) -> None:
        if message.data[0] >> 4 != 0x9:
            self._learner.feed(message)
        elif message.data[2]:
            self._group.feed(message)
            self._group_end_s = min(self._group_end_s, now_s + PLUCK_S)

    def _proposal(self, silent: Sequence[int]) -> Proposal:
        """For the strings from the lowest up; a silent one is where its neighbours say it must be."""
        if len(self._heard) < _FEWEST:
            return Proposal(None, False, ("Too few strings were heard to tell how the pickup sends.",))
        rows = [
            [pluck.channel for pluck in self._heard.get(string, ())]
            for string in range(self._instrument.string_count, 0, -1)
        ]
        if not silent:
            return self._learner.proposal_of(rows)
        found = self._learner.proposal_of(filled(rows))
        return replace(found, sure=False)


def filled(rows: Sequence[Sequence[int]]) -> list[Sequence[int]]:
    """Strings that were silent get the channel between those of their neighbours, where all lie in a row.

    Where they do not, the silent ones are left out.

    >>> filled([[6], [], [4], [3]])
    [[6], [5], [4], [3]]
    >>> filled([[1], [], [7]])
    [[1], [7]]
    """
    known = {at: row[0] for at, row in enumerate(rows) if row}
    first = min(known)
    for step in (0, 1, -1):
        if all(channel - known[first] == step * (at - first) for at, channel in known.items()):
            return [row or [known[first] + step * (at - first)] for at, row in enumerate(rows)]
    return [row for row in rows if row]
