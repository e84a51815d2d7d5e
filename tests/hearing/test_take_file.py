"""Takes as MIDI files: what is written comes back, and any MIDI file can be read."""

from __future__ import annotations

import io
import json

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import SourceError
from listener.hearing.events import TICK_US, Message, on_grid
from listener.hearing.take_file import CLICK, OWN_PACE, Mark, Take, TakeHeader, read_take, take_bytes
from listener.smf.reading import read_smf
from listener.smf.writing import MAX_VLQ, header_chunk, meta_event, vlq, write_track

HEADER = TakeHeader("a drill", CLICK, 96.0, 2.5, "per-string")


def smf(*tracks: list[tuple[int, bytes]], form: int | None = None, division: int = 480) -> bytes:
    """A file of tracks of (tick, event)."""
    kind = form if form is not None else int(len(tracks) > 1)
    return header_chunk(kind, len(tracks), division) + b"".join(map(write_track, tracks))


def note_on(pitch: int = 60, velocity: int = 80, channel: int = 0) -> bytes:
    """Bytes of a note-on."""
    return bytes((0x90 | channel, pitch, velocity))


def note_off(pitch: int = 60, channel: int = 0) -> bytes:
    """Bytes of a note-off."""
    return bytes((0x80 | channel, pitch, 64))


# Writing and reading back ----------------------------------------------------------------------------------------

_channel_messages = st.one_of(
    st.tuples(st.integers(0x80, 0xBF), st.integers(0, 127), st.integers(0, 127)),
    st.tuples(st.integers(0xE0, 0xEF), st.integers(0, 127), st.integers(0, 127)),
    st.tuples(st.integers(0xC0, 0xDF), st.integers(0, 127)),
)
_times = st.floats(0, 20_000).map(on_grid)
_tempos = st.one_of(st.just(0.0), st.floats(1, 400), st.floats(1e-3, 1e6))


@st.composite
def takes(draw: st.DrawFn) -> Take:
    """Takes of any messages at any times, with any header."""
    times = sorted(draw(st.lists(_times, max_size=30)))
    marks = sorted(draw(st.lists(_times, max_size=5)))
    header = TakeHeader(
        drill=draw(st.text(max_size=20)),
        pace=draw(st.sampled_from([CLICK, OWN_PACE])),
        tempo=draw(_tempos),
        first_beat_s=draw(st.none() | st.floats(0, 100)),
        pickup="single",
        capo=draw(st.integers(0, 5)),
        started=draw(st.text(max_size=20)),
    )
    return Take(
        tuple(Message(time_s, draw(_channel_messages)) for time_s in times),
        tuple(Mark(time_s, draw(st.text(max_size=12))) for time_s in marks),
        header,
    )


@given(takes())
def test_a_take_is_read_back_to_the_last_bit(take: Take) -> None:
    """Messages, their order at equal times, every float, marks and header."""
    assert read_take(take_bytes(take), "take") == take


@given(takes())
def test_a_take_is_a_midi_file_to_others(take: Take) -> None:
    """mido reads the same messages in the same order, 40 microseconds to the tick."""
    track = mido.MidiFile(file=io.BytesIO(take_bytes(take))).tracks[0]
    tick, found = 0, []
    for message in track:
        tick += message.time
        if not message.is_meta:
            found.append((tick * TICK_US / 1_000_000, tuple(message.bytes())))
    assert found == [(message.time_s, message.data) for message in take.messages]


@pytest.mark.parametrize(("tempo", "shown"), [(120.0, 120.0), (96.0, 96.0), (46.0, 46.0), (40.0, 80.0), (20.0, 80.0)])
def test_the_tempo_shows_in_other_programs(tempo: float, shown: float) -> None:
    """To 20 microseconds a beat; slow ones as twice or four times as fast, since a division has 15 bits."""
    take = Take((), (), TakeHeader("d", CLICK, tempo, 0.0, "single"))
    file = mido.MidiFile(file=io.BytesIO(take_bytes(take)))
    beat_us = next(message.tempo for message in file.tracks[0] if message.type == "set_tempo")
    assert beat_us == pytest.approx(60_000_000 / shown, abs=20)
    assert beat_us == file.ticks_per_beat * TICK_US


