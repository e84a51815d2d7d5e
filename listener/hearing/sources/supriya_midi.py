"""MIDI through supriya-midi, which has ready-made builds where python-rtmidi has none (Python 3.13 and later).

It wraps the same C++ library, and takes more care (all seen with 26.10b4; what another version does is to be seen
before it is let in):

- An error that its callback raises is the last that a client reports, and one raised in the MIDI system's thread ends
  the program. So errors are noted here and raised after the call.
- A client of a system that is not there can be made; only its ports cannot be asked for.
- What is still open when Python ends is complained about on standard error; ``Client`` sees to it that nothing is.
- Its Linux build carries a JACK library of its own, too old for today's servers; the system's is put before it.
"""

from __future__ import annotations

import ctypes
import sys
from collections.abc import Callable
from contextlib import suppress
from typing import Any

if sys.platform == "linux":
    with suppress(OSError):  # no JACK here
        ctypes.CDLL("libjack.so.0", mode=ctypes.RTLD_GLOBAL)

import supriya_midi

from listener.hearing.sources.callback import Callback, Heard
from listener.hearing.sources.client import Client, Library, MidiError, MidiSystem
from listener.hearing.sources.port_names import CLIENT
from listener.hearing.sources.quiet import quiet_stderr

_library: Any = supriya_midi


class _Client(Client):
    def __init__(self, system: MidiSystem, direction: str, name: str) -> None:
        self._said: list[str] = []
        with quiet_stderr():
            raw = self._call(getattr(_library, direction), system.number, name)
            super().__init__(system, raw)
            raw.set_error_callback(self._error)
            try:
                self._call(raw.get_port_count)
            except MidiError:
                self.release()
                raise

    def _error(self, _kind: Any, text: str, _data: Any = None) -> None:
        self._said.append(text)

    def _call(self, function: Callable[..., Any], *words: Any) -> Any:
        self._said.clear()
        try:
            found = function(*words)
        except (OSError, RuntimeError, ValueError, _library.RtMidiError) as error:
            raise MidiError(str(error)) from None
        if self._said:
            raise MidiError(self._said[0])
        return found

    def ports(self) -> list[str]:
        return [self._port_name(number) for number in range(self._call(self._raw.get_port_count))]

    def _port_name(self, number: int) -> str:
        try:
            return str(self._raw.get_port_name(number))
        except UnicodeDecodeError as error:  # cut off in the middle of a letter, as ALSA does
            return error.object.decode("utf-8", errors="replace")

    def open_port(self, number: int, name: str) -> None:
        self._call(self._raw.open_port, number, name)

    def open_virtual_port(self, name: str) -> None:
        self._call(self._raw.open_virtual_port, name)

    def listen(self, heard: Heard) -> None:
        callback = Callback(heard, self._raw.cancel_callback)
        self._call(self._raw.ignore_types, True, True, False)
        self._call(self._raw.set_callback, lambda data, _after_s, _data=None: callback.arrived(data))
        self._callback = callback

    def send(self, data: bytes) -> None:
        self._call(self._raw.send_message, list(data))


class SupriyaMidi(Library):
    """Used where python-rtmidi is not installed."""

    name = "supriya-midi"

    def systems(self) -> tuple[MidiSystem, ...]:
        kinds = _library.RtMidiAPI
        return tuple(
            MidiSystem(number, _library.get_api_display_name(number), number == kinds.UNIX_JACK)
            for number in _library.get_compiled_apis()
            if number != kinds.RTMIDI_DUMMY
        )

    def client(self, system: MidiSystem, direction: str, name: str = CLIENT) -> Client:
        return _Client(system, direction, name)
