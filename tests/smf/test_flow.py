"""A file's messages in order of time, block after block, against the same file read as a whole."""

from __future__ import annotations

import tracemalloc
from collections import deque
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.smf.flow import flow
from listener.smf.reading import in_order, read_smf
from listener.smf.survey import survey
from listener.smf.writing import META_MARKER, header_chunk, meta_event, tempo_event, write_track

Row = tuple[int, bytes]
_delta = st.one_of(st.sampled_from([0, 0, 0, 1, 127, 128, 16_384]), st.integers(0, 3_000_000))
_few = st.integers(0, 2)
_event = st.one_of(
    st.builds(lambda c, p, v: bytes((0x90 | c, 60 + p, v)), _few, _few, st.sampled_from([0, 9])),
    st.builds(lambda c, p: bytes((0x80 | c, 60 + p, 64)), _few, _few),
    st.builds(lambda c: bytes((0xC0 | c, 5)), _few),
    st.builds(lambda c: bytes((0xE0 | c, 5, 64)), _few),
    st.builds(tempo_event, st.integers(100_000, 900_000)),
    st.builds(lambda n: meta_event(META_MARKER, b"%d" % n), st.integers(0, 9)),
    st.just(b"\xf0\x03\x01\x02\xf7"),
)  # fmt: skip
_track = st.lists(st.tuples(_delta, _event), max_size=40)
_tracks = st.lists(_track, min_size=1, max_size=4)
_division = st.sampled_from([1, 96, 480, 32_767, 0xE728, 0xE350])


def smf(tracks: list[list[tuple[int, bytes]]], division: int = 480) -> bytes:
    """A file of format 1 from (delta, bytes)."""
    chunks = []
    for rows in tracks:
        tick, events = 0, []
        for delta, data in rows:
            tick += delta
            events.append((tick, data))
        chunks.append(write_track(events))
    return header_chunk(1, len(tracks), division) + b"".join(chunks)


@given(_tracks, _division, st.integers(1, 60))
def test_blocks_of_any_size_hold_what_the_whole_file_holds(
    tracks: list[list[tuple[int, bytes]]], division: int, size: int
) -> None:
    """Every message once, in the order and at the time that the whole file gives; every marker at its time."""
    data = smf(tracks, division)
    whole = read_smf(data, "x")
    events = in_order(whole.events)
    blocks = list(flow(survey(data, "x"), size=size))
    assert [message for block in blocks for message in block.messages] == [message for _, message in events]
    assert [time_s for block in blocks for time_s in block.times_s] == whole.seconds(tick for tick, _ in events)
    markers = sorted(whole.texts, key=lambda text: text[0])
    assert [(time_s, text) for block in blocks for time_s, _, text in block.texts] == list(
        zip(whole.seconds(tick for tick, _, _ in markers), [text for _, _, text in markers], strict=True)
    )


@given(_track, st.integers(1, 60))
def test_as_written_keeps_the_order_of_the_bytes(rows: list[tuple[int, bytes]], size: int) -> None:
    """One track, nothing put in order: note-off and note-on of one tick stay as they are."""
    data = smf([rows])
    blocks = flow(survey(data, "x"), as_written=True, size=size)
    assert [message for block in blocks for message in block.messages] == [m for _, m in read_smf(data, "x").events]


def test_a_tick_without_end_is_put_in_order_as_a_whole() -> None:
    """Ten thousand note-ons and their note-offs at one tick: no block cuts it, and every note-off comes after."""
    rows = [(0, bytes((0x80 | n % 16, n % 128, 0))) for n in range(10_000)]
    rows += [(0, bytes((0x90 | n % 16, n % 128, 9))) for n in range(10_000)]
    kinds = [message[0] >> 4 for block in flow(survey(smf([rows]), "x"), size=16) for message in block.messages]
    assert kinds == [9] * 10_000 + [8] * 10_000


def big(notes: int, tracks: int = 4) -> bytes:
    """Notes at random over all tracks."""
    random = Random(3)
    rows: list[list[tuple[int, bytes]]] = []
    for channel in range(tracks):
        rows.append([])
        for _ in range(notes // tracks):
            pitch = random.randrange(40, 80)
            rows[-1].append((random.randrange(1, 400), bytes((0x90 | channel, pitch, 80))))
            rows[-1].append((random.randrange(1, 400), bytes((0x80 | channel, pitch, 64))))
    return smf(rows)


def _peak(notes: int) -> int:
    file = survey(big(notes), "x")
    tracemalloc.start()
    try:
        deque(flow(file), maxlen=0)
        return tracemalloc.get_traced_memory()[1]
    finally:
        tracemalloc.stop()


def test_memory_does_not_grow_with_the_file() -> None:
    """Four times as many notes, hardly more memory (bytes at the peak, the file's own left out)."""
    small, large = _peak(10_000), _peak(40_000)
    assert large < 1.2 * small
    assert large < 8_000_000


def test_a_file_without_tracks_gives_nothing() -> None:
    """A header alone is a file."""
    assert list(flow(survey(header_chunk(0, 0, 480), "x"))) == []


@pytest.mark.parametrize("size", [1, 7, 4096])
def test_tracks_of_very_different_lengths(size: int) -> None:
    """One track ends at once, one is silent for an hour, one has only words."""
    words = [(100, meta_event(0x05, b"la")) for _ in range(500)]
    late = [(10_000_000, bytes((0x91, 60, 9))), (10, bytes((0x81, 60, 0)))]
    busy = [(3, bytes((0x92, 60 + n % 5, 9 * (n % 2)))) for n in range(3000)]
    data = smf([[], late, words, busy])
    found = [message for block in flow(survey(data, "x"), size=size) for message in block.messages]
    assert found == [message for _, message in in_order(read_smf(data, "x").events)]
