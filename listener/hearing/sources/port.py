"""MIDI ports, straight over python-rtmidi.

The callback runs in the MIDI system's own thread and holds up what comes after it, so it stamps the time and queues
the message, nothing else. Times are ``time.perf_counter()`` seconds.

rtmidi reports a missing MIDI system by an exception for one of its interfaces (ALSA, JACK, CoreMIDI, Windows) though
another may be there; each is tried in turn. While one is tried, what the system's own C libraries print on standard
error is kept from the screen; their message reaches the player as our error instead.
"""

from __future__ import annotations

import os
import sys
import time
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from queue import Empty, SimpleQueue
from typing import Any, Final

from listener.errors import SourceError
from listener.hearing.events import Message

_CLIENT: Final = "widehand"
#: What to try when no MIDI system answers, by the start of ``sys.platform``.
_ADVICE: Final = {
    "linux": "load the ALSA sequencer (sudo modprobe snd-seq) or start a JACK server",
    "darwin": "open Audio MIDI Setup once and restart the program",
    "win": "check in the Device Manager that the MIDI driver is there",
}
#: Names of ports that nobody means when none is named: the system's own plumbing, and our own.
_PLUMBING: Final = ("midi through", f"{_CLIENT}:")


@contextmanager
def _quiet_stderr() -> Iterator[None]:
    """Standard error of C libraries to nowhere, for as short as it takes to ask one interface."""
    sys.stderr.flush()
    try:
        kept = os.dup(2)
    except OSError:
        yield
        return
    try:
        nowhere = os.open(os.devnull, os.O_WRONLY)
        os.dup2(nowhere, 2)
        os.close(nowhere)
        yield
    finally:
        os.dup2(kept, 2)
        os.close(kept)


def _clients(direction: str) -> Iterator[Any]:
    """An rtmidi client for each interface that answers; :class:`SourceError` when none does.

    The taker of a client deletes it. ``direction`` is ``"MidiIn"`` or ``"MidiOut"``.
    """
    try:
        import rtmidi
    except ImportError:
        raise SourceError("the python-rtmidi package is not installed; try: pip install python-rtmidi") from None
    refused = []
    for interface in rtmidi.get_compiled_api():
        try:
            with _quiet_stderr():
                client = getattr(rtmidi, direction)(interface, name=_CLIENT)
        except (OSError, rtmidi.RtMidiError):
            refused.append(rtmidi.get_api_display_name(interface))
            continue
        yield client
    if refused and len(refused) == len(rtmidi.get_compiled_api()):
        advice = next((text for system, text in _ADVICE.items() if sys.platform.startswith(system)), "install one")
        raise SourceError(f"no MIDI system answers (tried {' and '.join(refused)}); {advice}")


def _release(client: Any) -> None:
    with suppress(Exception), _quiet_stderr():
        client.close_port()
        client.delete()


def _ports(direction: str) -> list[str]:
    names: list[str] = []
    for client in _clients(direction):
        try:
            names.extend(client.get_ports())
        finally:
            _release(client)
    return names


def input_ports() -> list[str]:
    """Names of the ports that can be listened to; :class:`SourceError` when there is no MIDI system at all."""
    return _ports("MidiIn")


def output_ports() -> list[str]:
    """Names of the ports that can be sent to."""
    return _ports("MidiOut")


def match_port(wanted: str | None, names: list[str], what: str = "input") -> str:
    """The port that is meant: that very name, else the only one that contains it, upper and lower case alike.

    None means the only port there is, the system's through port and our own aside. :class:`SourceError` otherwise, with
    the names there are.
    """
    listed = ", ".join(f"'{name}'" for name in dict.fromkeys(names))
    if not names:
        raise SourceError(f"there is no MIDI {what} port; connect one and switch it on, then try: widehand ports")
    if wanted is None:
        found = [name for name in names if not name.lower().startswith(_PLUMBING)] or names
        problem = f"there are several MIDI {what} ports; say which with --port"
    elif wanted in names:
        return wanted
    else:
        low = wanted.lower()
        found = [name for name in names if name.lower() == low] or [name for name in names if low in name.lower()]
        problem = f"'{wanted}' fits several MIDI {what} ports; write more of the name"
    if not found:
        raise SourceError(f"there is no MIDI {what} port '{wanted}'; there are {listed}")
    if len(set(found)) > 1:
        raise SourceError(f"{problem}: {', '.join(repr(name) for name in dict.fromkeys(found))}")
    return found[0]


