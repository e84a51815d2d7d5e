"""Patterns on what is handed on: MIDI and MusicXML play them, the tab has a column for each place, sheets say them."""

from __future__ import annotations

import io
import xml.etree.ElementTree as ET
from collections.abc import Sequence
from dataclasses import replace
from fractions import Fraction
from typing import NamedTuple

import mido  # type: ignore[import-untyped]
import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from musicxml_schema import faults
from sheet_plans import Timed, make_plan

from listener.music.pattern import OVERS, Pattern
from listener.music.pattern_text import read_picks, read_strums
from listener.planning.plan import Plan
from listener.sheets.bars import bars_of
from listener.sheets.midi_file import TICKS, plan_midi
from listener.sheets.musicxml.musicxml import plan_musicxml
from listener.sheets.printed.practice_sheet import sheet_pages
from listener.sheets.tab_text import tab_text

FOLK = Pattern(read_strums(">d . d u - u d u"))
PICKED = Pattern(read_picks("1 3 2 3"))
FINGERS = Pattern(read_picks("p+a . i m p i >m -"))
ONE: list[Timed] = [("Em", 0, 4)]


def with_pattern(pattern: Pattern | None, chords: Sequence[Timed] = ONE, *, tempo: float = 60.0) -> Plan:
    """A plan all of whose chords have the pattern."""
    plan = make_plan(chords, tempo=tempo, meter=pattern.meter if pattern is not None else (4, 4))
    return replace(plan, steps=tuple(replace(one, step=replace(one.step, pattern=pattern)) for one in plan.steps))


class Note(NamedTuple):
    """A note of a MIDI file; beats from the beginning."""

    beat: float
    pitch: int
    velocity: int
    until: float


def notes_of(data: bytes) -> list[Note]:
    """All notes of the guitar's track, in order; what is on is turned off once."""
    track = mido.MidiFile(file=io.BytesIO(data)).tracks[1]
    now, found = 0, []
    on: dict[tuple[int, int], tuple[int, int]] = {}
    for message in track:
        now += message.time
        if message.type == "note_on":
            assert (message.channel, message.note) not in on
            on[message.channel, message.note] = (now, message.velocity)
        elif message.type == "note_off":
            start, velocity = on.pop((message.channel, message.note))
            found.append(Note(start / TICKS, message.note, velocity, now / TICKS))
    assert not on
    return sorted(found)


def test_midi_strums_down_and_up() -> None:
    """Six strings, 8 ms from each to the next; the accent louder; nothing sounds in the rest."""
    notes = notes_of(plan_midi(with_pattern(FOLK)))
    assert [note.beat for note in notes[::6]] == [0.0, 1.0, 1.5, 2.5, 3.0, 3.5]
    first, up = notes[:6], notes[12:18]
    assert [note.pitch for note in first] == [40, 47, 52, 55, 59, 64]
    assert [note.pitch for note in up] == [64, 59, 55, 52, 47, 40]
    assert first[-1].beat == pytest.approx(0.04, abs=1 / TICKS)
    assert {note.velocity for note in first} == {102}
    assert {note.velocity for note in notes[6:]} == {80}
    assert not [note for note in notes if note.beat < 2.25 < note.until]
    assert {note.until for note in notes[-6:]} == {4.0}


def test_midi_picks_ring_until_they_are_picked_again() -> None:
    """One voice after the other, each to its next time, to a rest, or to the end of the chord."""
    plan = with_pattern(PICKED, [("C", 0, 2), ("F", 2, 2)])
    notes = notes_of(plan_midi(plan))
    assert [(note.beat, note.pitch) for note in notes] == [
        (0.0, 48), (0.5, 64), (1.0, 55), (1.5, 64), (2.0, 48), (2.5, 65), (3.0, 57), (3.5, 65),
    ]  # fmt: skip
    assert [note.until for note in notes] == [2.0, 1.5, 2.0, 2.0, 4.0, 3.5, 4.0, 4.0]
    rested = notes_of(plan_midi(with_pattern(Pattern(read_picks("1 2 - 3")), [("C", 0, 2)])))
    assert [note.until for note in rested] == [1.0, 1.0, 2.0]


def test_midi_swings() -> None:
    """Two to one."""
    plan = with_pattern(replace(PICKED, swing=Fraction(2, 3)), [("C", 0, 2)])
    assert [note.beat for note in notes_of(plan_midi(plan))] == pytest.approx([0.0, 2 / 3, 1.0, 5 / 3], abs=1 / TICKS)


