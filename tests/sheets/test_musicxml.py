"""MusicXML of a plan: what stands in it, bar by bar. Validity and other readers are in tests/outside."""

from __future__ import annotations

import xml.etree.ElementTree as ET
from fractions import Fraction

import pytest
from sheet_plans import COURSE_IN_PARTS, Timed, course_plan, make_plan

from listener.guitar.fingering import fret_window
from listener.music.pitch import parse_pitch
from listener.music.scale import parse_key
from listener.planning.plan import Plan
from listener.sheets.bars import bars_of
from listener.sheets.musicxml.accidentals import Accidentals, written_key
from listener.sheets.musicxml.harmony import DegreeChange, XmlHarmony, harmony_of
from listener.sheets.musicxml.musicxml import plan_musicxml

FOUR: list[Timed] = [("C", 0, 4), ("F", 4, 2), ("Cmaj7", 6, 2), ("G7/B", 8, 4)]


def score(plan: Plan) -> ET.Element:
    """The score's root element."""
    return ET.fromstring(plan_musicxml(plan))


def names(root: ET.Element) -> list[str]:
    """Chord symbols as a reader shows them."""
    found = []
    for harmony in root.iter("harmony"):
        kind = harmony.find("kind")
        bass = harmony.findtext("bass/bass-step")
        assert kind is not None
        text = kind.get("text", "")
        found.append(text if kind.text == "none" else f"{harmony.findtext('root/root-step')}{text}")
        found[-1] += f"/{bass}" if bass else ""
    return found


def test_the_top_line_is_a_voice() -> None:
    """Voice 1 holds the highest note of every chord, stems up; voice 2 the others, stems down."""
    notes = list(score(make_plan(FOUR)).iter("note"))
    top = [note for note in notes if note.findtext("voice") == "1"]
    assert [note.findtext("pitch/step") for note in top] == ["E", "F", "E", "D"]
    assert {note.findtext("stem") for note in top} == {"up"}
    assert {note.findtext("stem") for note in notes if note.findtext("voice") == "2"} == {"down"}


def test_chord_names_and_frames() -> None:
    """Every new chord has its name, kind and diagram; a chord struck again without a change does not."""
    root = score(make_plan([("C", 0, 1), ("C", 1, 1), ("F", 2, 1), ("C", 3, 1), ("G7/B", 4, 4)]))
    assert names(root) == ["C", "F", "C", "G7/B"]
    assert [harmony.findtext("kind") for harmony in root.iter("harmony")] == ["major", "major", "major", "dominant"]
    frame = next(root.iter("frame"))
    assert (frame.findtext("frame-strings"), frame.findtext("frame-frets"), frame.findtext("first-fret")) == (
        "6",
        "4",
        None if fret_window(make_plan(FOUR).steps[0].fingering.frets)[0] == 1 else "3",
    )
    places = [(note.findtext("string"), note.findtext("fret"), note.findtext("fingering")) for note in frame]
    assert places[-3:] == [("5", "3", "2"), ("4", "5", "4"), ("2", "5", "3")]


def test_a_barre_spans_its_strings() -> None:
    """One finger over strings 4 to 2 starts at the lowest string and stops at the highest (MusicXML 4.0, barre)."""
    frame = next(score(course_plan("mill-verse")).iter("frame"))
    barre = {note.findtext("string"): part.get("type") for note in frame for part in note.iter("barre")}
    assert barre == {"4": "start", "2": "stop"}


def test_a_bar_of_rest_is_no_chord() -> None:
    """N.C. over a bar of rest, and the chord's name again after it; a shorter rest needs no name."""
    root = score(make_plan([("C", 0, 3), ("C", 4, 4), ("C", 12, 4)]))
    assert names(root) == ["C", "N.C.", "C"]
    assert [measure.find("note/rest") is not None for measure in root.iter("measure")] == [True, False, True, False]


def test_rests_fill_the_bar() -> None:
    """The rest after three of four beats is a quarter; a whole bar of rest says so and has no note value."""
    root = score(make_plan([("C", 0, 3), ("C", 8, 4)]))
    rests = [note for note in root.iter("note") if note.find("rest") is not None]
    assert [(note.findtext("type"), note.findtext("duration")) for note in rests] == [("quarter", "1"), (None, "4")]


def test_a_new_passage_has_its_name() -> None:
    """Passages are named where they begin, and the first chord's name is there even when it is the same."""
    root = score(make_plan([("C", 0, 4), ("C", 4, 4), ("C", 8, 4)], passages=["quiet", "quiet", "loud"]))
    assert [words.text for words in root.iter("words")] == ["quiet", "loud"]
    assert names(root) == ["C", "C"]


def test_a_loop_has_repeat_signs() -> None:
    """From the last bar back to the first, only when the drill loops."""
    looped = [sign.get("direction") for sign in score(make_plan(FOUR, loop=True)).iter("repeat")]
    assert looped == ["forward", "backward"]
    assert list(score(make_plan(FOUR)).iter("repeat")) == []


