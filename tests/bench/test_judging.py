"""How long the player waits: from the last note-on of a chord to its verdict.

Everything between the MIDI message and the verdict is timed (notes, gathering, which step, comparison, movement and
the least that was possible), for ten thousand strokes of sevenths, each against about a hundred playable voicings.
Reported: median, 99th percentile and the ratio to the plainest thing that could be done with the same messages.
"""

from __future__ import annotations

import time
from statistics import median, quantiles
from typing import Any

from listener.drill.drill_file import read_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.judging.take import TakeJudge
from listener.judging.verdict import HIT
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill

STROKES = 10_000
DRILL = """
title = "Sixteen sevenths"
about = "For the benchmark only."
topic = "benchmark"
difficulty = 1
key = "C major"
tempo = 80
[[passage]]
name = "round"
exercise = "progression"
chords = "Cmaj7 | A7 | Dm7 | G7 | Em7 | A7 | Dm7 | G7 | Fmaj7 | Bb7 | Em7 | A7 | Dm7 | G7 | Cmaj7 | G7"
kind = "any"
frets = [0, 15]
"""


def sevenths() -> Plan:
    return plan_drill(read_drill(DRILL, "sevenths"), make_instrument(), make_hand("medium"))


def messages_of(plan: Plan) -> list[list[Message]]:
    """Note-ons, then note-offs, of each chord, one chord a second."""
    found = []
    for number, planned in enumerate(plan.steps):
        start_s = 1.0 + number
        chord = [
            Message(on_grid(start_s + 0.004 * n), (0x90, pitch, 80)) for n, pitch in enumerate(planned.voicing.midi)
        ]
        chord += [Message(on_grid(start_s + 0.7), (0x80, pitch, 0)) for pitch in planned.voicing.midi]
        found.append(chord)
    return found


def trivial(chord: list[Message], target: frozenset[int]) -> float:
    """The plainest listener there could be: a set of sounding notes, compared with the target."""
    sounding: set[int] = set()
    start = 0.0
    for message in chord:
        start = time.perf_counter()
        if message.data[0] & 0xF0 == 0x90:
            sounding.add(message.data[1])
            if sounding == target:
                break
        else:
            sounding.discard(message.data[1])
    return time.perf_counter() - start


def test_last_note_to_verdict(benchmark: Any) -> None:
    """Every stroke is judged a hit at its last note-on; the time for that is reported."""
    plan = sevenths()
    chords = messages_of(plan)
    pickup = make_pickup("single")
    waits: list[float] = []
    plain: list[float] = []

    def all_strokes() -> None:
        waits.clear()
        plain.clear()
        while len(waits) < STROKES:
            judge = TakeJudge(plan, pickup)
            for planned, chord in zip(plan.steps, chords, strict=True):
                for message in chord:
                    start = time.perf_counter()
                    verdicts = judge.feed(message)
                    spent = time.perf_counter() - start
                    if any(verdict.grade == HIT and not verdict.settled for verdict in verdicts):
                        waits.append(spent)
                plain.append(trivial(chord, frozenset(planned.voicing.midi)))

    benchmark.pedantic(all_strokes, rounds=1, iterations=1)
    assert len(waits) >= STROKES
    p99 = quantiles(waits, n=100)[98]
    options = [len(choice) for choice in plan.options]
    benchmark.extra_info.update(
        strokes=len(waits),
        options_per_step=f"{min(options)} to {max(options)}",
        median_us=round(median(waits) * 1e6, 1),
        p99_us=round(p99 * 1e6, 1),
        ratio_to_trivial=round(median(waits) / median(plain), 1),
    )
    print("\nlast note-on to verdict:", dict(benchmark.extra_info))
