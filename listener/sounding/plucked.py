"""A plucked string, worked out sample by sample.

After K. Karplus and A. Strong, "Digital Synthesis of Plucked-String and Drum Timbres", Computer Music Journal 7(2),
1983.

One period of noise goes round and round in a delay line, and loses a little each time: all of it by a factor, high
partials more by a short average of neighbouring samples. Where we differ from the paper:

- The delay is not a whole number of samples: a third-order Lagrange interpolator makes up the rest, as in D. Jaffe and
  J. Smith, "Extensions of the Karplus-Strong Plucked-String Algorithm" (the same issue), who take an all-pass for it.
  All filters of the loop have no feedback of their own, so that numpy can work out a whole period in one go.
- The average takes three samples, the outer ones with little weight, and delays every partial by one sample exactly.
  Its weight follows from the pitch so that a partial of 3 kHz fades alike on every string.
- The noise has the strengths of the partials of a string that is plucked near its end, and chance only in their
  phases: every pitch is equally loud, and the same each time.

Frequencies follow equal temperament at A4 = 440 Hz.
"""

from __future__ import annotations

from math import ceil, floor, pi
from typing import Final

import numpy as np
from numpy.typing import NDArray

from listener.music.pitch import frequency_hz

#: Samples a second.
RATE: Final = 44_100
Samples = NDArray[np.float64]

#: How long the low E takes to fade by 60 dB, and its pitch; others by the square root of their frequency (our
#: choice).
_LOW_E_HZ: Final = 82.41
_LOW_E_DECAY_S: Final = 12.0
#: Weight of each outer sample of the average at the low E (our choice: the paper's average of two, used twice).
_LOW_E_DULLING: Final = 1 / 4
#: Where the string is plucked, as a share of its length from the bridge (our choice).
_PLUCKED_AT: Final = 0.18
#: The loop looks back over the delay line and so many samples more: an average of three and four of the interpolator.
_TAPS: Final = 6
#: No string gets more partials than this; those of the low E end where hearing does.
_MOST_PARTIALS: Final = 300
#: What has faded by so many decay times (of 60 dB each) is below the last bit of a 16-bit sample.
_GONE: Final = 1.7


def decay_s(midi: float) -> float:
    """How long the fundamental takes to fade by 60 dB.

    >>> round(decay_s(40), 2), round(decay_s(64), 2)
    (12.0, 6.0)
    """
    return float(_LOW_E_DECAY_S * (_LOW_E_HZ / frequency_hz(midi)) ** 0.5)


def plucked(midi: int, seconds: float) -> Samples:
    """A string that is plucked at the first sample and left alone; at most so long, shorter where it has died away.

    Its level at the beginning is 1 (root mean square), whatever the pitch. ``midi`` is 0 to 127.
    """
    period = RATE / frequency_hz(midi)
    delay = floor(period - 2)
    loop = _loop(midi, period, delay)
    count = ceil(RATE * min(seconds, _GONE * decay_s(midi)))
    begun = delay + _TAPS - 1
    sound = np.empty(max(count, begun), dtype=np.float64)
    sound[:begun] = _noise(midi, period, begun)
    # A block is as long as the delay line: all that it needs is there before it begins.
    for start in range(begun, count, delay):
        end = min(start + delay, count)
        sound[start:end] = np.convolve(sound[start - begun : end - delay], loop, mode="valid")
    return sound[:count]


def _loop(midi: int, period: float, delay: int) -> Samples:
    """The filter of one way round: what is left of the period after ``delay`` samples, and the losses."""
    hertz = RATE / period
    outer = _LOW_E_DULLING * min(1.0, _LOW_E_HZ / hertz)
    taps = np.convolve((outer, 1 - 2 * outer, outer), _lagrange(period - 1 - delay))
    kept = abs(np.exp(-2j * pi * np.arange(_TAPS) / period) @ taps)
    wanted = 10 ** (-3 / (decay_s(midi) * hertz))
    return np.asarray(taps * min(1.0, wanted / kept))


def _lagrange(delay: float) -> Samples:
    """Weights of four samples that delay by 1 to 2 samples; none makes anything louder within these bounds."""
    points = np.arange(4.0)
    return np.array([np.prod((delay - np.delete(points, k)) / (k - np.delete(points, k))) for k in range(4)])


def _noise(midi: int, period: float, count: int) -> Samples:
    """The partials of the string, each with a phase by chance, the same for a pitch each time."""
    numbers = np.arange(1, min(ceil(period / 2), _MOST_PARTIALS + 1))
    strengths = np.abs(np.sin(pi * numbers * _PLUCKED_AT)) / numbers
    phases = np.random.default_rng(midi).uniform(0, 2 * pi, len(numbers))
    waves = np.cos(2 * pi / period * np.outer(np.arange(count), numbers) + phases)
    return np.asarray(waves @ (strengths / np.sqrt(np.sum(strengths**2) / 2)))