def test_a_silence_longer_than_a_delta_time_is_bridged() -> None:
    """A pause over night: a delta time holds just under three hours."""
    late_s = on_grid(2.5 * MAX_VLQ * TICK_US / 1e6)
    take = Take((Message(0.0, (0x90, 60, 1)), Message(late_s, (0x80, 60, 1))), (), HEADER)
    assert read_take(take_bytes(take), "take") == take


def test_system_messages_are_not_kept() -> None:
    """Nothing listens to them, and a MIDI file has no plain place for them."""
    take = Take((Message(0.0, (0xFA,)), Message(0.1, (0x90, 60, 1)), Message(0.2, ())), (), HEADER)
    assert read_take(take_bytes(take), "take").messages == (Message(0.1, (0x90, 60, 1)),)


def test_what_is_out_of_order_or_early_is_put_right() -> None:
    """A take is never lost to a clock that misbehaved."""
    take = Take((Message(0.2, (0x90, 61, 1)), Message(-0.1, (0x90, 60, 1))), (), HEADER)
    assert [(m.time_s, m.data[1]) for m in read_take(take_bytes(take), "take").messages] == [(0.0, 60), (0.2, 61)]


def _with_header_text(text: str) -> bytes:
    return smf([(0, meta_event(0x01, text.encode())), (0, note_on())])


def test_a_take_of_a_later_format_asks_for_an_update() -> None:
    """One line."""
    with pytest.raises(SourceError, match="take of format 99, this program reads up to 1; update"):
        read_take(_with_header_text('{"take_format": 99}'), "take.mid")


@pytest.mark.parametrize(
    "row",
    [
        {"take_format": 1},
        {"take_format": "x"},
        {"take_format": 1, "drill": 5, "pace": "click", "tempo": 60, "first_beat_s": 0, "pickup": "single"},
        {"take_format": 1, "drill": "d", "pace": "click", "tempo": "fast", "first_beat_s": 0, "pickup": "single"},
        {"take_format": 1, "drill": "d", "pace": "click", "tempo": 60, "first_beat_s": "soon", "pickup": "single"},
    ],
)
def test_a_damaged_header_is_said_plainly(row: dict[str, object]) -> None:
    """Not half a header, not a crash."""
    with pytest.raises(SourceError, match=r"take\.mid is a take"):
        read_take(_with_header_text(json.dumps(row)), "take.mid")


_GOOD = {"take_format": 1, "drill": "d", "pace": "click", "tempo": 60, "first_beat_s": 0, "pickup": "single"}


@pytest.mark.parametrize(
    ("field", "values"),
    [
        ("tempo", [10**400, -5, True, "60", None, [60], float("inf"), float("nan")]),
        ("first_beat_s", [10**400, -(10**400), 1e300, True, "0"]),
        ("capo", [[1], -3, 99, 1.5, True, 10**400, None]),
        ("frets", [0, "x", None, 10**400, 22.5]),
        ("scale_mm", [0, -1, [], 10**400, None]),
        ("tuning", [5, {}, None, "E2 " * 1000]),
        ("hand", [3, None, ["small"]]),
        ("left_handed", ["no", 1, None]),
        ("register", [99, 1.5, True, "3", None, 10**400]),
        ("high_open", ["no", 1, None]),
        ("pace", ["moon", "", 3]),
        ("pickup", [1, "x" * 60_000]),
        ("drill", [None, "x" * 60_000]),
        ("started", [5]),
        ("made_by", [[]]),
        ("take_format", [True, 0, -1, None, 1.0, 10**400]),
    ],
)
def test_a_header_from_a_stranger_is_checked_field_by_field(field: str, values: list[object]) -> None:
    """One short line that names the field; a number too long for a float or a list for a capo is no crash."""
    for value in values:
        with pytest.raises(SourceError, match=r"^take\.mid is a take") as refused:
            read_take(_with_header_text(json.dumps({**_GOOD, field: value})), "take.mid")
        assert len(str(refused.value)) < 160
        assert field in str(refused.value) or "later format" in str(refused.value)


