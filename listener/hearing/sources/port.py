"""MIDI ports, opened by name: messages come in with the time they arrived, and go out.

The callback runs in the MIDI system's own thread and holds up what comes after it, so it stamps the time and queues
the message, nothing else. Times are ``time.perf_counter()`` seconds.
"""

from __future__ import annotations

import time
from collections.abc import Callable, Sequence
from contextlib import suppress
from queue import Empty, SimpleQueue
from typing import Final

from listener.errors import SourceError
from listener.hearing.byte_stream import LENGTHS, ByteStream
from listener.hearing.events import Message
from listener.hearing.line_watch import LineWatch
from listener.hearing.sources.client import INPUT, OUTPUT, Client, MidiError
from listener.hearing.sources.interfaces import clients
from listener.hearing.sources.port_names import CLIENT, match_port, same_port
from listener.hearing.sources.port_output import ON_SERVER, PortOutput
from listener.hearing.sources.server import Server

#: How often, in seconds, the list of ports is looked at while nothing comes (measured with JACK: 0.04 ms each).
LOOK_S: Final = 0.25
#: How often a server that has died is looked for (seconds): each time holds the program up for some 40 ms (measured).
SERVER_LOOK_S: Final = 1.0
#: Messages that may wait to be polled: a minute of a thousand a second.
QUEUE_LIMIT: Final = 60_000


def _ports(direction: str) -> list[str]:
    names: list[str] = []
    for client in clients(direction):
        try:
            names.extend(name for name in client.ports() if name)
        except MidiError:  # it answered a moment ago
            continue
        finally:
            client.release()
    return names


def input_ports() -> list[str]:
    """Names of the ports that can be listened to; :class:`SourceError` when there is no MIDI system at all."""
    return _ports(INPUT)


def output_ports() -> list[str]:
    """Names of the ports that can be sent to."""
    return _ports(OUTPUT)


def _open(direction: str, wanted: str | None, what: str, option: str = "--port") -> tuple[str, Client]:
    """The name and the opened client of a port."""
    name = match_port(wanted, _ports(direction), what, option=option)
    for client in clients(direction):
        try:
            names = client.ports()
            if name in names:
                client.open_port(names.index(name), what)
                return name, client
        except MidiError as error:
            client.release()
            raise SourceError(f"the MIDI {what} port '{name}' cannot be opened: {error}") from None
        client.release()
    raise SourceError(f"the MIDI {what} port '{name}' has just gone away; try: widehand ports")


def _open_virtual(name: str) -> tuple[str, Client]:
    for client in clients(INPUT):
        try:
            client.open_virtual_port(name)
            return name, client
        except MidiError:
            client.release()
    raise SourceError("this system has no virtual MIDI ports; connect to an existing one instead")


