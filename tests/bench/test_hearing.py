"""What hearing costs, always beside something else run on the same machine. Run with ``-s`` to see the figures."""

from __future__ import annotations

import gc
import io
import os
import subprocess
import sys
import time
from collections import deque
from collections.abc import Callable
from contextlib import redirect_stdout
from pathlib import Path
from random import Random

import mido
import pytest

from listener import cli
from listener.hearing.ears import Ears, strokes_of
from listener.hearing.events import Message, Stroke, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import open_take
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
    """Cost of each message, cost of each message that made a stroke grow, and the strokes that have closed."""
    ears = Ears(make_pickup("per-string"), as_they_grow=True)
    costs, growing, strokes = [], [], []
    for message in messages:
        start = time.perf_counter()
        found = ears.feed(message)
        cost = time.perf_counter() - start
        costs.append(cost)
        if any(not stroke.settled for stroke in found):
            growing.append(cost)
        strokes += [stroke for stroke in found if stroke.settled]
    return costs, growing, strokes + ears.flush()


def test_cost_from_message_to_stroke() -> None:
    """10,000 strokes, 120,000 messages: cost of a message, and of a note-on until the stroke with it is out."""
    messages = _chords(10_000)
    gc.collect()
    trivial = _trivial(messages)
    costs, growing, strokes = _chain(messages)
    assert len(growing) == 40_000
    assert len(strokes) == 10_000
    for name, values in (("message", costs), ("note-on to stroke", growing)):
        middle, worst = _share(values, 0.5), _share(values, 0.99)
        print(
            f"\n{name}: p50 {1e6 * middle:.1f} us, p99 {1e6 * worst:.1f} us, "
            f"{middle / _share(trivial, 0.5):.0f} x and {worst / _share(trivial, 0.99):.0f} x the trivial loop"
        )


#: Triads, sevenths, sixths, suspended and ninth chords, in semitones above the root.
_CHORDS = (
    (0, 4, 7), (0, 3, 7), (0, 4, 7, 11), (0, 4, 7, 10), (0, 3, 7, 10), (0, 3, 6, 10), (0, 4, 7, 9), (0, 5, 7),
    (0, 4, 7, 10, 14),
)  # fmt: skip


