"""Noise on the wire and damaged files: no exception, no note that rings for ever, no memory that grows.

The quick tests run always, longer ones with ``-m slow``: ten thousand files and a million bytes on the wire. All ten
million, in about a minute and a half::

    WIDEHAND_FUZZ=all pytest -n0 -m slow tests/hearing/test_fuzz.py
"""

from __future__ import annotations

import gc
import os
import tracemalloc
from collections.abc import Iterable, Iterator
from random import Random

import pytest

from listener.errors import SourceError
from listener.hearing.byte_stream import ByteStream
from listener.hearing.cleaning import Cleaner
from listener.hearing.ears import Ears
from listener.hearing.events import Message, NoteEvent, NoteOn, on_grid
from listener.hearing.line_watch import LineWatch
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark, Take, TakeHeader, open_take, read_take, take_bytes
from listener.smf.writing import header_chunk, meta_event, tempo_event, write_track

PICKUPS = ("single", "per-string", "zone", "zone per string")
ALL = os.environ.get("WIDEHAND_FUZZ") == "all"
SILENCE = [(0xB0 | channel, 120, 0) for channel in range(16)]
#: Messages that change how others are understood, beside notes: bends, pedal, parameters, zones, modes, resets.
_TURNS = (
    "E0 00 40", "E3 7F 7F", "E5 00 00", "B0 40 7F", "B2 40 00", "B0 79 00", "B0 7B 00", "B1 78 00", "B4 7E 01",
    "B0 65 00 64 00 06 0C 26 00", "B0 65 00 64 06 06 05", "BF 65 00 64 06 06 05", "B0 65 00 64 06 06 00", "C3 05",
    "D0 40", "F0 7E 01 02 F7", "F2 01 02", "F8", "FE", "FF", "A0 3C 20",
)  # fmt: skip


def music(random: Random, count: int) -> bytes:
    """A wire as a pickup uses it: notes on and off, running status, now and then something else."""
    out = bytearray()
    for _ in range(count):
        drawn = random.random()
        if drawn < 0.85:
            status = random.choice((0x90, 0x80)) | random.randrange(16)
            out += bytes((status, random.randrange(36, 90), random.choice((0, 5, 20, 60, 100))))
            if drawn < 0.3:
                out += bytes((random.randrange(36, 90), random.choice((0, 100))))
        else:
            out += bytes.fromhex(random.choice(_TURNS))
    return bytes(out)


def mutated(random: Random, data: bytes, changes: int) -> bytes:
    """Bytes changed, taken away, put in, doubled."""
    out = bytearray(data)
    for _ in range(changes):
        at = random.randrange(len(out) + 1)
        kind = random.randrange(4)
        if kind == 0:
            out[at : at + 1] = bytes((random.randrange(256),))
        elif kind == 1:
            del out[at : at + random.randrange(1, 5)]
        elif kind == 2:
            out[at:at] = random.randbytes(random.randrange(1, 5))
        else:
            out[at:at] = out[at : at + random.randrange(1, 40)]
    return bytes(out)


class Watched:
    """The whole way from bytes to strokes, with what must hold on it."""

    def __init__(self, profile: str) -> None:
        pickup = make_pickup(profile)
        self.stream, self.line = ByteStream(), LineWatch()
        self.tracker, self.cleaner, self.ears = NoteTracker(pickup), Cleaner(pickup), Ears(pickup)
        self.sounding: dict[tuple[int | None, int], NoteOn] = {}
        self.now_s = 0.0

    def wire(self, data: bytes, random: Random) -> None:
        """Bytes as they come, with the time that passes between messages."""
        for whole in self.stream.feed(data):
            if random.random() < 0.4:
                self.now_s = on_grid(self.now_s + random.choice((0.0, 0.0004, 0.01, 0.06, 0.3, 25.0)))
            for message in self.line.feed(Message(self.now_s, whole)):
                self.message(message)

    def message(self, message: Message) -> None:
        """One message; its notes must be well formed, and strokes must hold what was plucked."""
        self.now_s = message.time_s
        self.check(self.tracker.feed(message))
        for stroke in self.ears.feed(message):
            assert stroke.struck

    def check(self, events: Iterable[NoteEvent]) -> None:
        for event in events:
            place = (None, event.pitch) if event.string is None else (event.string, 0)
            assert 0 <= event.pitch <= 127
            if isinstance(event, NoteOn):
                assert place not in self.sounding
                self.sounding[place] = event
            else:
                assert self.sounding.pop(place).pitch == event.pitch

    def over(self) -> None:
        """All sound off on every channel, as when a cable is pulled: nothing may ring on, in no stage."""
        for data in SILENCE:
            self.message(Message(self.now_s, data))
        self.ears.flush()
        assert not self.sounding
        assert self.ears._gatherer.sounding == ()
        assert not self.ears._cleaner._ringing
        assert not any(channel.voices for channel in self.tracker._channels)

    def held(self) -> int:
        """How many things are remembered."""
        cleaner, gatherer = self.ears._cleaner, self.ears._gatherer
        several = (cleaner._ringing, cleaner._ended, gatherer._ringing, gatherer._onsets)
        return sum(map(len, several)) + len(self.sounding) + len(self.stream._pending)


