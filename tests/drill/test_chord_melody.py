"""Tunes with chords under them: what is taken from the file, what is guessed, where it lies, what is written."""

from __future__ import annotations

import tomllib
from dataclasses import replace
from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill_file import read_drill
from listener.drill.drill_text import Sketch, drill_text
from listener.drill.making.chord_melody import ON_BEATS, ON_CHORDS, TuneSetting, drill_of, set_tune, sketch_of, thinned
from listener.errors import SourceError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import parse_pitch, spell
from listener.music.scale import parse_key
from listener.planning.planner import plan_drill
from listener.planning.tune_place import fitted, moved
from listener.tunes.chord_line import read_chord_line
from listener.tunes.melody import read_melody
from listener.tunes.melody_file import from_first_bar, melody_bytes
from listener.tunes.tune import Melody, MelodyNote, TimedChord

GUITAR, HAND = make_instrument(), make_hand()


def tune(text: str, *, each: Fraction | int = 1, pickup: Fraction | int = 0, **rest: object) -> Melody:
    """Notes of one length, one after the other; - is a rest."""
    found, at = [], Fraction(0)
    for name in text.split():
        if name != "-":
            found.append(MelodyNote(parse_pitch(name), at, Fraction(each)))
        at += each
    return replace(Melody("tune.mid", "p", tuple(found), at, pickup_beats=Fraction(pickup)), **rest)  # type: ignore[arg-type]


FOUR = tune("E4 G4 A4 F4 D4 G4 C5 C5", key=parse_key("C"), meter=(4, 4))


def test_the_file_s_own_chords_go_before_guessed_ones() -> None:
    """Where there are chord symbols they are taken as they are, and nothing is said about guessing."""
    chords = (TimedChord(Fraction(0), Fraction(8), parse_chord("C6")),)
    setting = set_tune(replace(FOUR, chords=chords))
    assert setting.chords == chords
    assert not setting.guessed_chords
    assert setting.remarks == ()


def test_given_chords_go_before_all() -> None:
    """They are repeated where the tune is longer, and that is said."""
    setting = set_tune(FOUR, line=read_chord_line("C F"))
    assert [(str(one.start_beats), one.chord.symbol) for one in setting.chords] == [
        ("0", "C"), ("2", "F"), ("4", "C"), ("6", "F"),
    ]  # fmt: skip
    assert any("1 bars long, the tune 2" in remark for remark in setting.remarks)


def test_guessed_chords_are_called_a_guess() -> None:
    """With the rule in words, and the wish to edit them."""
    setting = set_tune(FOUR)
    assert setting.guessed_chords
    assert any("first guess" in remark and "Edit" in remark for remark in setting.remarks)


def test_an_unknown_key_and_meter_are_said() -> None:
    """They are guessed or taken as usual; how to say better is said."""
    setting = set_tune(replace(FOUR, key=None, meter=None))
    assert (str(setting.key), setting.meter, setting.guessed_key) == ("C major", (4, 4), True)
    assert any("--key" in remark for remark in setting.remarks)
    assert any("--meter" in remark for remark in setting.remarks)


def test_c_major_by_default_is_doubted() -> None:
    """A file that says C major, as programs do by themselves, with a tune in D: the doubt is said, the key is kept."""
    setting = set_tune(replace(tune("D4 F#4 A4 F#4 G4 E4 C#4 D4 D4"), key=parse_key("C"), meter=(4, 4)))
    assert str(setting.key) == "C major"
    assert any('--key "D major"' in remark for remark in setting.remarks)


def test_the_upbeat_is_left_out() -> None:
    """Time begins with the first full bar; a note that lasts into it is cut, one before it is gone."""
    melody = replace(tune("G3 C4 E4 G4 C5", pickup=1), key=parse_key("C"), meter=(4, 4))
    setting = set_tune(melody)
    assert [(str(n.pitch), n.start_beats) for n in setting.melody.notes] == [("C4", 0), ("E4", 1), ("G4", 2), ("C5", 3)]
    assert any("upbeat" in remark for remark in setting.remarks)
    tied = replace(melody, notes=(MelodyNote(parse_pitch("C4"), Fraction(1, 2), Fraction(2)),))
    assert [(n.start_beats, n.length_beats) for n in from_first_bar(tied).notes] == [(0, Fraction(3, 2))]


def test_notes_without_a_chord_are_counted() -> None:
    """A file whose first chord comes late leaves notes out; how many is said."""
    late = (TimedChord(Fraction(2), Fraction(6), parse_chord("C")),)
    assert "2 of 8 notes have no chord and are left out." in set_tune(replace(FOUR, chords=late)).remarks


