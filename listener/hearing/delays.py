"""How late notes arrive, from measurements that scatter: robust statistics, how sure they are, and when to refuse.

**Round trip**: a note sent to an output that is looped back to the input. The median is the delay; the jitter is the
median absolute deviation times 1.4826, which is the standard deviation where the scatter is normal.

**Plucks against a click**: nobody plucks exactly on the click, and what a player is early or late on average cannot be
told from a delay that all strings share. What can be told is how the delay grows with the period of the note, because
the player's own mean is the same for all strings: offset = own mean + periods * period. The line is fitted with Huber's
weights (P. J. Huber, 1964; c = 1.345), so that a missed click or a slip does not bend it.

Intervals are 95 % bootstrap intervals (B. Efron, 1979): the estimate made again from measurements drawn with
replacement, with a fixed seed, so that the same measurements give the same interval.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Callable, Sequence
from dataclasses import dataclass
from random import Random
from statistics import median
from typing import Final, TypeVar

from listener.errors import SourceError

#: Median absolute deviation to standard deviation of a normal distribution.
_NORMAL: Final = 1.4826
_HUBER: Final = 1.345
_STEPS: Final = 30
#: The fit is done when it moves less than this (ms), and a tenth of it in periods; in the bootstrap, roughly done.
_CLOSE_MS: Final = 1e-4
_ROUGHLY_MS: Final = 0.02
_DRAWS: Final = 400
#: Refusals (our choice). A round trip that scatters more than it could matter for a player's timing:
MAX_JITTER_MS: Final = 5.0
LEAST_SHARE: Final = 0.8
#: and plucks that leave the lowest string's delay, against the highest's, less sure than most of what it corrects
#: (18 ms between the outer strings of a guitar at two periods).
MAX_UNSURE_MS: Final = 12.0
MAX_SPREAD_MS: Final = 40.0
LEAST_STRINGS: Final = 4
LEAST_PLUCKS: Final = 4

Item = TypeVar("Item")


@dataclass(frozen=True, slots=True)
class RoundTrip:
    """``median_ms`` lies between ``low_ms`` and ``high_ms`` with 95 %; ``count`` of ``sent`` notes came back."""

    median_ms: float
    low_ms: float
    high_ms: float
    jitter_ms: float
    count: int
    sent: int


@dataclass(frozen=True, slots=True)
class TimedPluck:
    """One pluck: how long after its click it arrived, and its note's period. ``string`` counts from the highest."""

    string: int
    period_ms: float
    offset_ms: float


@dataclass(frozen=True, slots=True)
class StringDelay:
    """What the line says for one string, and how far its own median lies beside it."""

    string: int
    delay_ms: float
    beside_ms: float
    count: int


@dataclass(frozen=True, slots=True)
class PluckDelays:
    """``periods`` of the note lie between ``low`` and ``high`` with 95 %; ``own_mean_ms`` is the player's (and whatever
    all strings share), ``spread_ms`` the scatter of single plucks."""

    periods: float
    low: float
    high: float
    own_mean_ms: float
    spread_ms: float
    strings: tuple[StringDelay, ...]


def round_trip(delays_ms: Sequence[float], sent: int) -> RoundTrip:
    """What came back of ``sent`` notes; :class:`SourceError` when that is too little or too scattered."""
    if not delays_ms:
        raise SourceError(
            f"none of the {sent} notes came back; connect the output to the input with a cable, or to the same "
            "virtual port"
        )
    if len(delays_ms) < LEAST_SHARE * sent:
        raise SourceError(
            f"only {len(delays_ms)} of {sent} notes came back; check the cable, and that nothing else uses the ports"
        )
    jitter_ms = spread(delays_ms)
    if jitter_ms > MAX_JITTER_MS:
        raise SourceError(
            f"the delays scatter by {jitter_ms:.1f} ms, more than {MAX_JITTER_MS:g}; close other programs and try again"
        )
    low, high = _interval(delays_ms, median)
    return RoundTrip(median(delays_ms), low, high, jitter_ms, len(delays_ms), sent)


def spread(values: Sequence[float]) -> float:
    """Robust standard deviation: 1.4826 times the median absolute deviation.

    >>> round(spread([1.0, 2.0, 3.0, 4.0, 1000.0]), 4)
    1.4826
    """
    middle = median(values)
    return _NORMAL * median(abs(value - middle) for value in values)


