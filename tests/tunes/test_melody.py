"""Melodies as values, chords cut under them, and melodies from Standard MIDI Files."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import SourceError
from listener.music.chord import Chord, parse_chord
from listener.music.pitch import Tone, parse_pitch
from listener.music.scale import Key, parse_key
from listener.smf.writing import header_chunk, meta_event, write_track
from listener.tunes.melody import Melody, MelodyNote, TimedChord, over_chords, read_melody
from listener.tunes.melody_midi import spelled

C, G7 = parse_chord("C"), parse_chord("G7")


def melody(*notes: tuple[str, Fraction | int, Fraction | int], length: Fraction | int | None = None) -> Melody:
    made = tuple(MelodyNote(parse_pitch(name), Fraction(start), Fraction(lasts)) for name, start, lasts in notes)
    end = made[-1].end_beats if made else Fraction(0)
    return Melody("t", "p", made, Fraction(length) if length is not None else end)


def cut(chords: Sequence[tuple[Fraction | float, Fraction | float, Chord]], tune: Melody) -> list[tuple[object, ...]]:
    return [
        (s.start_beats, s.length_beats, str(s.chord), str(s.note.pitch) if s.note else None, s.begins)
        for s in over_chords(chords, tune)
    ]


def test_chords_cut_by_hand() -> None:
    """Two notes over one chord are two steps; one over a change of chords belongs to both; a rest has its own step."""
    tune = melody(("E4", 0, 1), ("F4", 1, 2), ("D4", 3, 3))
    assert cut([(0, 2, C), (2, 6, G7)], tune) == [
        (0, 1, "C", "E4", True),
        (1, 1, "C", "F4", True),
        (2, 1, "G7", "F4", False),
        (3, 3, "G7", "D4", True),
        (6, 2, "G7", None, False),
    ]


def test_short_rests_belong_to_the_note_before() -> None:
    """A breath between two notes makes no step of its own, at a chord's beginning neither; a sixteenth rest does."""
    breath = Fraction(1, 8)
    tune = melody(("E4", breath, 1 - 2 * breath), ("F4", 1, Fraction(3, 4)), ("G4", 2, 2 - breath))
    assert cut([(0, 4, C)], tune) == [
        (0, 1, "C", "E4", True),
        (1, Fraction(3, 4), "C", "F4", True),
        (Fraction(7, 4), Fraction(1, 4), "C", None, False),
        (2, 2, "C", "G4", True),
    ]


def test_times_given_as_floats_become_fractions() -> None:
    """A third of a beat given as a float is a third."""
    steps = over_chords([(1 / 3, 2 / 3, C)], melody(("E4", 0, 2)))
    assert [(s.start_beats, s.length_beats) for s in steps] == [(Fraction(1, 3), Fraction(2, 3))]


def test_chords_without_melody_and_melody_without_chords() -> None:
    """A chord over silence is one step; notes outside every chord are in none; a chord of no length is none."""
    tune = melody(("E4", 8, 1))
    assert cut([(0, 4, C), (4, 0, G7)], tune) == [(0, 4, "C", None, False)]
    assert over_chords([], tune) == ()
    assert over_chords([(8, 0, C)], tune) == ()


LENGTHS = st.sampled_from([Fraction(n, d) for d in (1, 2, 3, 4, 6, 8, 12) for n in (1, 2, 3, 5)])


@st.composite
def tunes(draw: st.DrawFn) -> Melody:
    notes, at = [], draw(st.sampled_from([Fraction(0), Fraction(1, 3), Fraction(2)]))
    for _ in range(draw(st.integers(0, 12))):
        length = draw(LENGTHS)
        if draw(st.integers(0, 3)):
            notes.append(MelodyNote(parse_pitch(draw(st.sampled_from(("C4", "E4", "G4", "A4")))), at, length))
        at += length
    return Melody("t", "p", tuple(notes), at)


@st.composite
def changes(draw: st.DrawFn) -> list[TimedChord]:
    found, at = [], Fraction(0)
    for _ in range(draw(st.integers(0, 6))):
        length = draw(LENGTHS) * draw(st.integers(1, 3))
        if draw(st.integers(0, 4)):
            found.append(TimedChord(at, length, draw(st.sampled_from((C, G7)))))
        at += length
    return found


@given(tunes(), changes(), st.sampled_from([Fraction(0), Fraction(1, 4), Fraction(3)]))
def test_steps_fill_their_chords(tune: Melody, chords: list[TimedChord], short_rest: Fraction) -> None:
    """Steps follow each other without gap through every chord and add up to its length; none is empty."""
    steps = list(over_chords(chords, tune, short_rest=short_rest))
    for start, length, chord in chords:
        at = start
        while at < start + length:
            step = steps.pop(0)
            assert step.start_beats == at
            assert step.length_beats > 0
            assert step.chord is chord
            at += step.length_beats
        assert at == start + length
    assert not steps


