"""The MIDI systems of this computer: each is asked in turn, and none may write on the screen.

The libraries report a missing MIDI system for one of its interfaces (ALSA, JACK, CoreMIDI, Windows) though another may
be there; each is tried in turn. While one is tried, what the system's own C libraries print on standard error is kept
from the screen; their message reaches the player as our error instead.
"""

from __future__ import annotations

import sys
from collections.abc import Iterator
from functools import cache
from typing import Final

from listener.errors import SourceError
from listener.hearing.sources.client import Client, Library, MidiError, MidiSystem

#: What to try when no MIDI system answers, by the start of ``sys.platform``.
_ADVICE: Final = {
    "linux": "load the ALSA sequencer (sudo modprobe snd-seq) or start a JACK server",
    "darwin": "open Audio MIDI Setup once and restart the program",
    "win": "check in the Device Manager that the MIDI driver is there",
}
#: pyproject.toml asks for one of the two wherever ready-made builds exist.
_NO_LIBRARY: Final = "no live MIDI on this Python; install Widehand with Python 3.11 to 3.14, 64 bit"
_NO_ALSA: Final = "no live MIDI without ALSA's library; install libasound2 (elsewhere: alsa-lib)"


@cache
def library() -> Library:
    """python-rtmidi where it is installed, else supriya-midi; :class:`SourceError` without either."""
    try:
        try:
            from listener.hearing.sources.python_rtmidi import PythonRtmidi

            return PythonRtmidi()
        except ModuleNotFoundError:
            from listener.hearing.sources.supriya_midi import SupriyaMidi

            return SupriyaMidi()
    except ModuleNotFoundError:
        raise SourceError(_NO_LIBRARY) from None
    except ImportError as error:
        if "libasound" in str(error):
            raise SourceError(_NO_ALSA) from None
        raise SourceError(f"the MIDI library does not load ({error}); install Widehand once more") from None


def clients(direction: str) -> Iterator[Client]:
    """A client for each interface that answers; :class:`SourceError` when none does.

    The taker of a client releases it. ``direction`` is ``INPUT`` or ``OUTPUT``.
    """
    refused = []
    systems = library().systems()
    for system in systems:
        client = try_client(system, direction)
        if client is None:
            refused.append(system.name)
        else:
            yield client
    if refused and len(refused) == len(systems):
        advice = next((text for name, text in _ADVICE.items() if sys.platform.startswith(name)), "install one")
        raise SourceError(f"no MIDI system answers (tried {' and '.join(refused)}); {advice}")


def try_client(system: MidiSystem, direction: str) -> Client | None:
    """A client of that system; None when it does not answer."""
    try:
        return library().client(system, direction)
    except MidiError:
        return None
