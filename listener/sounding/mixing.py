"""Notes on strings to one line of samples: each string as it was plucked, stopped by the finger or the next pluck."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

import numpy as np
from numpy.typing import NDArray

from listener.sounding.plucked import RATE, Samples, plucked
from listener.sounding.string_sound import StringSound, stopped

#: How long the finger takes to pluck and to stop a string, in seconds, and how long those fade that nobody stops: the
#: last ones (our choice).
_PLUCK_S: Final = 0.001
STOP_S: Final = 0.03
LAST_S: Final = 1.0
#: Silence at the end, in seconds, so that no player cuts the sound off.
SILENCE_S: Final = 0.3
#: The loudest sample, of 1: 1 dB below what a file can hold.
PEAK: Final = 10 ** (-1 / 20)


def mixed(sounds: Sequence[StringSound]) -> NDArray[np.float32]:
    """All of it at :data:`~listener.sounding.plucked.RATE`, the loudest sample at :data:`PEAK`."""
    parts = stopped(sounds)
    over_s = max((one.end_s for one in parts), default=0.0)
    lasts = [(one.end_s - one.start_s) + (LAST_S if one.end_s == over_s else STOP_S) for one in parts]
    longest: dict[int, float] = {}
    for one, last_s in zip(parts, lasts, strict=True):
        longest[one.pitch] = max(last_s, longest.get(one.pitch, 0.0))
    strings = {pitch: plucked(pitch, last_s) for pitch, last_s in longest.items()}
    mix = np.zeros(round(RATE * (over_s + LAST_S + SILENCE_S)), dtype=np.float32)
    for one, last_s in zip(parts, lasts, strict=True):
        start = round(RATE * one.start_s)
        sound = strings[one.pitch][: round(RATE * last_s)] * _loudness(one.velocity)
        _shape(sound, round(RATE * (one.end_s - one.start_s)), last_s)
        mix[start : start + len(sound)] += sound
    peak = max(mix.max(), -mix.min())
    if peak:
        mix *= np.float32(PEAK / peak)
    return mix


def _loudness(velocity: int) -> float:
    """As General MIDI synthesisers are asked to have it: 40 log10(velocity / 127) decibels (from memory)."""
    return (velocity / 127) ** 2


def _shape(sound: Samples, end: int, last_s: float) -> None:
    """The finger comes off the string, and from sample ``end`` on it, or time, stops it."""
    first = min(len(sound), round(RATE * _PLUCK_S))
    sound[:first] *= np.arange(first) / max(1, first)
    fading = max(1, round(RATE * last_s) - end)
    left = len(sound) - end
    if left > 0:
        sound[end:] *= np.cos(np.linspace(0, np.pi / 2, fading + 1)[1:][:left]) ** 2
