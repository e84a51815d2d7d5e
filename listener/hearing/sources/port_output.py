"""An open MIDI output, and what becomes of it when the server it is on dies."""

from __future__ import annotations

from collections.abc import Callable
from typing import Final
from weakref import WeakSet

from listener.errors import SourceError
from listener.hearing.sources.client import Client, MidiError


class PortOutput:
    """An open output, for the click. One whose server died is opened again by ``reopen`` when it has to send."""

    def __init__(self, name: str, client: Client, *, reopen: Callable[[str], Client] | None = None) -> None:
        self.name = name
        self._client: Client | None = client
        self._reopen = reopen
        self._closed = False

    def send(self, data: bytes) -> None:
        """Send one MIDI message now; :class:`SourceError` when the port does not take it."""
        if self._closed:
            raise SourceError(f"the MIDI output '{self.name}' is closed")
        if self._client is None:
            if self._reopen is None:
                raise SourceError(f"the MIDI server of the output '{self.name}' has stopped")
            self._client = self._reopen(self.name)
        try:
            self._client.send(data)
        except MidiError as error:
            raise SourceError(f"the MIDI output '{self.name}' does not take messages: {error}") from None

    def let_go(self) -> None:
        """Give back the client of a server that has died."""
        if self._client is not None and not self._closed:
            self._client.release()
            self._client = None

    def close(self) -> None:
        """Give the port back; may be called twice."""
        if not self._closed:
            self._closed = True
            if self._client is not None:
                self._client.release()


#: Outputs on a server that can die: all clients of a dead one are to be given back before a new one is looked for.
ON_SERVER: Final[WeakSet[PortOutput]] = WeakSet()