@pytest.mark.parametrize("meter", [(17, 4), (4, 32), (3, 64)])
def test_meters_that_no_drill_has(meter: tuple[int, int]) -> None:
    """One line that says what to give."""
    with pytest.raises(SourceError, match="--meter 4/4"):
        set_tune(replace(FOUR, meter=meter))


def test_only_an_upbeat_is_no_tune() -> None:
    """Nothing would be left of it."""
    with pytest.raises(SourceError, match="no full bar"):
        set_tune(replace(tune("G4", pickup=1), key=parse_key("C"), meter=(4, 4)))


def rows(setting: TuneSetting) -> list[tuple[str, str, str]]:
    return [(str(n.pitch), str(n.start_beats), str(n.length_beats)) for n in setting.melody.notes]


def test_fewer_notes_on_the_beats() -> None:
    """Of eighths those on the beats stay and last to the next; a rest stays a rest."""
    eighths = replace(tune("C4 D4 E4 F4 G4 - - -", each=Fraction(1, 2)), key=parse_key("C"), meter=(4, 4))
    assert rows(thinned(set_tune(eighths), ON_BEATS)) == [("C4", "0", "1"), ("E4", "1", "1"), ("G4", "2", "1/2")]
    six = replace(tune("C4 D4 E4 F4 G4 A4", each=Fraction(1, 2)), key=parse_key("C"), meter=(6, 8))
    assert rows(thinned(set_tune(six), ON_BEATS)) == [("C4", "0", "3/2"), ("F4", "3/2", "3/2")]