def pluck_delays(plucks: Sequence[TimedPluck], asked: int) -> PluckDelays:
    """The delay in periods from what was heard of ``asked`` plucks; :class:`SourceError` with the reason when they do
    not say it well enough."""
    counts = Counter(pluck.string for pluck in plucks)
    heard = [string for string, count in counts.items() if count >= LEAST_PLUCKS]
    if len(plucks) < 0.5 * asked or len(heard) < LEAST_STRINGS:
        raise SourceError(
            f"only {len(plucks)} of {asked} plucks were heard, on {len(counts)} strings; at least half of them and "
            f"{LEAST_PLUCKS} on each of {LEAST_STRINGS} strings are needed: check --pickup, and pluck the string that "
            "is named"
        )
    mean_ms, periods = _line(plucks)
    residuals = [pluck.offset_ms - mean_ms - periods * pluck.period_ms for pluck in plucks]
    spread_ms = spread(residuals)
    if spread_ms > MAX_SPREAD_MS:
        raise SourceError(
            f"the plucks scatter by {spread_ms:.0f} ms around the click, more than {MAX_SPREAD_MS:g}; try a slower or "
            "faster --tempo"
        )
    low, high = _interval(plucks, lambda drawn: _line(drawn, spread_ms)[1])
    outer_ms = max(p.period_ms for p in plucks) - min(p.period_ms for p in plucks)
    unsure_ms = (high - low) / 2 * outer_ms
    if unsure_ms > MAX_UNSURE_MS:
        raise SourceError(
            f"the plucks scatter by {spread_ms:.0f} ms, which leaves the lowest string's delay unsure by "
            f"{unsure_ms:.0f} ms; pluck more evenly, or more often with --plucks"
        )
    strings = tuple(_string_delay(string, plucks, residuals, periods) for string in sorted(counts, reverse=True))
    return PluckDelays(periods, low, high, mean_ms, spread_ms, strings)


def _string_delay(string: int, plucks: Sequence[TimedPluck], residuals: Sequence[float], periods: float) -> StringDelay:
    mine = [(p, residual) for p, residual in zip(plucks, residuals, strict=True) if p.string == string]
    delay_ms = periods * median(p.period_ms for p, _ in mine)
    return StringDelay(string, delay_ms, median(residual for _, residual in mine), len(mine))


def _line(plucks: Sequence[TimedPluck], scale_ms: float | None = None) -> tuple[float, float]:
    """Own mean (ms at no period) and slope (periods) by iterated weights; a slope of 0 where all periods are alike.

    ``scale_ms`` is the scatter that the weights go by; None finds it on the way.
    """
    points = [(pluck.period_ms, pluck.offset_ms) for pluck in plucks]
    weights = [1.0] * len(points)
    mean_ms = slope = 0.0
    for _ in range(_STEPS):
        before = (mean_ms, slope)
        mean_ms, slope = _weighted(points, weights)
        residuals = [y - mean_ms - slope * x for x, y in points]
        limit = _HUBER * max(spread(residuals) if scale_ms is None else scale_ms, 1e-9)
        weights = [limit / abs(residual) if abs(residual) > limit else 1.0 for residual in residuals]
        close_ms = _CLOSE_MS if scale_ms is None else _ROUGHLY_MS
        if abs(mean_ms - before[0]) < close_ms and abs(slope - before[1]) < close_ms / 10:
            break
    return mean_ms, slope


def _weighted(points: Sequence[tuple[float, float]], weights: Sequence[float]) -> tuple[float, float]:
    """The line through weighted points by least squares."""
    total = sum_x = sum_y = sum_xx = sum_xy = 0.0
    x0, y0 = points[0]
    for (x, y), weight in zip(points, weights, strict=True):
        dx, dy = x - x0, y - y0
        total += weight
        sum_x += weight * dx
        sum_y += weight * dy
        sum_xx += weight * dx * dx
        sum_xy += weight * dx * dy
    below = sum_xx - sum_x * sum_x / total
    slope = (sum_xy - sum_x * sum_y / total) / below if below > 1e-9 else 0.0
    return y0 + sum_y / total - slope * (x0 + sum_x / total), slope


def _interval(items: Sequence[Item], estimate: Callable[[Sequence[Item]], float]) -> tuple[float, float]:
    random = Random(1979)
    found = sorted(estimate(random.choices(items, k=len(items))) for _ in range(_DRAWS))
    return found[round(0.025 * (_DRAWS - 1))], found[round(0.975 * (_DRAWS - 1))]
