"""The line to the guitar during a take: what happens when the port goes away and comes back, or cannot keep up."""

from __future__ import annotations

from typing import Protocol, runtime_checkable

from listener.judging.verdict import Verdict
from listener.session.take.practice import Practice


@runtime_checkable
class Port(Protocol):
    """A source that can be unplugged."""

    name: str
    #: The port is not there.
    missing: bool
    #: Messages that came when the queue was full, so far.
    lost: int


@runtime_checkable
class Served(Protocol):
    """A source on a MIDI server that can die."""

    #: The server, and every port with it, is not there.
    server_gone: bool


class GuitarLine:
    """Looks at the source after every poll. A source that cannot be unplugged, such as a file, is always there."""

    def __init__(self, source: object) -> None:
        self._port = source if isinstance(source, Port) else None
        self._missing = False
        self._lost_before = self._port.lost if self._port is not None else 0

    def follow(self, practice: Practice, now_s: float) -> list[Verdict]:
        """Pause the take when the port has gone, go on when it is there again; what that settles."""
        if self._port is None or self._port.missing == self._missing:
            return []
        self._missing = self._port.missing
        return practice.port_gone(now_s) if self._missing else practice.port_back(now_s)

    @property
    def note(self) -> str:
        """One line for the player; empty when all is well."""
        if self._port is None:
            return ""
        if self._missing:
            if isinstance(self._port, Served) and self._port.server_gone:
                return "the MIDI server stopped; start it again: the take waits, nothing is lost"
            return f"'{self._port.name}' has gone; plug it in again: the take waits for it"
        lost = self._port.lost - self._lost_before
        if lost:
            return f"this computer could not keep up: {lost} messages from '{self._port.name}' were lost"
        return ""