@pytest.mark.parametrize("meter", [(6, 8), (9, 8), (12, 8)])
def test_in_compound_meters_three_eighths_are_a_beat(meter: tuple[int, int]) -> None:
    """Of nine or twelve eighths as of six every third stays (common practice)."""
    eighths = replace(tune("C4 D4 E4 " * (meter[0] // 3), each=Fraction(1, 2)), key=parse_key("C"), meter=meter)
    kept = rows(thinned(set_tune(eighths), ON_BEATS))
    assert kept == [("C4", str(Fraction(3 * beat, 2)), "3/2") for beat in range(meter[0] // 3)]


def test_fewer_notes_on_the_chords() -> None:
    """One for each chord and bar."""
    setting = thinned(set_tune(FOUR, line=read_chord_line("C F | G . . C")), ON_CHORDS)
    assert rows(setting) == [("E4", "0", "2"), ("A4", "2", "2"), ("D4", "4", "3"), ("C5", "7", "1")]
    assert setting.remarks[-1] == "4 of 8 notes are kept, those on each chord."


def test_a_drill_that_stands_alone() -> None:
    """The text holds the tune: read without any folder it has one step for each note, with the note on top."""
    drill = read_drill(drill_text(sketch_of(set_tune(FOUR), title="T")), "t")
    assert " ".join(str(step.wish.top.pitch) for step in drill.steps) == "E4 G4 A4 F4 D4 G4 C5 C5"
    assert [step.start_beats for step in drill.steps] == list(range(8))
    plan = plan_drill(drill, GUITAR, HAND)
    assert [planned.fingering.pitches[-1] for planned in plan.steps] == [note.pitch.midi for note in FOUR.notes]


def test_moved_tunes_keep_their_intervals() -> None:
    """Notes and chords go up by the same; the key gets its usual name."""
    there = moved(set_tune(FOUR, line=read_chord_line("C | G7")), 3)
    assert str(there.key) == "Eb major"
    assert [one.chord.symbol for one in there.chords] == ["Eb", "Bb7"]
    assert [str(note.pitch) for note in there.melody.notes][:4] == ["G4", "Bb4", "C5", "Ab4"]


@pytest.mark.parametrize(
    ("notes", "semitones", "said"),
    [
        ("E4 G4 C5 G4", 0, ""),
        ("E7 G7 C7 G7", -24, "down two octaves"),
        ("D6 G5 B5 G5", -12, "down an octave"),
        ("G2 B2 D3 G3", 12, "up an octave"),
        ("C3 C5 E5 D5", None, "The tune is moved to"),
    ],
)
def test_tunes_find_their_place(notes: str, semitones: int | None, said: str) -> None:
    """As it is where that goes, else octaves away, else in another key; what was done is said, and it can be played."""
    setting = set_tune(replace(tune(notes), key=parse_key("D"), meter=(4, 4)), line=read_chord_line("C"))
    there = fitted(setting, "any", GUITAR, HAND)
    away = {b.pitch.midi - a.pitch.midi for a, b in zip(setting.melody.notes, there.melody.notes, strict=True)}
    assert len(away) == 1
    if semitones is not None:
        assert away == {semitones}
    assert said in " ".join(there.remarks)
    plan_drill(drill_of(there), GUITAR, HAND)


def test_far_up_the_neck_only_when_nothing_else_helps() -> None:
    """A tune of two octaves and a half needs more than the usual frets."""
    setting = set_tune(replace(tune("D3 A5 D3 A5"), key=parse_key("D"), meter=(4, 4)), line=read_chord_line("D"))
    there = fitted(setting, "any", GUITAR, HAND)
    assert there.frets == (0, 22)
    assert any("far up the neck" in remark for remark in there.remarks)
    plan_drill(drill_of(there), GUITAR, HAND)


def test_what_fits_nowhere_stays_and_is_left_to_the_planner() -> None:
    """Four octaves lie on no guitar with chords under them; the tune is where most of its notes have a place."""
    setting = set_tune(replace(tune("E2 C4 E4 G4 E6"), key=parse_key("C"), meter=(4, 4)), line=read_chord_line("C"))
    there = fitted(setting, "any", GUITAR, HAND)
    assert {note.pitch.tone.letter for note in there.melody.notes} == {"C", "E", "G"}
    assert (there.frets, [remark for remark in there.remarks if "far up the neck" in remark]) == (None, [])


LENGTHS = st.sampled_from(
    [Fraction(1), Fraction(1, 2), Fraction(1, 3), Fraction(3, 4), Fraction(1, 7), Fraction(5, 16)]
)


@given(
    st.lists(st.tuples(st.integers(40, 90), LENGTHS, st.booleans()), min_size=1, max_size=20),
    st.sampled_from(["C", "Gb", "F# minor", "Eb minor", "B"]),
    st.sampled_from([(4, 4), (6, 8), (2, 2), (3, 1), (5, 16)]),
)
def test_melody_files_are_read_back(notes: list[tuple[int, Fraction, bool]], key: str, meter: tuple[int, int]) -> None:
    """Pitch and exact time of every note, key and meter: what is written is what is read."""
    found, at = [], Fraction(0)
    for midi, length, rest in notes:
        if not rest:
            found.append(MelodyNote(spell(midi), at, length))
        at += length
    if not found:
        return
    melody = Melody("t", "p", tuple(found), at)
    again = read_melody(melody_bytes(melody, parse_key(key), meter), "t")
    assert [(n.pitch.midi, n.start_beats, n.length_beats) for n in again.notes] == [
        (n.pitch.midi, n.start_beats, n.length_beats) for n in found
    ]
    assert (again.key, again.meter) == (parse_key(key), meter)


@given(
    st.builds(
        Sketch,
        title=st.text(max_size=30),
        key=st.sampled_from(["C major", "F# minor"]),
        chords=st.sampled_from(["C | Am7 D7/F# | G", "C . . F | % | N.C. G | C | F", "C\nF"]),
        kind=st.sampled_from(["any", "spread or close"]),
        top=st.sampled_from(["", "any", "up"]),
        tempo=st.sampled_from([60, 72.5, 20, 400]),
        meter=st.sampled_from(["4/4", "6/8"]),
        about=st.text(max_size=30),
        frets=st.sampled_from([None, (0, 22)]),
        remarks=st.lists(st.text(max_size=200), max_size=3).map(tuple),
    )
)
def test_every_sketch_is_toml_that_says_what_it_says(sketch: Sketch) -> None:
    """Whatever the texts, the file is TOML with these values, and no remark becomes anything but a comment."""
    values = tomllib.loads(drill_text(sketch, "a\nb.toml"))
    assert values["title"] == sketch.title.encode("utf-8", "replace").decode()
    assert (values["key"], values["tempo"], values["meter"]) == (sketch.key, sketch.tempo, sketch.meter)
    (passage,) = values["passage"]
    assert [bar.split() for line in passage["chords"].split("\n") for bar in line.split("|") if bar.strip()] == [
        bar.split() for line in sketch.chords.split("\n") for bar in line.split("|")
    ]
    assert passage["kind"] == sketch.kind
    assert passage.get("top", "") == sketch.top
    assert passage.get("frets") == (list(sketch.frets) if sketch.frets else None)
