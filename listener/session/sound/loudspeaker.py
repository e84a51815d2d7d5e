"""The computer's own player of sound files, whichever there is."""

from __future__ import annotations

import subprocess
import sys
import time
from pathlib import Path
from shutil import which
from typing import Final

#: Programs that play a WAV file and end, with their words for "say nothing"; tried in this order. Those of the sound
#: servers first: they know which loudspeaker is meant.
_PLAYERS: Final = (
    ("afplay",),
    ("pw-play",),
    ("paplay",),
    ("aplay", "-q"),
    ("ffplay", "-nodisp", "-autoexit", "-loglevel", "quiet"),
    ("mpv", "--no-config", "--no-video", "--really-quiet"),
    ("play", "-q"),
)
#: A player that takes so much longer than the sound lasts, in seconds, is stuck.
_PATIENCE_S: Final = 15.0


def player_here() -> str | None:
    """The name of the player that would be tried first; None when there is none."""
    if sys.platform == "win32":
        return "Windows"
    return next((name for name, *_ in _PLAYERS if which(name) is not None), None)


def play_file(path: Path, seconds: float) -> str | None:
    """Play a WAV file that lasts so long; the name of the player that did, None when none could.

    Ctrl-C ends player and sound, and is passed on.
    """
    if sys.platform == "win32":
        return _by_windows(path, seconds)
    for name, *words in _PLAYERS:
        program = which(name)
        if program is not None and _played([program, *words, str(path)], seconds):
            return name
    return None


def _played(command: list[str], seconds: float) -> bool:
    nothing = subprocess.DEVNULL
    try:
        done = subprocess.run(
            command, stdin=nothing, stdout=nothing, stderr=nothing, timeout=seconds + _PATIENCE_S, check=False
        )
    except (OSError, subprocess.TimeoutExpired):
        return False
    return done.returncode == 0


def _by_windows(path: Path, seconds: float) -> str | None:
    """Windows plays it beside the program, so that Ctrl-C can end it."""
    if sys.platform != "win32":
        return None
    import winsound

    try:
        winsound.PlaySound(str(path), winsound.SND_FILENAME | winsound.SND_ASYNC | winsound.SND_NODEFAULT)
        time.sleep(seconds)
    except RuntimeError:
        return None
    finally:
        winsound.PlaySound(None, winsound.SND_PURGE)
    return "Windows"
