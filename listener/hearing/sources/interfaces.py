"""The MIDI systems of this computer, through python-rtmidi: each is asked in turn, and none may write on the screen.

rtmidi reports a missing MIDI system by an exception for one of its interfaces (ALSA, JACK, CoreMIDI, Windows) though
another may be there; each is tried in turn. While one is tried, what the system's own C libraries print on standard
error is kept from the screen; their message reaches the player as our error instead.
"""

from __future__ import annotations

import os
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Any, Final

from listener.errors import SourceError
from listener.hearing.sources.port_names import CLIENT

#: What to try when no MIDI system answers, by the start of ``sys.platform``.
_ADVICE: Final = {
    "linux": "load the ALSA sequencer (sudo modprobe snd-seq) or start a JACK server",
    "darwin": "open Audio MIDI Setup once and restart the program",
    "win": "check in the Device Manager that the MIDI driver is there",
}
#: python-rtmidi is a dependency only where a ready-made build of it exists.
_NO_RTMIDI: Final = (
    "no MIDI ports without the package python-rtmidi, which is not installed; try: pip install 'widehand[midi]' "
    "(it may want a C++ compiler, on Linux also libasound2-dev; Python 3.11 and 3.12 need neither)"
)


@contextmanager
def quiet_stderr() -> Iterator[None]:
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


def clients(direction: str) -> Iterator[Any]:
    """An rtmidi client for each interface that answers; :class:`SourceError` when none does.

    The taker of a client deletes it. ``direction`` is ``"MidiIn"`` or ``"MidiOut"``.
    """
    try:
        import rtmidi
    except ImportError:
        raise SourceError(_NO_RTMIDI) from None
    refused = []
    for interface in rtmidi.get_compiled_api():
        try:
            with quiet_stderr():
                client = getattr(rtmidi, direction)(interface, name=CLIENT)
        except (OSError, rtmidi.RtMidiError):
            refused.append(rtmidi.get_api_display_name(interface))
            continue
        yield client
    if refused and len(refused) == len(rtmidi.get_compiled_api()):
        advice = next((text for system, text in _ADVICE.items() if sys.platform.startswith(system)), "install one")
        raise SourceError(f"no MIDI system answers (tried {' and '.join(refused)}); {advice}")


def release(client: Any) -> None:
    with suppress(Exception), quiet_stderr():
        client.close_port()
        client.delete()