@pytest.mark.parametrize("text", ['{"take_format": 1, "x": ' + "[" * 100_000, '{"take_format": ' + "9" * 5000 + "}"])
def test_a_text_that_is_no_header_is_passed_over(text: str) -> None:
    """Nesting without end and a number that JSON's reader refuses: the file is heard as any other."""
    assert read_take(_with_header_text(text), "take.mid").header is None


def test_unknown_fields_of_a_header_are_passed_over() -> None:
    """A take of a later program with the same format can be read."""
    row = {"take_format": 1, "drill": "d", "pace": "click", "tempo": 60.0, "first_beat_s": 0.5, "pickup": "single"}
    assert read_take(_with_header_text(json.dumps({**row, "moon": "full"})), "t").header == TakeHeader(
        "d", CLICK, 60.0, 0.5, "single"
    )


@pytest.mark.parametrize("text", ["", "{", "{}", "[1]", "notes by hand", '{"title": "x"}'])
def test_other_texts_are_no_header(text: str) -> None:
    """Any file may begin with a text."""
    assert read_take(_with_header_text(text), "t").header is None


# Any MIDI file ---------------------------------------------------------------------------------------------------


def test_markers_of_any_file_are_its_marks() -> None:
    """From all tracks, by time."""
    data = smf([(480, meta_event(0x06, b"verse"))], [(0, note_on()), (240, meta_event(0x06, b"intro"))])
    assert read_take(data, "t").marks == (Mark(0.25, "intro"), Mark(0.5, "verse"))


def test_a_repeated_note_is_not_cut_off_by_the_end_of_the_one_before() -> None:
    """A writer that puts the new note-on before the old note-off at one tick is understood."""
    data = smf([(0, note_on()), (480, note_on()), (480, note_off()), (960, note_off())])
    kinds = [(message.time_s, message.data[0]) for message in read_take(data, "t").messages]
    assert kinds == [(0.0, 0x90), (0.5, 0x80), (0.5, 0x90), (1.0, 0x80)]


def test_a_note_of_no_length_does_not_hang() -> None:
    """On and off at one tick stay in that order, also beside a repeated note."""
    data = smf([(0, note_on(70)), (480, note_off(60)), (480, note_on(60)), (480, note_off(70)), (480, note_on(70))])
    found = [(m.data[0], m.data[1]) for m in read_take(data, "t").messages]
    assert found == [(0x90, 70), (0x80, 70), (0x90, 60), (0x90, 70), (0x80, 60)]


def _sounding_at_the_end(*rows: tuple[int, bytes]) -> int:
    sounding: set[int] = set()
    for message in read_take(smf(list(rows)), "t").messages:
        (sounding.add if message.data[0] & 0xF0 == 0x90 else sounding.discard)(message.data[1])
    return len(sounding)


def test_no_note_hangs_however_ends_and_beginnings_meet_at_one_tick() -> None:
    """A repeated note of no length; a note of no length on a pitch that sounded long ago."""
    begin, end = note_on(), note_off()
    assert _sounding_at_the_end((0, begin), (480, end), (480, begin), (480, end)) == 0
    assert _sounding_at_the_end((0, begin), (480, end), (960, begin), (960, end)) == 0
    assert _sounding_at_the_end((0, begin), (480, begin), (480, end)) == 1


def test_across_tracks_offs_come_first_and_bends_before_notes() -> None:
    """At one tick: what ends, what shapes, what begins."""
    bend = bytes((0xE0, 0, 80))
    data = smf([(0, note_on(60)), (480, note_on(62))], [(480, bend)], [(480, note_off(60))])
    assert [m.data[0] for m in read_take(data, "t").messages] == [0x90, 0x80, 0xE0, 0x90]


def test_tempo_changes_of_any_track_hold_for_all() -> None:
    """A quarter at 120, two at 60."""
    tempo = meta_event(0x51, (1_000_000).to_bytes(3))
    data = smf([(480, tempo)], [(0, note_on()), (480, note_off()), (1440, note_on())])
    assert [m.time_s for m in read_take(data, "t").messages] == [0.0, 0.5, 2.5]


