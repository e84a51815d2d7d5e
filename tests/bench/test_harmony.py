"""What the harmony of free playing costs: an hour of chords, four strokes a second, beside naming every stroke alone.

Reported: milliseconds of CPU for a stroke of four notes in the first and in the last tenth, and the ratio to the names.
"""

from __future__ import annotations

import time

import pytest

from listener.following.harmony import LIVE_S
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.judging.free.free import FreeJudge

CHORDS = ((48, 55, 60, 64), (45, 52, 60, 64), (41, 53, 57, 60), (43, 50, 59, 67))
EACH_S = 0.25


def played(strokes: int) -> list[Message]:
    found = []
    for number in range(strokes):
        at_s = 1.0 + EACH_S * number
        pitches = CHORDS[number // 4 % 4]
        found += [Message(on_grid(at_s + 0.004 * n), (0x90, pitch, 80)) for n, pitch in enumerate(pitches)]
        found += [Message(on_grid(at_s + 0.23), (0x80, pitch, 0)) for pitch in pitches]
    return found


def tenths_ms(messages: list[Message], hindsight_s: float | None) -> list[float]:
    """CPU for each stroke, tenth by tenth of the hour."""
    judge, found, each = FreeJudge(make_pickup("single"), hindsight_s=hindsight_s), [], len(messages) // 10
    for first in range(0, 10 * each, each):
        start = time.process_time()
        for message in messages[first : first + each]:
            judge.feed(message)
        found.append(1000 * (time.process_time() - start) / (each / 8))
    return found


def test_an_hour_of_chords(capsys: pytest.CaptureFixture[str], request: pytest.FixtureRequest) -> None:
    """The last strokes of an hour cost what the first ones do."""
    strokes = 14_400 if request.config.getoption("benchmark_enable") else 40
    messages = played(strokes)
    harmony, names = tenths_ms(messages, LIVE_S), tenths_ms(messages, None)
    assert min(harmony) > 0
    with capsys.disabled():
        print(
            f"\nharmony of {strokes} strokes: {harmony[0]:.3f} ms CPU a stroke at first, {harmony[-1]:.3f} at last, "
            f"{harmony[-1] / harmony[0]:.2f} times that; {sum(harmony) / sum(names):.1f} times naming strokes alone"
        )
