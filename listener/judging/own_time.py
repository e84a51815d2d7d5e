"""Timing against the player's own mean: a steady offset is a style, what strays from it is not yet steady.

Laid back, on the beat and pushed are all meant that way in groove guitar (G. Câmara and others, JASA 147, 2020), and
people tap ahead of a click by habit (B. Repp, Psychonomic Bulletin & Review 12, 2005). A drill that asks for
``timing = "own mean"`` therefore compares each onset with the mean of those before it.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

from listener.judging.verdict import Fault

#: Onsets that must have gone before until one is compared with their mean (our choice).
LEAST_ONSETS: Final = 3


@dataclass(frozen=True, slots=True)
class OwnTime:
    """The player's own place before or after the click, from the onsets so far.

    Offsets are kept in tenths of a millisecond, whole numbers, so that the order of adding changes nothing.
    """

    onsets: int = 0
    total_tenths: int = 0

    @property
    def mean_ms(self) -> float | None:
        """Late is positive; None while there are too few onsets to speak of a mean."""
        return self.total_tenths / (10 * self.onsets) if self.onsets >= LEAST_ONSETS else None

    def about_mean(self, offset_ms: float) -> float | None:
        """How much later (+) or earlier (-) than the player's own mean, in ms; None while there is no mean.

        >>> OwnTime().after(50).after(55).after(45).about_mean(60)
        10.0
        """
        mean_ms = self.mean_ms
        return None if mean_ms is None else round(offset_ms - mean_ms, 1)

    def after(self, offset_ms: float) -> OwnTime:
        """One onset more."""
        return OwnTime(self.onsets + 1, self.total_tenths + round(10 * offset_ms))


def off_own_mean(own_offset_ms: float) -> Fault:
    """Early (negative) or late beside the player's own mean."""
    word = "late" if own_offset_ms > 0 else "early"
    return Fault(word, f"{word} by {abs(own_offset_ms):.0f} ms against your own average", ms=own_offset_ms)
