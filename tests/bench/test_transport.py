"""From the MIDI callback to the verdict and to the bytes on the terminal, beside the bare MIDI library in the same run.

Figures only: no test here fails by time. Run with ``pytest tests/bench/test_transport.py --benchmark-enable``.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from os import cpu_count, getloadavg
from pathlib import Path
from random import Random

import pytest
from by_hand import make_plan
from calm import patient
from midi_rig import Row, raw_times, run_rig

from listener.hearing.sources.interfaces import library
from listener.planning.plan import Plan

__all__ = ["make_plan"]
pytestmark = [pytest.mark.jack, pytest.mark.usefixtures("jack_server")]
VERSE = [("C", (48, 55, 64, 72)), ("F", (53, 60, 69, 77)), ("G", (55, 62, 71, 79)), ("Am", (57, 64, 72, 76))]
_STEP_S = 0.2
_BENDS_PER_S = 200


def _strums(count: int, seed: int) -> list[Row]:
    """Four-note chords, 1 to 12 ms from string to string, with bends on ringing strings all the while."""
    random = Random(seed)
    rows: list[Row] = []
    for chord in range(count):
        at_s = 0.3 + chord * _STEP_S
        for string, pitch in enumerate(VERSE[chord % len(VERSE)][1]):
            rows.append((at_s, (0x90 | string, pitch, 80)))
            rows.append((0.3 + chord * _STEP_S + 0.13 + random.uniform(0, 0.03), (0x80 | string, pitch, 0)))
            at_s += random.uniform(0.001, 0.012)
    for number in range(int((0.3 + count * _STEP_S) * _BENDS_PER_S)):
        rows.append((number / _BENDS_PER_S + random.uniform(0, 0.002), (0xE0 | number % 4, number % 128, 64)))
    return sorted(rows)


def _ms(later: Sequence[float], earlier: Sequence[float]) -> list[float]:
    return sorted(1000 * (b - a) for a, b in zip(earlier, later, strict=True))


def _shares(values: Sequence[float]) -> str:
    def share(part: float) -> float:
        return values[min(len(values) - 1, round(part * (len(values) - 1)))]

    return f"p50 {share(0.5):.2f}, p90 {share(0.9):.2f}, p99 {share(0.99):.2f}, most {values[-1]:.2f} ms"


@patient
def test_from_callback_to_verdict_and_to_the_terminal(
    make_plan: Callable[..., Plan],
    tmp_path: Path,
    capsys: pytest.CaptureFixture[str],
    request: pytest.FixtureRequest,
) -> None:
    """A take with dashboard, history and bends running; the bare library hears such strums before and after it."""
    count = 300 if request.config.getoption("benchmark_enable") else 6
    schedule = _strums(count, 1)
    plan = make_plan([VERSE[n % len(VERSE)] for n in range(count + 1)])
    reference = _strums(count // 6, 2)
    raw = [raw_times("bench-raw-1", reference)]
    practice, moments, sent_s = run_rig(plan, "bench-ours", schedule, tmp_path)
    raw.append(raw_times("bench-raw-2", reference))
    messages = practice.messages_since(0)
    assert [message.data for message in messages] == [data for _, data in schedule]
    assert len(moments.written_s) == len(moments.judged_s) == count
    ours = _ms([message.time_s + moments.start_s for message in messages], sent_s)
    judged, written = _ms(moments.judged_s, moments.arrived_s), _ms(moments.written_s, moments.arrived_s)
    came = sorted(part for sent, arrived, _ in raw for part in _ms(arrived, sent))
    taken = sorted(part for _, arrived, got in raw for part in _ms(got, arrived))
    name = library().name
    with capsys.disabled():
        print(f"\n{count} strums, {len(schedule)} messages; load {getloadavg()[0]:.1f} on {cpu_count()} cores")
        print(f"{f'{name}, sent to callback:':<43} {_shares(came)}")
        print(f"{f'{name}, callback to a waiting thread:':<43} {_shares(taken)}")
        print(f"ours, sent to callback:                     {_shares(ours)}")
        print(f"ours, callback to verdict:                  {_shares(judged)}")
        print(f"ours, callback to bytes on the terminal:    {_shares(written)}")
        whole = ours[len(ours) // 2] + judged[count // 2]
        print(
            f"ratio of medians, sent to verdict by sent to {name}'s thread: "
            f"{whole / (came[len(came) // 2] + taken[len(taken) // 2]):.2f}"
        )