@given(tunes(), changes(), st.sampled_from([Fraction(0), Fraction(1, 4), Fraction(3)]))
def test_every_note_once_for_each_chord_it_sounds_over(
    tune: Melody, chords: list[TimedChord], short_rest: Fraction
) -> None:
    """Each pair of a chord and a note that sounds over it is exactly one step, and no other notes are in any."""
    steps = over_chords(chords, tune, short_rest=short_rest)
    for start, length, _ in chords:
        here = [s for s in steps if start <= s.start_beats < start + length and s.note is not None]
        wanted = [n for n in tune.notes if n.start_beats < start + length and n.end_beats > start]
        assert [s.note for s in here] == wanted
        assert [s.begins for s in here] == [n.start_beats >= start for n in wanted]


@given(tunes(), changes())
def test_without_short_rests_steps_lie_exactly_on_the_notes(tune: Melody, chords: list[TimedChord]) -> None:
    """With no rest too short, a step is exactly what its note and its chord have in common."""
    for step in over_chords(chords, tune, short_rest=Fraction(0)):
        if step.note is None:
            assert not any(
                n.start_beats < step.start_beats + step.length_beats and n.end_beats > step.start_beats
                for n in tune.notes
            )
        else:
            assert step.note.start_beats <= step.start_beats
            assert step.start_beats + step.length_beats <= step.note.end_beats


def test_beats_of_an_eighth() -> None:
    """In 6/8 a quarter note has two beats, in chords, lengths and pickup as well."""
    tune = Melody("t", "p", melody(("E4", 1, 2)).notes, Fraction(3), (TimedChord(Fraction(1), Fraction(2), C),))
    eighths = tune.in_beats(8)
    assert (eighths.notes[0].start_beats, eighths.notes[0].length_beats, eighths.length_beats) == (2, 4, 6)
    assert eighths.chords == (TimedChord(Fraction(2), Fraction(4), C),)


# Standard MIDI Files


def track(*notes: tuple[int, int, int], channel: int = 0, extra: Sequence[tuple[int, bytes]] = ()) -> bytes:
    """A track of (note, first tick, length in ticks)."""
    events = [(0, meta) for _, meta in extra]
    for note, start, length in notes:
        events += [(start, bytes((0x90 + channel, note, 80))), (start + length, bytes((0x80 + channel, note, 0)))]
    return write_track(sorted(events, key=lambda event: event[0]))


def midi(*tracks: bytes, division: int = 480) -> bytes:
    return header_chunk(1 if len(tracks) > 1 else 0, len(tracks), division) + b"".join(tracks)


def name_of(text: str) -> tuple[int, bytes]:
    return 0, meta_event(0x03, text.encode())


def rows(tune: Melody) -> list[tuple[str, Fraction, Fraction]]:
    return [(str(n.pitch), n.start_beats, n.length_beats) for n in tune.notes]


def test_midi_with_key_meter_and_triplets() -> None:
    """Ticks become exact quarters, names follow the key signature, the meter is the file's."""
    extra = [(0, meta_event(0x59, bytes((0xFD, 1)))), (0, meta_event(0x58, bytes((3, 2, 24, 8)))), name_of("Voice")]
    tune = read_melody(midi(track((60, 0, 160), (63, 160, 160), (71, 480, 480), extra=extra)), "t")
    assert rows(tune) == [("C4", 0, Fraction(1, 3)), ("Eb4", Fraction(1, 3), Fraction(1, 3)), ("B4", 1, 1)]
    assert (str(tune.key), tune.meter, tune.part) == ("C minor", (3, 4), "Voice")
    assert tune.length_beats == 2


def test_midi_that_changes_meter_and_key_is_in_the_first() -> None:
    """And both changes are said."""
    waltz, common = meta_event(0x58, bytes((3, 2, 24, 8))), meta_event(0x58, bytes((4, 2, 24, 8)))
    flats, sharps = meta_event(0x59, bytes((0xFD, 0))), meta_event(0x59, bytes((4, 0)))
    late = write_track([(0, flats), (0, waltz), (960, sharps), (960, common)])
    tune = read_melody(midi(late, track((63, 0, 480), (63, 960, 480))), "t")
    assert (str(tune.key), tune.meter, [name for name, _, _ in rows(tune)]) == ("Eb major", (3, 4), ["Eb4", "Eb4"])
    assert [remark.split(" changes")[0] for remark in tune.remarks] == ["The meter", "The key"]


def test_midi_top_line() -> None:
    """Of chords the highest note; held lower notes and those that come under a sounding note are other voices; a
    slurred lower note is none."""
    tune = read_melody(
        midi(track((72, 0, 960), (64, 0, 1920), (60, 480, 480), (76, 960, 490), (74, 1440, 480), (55, 1440, 960))), "t"
    )
    assert rows(tune) == [("C5", 0, 2), ("E5", 2, 1), ("D5", 3, 1)]


@pytest.mark.parametrize(
    ("overlap", "length", "slurred"), [(50, 480, True), (100, 480, False), (200, 480, False), (50, 60, False)]
)
def test_midi_slurs_are_short(overlap: int, length: int, slurred: bool) -> None:
    """A lower note is the tune's where the higher one goes on for a moment only (a thirty-second note is 60 ticks), and
    for less than half of it; else it is another voice."""
    tune = read_melody(midi(track((76, 0, 480 + overlap), (60, 480, length), (74, 960, 480))), "t")
    assert [name for name, _, _ in rows(tune)] == (["E5", "C4", "D5"] if slurred else ["E5", "D5"])


