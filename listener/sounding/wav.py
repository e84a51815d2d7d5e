"""Samples as a WAV file: one channel, 16 bits."""

from __future__ import annotations

import io
import wave
from typing import Final

import numpy as np
from numpy.typing import NDArray

from listener.sounding.plucked import RATE

#: Bytes of a sample, and its largest value.
BYTES: Final = 2
_LOUDEST: Final = 32_767


def wav_bytes(samples: NDArray[np.float32]) -> bytes:
    """The file's bytes; samples go from -1 to 1."""
    out = io.BytesIO()
    with wave.open(out, "wb") as file:
        file.setnchannels(1)
        file.setsampwidth(BYTES)
        file.setframerate(RATE)
        file.writeframes(np.rint(samples * _LOUDEST).astype("<i2").tobytes())
    return out.getvalue()