def wires(random: Random, total: int) -> Iterator[bytes]:
    """So many bytes in all: pure noise, noise of data bytes only, music, and music with faults."""
    left = total
    while left > 0:
        kind = random.randrange(4)
        if kind == 0:
            data = random.randbytes(4000)
        elif kind == 1:
            data = bytes((0x90,)) + bytes(random.choices(range(128), k=3000))
        else:
            data = music(random, 1500)
            data = mutated(random, data, random.choice((3, 30, 300))) if kind == 2 else data
        yield data
        left -= len(data)


def fuzz_wire(total: int, seed: int) -> None:
    random = Random(seed)
    watched = {profile: Watched(profile) for profile in PICKUPS}
    for number, data in enumerate(wires(random, total)):
        one = watched[PICKUPS[number % len(PICKUPS)]]
        one.wire(data, random)
        # Five tables with a place for every pitch at the most, and what sounds.
        assert one.held() <= 6 * 128 + 2
        if random.random() < 0.2:
            one.over()
    for one in watched.values():
        one.over()


def small_file(random: Random) -> bytes:
    """A take of ours, or a file of one to four tracks with all that files hold."""
    if random.random() < 0.3:
        times = sorted(random.uniform(0, 5) for _ in range(40))
        messages = tuple(
            Message(on_grid(t), (random.choice((0x90, 0x80)) | random.randrange(6), random.randrange(40, 70), 80))
            for t in times
        )
        header = TakeHeader("mill-verse", "click", 72.0, 0.5, random.choice(PICKUPS))
        return take_bytes(
            Take(messages, (Mark(0.0, "click 0 0.5 72.0"), Mark(2.0, "pause"), Mark(3.0, "step 2")), header)
        )
    tracks = []
    for _ in range(random.randrange(1, 5)):
        tick, events = 0, [(0, tempo_event(random.randrange(1, 1 << 24))), (0, meta_event(6, b"verse"))]
        stream = ByteStream()
        for data in stream.feed(music(random, 40)):
            tick += random.choice((0, 0, 10, 100, 200_000))
            if data[0] < 0xF0:
                events.append((tick, bytes(data)))
        tracks.append(write_track(events))
    division = random.choice((1, 96, 480, 32_767, 0xE728))
    return header_chunk(int(len(tracks) > 1), len(tracks), division) + b"".join(tracks)


def fuzz_files(count: int, seed: int) -> tuple[int, int]:
    """How many were read and how many refused."""
    random = Random(seed)
    read = 0
    for number in range(count):
        data = mutated(random, small_file(random), random.choice((1, 1, 2, 5, 40)))
        refusal = ""
        try:
            take, whole = open_take(data, "x.mid"), read_take(data, "x.mid")
        except SourceError as error:
            refusal = str(error)
        if refusal:
            assert refusal.startswith("x.mid")
            assert "\n" not in refusal
            continue
        read += 1
        watched = Watched(PICKUPS[number % len(PICKUPS)])
        last_s = 0.0
        for message, again in zip(take.messages, whole.messages, strict=True):
            assert message == again
            assert message.time_s >= last_s
            last_s = message.time_s
            watched.message(message)
        watched.over()
    return read, count - read


@pytest.mark.parametrize("seed", [1, 2])
def test_noise_on_the_wire_is_harmless(seed: int) -> None:
    """A hundred thousand bytes: whole notes only, at most so much remembered, and silence when all sound is off."""
    fuzz_wire(50_000, seed)


def test_damaged_files_are_read_or_refused() -> None:
    """A thousand of them; each is one or the other, and both happen."""
    read, refused = fuzz_files(1000, 1)
    assert read > 20
    assert refused > 20


@pytest.mark.slow
def test_much_noise() -> None:
    """A million bytes, or all ten."""
    fuzz_wire(10_000_000 if ALL else 1_000_000, 10)


@pytest.mark.slow
def test_many_damaged_files() -> None:
    """Ten thousand files."""
    read, refused = fuzz_files(10_000, 10)
    assert min(read, refused) > 50


@pytest.mark.slow
def test_noise_leaves_no_memory_behind() -> None:
    """Fifty thousand bytes need no more than those before them did (bytes still held, and at the peak).

    The first are left out: what they need depends on what the interpreter still has ready from other tests.
    """
    random = Random(4)
    one = Watched("single")
    held = []
    tracemalloc.start()
    try:
        for _ in range(3):
            tracemalloc.reset_peak()
            for data in wires(random, 50_000):
                one.wire(data, random)
            one.over()
            gc.collect()  # also the tuples that the interpreter keeps ready for new ones
            held.append(tracemalloc.get_traced_memory())
    finally:
        tracemalloc.stop()
    _, (first, first_peak), (second, second_peak) = held
    assert second < first + 50_000
    assert second_peak < first_peak + 100_000
