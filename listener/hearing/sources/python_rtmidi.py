"""MIDI through python-rtmidi, whose ready-made builds end with Python 3.12."""

from __future__ import annotations

from collections.abc import Iterator
from contextlib import contextmanager

import rtmidi

from listener.hearing.sources.callback import Callback, Heard
from listener.hearing.sources.client import Client, Library, MidiError, MidiSystem
from listener.hearing.sources.port_names import CLIENT
from listener.hearing.sources.quiet import quiet_stderr


@contextmanager
def _refusals() -> Iterator[None]:
    try:
        yield
    except (OSError, RuntimeError, ValueError, rtmidi.RtMidiError) as error:
        raise MidiError(str(error)) from None


class _Client(Client):
    def __init__(self, system: MidiSystem, direction: str, name: str) -> None:
        with _refusals(), quiet_stderr():
            raw = getattr(rtmidi, direction)(system.number, name=name)
        super().__init__(system, raw)

    def ports(self) -> list[str]:
        with _refusals():
            return [name or "" for name in self._raw.get_ports()]

    def open_port(self, number: int, name: str) -> None:
        with _refusals():
            self._raw.open_port(number, name=name)

    def open_virtual_port(self, name: str) -> None:
        with _refusals():
            self._raw.open_virtual_port(name)

    def listen(self, heard: Heard) -> None:
        callback = Callback(heard, self._raw.cancel_callback)
        with _refusals():
            self._raw.ignore_types(sysex=True, timing=True, active_sense=False)
            self._raw.set_callback(lambda event, _data=None: callback.arrived(event[0]))
        self._callback = callback

    def send(self, data: bytes) -> None:
        with _refusals():
            self._raw.send_message(list(data))


class PythonRtmidi(Library):
    """Used where it is installed."""

    name = "python-rtmidi"

    def systems(self) -> tuple[MidiSystem, ...]:
        return tuple(
            MidiSystem(number, rtmidi.get_api_display_name(number), number == rtmidi.API_UNIX_JACK)
            for number in rtmidi.get_compiled_api()
        )

    def client(self, system: MidiSystem, direction: str, name: str = CLIENT) -> Client:
        return _Client(system, direction, name)
