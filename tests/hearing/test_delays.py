"""Delays from scattered measurements: close to the truth, sure when they may be, refused when they may not."""

from __future__ import annotations

from random import Random

import numpy
import pytest
from how_many import THOROUGH, examples
from hypothesis import given, settings
from hypothesis import strategies as st
from scipy import optimize, stats

from listener.errors import SourceError
from listener.hearing.delays import TimedPluck, pluck_delays, round_trip, spread
from listener.music.pitch import frequency_hz

OPEN = {6: 40, 5: 45, 4: 50, 3: 55, 2: 59, 1: 64}


def plucked(
    seed: int, *, periods: float = 2.0, mean_ms: float = -20.0, sd_ms: float = 12.0, rounds: int = 16, slips: int = 0
) -> list[TimedPluck]:
    """A player with a mean and a spread of their own, and a pickup that is so many periods late."""
    random = Random(seed)
    found = []
    for _ in range(rounds):
        for string, pitch in OPEN.items():
            period_ms = 1000 / frequency_hz(pitch)
            found.append(TimedPluck(string, period_ms, mean_ms + random.gauss(0, sd_ms) + periods * period_ms))
    for index in random.sample(range(len(found)), slips):
        found[index] = TimedPluck(found[index].string, found[index].period_ms, random.uniform(-350, 350))
    return found


@pytest.mark.parametrize("periods", [0.0, 1.0, 2.0, 4.0])
@pytest.mark.parametrize("mean_ms", [-60.0, 0.0, 25.0])
def test_the_players_own_mean_does_not_matter(periods: float, mean_ms: float) -> None:
    """Exact plucks give the exact delay of every string, whatever the player's habit."""
    found = pluck_delays(plucked(1, periods=periods, mean_ms=mean_ms, sd_ms=0.0), 96)
    assert found.periods == pytest.approx(periods, abs=1e-6)
    assert found.own_mean_ms == pytest.approx(mean_ms, abs=1e-4)
    assert [each.string for each in found.strings] == [6, 5, 4, 3, 2, 1]
    assert found.strings[0].delay_ms == pytest.approx(periods * 12.135, abs=0.01)  # E2, equal temperament
    assert found.strings[-1].delay_ms == pytest.approx(periods * 3.034, abs=0.01)


def test_the_interval_holds_the_truth_as_often_as_it_says() -> None:
    """60 players with the measured spread of 12 ms (GuitarSet, one take): 57 would be 95 %, under 50 is no chance."""
    players, least = (60, 50) if THOROUGH else (15, 10)
    held = errors = 0
    for seed in range(players):
        found = pluck_delays(plucked(seed, slips=4), 96)
        held += found.low <= 2.0 <= found.high
        errors += abs(found.periods - 2.0) > 1.0
    assert held >= least  # binomial(60, 0.95) is below 50 once in 6,000, binomial(15, 0.95) below 10 once in 18,000
    assert errors <= players // 20


def test_slips_bend_the_line_less_than_least_squares_would() -> None:
    """A tenth of the plucks anywhere within a beat: scipy's Huber fit agrees, and least squares is worse."""
    ours, squares = [], []
    for seed in range(20):
        plucks = plucked(seed, slips=10)
        ours.append(abs(pluck_delays(plucks, 96).periods - 2.0))
        x, y = [p.period_ms for p in plucks], [p.offset_ms for p in plucks]
        squares.append(abs(stats.linregress(x, y).slope - 2.0))
    assert sum(ours) < 0.6 * sum(squares)


def test_the_fit_is_hubers() -> None:
    """scipy.optimize.least_squares with loss='huber' at the scale that we report, same c: the same line."""
    plucks = plucked(3, slips=8)
    found = pluck_delays(plucks, 96)
    fitted = optimize.least_squares(
        lambda line: [p.offset_ms - line[0] - line[1] * p.period_ms for p in plucks],
        (0.0, 0.0),
        loss="huber",
        f_scale=1.345 * found.spread_ms,
    )
    assert found.own_mean_ms == pytest.approx(fitted.x[0], abs=0.05)
    assert found.periods == pytest.approx(fitted.x[1], abs=0.01)


@pytest.mark.parametrize(
    ("plucks", "said"),
    [
        ([], "only 0 of 96 plucks were heard"),
        (plucked(1)[:40], "only 40 of 96 plucks"),
        ([p for p in plucked(1, rounds=40) if p.string < 4], "on 3 strings"),
        (plucked(1, sd_ms=80.0), "scatter by .* around the click"),
        (plucked(1, sd_ms=30.0, rounds=9), "leaves the lowest string's delay unsure by"),
    ],
)
def test_too_few_or_too_scattered_is_refused(plucks: list[TimedPluck], said: str) -> None:
    """With the reason, in one line, and what to try."""
    with pytest.raises(SourceError, match=said) as caught:
        pluck_delays(plucks, 96)
    assert "\n" not in str(caught.value)


def test_the_same_measurements_give_the_same_answer() -> None:
    """The bootstrap's seed is fixed."""
    assert pluck_delays(plucked(5), 96) == pluck_delays(plucked(5), 96)


def test_a_round_trip_is_its_median_whatever_a_few_stragglers_do() -> None:
    """Three of sixty stuck behind something: median and jitter hardly move; the interval is scipy's, roughly."""
    random = Random(2)
    delays = [random.gauss(7.0, 0.4) for _ in range(57)] + [60.0, 80.0, 90.0]
    found = round_trip(delays, 60)
    assert found.median_ms == pytest.approx(7.0, abs=0.2)
    assert 0.2 < found.jitter_ms < 0.8
    reference = stats.bootstrap((delays,), numpy.median, rng=1)
    assert found.low_ms == pytest.approx(reference.confidence_interval.low, abs=0.1)
    assert found.high_ms == pytest.approx(reference.confidence_interval.high, abs=0.1)
    assert (found.count, found.sent) == (60, 60)


@pytest.mark.parametrize(
    ("delays", "said"),
    [
        ([], "none of the 60 notes came back"),
        ([5.0] * 47, "only 47 of 60 notes came back"),
        ([float(n) for n in range(60)], "scatter by"),
    ],
)
def test_a_round_trip_that_says_nothing_is_refused(delays: list[float], said: str) -> None:
    """Lost or scattered."""
    with pytest.raises(SourceError, match=said):
        round_trip(delays, 60)


@settings(max_examples=examples(50))
@given(st.lists(st.floats(-1e6, 1e6), min_size=1, max_size=30))
def test_spread_is_scipys(values: list[float]) -> None:
    """scipy.stats.median_abs_deviation with the factor 1.4826."""
    assert spread(values) == pytest.approx(1.4826 * stats.median_abs_deviation(values), abs=1e-6)