class PortSource:
    """An open input. Messages carry the ``perf_counter`` time at which they arrived, never falling.

    A message's time is never before the call of an earlier ``poll`` that did not return it. So whoever reads the clock,
    then polls, then feeds, may tick with the time that was read: nothing older will come.

    No MIDI library says when a sender vanishes, so ``poll`` looks at the list of ports now and then while nothing comes
    (if ``reopen``, which opens a port by its name, is given). ``missing`` says that the port has gone; when one of the
    same name is there again it is taken up. ``server_gone`` says that it has gone because the MIDI server died (if it
    is one that can be watched, ``server``); the server is looked for until it is back, then the port. ``lost`` counts
    messages that came when the queue was full. All notes end when the port goes, when messages were lost and when an
    active-sensing sender falls silent: none rings for ever.
    """

    finished: bool = False

    def __init__(
        self, name: str, client: Client, *, reopen: Callable[[str], Client] | None = None, server: Server | None = None
    ) -> None:
        self.name = name
        self.missing = False
        self.server_gone = False
        self.lost = 0
        self._client: Client | None = client
        self._reopen = reopen
        self._server = server
        self._queue: SimpleQueue[tuple[float, Sequence[int] | Exception]] = SimpleQueue()
        self._taken: list[tuple[float, Sequence[int] | Exception]] = []
        self._polled_s = self._looked_s = time.perf_counter()
        self._line = LineWatch()
        self._bytes = ByteStream()
        self._dropped = 0
        #: The other ports when this one went: none of them is it.
        self._others: frozenset[str] = frozenset()
        client.listen(self._arrived)

    def _arrived(self, data: Sequence[int]) -> None:
        try:
            if self._queue.qsize() < QUEUE_LIMIT:
                self._queue.put((time.perf_counter(), data))
            else:
                self._dropped += 1
        except Exception as error:  # an exception would vanish without a trace in the other thread
            self._queue.put((time.perf_counter(), error))

    def poll(self) -> list[Message]:
        """What has arrived since the last time; never waits."""
        now_s = time.perf_counter()
        taken, self._taken = self._taken, []
        with suppress(Empty):
            while True:
                taken.append(self._queue.get_nowait())
        messages: list[Message] = []
        for stamp_s, data in taken:
            if isinstance(data, Exception):
                raise SourceError(f"the MIDI input '{self.name}' failed: {data}; connect it again") from data
            # The callback may be interrupted between reading the clock and queueing.
            self._polled_s = max(self._polled_s, stamp_s)
            if data and LENGTHS.get(data[0] >> 4) == len(data):
                messages += self._line.feed(Message(self._polled_s, tuple(data)))
            else:
                for whole in self._bytes.feed(data):
                    messages += self._line.feed(Message(self._polled_s, whole))
        self._polled_s = max(self._polled_s, now_s)
        if self.lost != self._dropped:
            self.lost = self._dropped
            messages += self._line.silence(self._polled_s)
        if taken:
            self._looked_s = self._polled_s
            return messages
        messages += self._line.tick(self._polled_s)
        if self._reopen is not None and self._polled_s - self._looked_s >= self._look_s:
            self._looked_s = self._polled_s
            messages += self._look_for_server() if self._server is not None else []
            messages += self._look() if not self.server_gone else []
        return messages

    @property
    def _look_s(self) -> float:
        return SERVER_LOOK_S if self.server_gone else LOOK_S

    def _look_for_server(self) -> list[Message]:
        """Is the server still there, or there again? What ends because it has gone."""
        assert self._server is not None
        if self.server_gone:
            client = self._server.again()
            if client is not None:
                self._client, self.server_gone, self._others = client, False, frozenset()
        elif self._server.gone():
            self.missing = self.server_gone = True
            self._give_back()
            for output in list(ON_SERVER):
                output.let_go()
            return self._line.silence(self._polled_s)
        return []

    def _look(self) -> list[Message]:
        """Is the port still there, or there again? What ends because it has gone."""
        names: list[str] = []
        if self._client is not None:
            with suppress(MidiError):
                names = self._client.ports()
        if not self.missing:
            if self.name not in names:
                self.missing, self._others = True, frozenset(names)
                return self._line.silence(self._polled_s)
            return []
        again = same_port(self.name, [name for name in names if name not in self._others])
        if again is not None and self._reopen is not None:
            # A new client: with JACK, one whose port was closed and opened again hears nothing (seen with RtMidi 5.0).
            with suppress(SourceError):
                client = self._reopen(again)
                self._give_back()
                self._client, self.name, self.missing = client, again, False
                if self._server is not None:
                    self._server.renew()
                client.listen(self._arrived)
        return []

    def _give_back(self) -> None:
        if self._client is not None:
            self._client.release()
            self._client = None

    def wait(self, timeout_s: float) -> None:
        """Until a message is there or the time is up."""
        if not self._taken:
            with suppress(Empty):
                self._taken.append(self._queue.get(timeout=max(0.0, timeout_s)))

    def close(self) -> None:
        """Give the port back; may be called twice."""
        if not self.finished:
            self.finished = True
            self._give_back()


def open_input(name: str | None, *, virtual: bool = False, option: str = "--port") -> PortSource:
    """Listen to a port (see :func:`match_port` for what a name may be). ``virtual`` makes a port of that name
    instead, for another program to send to (not on Windows). ``option`` is the one that says which of several."""
    if virtual:
        return PortSource(*_open_virtual(name or CLIENT))
    found, client = _open(INPUT, name, "input", option)
    server = Server.of(client, INPUT)
    return PortSource(found, client, reopen=lambda name: _open(INPUT, name, "input")[1], server=server)


def open_output(name: str) -> PortOutput:
    """Send to a port."""
    found, client = _open(OUTPUT, name, "output")
    output = PortOutput(found, client, reopen=lambda name: _open(OUTPUT, name, "output")[1])
    if Server.of(client, OUTPUT) is not None:
        ON_SERVER.add(output)
    return output