@pytest.mark.parametrize(
    ("meter", "tempo", "beat", "quarters"),
    [((4, 4), 60.0, "quarter", "60"), ((6, 8), 90.0, "eighth", "45"), ((2, 2), 50.0, "half", "100")],
)
def test_tempo(meter: tuple[int, int], tempo: float, beat: str, quarters: str) -> None:
    """Shown in the meter's beats, sounded in quarters."""
    root = score(make_plan(FOUR, meter=meter, tempo=tempo))
    assert root.findtext(".//beat-unit") == beat
    assert root.findtext(".//per-minute") == f"{tempo:g}"
    sound = root.find(".//sound")
    assert sound is not None
    assert sound.get("tempo") == quarters


@pytest.mark.parametrize(
    ("key", "fifths"), [("Gb major", "-6"), ("F# minor", "3"), ("G# major", None), ("D dorian", None), ("", None)]
)
def test_key_signature(key: str, fifths: str | None) -> None:
    """Sharps or flats at the clef; none where no signature of at most seven says it."""
    assert score(make_plan(FOUR, key=key)).findtext(".//fifths") == fifths


def test_accidentals_hold_for_the_bar() -> None:
    """In F major B flat needs none, B a natural once in a bar, in each octave; B flat then a flat again."""
    signs = Accidentals(parse_key("F major"))

    def row(*pitches: str) -> list[str | None]:
        return [signs.of(parse_pitch(name)) for name in pitches]

    assert row("Bb3", "B3", "B3", "B4", "Bb3", "F#4") == [None, "natural", None, "natural", "flat", "sharp"]
    signs.bar_line()
    assert row("Bb3", "F4", "Fb4", "Gx3", "Abb3") == [None, None, "flat", "double-sharp", "flat-flat"]


@pytest.mark.parametrize("signature", range(-7, 8))
def test_the_scale_of_a_key_needs_no_accidental(signature: int) -> None:
    """For all fifteen signatures."""
    tonics = ["Cb", "Gb", "Db", "Ab", "Eb", "Bb", "F", "C", "G", "D", "A", "E", "B", "F#", "C#"]
    key = written_key(f"{tonics[signature + 7]} major")
    assert key is not None
    assert key.signature == signature
    signs = Accidentals(key)
    assert [signs.of(pitch) for pitch in key.scale.pitches(48, 72)] == [None] * len(key.scale.pitches(48, 72))


@pytest.mark.parametrize("name", COURSE_IN_PARTS)
def test_bars_are_full(name: str) -> None:
    """Slots follow one another without a gap and fill every bar; every step begins once and ends once."""
    plan = course_plan(name)
    bars = bars_of(plan)
    for bar in bars:
        assert bar.length == Fraction(4 * plan.drill.meter[0], plan.drill.meter[1])
        now = Fraction(0)
        for slot in bar.slots:
            assert slot.start == now
            now = slot.end
        assert now == bar.length
    slots = [slot for bar in bars for slot in bar.slots if slot.planned is not None]
    assert [slot.planned for slot in slots if slot.begins] == list(plan.steps)
    assert sum(slot.ends for slot in slots) == len(plan.steps)


def test_an_empty_plan_is_a_bar_of_rest() -> None:
    """Nothing to play, still a score."""
    root = score(make_plan([]))
    assert [note.find("rest") is not None for note in root.iter("note")] == [True]


def test_titles_that_xml_cannot_hold() -> None:
    """Signs that mean something in XML are kept, control characters left out."""
    assert score(make_plan(FOUR, title="A < B & \x07C")).findtext(".//work-title") == "A < B & C"


def test_the_same_plan_gives_the_same_bytes() -> None:
    """No clock, no chance."""
    assert plan_musicxml(make_plan(FOUR)) == plan_musicxml(make_plan(FOUR))


def test_harmony_of_suspended_sevenths() -> None:
    """A seventh that readers could take for a major one is never added: it is part of the kind."""
    from listener.music.chord import parse_chord

    assert harmony_of(parse_chord("G7sus4").quality) == XmlHarmony(
        "dominant", (DegreeChange(3, 0, "subtract"), DegreeChange(4, 0, "add"))
    )


def test_thousands_of_fractions() -> None:
    """When no single number of divisions serves, every bar has its own, and lengths stay exact."""
    chords: list[Timed] = []
    for bar, count in enumerate((7, 11, 13, 17, 19)):
        chords += [("C", Fraction(4 * bar) + Fraction(4 * n, count), Fraction(4, count)) for n in range(count)]
    root = score(make_plan(chords))
    assert [int(text.text or "") for text in root.iter("divisions")] == [7, 11, 13, 17, 19]
    for measure, count in zip(root.iter("measure"), (7, 11, 13, 17, 19), strict=True):
        lengths = {note.findtext("duration") for note in measure.iter("note")}
        assert lengths == {"4"}
        assert int(measure.findtext("attributes/divisions") or "") == count
