"""A plan's MIDI file is valid, says what the plan says, and reads back with the same notes."""

from __future__ import annotations

import io
import struct
from collections.abc import Sequence
from typing import Any

import mido
import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill import Drill, Step, Wish
from listener.errors import UsageError
from listener.guitar.fingering import Fingering
from listener.music.chord import parse_chord
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep
from listener.sheets.midi_file import TICKS, plan_midi

SHAPES = {
    "C": ((48, 3, 5), (55, 5, 4), (64, 5, 2)),
    "F": ((48, 3, 5), (57, 2, 3), (65, 6, 2)),
    "CΔ": ((48, 3, 5), (55, 5, 4), (59, 4, 3), (64, 5, 2)),
    "G7/B": ((47, 2, 5), (53, 3, 4), (55, 0, 3), (62, 3, 2)),
}


def make_plan(
    chords: Sequence[tuple[str, float, float]],
    *,
    tempo: float = 90.0,
    meter: tuple[int, int] = (4, 4),
    key: str = "C major",
    title: str = "Über den Hof",
) -> Plan:
    """A plan of (chord, start, length in beats)."""
    planned = []
    for index, (symbol, start, length) in enumerate(chords):
        chord = parse_chord(symbol)
        pitches, frets, strings = zip(*SHAPES[symbol], strict=True)
        step = Step(index, "verse", 1, 1.0, start, length, Wish(chord, ("any",)))
        fingering = Fingering(pitches, strings, frets, tuple(1 if f else 0 for f in frets), None, 0.0, 0.0, None)
        planned.append(PlannedStep(step, voicing_of(chord, pitches), fingering, None))
    drill = Drill("yard", title, key, tempo, meter, tuple(one.step for one in planned))
    return Plan(drill, tuple(planned), ("E2", "A2", "D3", "G3", "B3", "E4"), 6, 0, "medium", 0.0)


FOUR = [("C", 0.0, 4.0), ("F", 4.0, 2.0), ("CΔ", 6.0, 2.0), ("G7/B", 8.0, 4.0)]


def read(data: bytes) -> mido.MidiFile:
    """The file through mido, which refuses what it cannot read."""
    return mido.MidiFile(file=io.BytesIO(data), charset="utf-8")


def timed(track: mido.MidiTrack) -> list[tuple[int, Any]]:
    """Messages with the tick since the start."""
    now = 0
    found = []
    for message in track:
        now += message.time
        found.append((now, message))
    return found


def notes(file: mido.MidiFile) -> set[tuple[int, int, int, int]]:
    """(channel from 1, pitch, start, end) of every note; fails on a note that never ends or ends twice."""
    open_notes: dict[tuple[int, int], int] = {}
    found = set()
    for tick, message in timed(file.tracks[1]):
        if message.type == "note_on":
            assert (message.channel, message.note) not in open_notes
            open_notes[message.channel, message.note] = tick
        elif message.type == "note_off":
            found.add((message.channel + 1, message.note, open_notes.pop((message.channel, message.note)), tick))
    assert not open_notes
    return found


def metas(file: mido.MidiFile, kind: str) -> list[tuple[int, Any]]:
    """Meta messages of a kind in the first track."""
    return [(tick, message) for tick, message in timed(file.tracks[0]) if message.type == kind]


def test_notes_are_those_of_the_plan() -> None:
    """Pitch, string as channel, start and length of every note."""
    expected = {
        (string, pitch, round(start * TICKS), round((start + length) * TICKS))
        for symbol, start, length in FOUR
        for pitch, _, string in SHAPES[symbol]
    }
    assert notes(read(plan_midi(make_plan(FOUR)))) == expected


def test_title_names_and_markers() -> None:
    """Both tracks have names, and each chord has a marker where it begins, in the letters of its author."""
    file = read(plan_midi(make_plan(FOUR)))
    assert [track.name for track in file.tracks] == ["Über den Hof", "Guitar"]
    assert [(tick, message.text) for tick, message in metas(file, "marker")] == [
        (0, "C"),
        (4 * TICKS, "F"),
        (6 * TICKS, "CΔ"),
        (8 * TICKS, "G7/B"),
    ]
    assert read(plan_midi(make_plan(FOUR, title=""))).tracks[0].name == "yard"


@pytest.mark.parametrize(
    ("meter", "tempo", "quarter_us", "seconds"),
    [
        ((4, 4), 90.0, 666_667, 8.0),
        ((3, 4), 120.0, 500_000, 6.0),
        ((6, 8), 180.0, 666_667, 4.0),  # 180 eighths a minute are 90 quarters
        ((2, 2), 60.0, 500_000, 12.0),  # 60 halves a minute are 120 quarters
    ],
)
def test_tempo_counts_the_beats_of_the_meter(
    meter: tuple[int, int], tempo: float, quarter_us: int, seconds: float
) -> None:
    """Twelve beats last twelve beats of the drill's tempo, whatever note value is the beat."""
    file = read(plan_midi(make_plan(FOUR, meter=meter, tempo=tempo)))
    ((_, message),) = metas(file, "set_tempo")
    assert message.tempo == quarter_us
    assert file.length == pytest.approx(seconds, rel=1e-5)
    ((_, signature),) = metas(file, "time_signature")
    assert (signature.numerator, signature.denominator) == meter


