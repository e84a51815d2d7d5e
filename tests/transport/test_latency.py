"""Nothing is lost over real MIDI, however fast it comes and whatever is drawn meanwhile."""

from __future__ import annotations

from collections.abc import Callable
from pathlib import Path

import pytest
from by_hand import make_plan
from calm import patient
from midi_rig import Row, run_rig

from listener.planning.plan import Plan

__all__ = ["make_plan"]
pytestmark = [pytest.mark.jack, pytest.mark.usefixtures("jack_server")]
VERSE = [("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71)), ("Am", (57, 64, 72))]


def flood(seconds: int) -> list[Row]:
    """1,000 messages a second: five chords, and bends on three strings all the time, each with a value of its own."""
    rows: list[Row] = []
    for number in range(1000 * seconds):
        second, within = divmod(number, 1000)
        chord = (5 * second + within // 200) % len(VERSE)
        at = within % 200
        status, value = number % 3, number % 16384
        if at < 3:
            data = (0x90 | 2 - at, VERSE[chord][1][at], 90)
        elif 100 <= at < 103:
            data = (0x80 | 102 - at, VERSE[chord][1][at - 100], 0)
        else:
            data = (0xE0 | status, value & 127, 60 + (value >> 7) % 8)
        rows.append((number / 1000, data))
    return rows


@patient
@pytest.mark.parametrize("seconds", [2, pytest.param(60, marks=pytest.mark.slow)])
def test_no_message_of_a_thousand_a_second_is_lost(
    make_plan: Callable[..., Plan], tmp_path: Path, seconds: int
) -> None:
    """A take with dashboard and history: every message once, in order, as sent; every chord judged."""
    schedule = flood(seconds)
    plan = make_plan([VERSE[n % len(VERSE)] for n in range(5 * seconds + 10)])
    practice, moments, sent_s = run_rig(plan, f"flood-{seconds}", schedule, tmp_path)
    assert [message.data for message in practice.messages_since(0)] == [data for _, data in schedule]
    assert len(sent_s) == len(schedule)
    assert sent_s[-1] - sent_s[0] < 1.2 * seconds + 1, "the sender itself was too slow"
    assert [verdict.grade for verdict in practice.verdicts] == ["hit"] * (5 * seconds)
    assert len(moments.written_s) == 5 * seconds
