"""Strings together: levels, who stops whom, the silence at the end, and the file."""

from __future__ import annotations

import io
import wave

import numpy as np
import pytest
from numpy.typing import NDArray

from listener.sounding.mixing import LAST_S, PEAK, SILENCE_S, STOP_S, mixed
from listener.sounding.plucked import RATE
from listener.sounding.string_sound import StringSound, stopped
from listener.sounding.wav import wav_bytes

SIX = (40, 47, 52, 56, 59, 64)
CHORD = [StringSound(6 - n, pitch, 0.0, 1.0, 127) for n, pitch in enumerate(SIX)]


def heard_db(mix: NDArray[np.float32], midi: int, at_s: float) -> float:
    """The level of a pitch in the quarter of a second from there on."""
    part = mix[round(RATE * at_s) :][: RATE // 4].astype(float)
    hertz = 440 * 2 ** ((midi - 69) / 12)
    wave_form = np.exp(-2j * np.pi * hertz / RATE * np.arange(len(part)))
    return float(20 * np.log10(abs((part * np.hanning(len(part))) @ wave_form) + 1e-9))


def test_nothing_is_clipped() -> None:
    """Six strings as loud as they go, and one as soft as it goes, both just fill the file."""
    for sounds in (CHORD, [StringSound(1, 64, 0.0, 1.0, 1)]):
        assert np.max(np.abs(mixed(sounds))) == pytest.approx(PEAK, abs=1e-4)
    assert PEAK < 1


def test_it_ends_in_silence() -> None:
    """The last chord rings on for a moment, then nothing is left; no notes are nothing at all."""
    mix = mixed(CHORD)
    assert len(mix) == round(RATE * (1.0 + LAST_S + SILENCE_S))
    assert not mix[-round(RATE * SILENCE_S) + 1 :].any()
    assert mix[round(RATE * 1.5) :].any()
    assert not mixed([]).any()


def test_a_string_has_one_note() -> None:
    """Plucked again, the string stops what it sounded; on another string that would ring on."""
    first, second = StringSound(2, 60, 0.0, 2.0, 90), StringSound(2, 66, 1.0, 2.0, 90)
    elsewhere = StringSound(3, 66, 1.0, 2.0, 90)
    after_s = 1.0 + STOP_S
    same, other = mixed([first, second]), mixed([first, elsewhere])
    assert heard_db(same, 60, 0.5) > heard_db(same, 66, after_s) - 12
    assert heard_db(same, 60, after_s) < heard_db(same, 66, after_s) - 40
    assert heard_db(other, 60, after_s) > heard_db(other, 66, after_s) - 20
    assert [(one.pitch, one.end_s) for one in stopped([second, first])] == [(60, 1.0), (66, 2.0)]


def test_what_ends_is_stopped() -> None:
    """A rest is one: between two chords nothing sounds; the finger damps the string, it is not cut off with a click."""
    mix = mixed([StringSound(1, 64, 0.0, 0.5, 90), StringSound(1, 64, 1.0, 1.5, 90)])
    assert not mix[round(RATE * (0.5 + STOP_S)) + 1 : RATE].any()
    assert mix[RATE : RATE + 2000].any()
    end, fading = RATE // 2, round(RATE * STOP_S)
    before, gone = mix[end - fading : end], mix[end + fading * 9 // 10 : end + fading]
    assert np.max(np.abs(gone)) < np.max(np.abs(before)) / 20


def test_velocity_is_loudness() -> None:
    """Twice the velocity is 12 dB more, as for General MIDI."""
    mix = mixed([StringSound(1, 64, 0.0, 0.5, 50), StringSound(1, 64, 1.0, 1.5, 100)])
    assert heard_db(mix, 64, 1.1) - heard_db(mix, 64, 0.1) == pytest.approx(12.04, abs=0.1)


def test_the_file() -> None:
    """One channel, 16 bits, 44.1 kHz; the samples come back."""
    mix = mixed(CHORD)
    with wave.open(io.BytesIO(wav_bytes(mix))) as file:
        assert file.getparams()[:4] == (1, 2, 44_100, len(mix))
        read = np.frombuffer(file.readframes(len(mix)), "<i2") / 32_767
    assert np.max(np.abs(read - mix)) < 1 / 32_767
