"""What hearing costs, always beside something else run on the same machine. Run with ``-s`` to see the figures."""

from __future__ import annotations

import gc
import io
import time
from collections.abc import Callable
from random import Random

import mido
import pytest

from listener.hearing.events import Message, NoteOn, Stroke, on_grid
from listener.hearing.gathering import Gatherer
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take
from listener.smf.writing import header_chunk, write_track

TARGET = (48, 55, 64, 72)


def _share(values: list[float], share: float) -> float:
    return sorted(values)[min(len(values) - 1, int(share * len(values)))]


def _chords(count: int) -> list[Message]:
    """Four-note chords on four strings, spread 15 ms, with a bend on every string while they ring."""
    random = Random(1)
    rows = []
    for chord in range(count):
        start_s = chord * 0.5
        for string, pitch in enumerate(TARGET):
            on_s = start_s + random.uniform(0, 0.015)
            rows.append((on_s, (0x90 | string, pitch, 80)))
            rows.append((start_s + 0.1, (0xE0 | string, 10, 64)))
            rows.append((start_s + 0.3 + random.uniform(0, 0.05), (0x80 | string, pitch, 64)))
    return [Message(on_grid(time_s), data) for time_s, data in sorted(rows)]


def _trivial(messages: list[Message]) -> list[float]:
    """The least that any listener would do with a message: look at it and remember it."""
    costs, seen = [], {}
    for message in messages:
        start = time.perf_counter()
        if message.data[0] & 0xF0 == 0x90:
            seen[message.data[1]] = message
        costs.append(time.perf_counter() - start)
    return costs


def _chain(messages: list[Message]) -> tuple[list[float], list[float], list[Stroke]]:
    """Cost of each message, cost of each message that announced a stroke, and the strokes."""
    tracker, gatherer = NoteTracker(make_pickup("per-string")), Gatherer(0.07)
    gatherer.expect(TARGET)
    costs, announcing, strokes = [], [], []
    for message in messages:
        start = time.perf_counter()
        found = gatherer.tick(message.time_s)
        for event in tracker.feed(message):
            found += gatherer.feed(event)
        cost = time.perf_counter() - start
        costs.append(cost)
        if any(not stroke.settled for stroke in found):
            announcing.append(cost)
        strokes += found
    return costs, announcing, strokes + gatherer.flush()


def test_cost_from_message_to_stroke() -> None:
    """10,000 strokes, 120,000 messages: cost of a message and of a last note-on until its stroke is out."""
    messages = _chords(10_000)
    gc.collect()
    trivial = _trivial(messages)
    costs, announcing, strokes = _chain(messages)
    assert len(announcing) == 10_000
    assert sum(stroke.settled for stroke in strokes) == 10_000
    for name, values in (("message", costs), ("note-on to stroke", announcing)):
        middle, worst = _share(values, 0.5), _share(values, 0.99)
        print(
            f"\n{name}: p50 {1e6 * middle:.1f} us, p99 {1e6 * worst:.1f} us, "
            f"{middle / _share(trivial, 0.5):.0f} x and {worst / _share(trivial, 0.99):.0f} x the trivial loop"
        )


def _big_file(notes: int) -> bytes:
    """Seven tracks, notes spread over them; delta times of one and two bytes."""
    random = Random(2)
    tracks = []
    for channel in range(7):
        tick, events = 0, []
        for _ in range(notes // 7):
            pitch, tick = random.randrange(40, 80), tick + random.randrange(1, 400)
            events.append((tick, bytes((0x90 | channel, pitch, 80))))
            tick += random.randrange(1, 400)
            events.append((tick, bytes((0x80 | channel, pitch, 64))))
        tracks.append(write_track(events))
    return header_chunk(1, 7, 480) + b"".join(tracks)


def _timed(work: Callable[[], object]) -> float:
    gc.collect()
    start = time.perf_counter()
    work()
    return time.perf_counter() - start


@pytest.mark.slow
def test_cost_of_reading_a_large_file() -> None:
    """100,000 notes: our reading (parsed, merged, in seconds) and gathering beside mido's bare parsing."""
    data = _big_file(100_000)
    pickup = make_pickup("single")

    def gathered() -> int:
        tracker, gatherer = NoteTracker(pickup), Gatherer(0.07)
        ons = 0
        for message in read_take(data, "big").messages:
            for event in tracker.feed(message):
                ons += isinstance(event, NoteOn)
                gatherer.feed(event)
        return ons

    assert gathered() == 99_995
    theirs = min(_timed(lambda: mido.MidiFile(file=io.BytesIO(data))) for _ in range(2))
    reading = min(_timed(lambda: read_take(data, "big")) for _ in range(3))
    everything = min(_timed(gathered) for _ in range(3))
    print(
        f"\nmido parses in {theirs:.2f} s; we read in {reading / theirs:.2f} x that, "
        f"read and gather in {everything / theirs:.2f} x"
    )
