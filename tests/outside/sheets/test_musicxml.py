"""MusicXML of a plan: valid by the W3C's schema, and read back equal by music21 and verovio."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from collections.abc import Iterator
from fractions import Fraction
from typing import Any

import pytest
from hypothesis import HealthCheck, given, settings
from hypothesis import strategies as st
from musicxml_schema import faults
from sheet_plans import COURSE_IN_PARTS, course_plan, in_turn, make_plan, planned_on

from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.quality import qualities
from listener.planning.plan import Plan
from listener.sheets.musicxml.chords import add_chord_name
from listener.sheets.musicxml.musicxml import Show, plan_musicxml
from listener.tunes.chord_symbols import harmony_chord

music21 = pytest.importorskip("music21")


@pytest.fixture(scope="module")
def verovio() -> Any:
    """The engraver, quiet."""
    found = pytest.importorskip("verovio")
    found.enableLog(found.LOG_OFF)
    return found


def planned_notes(plan: Plan) -> list[tuple[Fraction, Fraction, tuple[str, ...]]]:
    """(start, length in quarters, names low to high) of every step; flats as music21 writes them."""
    quarter = Fraction(4, plan.drill.meter[1])
    return [
        (
            Fraction(planned.step.start_beats).limit_denominator(1000) * quarter,
            Fraction(planned.step.length_beats).limit_denominator(1000) * quarter,
            tuple(name.replace("b", "-") for name in planned.voicing.names),
        )
        for planned in plan.steps
    ]


def read(plan: Plan) -> Any:
    """The score as music21 reads it."""
    return music21.converter.parseData(plan_musicxml(plan), format="musicxml")


def notes_on(staff: Any) -> list[tuple[Fraction, Fraction, tuple[str, ...]]]:
    """The same as :func:`planned_notes` from a staff of music21: tied notes are one, what starts together is a chord.

    music21 can join ties itself, but not where two voices meet on a pitch in one staff.
    """
    written = [
        (Fraction(element.offset), Fraction(element.quarterLength), note)
        for element in staff.flatten().notes
        if not isinstance(element, music21.harmony.ChordSymbol)
        for note in (element.notes if isinstance(element, music21.chord.Chord) else [element])
    ]
    found: dict[Fraction, list[tuple[Any, Fraction]]] = {}
    ringing: dict[tuple[str, Fraction], Fraction] = {}  # pitch and end of a note tied on: where it began
    for start, length, note in sorted(written, key=lambda entry: entry[0]):
        name, tie = note.pitch.nameWithOctave, note.tie.type if note.tie else None
        begun = ringing.pop((name, start)) if tie in ("stop", "continue") else start
        if tie in ("start", "continue"):
            ringing[name, start + length] = begun
        else:
            found.setdefault(begun, []).append((note.pitch, start + length - begun))
    assert not ringing
    chords = []
    for start, notes in sorted(found.items()):
        assert len({length for _, length in notes}) == 1
        names = tuple(pitch.nameWithOctave for pitch, _ in sorted(notes, key=lambda one: one[0].midi))
        chords.append((start, notes[0][1], names))
    return chords


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_the_course_is_valid(name: str) -> None:
    """Every drill of the course is valid MusicXML 4.0."""
    assert faults(plan_musicxml(course_plan(name))) == []


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_music21_reads_the_course(name: str) -> None:
    """Staff and tab have the plan's spelled pitches at the plan's times; meter, key and bars are those of the drill."""
    plan = course_plan(name)
    if any(one.step.pattern is not None for one in plan.steps):
        pytest.skip("a picked chord is written pluck by pluck; test_patterns reads those")
    score = read(plan)
    staff, tab = score.parts
    expected = planned_notes(plan)
    assert notes_on(staff) == expected
    assert notes_on(tab) == expected
    bar = Fraction(4 * plan.drill.meter[0], plan.drill.meter[1])
    measures = list(staff.getElementsByClass("Measure"))
    assert len(measures) == -(-max(start + length for start, length, _ in expected) // bar)
    assert {Fraction(measure.barDuration.quarterLength) for measure in measures} == {bar}
    assert score.recurse().getElementsByClass("TimeSignature")[0].ratioString == "{}/{}".format(*plan.drill.meter)
    assert score.recurse().getElementsByClass("MetronomeMark")[0].number == plan.drill.tempo
    assert music21.key.Key(plan.drill.key.split()[0].replace("b", "-"), plan.drill.key.split()[1]).sharps == (
        score.recurse().getElementsByClass("KeySignature")[0].sharps
    )


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_music21_reads_the_chord_names(name: str) -> None:
    """Under every chord symbol lie the chord's root, bass and tones, where the chord begins."""
    plan = course_plan(name)
    quarter = Fraction(4, plan.drill.meter[1])
    chords = {Fraction(one.step.start_beats).limit_denominator(1000) * quarter: one.voicing.chord for one in plan.steps}
    staff = read(plan).parts[0]
    symbols = list(staff.flatten().getElementsByClass("ChordSymbol"))
    assert symbols
    for symbol in symbols:
        chord = chords[Fraction(symbol.offset)]
        assert symbol.root().name == str(chord.root).replace("b", "-")
        assert symbol.bass().name == str(chord.bass or chord.root).replace("b", "-")
        assert {pitch.pitchClass for pitch in symbol.pitches} == chord.pitch_classes


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_verovio_reads_the_course(name: str, verovio: Any) -> None:
    """A second reader: the top line's pitches and times, and every pitch of the tab, are the plan's."""
    plan = course_plan(name)
    if any(one.step.pattern is not None for one in plan.steps):
        pytest.skip("a picked chord is written pluck by pluck; test_patterns reads those")
    toolkit = verovio.toolkit()
    assert toolkit.loadData(plan_musicxml(plan).decode())
    toolkit.renderToMIDI()
    quarter_ms = 60_000 / plan.drill.tempo * plan.drill.meter[1] / 4
    for number, (planned, (start, length, _)) in enumerate(zip(plan.steps, planned_notes(plan), strict=True), start=1):
        for prefix in ("chord", "tab"):
            heard = toolkit.getMIDIValuesForElement(f"{prefix}-{number}")
            assert heard["pitch"] == planned.voicing.midi[-1]
            assert heard["time"] == pytest.approx(float(start) * quarter_ms, abs=2)
            # a note tied over a bar line is told up to the bar line only
            assert heard["duration"] <= float(length) * quarter_ms + 2
    assert tab_places(toolkit.getMEI()) == [
        sorted(zip(one.fingering.strings, one.fingering.frets, strict=True)) for one in plan.steps
    ]