def test_the_tempo() -> None:
    """So many beats a minute as the drill says."""
    file = read(plan_midi(make_plan(FOUR, tempo=60)))
    assert file.length == pytest.approx(12.0)


@pytest.mark.parametrize("tempo", [0, -5, 3.5, 1001, float("nan"), float("inf")])
def test_impossible_tempo(tempo: float) -> None:
    """Refused in one line that says what is possible."""
    with pytest.raises(UsageError, match=r"cannot hold a tempo of .*; use 4 to 1000 beats a minute"):
        plan_midi(make_plan(FOUR, tempo=tempo))


def test_time_signature_bytes_of_the_standard() -> None:
    """The worked example of Standard MIDI Files 1.0 for 6/8 in dotted quarters (value from memory)."""
    assert bytes.fromhex("FF 58 04 06 03 24 08") in plan_midi(make_plan(FOUR, meter=(6, 8)))
    assert bytes.fromhex("FF 58 04 04 02 18 08") in plan_midi(make_plan(FOUR))


@pytest.mark.parametrize(
    ("key", "content"),
    [
        ("C major", "00 00"),
        ("G major", "01 00"),
        ("Cb major", "F9 00"),
        ("C# major", "07 00"),
        ("A minor", "00 01"),
        ("F# minor", "03 01"),
        ("Eb minor", "FA 01"),
        ("A# minor", "07 01"),
    ],
)
def test_key_signature_bytes(key: str, content: str) -> None:
    """Sharps (flats negative) and mode as Standard MIDI Files 1.0 has them: FF 59 02 sf mi."""
    assert bytes.fromhex("FF 59 02" + content) in plan_midi(make_plan(FOUR, key=key))


@pytest.mark.parametrize("key", ["G# major", "D dorian", ""])
def test_key_without_signature(key: str) -> None:
    """What has no signature is left out, the rest of the file stays."""
    file = read(plan_midi(make_plan(FOUR, key=key)))
    assert metas(file, "key_signature") == []
    assert len(notes(file)) == 14


def test_chunks_are_those_of_the_standard() -> None:
    """Header and track lengths add up to the file, and each track ends with its end event."""
    data = plan_midi(make_plan(FOUR))
    kind, size, format_, count, division = struct.unpack(">4sIHHH", data[:14])
    assert (kind, size, format_, count, division) == (b"MThd", 6, 1, 2, TICKS)
    position = 14
    for _ in range(count):
        kind, size = struct.unpack(">4sI", data[position : position + 8])
        assert kind == b"MTrk"
        position += 8 + size
        assert data[position - 4 : position] == bytes.fromhex("00 FF 2F 00")
    assert position == len(data)


def test_a_plan_without_steps() -> None:
    """An empty plan is a valid, silent file."""
    assert notes(read(plan_midi(make_plan([])))) == set()


def test_no_string_plays_drums() -> None:
    """A ten-string's tenth string is not on General MIDI's drum channel."""
    plan = make_plan([("C", 0.0, 1.0)])
    (step,) = plan.steps
    fingering = Fingering((48, 55, 64), (10, 9, 1), (0, 0, 0), (0, 0, 0), None, 0.0, 0.0, None)
    wide = Plan(plan.drill, (PlannedStep(step.step, step.voicing, fingering, None),), (), 10, 0, "medium", 0.0)
    assert {channel for channel, *_ in notes(read(plan_midi(wide)))} == {11, 9, 1}


_CHORDS = st.lists(
    st.tuples(st.sampled_from(sorted(SHAPES)), st.floats(0, 8), st.floats(0.01, 9)), min_size=1, max_size=12
)


@given(_CHORDS, st.sampled_from([(4, 4), (6, 8), (2, 2)]))
def test_every_note_is_struck_and_ends(steps: list[tuple[str, float, float]], meter: tuple[int, int]) -> None:
    """Also when steps overlap or come close: the same pitches at the same ticks, no note twice, none left open."""
    start, chords = 0.0, []
    for symbol, gap, length in steps:
        chords.append((symbol, start, length))
        start += gap + 0.05
    file = read(plan_midi(make_plan(chords, meter=meter)))
    ticks_per_beat = TICKS * 4 // meter[1]
    expected = {(pitch, round(at * ticks_per_beat)) for symbol, at, _ in chords for pitch, _, _ in SHAPES[symbol]}
    assert {(pitch, begin) for _, pitch, begin, _ in notes(file)} == expected


def test_music21_reads_the_same_chords() -> None:
    """A second reader, music21 (BSD-3-Clause), finds the same pitches at the same offsets, meter, key and tempo."""
    converter = pytest.importorskip("music21.converter")
    score = converter.parseData(plan_midi(make_plan(FOUR, key="G major", meter=(3, 4))), format="midi")
    heard: dict[float, set[int]] = {}
    for element in score.stripTies().flatten().notes:  # it ties notes over the bar lines
        heard.setdefault(float(element.offset), set()).update(pitch.midi for pitch in element.pitches)
    assert heard == {start: {pitch for pitch, *_ in SHAPES[symbol]} for symbol, start, _ in FOUR}
    flat = score.flatten()
    assert flat.getElementsByClass("TimeSignature").first().ratioString == "3/4"
    assert flat.getElementsByClass("KeySignature").first().sharps == 1
    assert flat.getElementsByClass("MetronomeMark").first().number == pytest.approx(90)