def _open(direction: str, wanted: str | None, what: str) -> tuple[str, Any]:
    """The name and the opened client of a port."""
    name = match_port(wanted, _ports(direction), what)
    for client in _clients(direction):
        try:
            names = client.get_ports()
            if name in names:
                client.open_port(names.index(name), name=what)
                return name, client
        except (OSError, RuntimeError, ValueError) as error:
            _release(client)
            raise SourceError(f"the MIDI {what} port '{name}' cannot be opened: {error}") from None
        _release(client)
    raise SourceError(f"the MIDI {what} port '{name}' has just gone away; try: widehand ports")


def _open_virtual(direction: str, name: str) -> tuple[str, Any]:
    for client in _clients(direction):
        try:
            client.open_virtual_port(name)
            return name, client
        except (OSError, RuntimeError, NotImplementedError):
            _release(client)
    raise SourceError("this system has no virtual MIDI ports; connect to an existing one instead")


class PortSource:
    """An open input. Messages carry the ``perf_counter`` time at which they arrived, never falling.

    A message's time is never before the call of an earlier ``poll`` that did not return it. So whoever reads the clock,
    then polls, then feeds, may tick with the time that was read: nothing older will come.
    """

    finished: bool = False

    def __init__(self, name: str, client: Any) -> None:
        self.name = name
        self._client = client
        self._queue: SimpleQueue[tuple[float, Any]] = SimpleQueue()
        self._taken: list[tuple[float, Any]] = []
        self._polled_s = 0.0
        # No system exclusive, clock or active sensing: they come by the hundred and no note is among them.
        client.ignore_types(sysex=True, timing=True, active_sense=True)
        client.set_callback(self._arrived)

    def _arrived(self, event: Any, _data: Any = None) -> None:
        try:
            self._queue.put((time.perf_counter(), event[0]))
        except Exception as error:  # an exception would vanish without a trace in the other thread
            self._queue.put((time.perf_counter(), error))

    def poll(self) -> list[Message]:
        """What has arrived since the last time; never waits."""
        now_s = time.perf_counter()
        taken, self._taken = self._taken, []
        with suppress(Empty):
            while True:
                taken.append(self._queue.get_nowait())
        messages = []
        for stamp_s, data in taken:
            if isinstance(data, Exception):
                raise SourceError(f"the MIDI input '{self.name}' failed: {data}; connect it again") from data
            # The callback may be interrupted between reading the clock and queueing.
            self._polled_s = max(self._polled_s, stamp_s)
            if data and data[0] < 0xF0:
                messages.append(Message(self._polled_s, tuple(data)))
        self._polled_s = max(self._polled_s, now_s)
        return messages

    def wait(self, timeout_s: float) -> None:
        """Until a message is there or the time is up."""
        if not self._taken:
            with suppress(Empty):
                self._taken.append(self._queue.get(timeout=max(0.0, timeout_s)))

    def close(self) -> None:
        """Give the port back; may be called twice."""
        if not self.finished:
            self.finished = True
            _release(self._client)


class PortOutput:
    """An open output, for the click."""

    def __init__(self, name: str, client: Any) -> None:
        self.name = name
        self._client = client
        self._closed = False

    def send(self, data: bytes) -> None:
        """Send one MIDI message now; :class:`SourceError` when the port does not take it."""
        if self._closed:
            raise SourceError(f"the MIDI output '{self.name}' is closed")
        try:
            self._client.send_message(list(data))
        except (OSError, RuntimeError, ValueError) as error:
            raise SourceError(f"the MIDI output '{self.name}' does not take messages: {error}") from None

    def close(self) -> None:
        """Give the port back; may be called twice."""
        if not self._closed:
            self._closed = True
            _release(self._client)


def open_input(name: str | None, *, virtual: bool = False) -> PortSource:
    """Listen to a port (see :func:`match_port` for what a name may be). ``virtual`` makes a port of that name
    instead, for another program to send to (not on Windows)."""
    if virtual:
        return PortSource(*_open_virtual("MidiIn", name or _CLIENT))
    return PortSource(*_open("MidiIn", name, "input"))


def open_output(name: str, *, virtual: bool = False) -> PortOutput:
    """Send to a port; ``virtual`` makes one of that name for other programs to listen to."""
    if virtual:
        return PortOutput(*_open_virtual("MidiOut", name))
    return PortOutput(*_open("MidiOut", name, "output"))