def tab_places(mei: str) -> list[list[tuple[int, int]]]:
    """(string, fret) of each chord in verovio's tab; chords tied on are left out."""
    space = "{http://www.music-encoding.org/ns/mei}"
    tied_on = {tie.get("endid", "").lstrip("#") for tie in ET.fromstring(mei).iter(f"{space}tie")}
    identity = "{http://www.w3.org/XML/1998/namespace}id"
    found = []
    for group in ET.fromstring(mei).iter(f"{space}tabGrp"):
        notes = list(group.iter(f"{space}note"))
        if notes and not any(note.get(identity) in tied_on for note in notes):
            found.append(sorted((int(note.get("tab.course", "")), int(note.get("tab.fret", ""))) for note in notes))
    return found


ROOTS = ("C", "F#", "Bb", "Eb", "Db", "G#")


def every_quality() -> Iterator[str]:
    """A symbol for every quality of the table, on changing roots, some with a bass; and some made by rule."""
    for index, quality in enumerate(qualities()):
        root = ROOTS[index % len(ROOTS)]
        yield f"{root}{quality.symbol}"
    yield from ("C/D", "Am7/G", "C7b5#9", "Cm11b5b9", "C13#11b9", "Db9#5", "Cmaj13#11", "G(no5)")
    yield from ("C(add9,add11)", "C7b9#9", "C(no3)", "F#m(no5)", "C6/9#11", "B7b5b9sus4")


@pytest.mark.parametrize("symbol", list(every_quality()))
def test_chord_symbols(symbol: str) -> None:
    """Root, kind, degrees and bass of every quality mean the chord's tones to music21, and to our own reader where a
    chord symbol can say them."""
    chord = parse_chord(symbol)
    harmony = ET.Element("measure")
    add_chord_name(harmony, chord, None, 6)
    parsed = music21.musicxml.xmlToM21.MeasureParser().xmlToChordSymbol(harmony[0])
    assert {pitch.pitchClass for pitch in parsed.pitches} == chord.pitch_classes
    assert parsed.root().name == str(chord.root).replace("b", "-")
    if chord.quality.musicxml not in ("Italian", "French", "German"):
        own = harmony_chord(harmony[0])
        assert own is not None
        assert (own.root, own.bass, own.pitch_classes) == (chord.root, chord.bass, chord.pitch_classes)


_SHARES = st.lists(st.integers(1, 6), min_size=1, max_size=8)
_METERS = st.sampled_from([(4, 4), (3, 4), (6, 8), (5, 4), (7, 8), (2, 2), (12, 8)])


