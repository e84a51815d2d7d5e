"""A client of one of the computer's MIDI systems, the same to everybody whichever library is behind it."""

from __future__ import annotations

import atexit
from abc import ABC, abstractmethod
from contextlib import suppress
from dataclasses import dataclass
from typing import Any, Final

from listener.hearing.sources.callback import Callback, Heard
from listener.hearing.sources.port_names import CLIENT
from listener.hearing.sources.quiet import quiet_stderr

#: The two directions, by the names that both libraries give their classes.
INPUT: Final = "MidiIn"
OUTPUT: Final = "MidiOut"


class MidiError(Exception):
    """A MIDI system or its library refuses; the text is theirs."""


@dataclass(frozen=True)
class MidiSystem:
    """One of the computer's MIDI systems: ALSA, JACK, CoreMIDI, Windows."""

    number: Any
    name: str
    is_jack: bool


class Client(ABC):
    """An input or an output of a system, with at most one port open. :class:`MidiError` from everything that fails.

    Not to be used once released. ``raw`` is the library's own; both call alike what gives it back.
    """

    def __init__(self, system: MidiSystem, raw: Any) -> None:
        self.system = system
        self._raw = raw
        self._callback: Callback | None = None
        self._released = False
        _OPEN.add(self)

    @abstractmethod
    def ports(self) -> list[str]:
        """What there is to open, by number; a port that vanishes meanwhile has no name."""

    @abstractmethod
    def open_port(self, number: int, name: str) -> None:
        """Connect to that port; ``name`` is our end's."""

    @abstractmethod
    def open_virtual_port(self, name: str) -> None:
        """Make a port of our own for others to connect to (not on Windows)."""

    @abstractmethod
    def listen(self, heard: Heard) -> None:
        """Hand over what arrives from now on, but no system exclusive and no clock: they come by the hundred and no
        note is among them."""

    @abstractmethod
    def send(self, data: bytes) -> None:
        """One MIDI message, now."""

    def release(self) -> None:
        """Give everything back, whatever state the system is in; never fails, may be called twice."""
        if not self._released:
            self._released = True
            _OPEN.discard(self)
            with suppress(Exception), quiet_stderr():
                if self._callback is not None:
                    self._callback.leave()
                self._raw.close_port()
                self._raw.delete()


#: What has not been given back yet.
_OPEN: Final[set[Client]] = set()


@atexit.register
def _release_all() -> None:
    """A JACK server waits five seconds for each client that just vanishes (seen).

    What listens goes first: an output that closes waits for its system, which may be waiting for an input's callback.
    """
    for client in sorted(_OPEN, key=lambda client: client._callback is None):
        client.release()


class Library(ABC):
    """What reaches the MIDI systems from Python."""

    #: As a package is called.
    name: str

    @abstractmethod
    def systems(self) -> tuple[MidiSystem, ...]:
        """Those that it was built for, whether they answer or not."""

    @abstractmethod
    def client(self, system: MidiSystem, direction: str, name: str = CLIENT) -> Client:
        """A new one, whom others see by that name; prints nothing. :class:`MidiError` if the system does not answer."""
