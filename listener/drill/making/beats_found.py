"""Tempo, meter and bars of something that was played: with the click they are known, else they are found.

Without a click every distance between two strokes is so many beats, more or less: people are uneven by some six per
cent a chord (the simulated player's assumption, see :mod:`listener.simulation.habits`). Of all ways to read the
distances the likeliest is taken, exactly (dynamic programming over the place in the bar): chords rather begin on bar
lines than on beats, and rather on beats than between them; what rings over a bar line, odd fractions and a tempo far
from a walk cost a little. All prices are our own choice. Twice as fast with twice as many beats is always as good, so
what was found has to be said.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from itertools import pairwise
from math import log, sqrt
from typing import Any, Final

import numpy as np

#: Meters that are tried, with what each costs beside the commonest, and the tempo of a walk in beats of that meter.
_METERS: Final = {(4, 4): (0.0, 84.0), (3, 4): (2.0, 92.0), (6, 8): (6.0, 170.0)}
_WALK: Final = 84.0
#: How far from a walk a tempo is looked for, from a likely one, and from one that was said; in octaves.
_FAR, _NEAR, _SAID = 1.0, 0.5, 1 / 12
#: Tempos that are tried: so many to the octave.
_PER_OCTAVE: Final = 24
#: How far a tempo strays from a walk, and from what was said (in octaves, standard deviation).
_TEMPO_SD, _SAID_SD = 0.5, 0.04
#: How uneven distances are, for people and for machines: a share of themselves, and so many seconds besides.
_UNEVEN, _EVEN = 0.065, 0.015
_JITTER_S: Final = 0.018
#: With the click: how far from its place a chord is begun, in beats and in seconds (standard deviations).
_OFF_BEATS: Final = 0.06
_OFF_S: Final = 0.02
#: No single distance costs more; it may be a stumble. Who plays evenly stumbles less.
_MOST, _MOST_EVEN = 14.0, 60.0
#: Where a chord begins: on a bar line, in the middle of the bar, on a beat, between two beats, elsewhere.
_BAR, _MIDDLE, _BEAT, _HALF, _ELSEWHERE = 0.0, 0.5, 1.5, 4.0, 6.0
#: The same for a chord that is only struck again.
_AGAIN_BEAT, _AGAIN_HALF, _AGAIN_ELSEWHERE = 0.0, 0.1, 1.2
#: Beginning elsewhere than on a bar line.
_UPBEAT: Final = 4.0
#: Ringing on over a bar line.
_OVER_BAR: Final = 1.0
#: Strokes from which the tempo is found; chords over which its wandering is evened out.
_ENOUGH: Final = 320
_STRETCH: Final = 9
#: A length that hardly ever comes is less likely than one that always comes: the weight of that, and what is added to
#: each share of the lengths.
_SELDOM: Final = 0.8
_NEVER: Final = 0.02
#: Bars that a chord may last.
_LONGEST_BARS: Final = 4

Numbers = Any


@dataclass(frozen=True, slots=True)
class Click:
    """Known beats: one falls on ``first_s``, on a bar line; ``tempo`` in beats a minute."""

    first_s: float
    tempo: float


@dataclass(frozen=True, slots=True)
class Struck:
    """A stroke: when (seconds), and whether it begins a chord or strikes it again."""

    time_s: float
    begins: bool = True


@dataclass(frozen=True, slots=True)
class Beats:
    """Tempo and meter, and for each part the place of each of its chords, in beats from the first bar line."""

    tempo: float
    meter: tuple[int, int]
    starts: tuple[tuple[Fraction, ...], ...]


def with_click(parts: Sequence[tuple[Click, Sequence[float]]], meter: tuple[int, int] | None) -> Beats:
    """Chords (their onsets in seconds) that were played to a click, part by part. An unknown meter is found."""
    readings = []
    for tried, (price, _) in ({meter: (0.0, 0.0)} if meter is not None else _METERS).items():
        fine = _grid(tried)
        prices = _begin_prices(tried, fine)
        starts = tuple(_on_click(click, onsets, fine, prices) for click, onsets in parts)
        places = [int(start * fine) % len(prices) for part in starts for start in part]
        readings.append((price + float(prices[places].sum()), Beats(parts[0][0].tempo, tried, starts)))
    return min(readings, key=lambda reading: reading[0])[1]


def without_click(
    parts: Sequence[Sequence[Struck]],
    *,
    tempo: float | None = None,
    meter: tuple[int, int] | None = None,
    near: float | None = None,
) -> Beats:
    """Strokes at somebody's own pace, part by part; each part begins with a chord.

    ``tempo`` and ``meter`` where somebody says them; ``near`` is a tempo that is likely. A part of one chord has no
    distance, and lies on a bar line.
    """
    meters = {meter: (0.0, _walk(meter))} if meter is not None else _METERS
    best: tuple[float, float, tuple[int, int]] | None = None
    weight = max(1.0, sqrt(sum(min(len(part), _ENOUGH) for part in parts)) / 3)
    for tried, (price, walk) in meters.items():
        tempos = _tempos(tempo or near or walk, _SAID if tempo else _NEAR if near else _FAR)
        sd = _SAID_SD if tempo else _TEMPO_SD
        costs = (price + _tempo_prices(tempos, tempo or near or walk, sd)) * weight
        costs = costs + sum((_costs(part[:_ENOUGH], tried, tempos) for part in parts), np.zeros(len(tempos)))
        place = int(costs.argmin())
        if best is None or costs[place] < best[0]:
            best = float(costs[place]), float(tempos[place]), tried
    assert best is not None  # there is always a meter to try
    _, rough, chosen = best
    # What is struck again tells the tempo; where chords begin, they say themselves, however they are rolled.
    parts = [[stroke for stroke in part if stroke.begins] for part in parts]
    ways = [_read(part, chosen, rough) for part in parts]
    said = tempo if tempo is not None else _measured(parts, ways, chosen, rough)
    fine = _grid(chosen)
    return Beats(said, chosen, tuple(tuple(Fraction(place, fine) for place in way) for way in ways))


def _walk(meter: tuple[int, int]) -> float:
    return _METERS[meter][1] if meter in _METERS else _WALK * (2 if meter[1] >= 8 else 1)


def _grid(meter: tuple[int, int]) -> int:
    """Shares of a beat in which a bar can still be written (:mod:`listener.tunes.chord_line_text`)."""
    beats, unit = meter
    if unit >= 8:
        return 2 if beats <= 16 else 1
    return 12 if beats <= 4 else 4 if beats <= 12 else 2


@dataclass(frozen=True, slots=True)
class _Prices:
    """What it costs to begin a chord at each place of the bar, and to strike it again there."""

    begins: Numbers
    again: Numbers


def _place_prices(meter: tuple[int, int], fine: int) -> _Prices:
    beats = meter[0]
    again = np.full(beats * fine, _AGAIN_ELSEWHERE)
    if fine % 2 == 0:
        again[:: fine // 2] = _AGAIN_HALF
    again[::fine] = _AGAIN_BEAT
    return _Prices(_begin_prices(meter, fine), again)


def _begin_prices(meter: tuple[int, int], fine: int) -> Numbers:
    beats = meter[0]
    compound = meter[1] >= 8 and beats % 3 == 0
    prices = np.full(beats * fine, _ELSEWHERE)
    if fine % 2 == 0:
        prices[:: fine // 2] = _HALF
    prices[::fine] = _HALF if compound else _BEAT
    if compound:
        prices[:: 3 * fine] = _BEAT
    if beats % 2 == 0:
        prices[:: beats * fine // 2] = _MIDDLE
    prices[0] = _BAR
    return prices


def _first(prices: _Prices) -> Numbers:
    """What it costs to begin the whole at each place."""
    return np.where(np.arange(len(prices.begins)) == 0, 0.0, _UPBEAT + prices.begins)


def _lengths(meter: tuple[int, int], fine: int) -> Numbers:
    """Distances that are tried, in shares of a beat."""
    bar = meter[0] * fine
    short = {length for length in (fine // 4, fine // 3, fine // 2, 2 * fine // 3, 3 * fine // 4) if length}
    beats = {half * fine // 2 for half in range(1, 4 * meter[0] + 1) if half * fine % 2 == 0}
    bars = {bar * count for count in range(1, _LONGEST_BARS + 1)}
    return np.array(sorted(short | beats | bars))


def _tempos(middle: float, octaves: float) -> Numbers:
    """Tempos up to so many octaves slower and faster."""
    most = round(octaves * _PER_OCTAVE)
    return middle * 2.0 ** (np.arange(-most, most + 1) / _PER_OCTAVE)


def _tempo_prices(tempos: Numbers, middle: float, sd: float) -> Numbers:
    away = np.log2(tempos / middle) / sd
    return 0.5 * away * away


def _off(distance_s: float, beat_s: Numbers, lengths: Numbers, fine: int, uneven: float = _UNEVEN) -> Numbers:
    """What each reading of a distance costs, for tempos x lengths."""
    expected = beat_s[:, None] * lengths[None, :] / fine
    away = (distance_s - expected) / np.hypot(uneven * np.minimum(distance_s, expected), _JITTER_S)
    return np.minimum(0.5 * away * away, _MOST_EVEN if uneven == _EVEN else _MOST)


def _costs(part: Sequence[Struck], meter: tuple[int, int], tempos: Numbers) -> Numbers:
    """The price of the best reading of a part, for every tempo."""
    fine = _grid(meter)
    prices, lengths = _place_prices(meter, fine), _lengths(meter, fine)
    beat_s = 60.0 / tempos
    costs = np.tile(_first(prices), (len(tempos), 1))
    for before, now in pairwise(part):
        costs, _ = _step(costs, _off(now.time_s - before.time_s, beat_s, lengths, fine), lengths, prices, now.begins)
    return costs.min(axis=1)


def _step(costs: Numbers, off: Numbers, lengths: Numbers, prices: _Prices, begins: bool) -> tuple[Numbers, Numbers]:
    """From the place of one stroke to that of the next: least costs (tempos x places), and the length each took."""
    places = costs.shape[1]
    came = (np.arange(places)[None, :] - lengths[:, None]) % places
    over = (came + lengths[:, None] - 1) // places
    each = costs[:, came] + off[:, :, None] + _OVER_BAR * over[None]
    taken = each.argmin(axis=1)
    least = np.take_along_axis(each, taken[:, None, :], axis=1)[:, 0, :]
    return least + (prices.begins if begins else prices.again), taken


def _read(part: Sequence[Struck], meter: tuple[int, int], tempo: float) -> list[int]:
    """Where each stroke lies, in shares of a beat from the first bar line: read once, and once more along the tempo's
    own wandering."""
    if len(part) == 1:
        return [0]
    distances = [now.time_s - before.time_s for before, now in pairwise(part)]
    readings = []
    for uneven in (_UNEVEN, _EVEN):
        plain = [60.0 / tempo] * len(distances)
        _, way = _path(part, distances, meter, plain, Counter(), uneven)
        usual = Counter(now - before for before, now in pairwise(way))
        along = _wandering(distances, way, meter, 60.0 / tempo)
        cost, way = _path(part, distances, meter, along, usual, uneven)
        # How likely it is that somebody plays just so: the more even, the more there is to say for it (Gauss).
        readings.append((cost + len(distances) * log(uneven), way))
    return min(readings, key=lambda reading: reading[0])[1]


def _wandering(distances: Sequence[float], way: Sequence[int], meter: tuple[int, int], beat_s: float) -> list[float]:
    """How long a beat is about each distance: the middle of its neighbours' readings."""
    fine = _grid(meter)
    own = [fine * gap / (now - before) for gap, (before, now) in zip(distances, pairwise(way), strict=True)]
    found = []
    for place in range(len(own)):
        around = own[max(0, place - _STRETCH // 2) : place + _STRETCH // 2 + 1]
        middle = float(np.median(around)) if len(around) >= 3 else beat_s
        found.append(min(max(middle, 0.8 * beat_s), 1.25 * beat_s))
    return found


def _path(
    part: Sequence[Struck],
    distances: Sequence[float],
    meter: tuple[int, int],
    beats_s: Sequence[float],
    usual: Counter[int],
    uneven: float,
) -> tuple[float, list[int]]:
    """The likeliest places and their price; ``usual`` is how often each length was there in an earlier reading."""
    fine = _grid(meter)
    prices, lengths = _place_prices(meter, fine), _lengths(meter, fine)
    shares = np.array([usual[int(length)] for length in lengths]) / max(1, usual.total())
    seldom = -_SELDOM * np.log(shares + _NEVER) if usual else np.zeros(len(lengths))
    costs = _first(prices)[None, :]
    taken = []
    for now, gap, beat_s in zip(part[1:], distances, beats_s, strict=True):
        costs, choice = _step(
            costs, _off(gap, np.array([beat_s]), lengths, fine, uneven) + seldom, lengths, prices, now.begins
        )
        taken.append(choice[0])
    # A passage rather ends on a bar line, too.
    ends = costs[0] + prices.begins
    place = int(ends.argmin())
    price = float(ends[place])
    steps = []
    for choice in reversed(taken):
        length = int(lengths[choice[place]])
        steps.append(length)
        place = (place - length) % len(prices.begins)
    way = [place]
    for length in reversed(steps):
        way.append(way[-1] + length)
    return price, way


def _measured(
    parts: Sequence[Sequence[Struck]], ways: Sequence[Sequence[int]], meter: tuple[int, int], rough: float
) -> float:
    """Beats a minute over everything that was played, to a whole number."""
    fine = _grid(meter)
    beats = sum(way[-1] - way[0] for way in ways) / fine
    seconds = sum(part[-1].time_s - part[0].time_s for part in parts)
    return float(max(20, min(400, round(60 * beats / seconds if seconds > 0 and beats else rough))))


def _on_click(click: Click, onsets: Sequence[float], fine: int, prices: Numbers) -> tuple[Fraction, ...]:
    """The likeliest place of each chord; two never share one."""
    beat_s = 60.0 / click.tempo
    sigma = max(_OFF_BEATS, _OFF_S / beat_s)
    found: list[int] = []
    for onset_s in onsets:
        at = (onset_s - click.first_s) / beat_s * fine
        low = max(int(at) - fine, found[-1] + 1 if found else int(at) - fine)
        tried = np.arange(low, max(low, int(at) + fine) + 1)
        off = (tried - at) / fine / sigma
        found.append(int(tried[(0.5 * off * off + prices[tried % len(prices)]).argmin()]))
    return tuple(Fraction(place, fine) for place in found)
