"""The wire against MIDI's own tables: bytes, bends and ranges."""

from __future__ import annotations

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st
from outside.tables.reading import table_rows

from listener.hearing.bends import Parameters, cents
from listener.hearing.byte_stream import ByteStream
from listener.hearing.events import Message, NoteOn
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import make_pickup


def _cents(row: dict[str, str]) -> float:
    return next(float(text) for key, text in row.items() if key.startswith("cents"))


BENDS = table_rows("pitch_bend_cents.csv")
WIRE = table_rows("midi_wire.csv")


@pytest.mark.parametrize("row", BENDS, ids=lambda row: f"{row['range_semitones']}-{row['value14']}")
def test_bends_are_the_cents_of_the_table(row: dict[str, str]) -> None:
    """MIDI 1.0: 14 bits, low seven first, centre 8192; (v - 8192) / 8192 of the range. Six decimals in the table."""
    value, span = int(row["value14"]), int(row["range_semitones"])
    low, high = bytes.fromhex(row["lsb msb"])
    assert low | high << 7 == value
    exact = _cents(row)
    assert cents(value, span) == pytest.approx(exact, abs=5.01e-7)


NOT_BETWEEN = [row for row in BENDS if abs(_cents(row) / 100 % 1 - 0.5) > 0.05]


@pytest.mark.parametrize("row", NOT_BETWEEN, ids=lambda row: f"{row['range_semitones']}-{row['value14']}")
def test_a_bent_note_sounds_at_the_nearest_semitone(row: dict[str, str]) -> None:
    """The whole way: the range by RPN 0 as a byte stream, the bend, then the note (away from quarter tones)."""
    exact = _cents(row)
    wire = f"B0 65 00 64 00 06 {int(row['range_semitones']):02X} 26 00 E0 {row['lsb msb']} 90 40 64"
    tracker = NoteTracker(make_pickup("single"))
    events = [e for data in ByteStream().feed(bytes.fromhex(wire)) for e in tracker.feed(Message(0.0, data))]
    assert events == [NoteOn(0.0, 64 + round(exact / 100), 100)]


def _expanded(data: bytes) -> list[tuple[int, ...]]:
    """The messages that the bytes mean, by hand: running status written out."""
    found, status, position = [], 0, 0
    while position < len(data):
        if data[position] >= 0xF8:
            found.append((data[position],))
            position += 1
            continue
        if data[position] >= 0x80:
            status, position = data[position], position + 1
        found.append((status, data[position], data[position + 1]))
        position += 2
    return found


@pytest.mark.parametrize("row", WIRE, ids=lambda row: row["message"])
def test_the_wire_table_is_read_byte_by_byte(row: dict[str, str]) -> None:
    """MIDI 1.0 summary of messages: every row, whole or one byte at a time; mido agrees wherever it knows running
    status is not in play."""
    data = bytes.fromhex(row["bytes_hex"])
    assert len(data) == int(row["n_bytes"])
    stream = ByteStream()
    assert [message for byte in data for message in stream.feed((byte,))] == _expanded(data)
    if "running status" not in row["message"] and len(data) in (1, 3, 6, 12):
        parser = mido.Parser()
        parser.feed(data)
        assert [tuple(message.bytes()) for message in parser] == ByteStream().feed(data)


def test_the_bend_range_and_zone_rows_set_what_they_say() -> None:
    """Range 12 with and without running status, null, and a lower zone of 6 members."""
    found = {}
    for row in WIRE:
        parameters = Parameters()
        for data in ByteStream().feed(bytes.fromhex(row["bytes_hex"])):
            if data[0] == 0xB0:
                found[row["message"]] = parameters.feed(data[1], data[2])
    assert found["RPN0 = 12 semitones ch1 (4 CC)"] == (0, 12.0)
    assert found["RPN0 = 12, running status"] == (0, 12.0)
    assert found["MPE MCM lower zone 6 members"] == (6, 6.0)
    assert found["RPN null"] is None


@given(st.lists(st.sampled_from([bytes.fromhex(row["bytes_hex"]) for row in WIRE]), max_size=20))
def test_mido_reads_what_we_write_out(pieces: list[bytes]) -> None:
    """mido 1.3 has no running status; given our expanded messages it understands every one of them."""
    messages = ByteStream().feed(b"".join(pieces))
    parser = mido.Parser()
    parser.feed(b"".join(bytes(message) for message in messages))
    assert [tuple(message.bytes()) for message in parser] == messages
