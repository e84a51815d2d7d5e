"""Raw bytes to messages, and a line that falls silent."""

from __future__ import annotations

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.byte_stream import LENGTHS, ByteStream, is_whole
from listener.hearing.events import Message
from listener.hearing.line_watch import TIME_OUT_S, LineWatch


def read(text: str) -> list[tuple[int, ...]]:
    return ByteStream().feed(bytes.fromhex(text))


NOTE = (0x90, 0x28, 0x64)


@pytest.mark.parametrize(
    ("text", "found"),
    [
        ("90 28 64 2D 64 32 64", [NOTE, (0x90, 0x2D, 0x64), (0x90, 0x32, 0x64)]),
        ("90 28 FE 64", [(0xFE,), NOTE]),
        ("90 FE 28 F8 64 F8 2D 64", [(0xFE,), (0xF8,), NOTE, (0xF8,), (0x90, 0x2D, 0x64)]),
        ("90 28 00 28 64", [(0x90, 0x28, 0), NOTE]),
        ("90 28 64 F6 2D 64", [NOTE]),
        ("90 28 64 F3 05 2D 64 90 28 64", [NOTE, NOTE]),
        ("F0 7E 01 02 F7 90 28 64", [NOTE]),
        ("F0 7E FE 01 90 28 64", [(0xFE,), NOTE]),
        ("F0 7E 01 02", []),
        ("90 28 90 28 64", [NOTE]),
        ("28 64 7F 90 28 64", [NOTE]),
        ("C0 05 06 D0 07 08", [(0xC0, 5), (0xC0, 6), (0xD0, 7), (0xD0, 8)]),
        ("F7 F7 F4 F5 90 28 64", [NOTE]),
        ("B0 65 00 64 00 06 0C 26 00", [(0xB0, 0x65, 0), (0xB0, 0x64, 0), (0xB0, 6, 12), (0xB0, 0x26, 0)]),
    ],
)
def test_what_a_wire_may_carry(text: str, found: list[tuple[int, ...]]) -> None:
    """MIDI 1.0: running status, real-time bytes anywhere, system common that cancels, what is broken left out."""
    assert read(text) == found


messages = st.sampled_from(sorted(LENGTHS)).flatmap(
    lambda kind: st.tuples(
        st.integers(kind << 4, kind << 4 | 15), *[st.integers(0, 127) for _ in range(LENGTHS[kind] - 1)]
    )
)


@given(st.lists(messages, max_size=30), st.booleans(), st.data())
def test_what_was_sent_arrives_however_it_is_cut(
    sent: list[tuple[int, ...]], running: bool, data: st.DataObject
) -> None:
    """Any messages, with or without running status, real-time bytes strewn in, cut into pieces anywhere."""
    wire: list[int] = []
    status = 0
    for message in sent:
        for byte in message[1:] if running and message[0] == status else message:
            wire += data.draw(st.lists(st.integers(0xF8, 0xFF), max_size=1))
            wire.append(byte)
        status = message[0]
    stream, found, start = ByteStream(), [], 0
    for cut in [*sorted(data.draw(st.lists(st.integers(0, len(wire)), max_size=5))), len(wire)]:
        found += stream.feed(wire[start:cut])
        start = cut
    assert [message for message in found if message[0] < 0xF8] == sent


@given(st.binary(max_size=2000))
def test_garbage_is_harmless(noise: bytes) -> None:
    """Whatever comes: whole messages only, hardly any memory, and the next proper message is understood."""
    stream = ByteStream()
    for message in stream.feed(noise):
        assert message[0] >= 0xF8 or is_whole(message)
    assert len(stream._pending) < 3
    assert stream.feed(bytes(NOTE)) == [NOTE]


@pytest.mark.parametrize(
    ("data", "whole"),
    [
        ((0x90, 1, 2), True), ((0xC0, 1), True), ((0x90, 1), False), ((0x90, 1, 2, 3), False), ((0xC0, 1, 2), False),
        ((0x90, 1, 0x80), False), ((0xFE,), False), ((0xF0, 1, 0xF7), False), ((), False), ((1, 2, 3), False),
    ],
)  # fmt: skip
def test_whole_messages_are_known(data: tuple[int, ...], whole: bool) -> None:
    """Channel messages of the right length, with data bytes where they should be."""
    assert is_whole(data) == whole


SENSING = (0xFE,)


def watch(*rows: tuple[float, tuple[int, ...]]) -> tuple[LineWatch, list[Message]]:
    line = LineWatch()
    return line, [message for time_s, data in rows for message in line.feed(Message(time_s, data))]


def test_a_line_that_promised_to_speak_and_falls_silent_ends_all_notes() -> None:
    """MIDI 1.0, active sensing: more than 300 ms (and a tenth) after the last byte, once, on every channel in use."""
    line, heard = watch((0.0, SENSING), (0.1, NOTE), (0.1, (0x95, 64, 100)), (0.1, (0x93, 50, 0)))
    assert len(heard) == 3
    assert line.tick(0.1 + 0.300) == []
    assert line.tick(0.1 + TIME_OUT_S - 0.001) == []
    late_s = 0.1 + TIME_OUT_S + 0.001
    assert [m.data for m in line.tick(late_s)] == [(0xB0 | channel, 120, 0) for channel in (0, 3, 5)]
    assert line.tick(late_s + 10) == []


def test_without_the_promise_silence_is_nothing() -> None:
    """No FE was ever seen: no time-out; and after a time-out none until the next FE."""
    line, _ = watch((0.0, NOTE))
    assert line.tick(60.0) == []
    line, _ = watch((0.0, SENSING))
    line.tick(1.0)
    line.feed(Message(2.0, NOTE))
    assert line.tick(60.0) == []


def test_any_byte_keeps_the_promise() -> None:
    """Notes and clock ticks as well as FE; system messages themselves are not passed on."""
    line, heard = watch((0.0, SENSING), (0.3, (0xF8,)), (0.6, NOTE), (0.9, SENSING))
    assert [message.data for message in heard] == [NOTE]
    assert line.tick(1.2) == []
    assert line.tick(1.3) != []


def test_system_reset_ends_all_notes() -> None:
    """MIDI 1.0: FF puts everything back as when it was switched on."""
    _, heard = watch((0.0, NOTE), (1.0, (0xFF,)), (2.0, (0xFF,)))
    assert heard[1:] == [Message(1.0, (0xB0, 120, 0))]