@pytest.mark.parametrize(("frames", "second"), [(24, 24 * 40), (25, 1000), (30, 1200)])
def test_smpte_time_is_understood(frames: int, second: int) -> None:
    """40 ticks a frame; a tempo means nothing then."""
    data = smf([(0, meta_event(0x51, b"\x01\x00\x00")), (second, note_on())], division=(256 - frames) << 8 | 40)
    assert read_take(data, "t").messages[0].time_s == 1.0


def test_what_is_not_needed_is_skipped() -> None:
    """System exclusive in both forms, key signatures, unknown chunks, bytes after the last track."""
    track = [
        (0, b"\xf0" + vlq(3) + b"\x01\x02\xf7"),
        (0, b"\xf7" + vlq(1) + b"\xfa"),
        (0, meta_event(0x59, b"\x00\x00")),
        (10, note_on()),
    ]
    data = smf(track)
    with_alien = data[:14] + b"XYZW" + (3).to_bytes(4) + b"abc" + data[14:] + b"trailing"
    assert len(read_take(with_alien, "t").messages) == 1


GOOD = smf([(0, note_on()), (480, note_off())])
BAD = {
    "is empty": b"",
    "is not a Standard MIDI File": b"RIFF" + GOOD,
    "is cut off in its header": GOOD[:12],
    "is cut off in track 1 of 1": GOOD[:-1],
    "is cut off in track 2 of 2": GOOD[:11] + b"\x02" + GOOD[12:],
    "is a format 2 MIDI file; save it as format 0 or 1": smf([(0, note_on())], form=2),
    "SMPTE frames of an unknown kind": smf([(0, note_on())], division=0xFF00),
    "no ticks in a quarter note": smf([(0, note_on())], division=0),
    "holds no notes": smf([(0, bytes((0x90, 60, 0))), (0, meta_event(0x01, b"only words"))]),
    "data without a status": smf([(0, b"\x3c\x40")]),
    "a status byte where data should be": smf([(0, b"\x90\x3c\x90")]),
    "a byte F4 that no MIDI file may hold": smf([(0, b"\xf4")]),
    "a number is longer than four bytes": smf([(0, b"\xff\x01\x81\x81\x81\x81\x01")]),
    "is cut off in an event of track 1": header_chunk(0, 1, 480) + b"MTrk\x00\x00\x00\x03\x00\x90\x3c",
}


@pytest.mark.parametrize("said", BAD)
def test_a_bad_file_is_one_clear_line(said: str) -> None:
    """The line names the file, what is wrong and where."""
    with pytest.raises(SourceError, match=said) as caught:
        read_take(BAD[said], "some/file.mid")
    assert str(caught.value).startswith("some/file.mid")
    assert "\n" not in str(caught.value)


@given(st.binary(max_size=80), st.integers(0, 200), st.integers(0, 255))
def test_no_bytes_whatsoever_crash_the_reader(noise: bytes, position: int, byte: int) -> None:
    """A damaged file is read or refused; nothing else."""
    damaged = bytearray(take_bytes(Take((Message(0.5, (0x90, 60, 80)),), (Mark(0.1, "pause"),), HEADER)))
    damaged[position % len(damaged)] = byte
    for data in (noise, b"MThd" + noise, GOOD[:14] + noise, GOOD[:22] + noise, bytes(damaged)):
        assert "\n" not in _refusal(data)


def _refusal(data: bytes) -> str:
    """What the reader says against it, empty when it is content."""
    try:
        read_take(data, "x")
    except SourceError as error:
        return str(error)
    return ""


@given(st.lists(st.tuples(st.integers(0, 50), _channel_messages.map(bytes)), max_size=30), st.integers(1, 32767))
def test_reading_inverts_writing(rows: list[tuple[int, bytes]], division: int) -> None:
    """Any channel messages at any ticks."""
    events = sorted(rows, key=lambda row: row[0])
    assert [(tick, bytes(data)) for tick, data in read_smf(smf(events, division=division), "x").events] == events
