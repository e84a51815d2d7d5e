"""MIDI against its own documents, and against other programs that read and write it."""

from __future__ import annotations

import io
from collections.abc import Iterable

import mido
import pytest
from outside.tables.reading import TABLES, table_rows

from listener.hearing.events import TICK_US, Message, NoteOff, NoteOn
from listener.hearing.notes import NoteTracker
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take
from listener.smf.reading import read_smf, read_vlq
from listener.smf.writing import vlq


@pytest.mark.parametrize("row", table_rows("smf_vlq.csv"), ids=lambda row: row["value"])
def test_variable_length_quantities_are_the_standards(row: dict[str, str]) -> None:
    """Standard MIDI Files 1.1, section 1, the table of quantities and their bytes, both ways."""
    value, data = int(row["value"]), bytes.fromhex(row["vlq_bytes"])
    assert vlq(value) == data
    assert read_vlq(data, 0) == (value, len(data))


@pytest.mark.parametrize("value", [-1, 0x1000_0000])
def test_the_largest_quantity_is_the_standards(value: int) -> None:
    """Standard MIDI Files 1.1: 0FFFFFFF is the largest number allowed."""
    with pytest.raises(ValueError, match="does not fit"):
        vlq(value)


def test_the_standards_own_example_file_comes_out_right() -> None:
    """Standard MIDI Files 1.1, the format 0 example: 81 bytes, running status, three channels, 2.0 s at 120."""
    data = bytes.fromhex((TABLES / "smf_spec_example.hex").read_text(encoding="ascii"))
    assert len(data) == 81
    expected = []
    for row in table_rows("smf_spec_example_events.csv"):
        if "MetaMessage" not in row["mido_event"]:
            expected.append((int(row["abs_ticks"]), tuple(mido.Message.from_str(row["mido_event"]).bytes())))
    file = read_smf(data, "example")
    assert list(file.events) == expected
    assert (file.format, file.division) == (0, 96)
    take = read_take(data, "example")
    assert take.messages[-1].time_s == 2.0
    tracker = NoteTracker(make_pickup("single"))
    notes = [note for message in take.messages for note in tracker.feed(message)]
    assert [(n.time_s, n.pitch, n.velocity) for n in notes if isinstance(n, NoteOn)] == [
        (0.0, 48, 96),
        (0.0, 60, 96),
        (0.5, 67, 64),
        (1.0, 76, 32),
    ]
    assert {(n.time_s, n.pitch) for n in notes if isinstance(n, NoteOff)} == {(2.0, p) for p in (48, 60, 67, 76)}


WIRE = {
    "note on ch1 E2 v100": [NoteOn(0.0, 40, 100, 1)],
    "note on ch6 E4 v100": [NoteOn(0.0, 64, 100, 6)],
    "note off ch1 E2 v64": [],
    "note on v0 (=off)": [],
    "pitch bend centre ch1": [],
    "all notes off ch1": [],
    "active sensing": [],
    "timing clock": [],
    "system reset": [],
}


@pytest.mark.parametrize("name", WIRE)
def test_single_messages_mean_what_midi_1_0_says(name: str) -> None:
    """MIDI 1.0 summary of messages: status bytes, channels from 1, velocity 0 as note-off."""
    row = next(row for row in table_rows("midi_wire.csv") if row["message"] == name)
    data = tuple(bytes.fromhex(row["bytes_hex"]))
    assert NoteTracker(make_pickup("per-string")).feed(Message(0.0, data)) == WIRE[name]


@pytest.mark.parametrize("name", ["note off ch1 E2 v64", "note on v0 (=off)", "all notes off ch1", "all sound off ch1"])
def test_what_ends_a_note_in_midi_1_0_ends_it_here(name: str) -> None:
    """MIDI 1.0: note-off, note-on with velocity 0, and the channel mode messages 123 and 120; also the mode changes
    omni off (124), mono (126) and poly (127), which act as all notes off."""
    rows = {row["message"]: tuple(bytes.fromhex(row["bytes_hex"])) for row in table_rows("midi_wire.csv")}
    for ending in (name, "omni off ch1", "mono on M=6 ch1", "poly on ch1"):
        tracker = NoteTracker(make_pickup("single"))
        tracker.feed(Message(0.0, rows["note on ch1 E2 v100"]))
        assert tracker.feed(Message(1.0, rows[ending])) == [NoteOff(1.0, 40)]


def _mido_messages(data: bytes) -> list[tuple[float, tuple[int, ...]]]:
    """What mido says: merged tracks, seconds."""
    now_s, found = 0.0, []
    for message in mido.MidiFile(file=io.BytesIO(data)):
        now_s += message.time
        if not message.is_meta and message.type != "sysex":
            found.append((now_s, tuple(message.bytes())))
    return found


def _by_bytes(messages: Iterable[tuple[float, tuple[int, ...]]]) -> dict[tuple[int, ...], list[float]]:
    """The rising times of every message that occurs."""
    times: dict[tuple[int, ...], list[float]] = {}
    for time_s, data in messages:
        times.setdefault(data, []).append(time_s)
    return times


def _assert_same_as_mido(data: bytes) -> int:
    """Every message at mido's time, to half a tick of our grid (order at one tick is each reader's own)."""
    ours = _by_bytes((message.time_s, message.data) for message in read_take(data, "x").messages)
    theirs = _by_bytes(_mido_messages(data))
    assert ours.keys() == theirs.keys()
    for key, times in theirs.items():
        assert ours[key] == pytest.approx(times, abs=0.5001 * TICK_US / 1e6)
    return sum(map(len, ours.values()))


def test_files_that_mido_writes_read_as_mido_reads_them() -> None:
    """mido 1.3: format 1, tempo changes in the middle, notes, bends and programs in three tracks, an odd division."""
    file = mido.MidiFile(type=1, ticks_per_beat=193)
    conductor = mido.MidiTrack(
        [mido.MetaMessage("set_tempo", tempo=t, time=d) for t, d in [(437_811, 0), (701_123, 500), (99_991, 777)]]
    )
    file.tracks.append(conductor)
    for channel in range(3):
        track = mido.MidiTrack([mido.Message("program_change", channel=channel, program=24)])
        for note in range(40):
            track.append(mido.Message("pitchwheel", channel=channel, pitch=note * 50, time=3))
            track.append(mido.Message("note_on", channel=channel, note=40 + note, velocity=70, time=7 * channel + note))
            track.append(mido.Message("note_off", channel=channel, note=40 + note, time=31))
        file.tracks.append(track)
    written = io.BytesIO()
    file.save(file=written)
    assert _assert_same_as_mido(written.getvalue()) == 3 * (1 + 3 * 40)


def test_a_score_that_music21_writes_reads_as_mido_reads_it() -> None:
    """music21: the chorale bwv66.6 of its corpus, written as MIDI; as many notes as music21 counts."""
    from music21 import corpus, midi

    score = corpus.parse("bwv66.6")
    data = midi.translate.music21ObjectToMidiFile(score).writestr()
    assert _assert_same_as_mido(data) > 300
    tracker = NoteTracker(make_pickup("single"))
    messages = read_take(data, "bwv66.6").messages
    ons = [m for m in messages if m.data[0] & 0xF0 == 0x90 and m.data[2]]
    assert len(ons) == len(score.flatten().stripTies().notes)
    sounding = sum(isinstance(e, NoteOn) for m in messages for e in tracker.feed(m))
    assert sounding == len(ons)