def test_a_quick_strum_stays_inside_its_place() -> None:
    """Sixteenths at 300: all six strings within two fifths of a place."""
    pattern = Pattern(read_strums("d u"), Fraction(1, 16))
    notes = notes_of(plan_midi(with_pattern(pattern, tempo=300.0)))
    for place in range(16):
        burst = notes[6 * place : 6 * place + 6]
        assert burst[0].beat == place / 4
        assert burst[-1].beat <= place / 4 + 0.1 + 1 / TICKS


def voice(root: ET.Element, number: str) -> list[ET.Element]:
    return [note for note in root.iter("note") if note.findtext("voice") == number]


def rhythm(root: ET.Element, number: str = "1") -> list[str]:
    """Types of the notes of a voice, with dots, rests in brackets, chords once."""
    found = []
    for note in voice(root, number):
        if note.find("chord") is None:
            text = f"{note.findtext('type')}{'.' * len(note.findall('dot'))}"
            found.append(f"({text})" if note.find("rest") is not None else text)
    return found


def test_musicxml_has_the_rhythm_of_the_pattern() -> None:
    """A quarter where it rings on, a rest where it rests, the signs for down and up, the accent once."""
    data = plan_musicxml(with_pattern(FOLK))
    root = ET.fromstring(data)
    assert faults(data) == []
    assert rhythm(root) == ["quarter", "eighth", "eighth", "(eighth)", "eighth", "eighth", "eighth"]
    top = voice(root, "1")
    signs = [child.tag for note in top for child in note.iterfind("notations/technical/*") if "bow" in child.tag]
    assert signs == ["down-bow", "down-bow", "up-bow", "up-bow", "down-bow", "up-bow"]
    assert [note.find("notations/articulations/accent") is not None for note in top] == [True] + [False] * 6
    assert len(list(root.iter("articulations"))) == 1


def test_musicxml_picks_one_voice_after_the_other() -> None:
    """The picked notes and the fingers; each finger of the left hand once a chord, chords with one name each."""
    data = plan_musicxml(with_pattern(FINGERS, [("G7/B", 0, 4), ("G7/B", 4, 4)]))
    root = ET.fromstring(data)
    assert faults(data) == []
    assert rhythm(root)[:7] == ["quarter", "eighth", "eighth", "eighth", "eighth", "eighth", "(eighth)"]
    plucked = [note.findtext("notations/technical/pluck") for note in root.iter("note")]
    assert [finger for finger in plucked if finger][:7] == ["a", "i", "m", "p", "i", "m", "p"]
    assert [note.get("id") for note in root.iter("note") if note.get("id")] == ["chord-1", "tab-1", "chord-2", "tab-2"]
    assert len(list(root.iter("harmony"))) == 1
    fingers = [
        note.findtext("notations/technical/fingering") for note in root.iter("note") if note.findtext("staff") == "1"
    ]
    assert len([finger for finger in fingers if finger]) == 8


def test_musicxml_says_swing_and_writes_straight() -> None:
    """MusicXML 4.0's element swing; back to straight with the next passage."""
    plan = make_plan([("C", 0, 4), ("C", 4, 4), ("C", 8, 4)], passages=["a", "b", "c"])
    swung = replace(PICKED, swing=Fraction(2, 3))
    steps = [
        replace(one, step=replace(one.step, pattern=pattern))
        for one, pattern in zip(plan.steps, (swung, PICKED, None), strict=True)
    ]
    data = plan_musicxml(replace(plan, steps=tuple(steps)))
    assert faults(data) == []
    root = ET.fromstring(data)
    swings = list(root.iter("swing"))
    assert [(one.findtext("first"), one.findtext("second"), one.findtext("swing-type")) for one in swings[:1]] == [
        ("2", "1", "eighth")
    ]
    assert swings[1].find("straight") is not None
    assert len(swings) == 2
    assert rhythm(root)[:8] == ["eighth"] * 8


_SIGNS = st.lists(st.sampled_from(["d", "u", ".", "-", ">d", "u"]), min_size=1, max_size=8).filter(
    lambda signs: signs[0][-1] in "du"
)
_PICKS = st.lists(st.sampled_from(["1", "2", "3", "1+3", ".", "-", ">2"]), min_size=1, max_size=8).filter(
    lambda signs: signs[0] not in ".-"
)
PATTERNS = st.builds(
    lambda places, place, over, meter: Pattern(
        places[: int(Fraction(*meter) / Fraction(place))], Fraction(place), meter, over
    ),
    _SIGNS.map(lambda signs: read_strums(" ".join(signs))) | _PICKS.map(lambda signs: read_picks(" ".join(signs))),
    st.sampled_from(["1/4", "1/8", "1/16", "1/12", "1/6"]),
    st.sampled_from(OVERS),
    st.sampled_from([(4, 4), (3, 4), (6, 8)]),
)


