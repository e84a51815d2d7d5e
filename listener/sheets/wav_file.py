"""A plan as a WAV file, from plucked strings computed here: to hear the chords without a synthesiser."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.errors import UsageError
from listener.planning.plan import Plan
from listener.sheets.by_hand import by_hand
from listener.sounding.mixing import mixed
from listener.sounding.string_sound import StringSound
from listener.sounding.wav import wav_bytes

#: More is refused: a file of 80 MB, and some seconds' work.
MOST_MINUTES: Final = 15


def plan_wav(plan: Plan) -> bytes:
    """The planned chords as the bytes of a ``.wav`` file (one channel, 16 bits, 44100 samples a second).

    UsageError for what lasts too long.
    """
    return sounds_wav(by_hand(plan, plan.drill.tempo))


def sounds_wav(sounds: Sequence[StringSound]) -> bytes:
    """The same of notes that are there already."""
    minutes = max((one.end_s for one in sounds), default=0.0) / 60
    if minutes > MOST_MINUTES:
        raise UsageError(
            f"that would sound for {minutes:.0f} minutes, and {MOST_MINUTES} are the most; "
            f"take a higher tempo, or one passage: widehand listen DRILL --passage NAME"
        )
    return wav_bytes(mixed(sounds))