def _comping(notes: int, tracks: int, seed: int = 1) -> bytes:
    """A chord of three to five notes every beat, spread a little, let go before the next one: a form of 64 chords
    with, in every second one, another voicing. Where there are several tracks each note is on any of them."""
    random = Random(seed)

    def voicing() -> list[int]:
        root = random.randrange(36, 52)
        return sorted({root + interval + 12 * random.randrange(2) for interval in random.choice(_CHORDS)})

    form = [voicing() for _ in range(64)]
    rows: list[list[tuple[int, int, bytes]]] = [[] for _ in range(tracks)]
    tick = count = 0
    while count < notes:
        for pitch in voicing() if random.random() < 0.5 else form[tick // 480 % 64]:
            track = random.randrange(tracks)
            on, off = tick + random.randrange(12), tick + 400 + random.randrange(60)
            rows[track].append((on, 1, bytes((0x90 | track, pitch, random.randrange(60, 100)))))
            rows[track].append((off, 0, bytes((0x80 | track, pitch, 64))))
            count += 1
        tick += 480
    chunks = [write_track((tick, data) for tick, _, data in sorted(track)) for track in rows]
    return header_chunk(int(tracks > 1), tracks, 480) + b"".join(chunks)


def _scattered(notes: int, tracks: int, seed: int = 2) -> bytes:
    """Single notes at random on every track, each over before the track's next: with one track a stroke for each note,
    with sixteen a cloud in which no chord comes back."""
    random = Random(seed)
    chunks = []
    for channel in range(tracks):
        tick, events = 0, []
        for _ in range(notes // tracks):
            pitch, tick = random.randrange(40, 80), tick + random.randrange(1, 400)
            events.append((tick, bytes((0x90 | channel, pitch, 80))))
            tick += random.randrange(1, 400)
            events.append((tick, bytes((0x80 | channel, pitch, 64))))
        chunks.append(write_track(events))
    return header_chunk(int(tracks > 1), tracks, 480) + b"".join(chunks)


_KINDS: dict[str, Callable[[int, int], bytes]] = {"comping": _comping, "scattered": _scattered}


def _timed(work: Callable[[], object]) -> float:
    """Processor seconds: other processes of the machine do not count, but may still get in the way."""
    gc.collect()
    start = time.process_time()
    work()
    return time.process_time() - start


def _heard(data: bytes) -> int:
    """The ears alone: strokes of the file."""
    return len(strokes_of(open_take(data, "big").messages, make_pickup("single")))


def _told(path: Path) -> None:
    """The command, from the file's name to the last byte of its document."""
    with open(os.devnull, "w", encoding="utf-8") as nowhere, redirect_stdout(nowhere):
        assert cli.main(["hear", str(path), "--json"]) == 0


@pytest.mark.slow
@pytest.mark.parametrize("tracks", [1, 16])
@pytest.mark.parametrize("kind", _KINDS)
def test_cost_of_hearing_a_large_file(
    kind: str, tracks: int, tmp_path: Path, request: pytest.FixtureRequest, capsys: pytest.CaptureFixture[str]
) -> None:
    """5,000 and 50,000 notes, more than an hour of dense music, with ``--benchmark-enable`` twice that: the whole
    command and its parts (reading, the ears, telling: names, movement and JSON), each beside mido's bare parsing in the
    same run. Ten times the notes cost ten times as much."""
    full = request.config.getoption("benchmark_enable")
    sizes = [10_000, 100_000] if full else [5_000, 50_000]
    path = tmp_path / "big.mid"
    costs = []
    for notes in sizes:
        data = _KINDS[kind](notes, tracks)
        path.write_bytes(data)
        theirs = _timed(lambda data=data: mido.MidiFile(file=io.BytesIO(data)))  # type: ignore[misc]
        reading = _timed(lambda data=data: deque(open_take(data, "big").messages, maxlen=0))  # type: ignore[misc]
        hearing = _timed(lambda data=data: _heard(data))  # type: ignore[misc]
        whole = _timed(lambda: _told(path))
        costs.append(whole / theirs)
        with capsys.disabled():
            print(
                f"\n{kind}, {tracks} tracks, {notes:>9,} notes: mido parses in {theirs:6.2f} s; "
                f"x {costs[-1]:.2f} in all: reading {reading / theirs:.2f}, ears {(hearing - reading) / theirs:.2f}, "
                f"telling {(whole - hearing) / theirs:.2f}"
            )
    # A cost that grew with the length of the file would show as ten times the share; the small file also starts up.
    assert costs[-1] < 3 * costs[0]


_MEMORY = """
import contextlib, os, sys
from listener import cli
with open(os.devnull, "w") as nowhere, contextlib.redirect_stdout(nowhere):
    cli.main(["hear", sys.argv[1], "--json"])
print([line for line in open("/proc/self/status") if line.startswith("VmHWM")][0].split()[1], file=sys.stderr)
"""


@pytest.mark.slow
@pytest.mark.skipif(not Path("/proc/self/status").exists(), reason="needs Linux's account of a process's memory")
@pytest.mark.parametrize("tracks", [1, 16])
def test_memory_of_hearing_does_not_grow(
    tracks: int, tmp_path: Path, request: pytest.FixtureRequest, capsys: pytest.CaptureFixture[str]
) -> None:
    """The most that the whole command ever has in memory, for files of different lengths: the file's own bytes, and
    what the program needs anyway."""
    large = 200_000 if request.config.getoption("benchmark_enable") else 60_000
    path = tmp_path / "big.mid"
    beyond_mb = []
    for notes in (20_000, large):
        data = _comping(notes, tracks)
        path.write_bytes(data)
        done = subprocess.run([sys.executable, "-c", _MEMORY, str(path)], capture_output=True, text=True, check=True)
        beyond_mb.append((int(done.stderr.split()[-1]) * 1024 - len(data)) / 1e6)
        with capsys.disabled():
            print(f"\n{tracks} tracks, {notes:,} notes, {len(data) / 1e6:.1f} MB: {beyond_mb[-1]:.0f} MB beside them")
    # What is remembered (names, movements) is bounded; a list of all strokes would take 100 MB for 100,000 notes.
    assert beyond_mb[1] - beyond_mb[0] < 25