@settings(max_examples=examples(40))
@given(PATTERNS, st.lists(st.integers(1, 8), min_size=1, max_size=3))
def test_every_pattern_can_be_written(pattern: Pattern, lengths: list[int]) -> None:
    """Valid MusicXML with full bars in every voice, MIDI without hanging notes, tab of sixty columns in ASCII."""
    starts = [sum(lengths[:index]) for index in range(len(lengths))]
    plan = with_pattern(pattern, [("C", start, length) for start, length in zip(starts, lengths, strict=True)])
    data = plan_musicxml(plan)
    assert faults(data) == []
    bar_beats = pattern.meter[0] * Fraction(4, pattern.meter[1])
    divisions = Fraction(0)
    for measure in ET.fromstring(data).iter("measure"):
        divisions = Fraction(measure.findtext("attributes/divisions") or divisions)
        lasts = dict.fromkeys(("1", "2", "3"), Fraction(0))
        for child in measure:
            if child.tag in ("note", "forward") and child.find("chord") is None:
                lasts[child.findtext("voice") or ""] += Fraction(child.findtext("duration") or 0)
        assert set(lasts.values()) == {bar_beats * divisions}
    notes_of(plan_midi(plan))
    text = tab_text(plan)
    assert text.isascii()
    assert max(map(len, text.splitlines())) <= 60


@settings(max_examples=examples(40))
@given(PATTERNS)
def test_bars_are_filled_without_a_gap(pattern: Pattern) -> None:
    """As they are played and as they stand; what stands is what it was without a pattern."""
    chords: list[Timed] = [("C", 0, 3), ("F", 5, 6)]
    plan = with_pattern(pattern, chords)
    for bar in bars_of(plan, as_played=True):
        now = Fraction(0)
        for slot in bar.slots:
            assert slot.start == now
            now = slot.end
        assert now == bar.length
    opened = [slot for bar in bars_of(plan, as_played=True) for slot in bar.slots if slot.planned and slot.opens]
    first = [one.step.pattern and next(iter(one.step.placed), None) for one in plan.steps]
    assert len(opened) == sum(bool(one and one.start_beats == 0 and one.place.struck) for one in first)
    stands = [[replace(slot, planned=None) for slot in bar.slots] for bar in bars_of(plan)]
    assert stands == [
        [replace(slot, planned=None) for slot in bar.slots] for bar in bars_of(make_plan(chords, meter=pattern.meter))
    ]


def system(text: str) -> list[str]:
    """The last rows with strings, from the bar on."""
    rows = text.splitlines()
    first = next(index for index, row in enumerate(rows) if row.startswith("E "))
    return rows[first - 3 : first + 7]


def test_tab_has_a_column_for_each_place() -> None:
    """Counted above, what is struck beneath; a dash where it rings on, all frets where it is strummed."""
    text = tab_text(with_pattern(FOLK))
    assert "strummed in eighths, anew in each bar: down (accent), let\n  ring, down, up, rest, up, down, up\n" in text
    struck = "-0------0--0-----0--0--0-"
    assert system(text) == [
        "      1   &  .2 &  .3 &  .4 &",
        "      Em",
        "top   E4",
        f"E   |{struck}|",
        f"B   |{struck}|",
        f"G   |{struck}|",
        f"D   |{struck.replace('0', '2')}|",
        f"A   |{struck.replace('0', '2')}|",
        f"E   |{struck}|",
        "how   >d  .  d  u  -  u  d  u",
    ]


def test_tab_picks() -> None:
    """One fret in each column: voices 1, 3, 2, 3 of C are frets 3, 5 and 5 on strings 5, 2 and 4."""
    assert system(tab_text(with_pattern(PICKED, [("C", 0, 4)]))) == [
        "      1   &  .2 &  .3 &  .4 &",
        "      C",
        "top   E4",
        "E   |-------------------------|",
        "B   |-----5-----5-----5-----5-|",
        "G   |-------------------------|",
        "D   |--------5-----------5----|",
        "A   |-3------------3----------|",
        "E   |-------------------------|",
        "how   1   3  2  3  1  3  2  3",
    ]


def test_the_printed_sheet_says_it(printing: None) -> None:
    """Under the name of its passage, the chords once each."""
    pages = b"".join(sheet_pages(with_pattern(FOLK, [("Em", 0, 4), ("C", 4, 4)]))).decode()
    plain = b"".join(sheet_pages(with_pattern(None, [("Em", 0, 4), ("C", 4, 4)]))).decode()
    assert "Strummed in eighths, anew in each bar: down (accent), let ring, down, up, rest, up, down, up" in pages
    assert "Strummed" not in plain
