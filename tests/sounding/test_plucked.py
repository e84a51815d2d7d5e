"""The string computed here, by its spectrum: pitch, level, and how it fades."""

from __future__ import annotations

import math
from functools import cache

import numpy as np
import pytest

from listener.sounding.plucked import RATE, Samples, decay_s, plucked

#: E2, the lowest string of a guitar, to E6, the twelfth fret above its highest octave.
PITCHES = range(40, 89)
SECONDS = 2.0


@cache
def string(midi: int) -> Samples:
    return plucked(midi, SECONDS)


def hertz(midi: int) -> float:
    """Equal temperament, written out once more."""
    return float(440 * 2 ** ((midi - 69) / 12))


def spectrum(sound: Samples) -> Samples:
    """Decibels, twice as fine as the sound is long."""
    padded = np.abs(np.fft.rfft(sound * np.hanning(len(sound)), 2 * len(sound)))
    return np.asarray(20 * np.log10(padded + 1e-12))


def peak_hz(sound: Samples, near_hz: float) -> float:
    """The strongest frequency within a semitone, by a parabola through the three highest bins."""
    levels, bin_hz = spectrum(sound), RATE / (2 * len(sound))
    low, high = (int(near_hz * 2 ** (side / 12) / bin_hz) for side in (-1, 1))
    top = low + int(np.argmax(levels[low : high + 1]))
    before, here, after = levels[top - 1 : top + 2]
    return float(bin_hz * (top + 0.5 * (before - after) / (before - 2 * here + after)))


def level_db(sound: Samples, at_hz: float) -> float:
    """Of one frequency."""
    wave = np.exp(-2j * np.pi * at_hz / RATE * np.arange(len(sound)))
    return float(20 * np.log10(abs((sound * np.hanning(len(sound))) @ wave)))


def fades_in_s(midi: int, partial: int = 1) -> float:
    """Seconds that a partial takes to fade by 60 dB, from a fifth of a second near the beginning and one later on."""
    sound, at_hz, length = string(midi), partial * hertz(midi), RATE // 5
    early, late = (level_db(sound[start : start + length], at_hz) for start in (RATE // 20, RATE))
    return 60 * (1 - 1 / 20) / (early - late)


def rms(sound: Samples) -> float:
    return math.sqrt(float(np.mean(sound**2)))


def test_every_fret_is_in_tune() -> None:
    """The fundamental lies within two cents of equal temperament, from E2 to E6; so does the octave over it."""
    for partial in (1, 2):
        cents = {
            midi: 1200 * math.log2(peak_hz(string(midi)[:RATE], partial * hertz(midi)) / (partial * hertz(midi)))
            for midi in PITCHES
        }
        assert {midi: off for midi, off in cents.items() if abs(off) > 2} == {}


def test_it_fades_as_long_as_it_says() -> None:
    """The fundamental's decay, measured, is what was asked of the loop; higher notes fade sooner."""
    measured = [fades_in_s(midi) for midi in PITCHES]
    assert measured == pytest.approx([decay_s(midi) for midi in PITCHES], rel=0.03)
    assert measured == sorted(measured, reverse=True)
    assert len(set(measured)) == len(measured)


def test_it_never_swells() -> None:
    """Tenth of a second after tenth of a second it is softer."""
    for midi in PITCHES:
        levels = [rms(part) for part in np.split(string(midi), round(10 * SECONDS))]
        assert levels == sorted(levels, reverse=True), midi


def test_high_partials_go_first() -> None:
    """A string begins bright and ends dull."""
    assert fades_in_s(40) > 1.4 * fades_in_s(40, 10) > 4 * fades_in_s(40, 30)


def test_every_pitch_is_equally_loud() -> None:
    """Within two decibels at the beginning, so that no voice of a chord stands out."""
    assert all(abs(20 * math.log10(rms(string(midi)[: RATE // 20]))) < 2 for midi in PITCHES)


@pytest.mark.parametrize("midi", [0, 127])
def test_the_whole_of_midi_can_be_plucked(midi: int) -> None:
    """Far below and above a guitar it still fades and stays finite; it is as long as was asked, or until it is gone."""
    sound = plucked(midi, 0.5)
    assert len(sound) == RATE // 2
    assert np.isfinite(sound).all()
    assert rms(sound[-2000:]) < rms(sound[:2000])
    assert len(plucked(midi, 1000.0)) < RATE * 2 * decay_s(midi)
    assert len(plucked(midi, 0.0)) == 0