def test_midi_notes_cut_each_other_off() -> None:
    """A higher note ends the one before; a note that is never ended lasts to the end of the part."""
    data = midi(write_track([(0, b"\x90\x3c\x50"), (480, b"\x90\x40\x50"), (960, b"\xb0\x07\x50")]))
    assert rows(read_melody(data, "t")) == [("C4", 0, 1), ("E4", 1, 1)]


@pytest.mark.parametrize("signature", range(-7, 8))
def test_spelling_keeps_the_scale(signature: int) -> None:
    """In every key the tones of the signature keep their names, and so does the raised seventh of the minor."""
    tonic = Tone("C").at("1")
    for _ in range(abs(signature)):
        tonic = tonic.at("5" if signature > 0 else "4")
    for key in (Key(tonic), Key(tonic.at("6"), "minor")):
        assert key.signature == signature
        for tone in key.tones:
            assert spelled(60 + tone.pitch_class, key).tone == tone
    leading = tonic.at("6").at("7")
    assert spelled(60 + leading.pitch_class, Key(tonic.at("6"), "minor")).tone == leading


def test_spelling_without_a_key() -> None:
    """C major with the usual signs."""
    assert [str(spelled(60 + n, None).tone) for n in range(12)] == [
        *("C", "C#", "D", "Eb", "E", "F"),
        *("F#", "G", "G#", "A", "Bb", "B"),
    ]
    assert parse_key("C major").signature == 0


TWO = midi(track((60, 0, 480), extra=[name_of("Voice")]), track((48, 0, 480), channel=1, extra=[name_of("Bass")]))


@pytest.mark.parametrize(("part", "note"), [("1", "C4"), ("2", "C3"), ("bass", "C3"), ("VO", "C4")])
def test_midi_parts_are_chosen_by_number_or_name(part: str, note: str) -> None:
    """A number from 1, a name in any case, or the beginning of one."""
    assert rows(read_melody(TWO, "t", part=part)) == [(note, 0, 1)]


def test_midi_channels_are_parts_where_there_is_one_track() -> None:
    """A single track with two channels has two parts, named by channel; percussion is none of them."""
    one = write_track(
        [
            *((0, bytes((0x90 + channel, note, 80))) for channel, note in ((0, 60), (1, 48), (9, 36))),
            *((480, bytes((0x80 + channel, note, 0))) for channel, note in ((0, 60), (1, 48), (9, 36))),
        ]
    )
    with pytest.raises(SourceError, match=r"1 'channel 1', 2 'channel 2'$"):
        read_melody(midi(one), "t")
    assert rows(read_melody(midi(one), "t", part="channel 2")) == [("C3", 0, 1)]


DRUMS = midi(track((36, 0, 480), channel=9))
TROUBLE = {
    "is empty": (b"", None),
    "cannot be read as a melody": (b"%PDF-1.7 something else", None),
    "is cut off": (TWO[:-8], None),
    "holds no notes": (midi(write_track([])), None),
    "holds only percussion": (DRUMS, None),
    "say which one is the melody: 1 'Voice', 2 'Bass'": (TWO, None),
    "has no part 'Flute'; there is 1 'Voice', 2 'Bass'": (TWO, "Flute"),
    "has no part '3'": (TWO, "3"),
    "has no part ''": (TWO, ""),
    "knows no beats": (midi(track((60, 0, 480)), division=0xE728), None),
    "have no length": (midi(track((60, 0, 0))), None),
    "more than 2 MB": (TWO + bytes(2 * 1024 * 1024), None),
    "more than 20000 notes": (midi(track(*((60, 10 * n, 10) for n in range(20_001)))), None),
}


@pytest.mark.parametrize("part", TROUBLE)
def test_trouble_with_midi_is_one_line(part: str) -> None:
    """What is wrong, with the file's name, on one line."""
    data, choice = TROUBLE[part]
    with pytest.raises(SourceError) as caught:
        read_melody(data, "tune.mid", part=choice)
    assert part in str(caught.value)
    assert "tune.mid" in str(caught.value)
    assert "\n" not in str(caught.value)


def test_names_cannot_steer_a_terminal() -> None:
    """Control characters and endless names of parts are made harmless in the list."""
    nasty = midi(
        track((60, 0, 480), extra=[name_of("\x1b[2J" + "x" * 500)]), track((60, 0, 480), extra=[name_of("b\nc")])
    )
    with pytest.raises(SourceError) as caught:
        read_melody(nasty, "t")
    assert str(caught.value).isprintable()
    assert len(str(caught.value)) < 200


@given(st.binary(max_size=200) | st.binary(max_size=60).map(lambda junk: TWO[:30] + junk))
def test_no_bytes_crash_it(data: bytes) -> None:
    """Whatever the bytes, there is a melody or a SourceError."""
    try:
        found = bool(read_melody(data, "t").notes)
    except SourceError as error:
        found = "\n" not in str(error)
    assert found