@settings(deadline=None)
@given(_SHARES, _METERS, st.lists(st.booleans(), max_size=8))
def test_any_rhythm_is_valid(shares: list[int], meter: tuple[int, int], gaps: list[bool]) -> None:
    """Whatever shares a bar, also with rests between: valid, and every voice of every bar adds up to the meter."""
    data = plan_musicxml(make_plan(in_turn(shares, meter, gaps), meter=meter))
    assert faults(data) == []
    measures = ET.fromstring(data).iter("measure")
    divisions = 0
    for measure in measures:
        divisions = int(measure.findtext("attributes/divisions") or divisions)
        filled: dict[str, int] = {}
        for element in [*measure.findall("note"), *measure.findall("forward")]:
            if element.find("chord") is None:
                voice = element.findtext("voice", "")
                filled[voice] = filled.get(voice, 0) + int(element.findtext("duration", ""))
        assert filled == dict.fromkeys("123", divisions * 4 * meter[0] // meter[1])


@settings(max_examples=25, deadline=None, suppress_health_check=[HealthCheck.too_slow])
@given(_SHARES, _METERS, st.integers(0, 3))
def test_music21_reads_any_rhythm(shares: list[int], meter: tuple[int, int], late: int) -> None:
    """Tuplets, ties over bar lines, syncopations and rests: music21 reads the plan's times exactly."""
    chords = [(name, start + Fraction(late, 2), length) for name, start, length in in_turn(shares, meter)]
    plan = make_plan(chords, meter=meter)
    staff, tab = read(plan).parts
    assert notes_on(staff) == notes_on(tab) == planned_notes(plan)


@pytest.mark.parametrize(
    ("tuning", "capo", "strings"),
    [("G3 C4 E4 A4", 0, 4), ("B1 E2 A2 D3 G3 B3 E4", 2, 7), ("F#1 B1 E2 A2 D3 G3 B3 E4", 0, 8), ("standard", 3, 6)],
)
def test_other_guitars(tuning: str, capo: int, strings: int) -> None:
    """Four to eight strings and a capo: valid; the tab's strings, tuned and with the capo, sound the plan's pitches."""
    plan = planned_on(make_instrument(tuning, capo=capo), "C | Am | F | G", fields='kind = "close"')
    data = plan_musicxml(plan)
    assert faults(data) == []
    root = ET.fromstring(data)
    details = root.find("part/measure/attributes/staff-details")
    assert details is not None
    assert details.findtext("staff-lines") == str(strings)
    assert int(details.findtext("capo", "0")) == capo
    names = [f"{one.findtext('tuning-step')}{one.findtext('tuning-octave')}" for one in details.iter("staff-tuning")]
    alters = [int(one.findtext("tuning-alter", "0")) for one in details.iter("staff-tuning")]
    opened = [music21.pitch.Pitch(name).midi + alter + capo for name, alter in zip(names, alters, strict=True)]
    sounds = [
        opened[strings - int(note.findtext(".//string", ""))] + int(note.findtext(".//fret", ""))
        for note in root.iter("note")
        if note.find(".//string") is not None
    ]
    assert sounds == [midi for one in plan.steps for midi in one.voicing.midi]
    for frame in root.iter("frame"):
        assert frame.findtext("frame-strings") == str(strings)


def test_ties_cross_the_bar_line() -> None:
    """A chord of seven beats from beat 3 of a 4/4 bar is tied twice, and music21 joins it again."""
    plan = make_plan([("C", 2, 7)])
    data = plan_musicxml(plan)
    assert faults(data) == []
    assert notes_on(read(plan).parts[0]) == planned_notes(plan)
    assert len([tie for tie in ET.fromstring(data).iter("tie") if tie.get("type") == "start"]) == 2 * 2 * 3


def test_new_lines_are_valid() -> None:
    """With line breaks and without words it is still valid."""
    show = Show(words=False, fingers=False, line_breaks=frozenset({2}))
    data = plan_musicxml(make_plan([("C", 0, 4), ("F", 4, 4)]), show=show)
    assert faults(data) == []
    assert b"new-system" in data
    assert b"harmony" not in data


def test_a_chord_without_a_name_is_valid_and_shows_no_root() -> None:
    """A kind of its own, shown as '?'; the root that the standard wants is there and not printed."""
    notes = 'notes = ["C3 F#3 G3", "any"]'
    data = plan_musicxml(planned_on(make_instrument(), "? | C", fields=notes))
    assert faults(data) == []
    harmony = next(ET.fromstring(data).iter("harmony"))
    assert (harmony.findtext("kind"), harmony.find("kind").get("text")) == ("other", "?")  # type: ignore[union-attr]
    assert harmony.find("root/root-step").get("text") == ""  # type: ignore[union-attr]
