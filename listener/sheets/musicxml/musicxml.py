"""A plan as MusicXML 4.0 (W3C), for notation programs: staff and tab, chord names, neck diagrams, fingering.

One part with two staves. The staff has the top line as voice 1, stems up, and the notes under it as voice 2; the tab
has everything in voice 3. The clef is the guitar's, which sounds an octave lower than it looks, so that pitches are
those that sound. String 1 is the highest; frets count from the capo, as the standard has it.
"""

from __future__ import annotations

from dataclasses import dataclass
from fractions import Fraction
from math import lcm
from typing import Final
from xml.etree.ElementTree import Element

from listener import __version__
from listener.guitar.fingering import Fingering
from listener.music.pattern import STRAIGHT, Pattern
from listener.music.pitch import parse_pitch
from listener.planning.plan import Plan
from listener.sheets.bars import Bar, BarSlot, bars_of
from listener.sheets.musicxml.accidentals import written_key
from listener.sheets.musicxml.chords import add_chord_name, add_no_chord
from listener.sheets.musicxml.note_values import TYPES, Value, write_bar
from listener.sheets.musicxml.notes import STAFF, TAB, TAB_STAFF, TOP, UNDER, NoteWriter
from listener.sheets.xml_text import add, document, element

#: Divisions of a quarter note up to which one number serves the whole score; MusicXML's advice for the sake of MIDI.
LARGEST_DIVISIONS: Final = 16_383
#: General MIDI's steel-string guitar, counted from 1 as MusicXML does.
_PROGRAM: Final = 26
#: The places whose swing MusicXML can say.
_SWUNG: Final = {Fraction(1, 8): "eighth", Fraction(1, 16): "16th"}


@dataclass(frozen=True, slots=True)
class Show:
    """What is written: ``words`` (tempo, passages, chord names, diagrams), ``fingers``, chords as their ``patterns``
    play them and not as they stand, and new lines at the bars whose numbers stand in ``line_breaks``."""

    words: bool = True
    fingers: bool = True
    patterns: bool = True
    line_breaks: frozenset[int] = frozenset()


EVERYTHING: Final = Show()


def plan_musicxml(plan: Plan, *, show: Show = EVERYTHING) -> bytes:
    """The plan as the bytes of a ``.musicxml`` file.

    Chords are counted from 1 in the order of time: the top note of the third has the id ``chord-3`` on the staff and
    ``tab-3`` in the tab.
    """
    root = element("score-partwise", version="4.0")
    add(add(root, "work"), "work-title", plan.drill.title or plan.drill.name)
    encoding = add(add(root, "identification"), "encoding")
    add(encoding, "software", f"Widehand {__version__}")
    _part_list(root, "Guitar" if show.words else "")
    part = add(root, "part", id="P1")
    _Writer(plan, part, show).write()
    return document(root)


def _part_list(root: Element, name: str) -> None:
    part = add(add(root, "part-list"), "score-part", id="P1")
    add(part, "part-name", name)
    add(add(part, "score-instrument", id="P1-I1"), "instrument-name", "Guitar")
    midi = add(part, "midi-instrument", id="P1-I1")
    add(midi, "midi-channel", 1)
    add(midi, "midi-program", _PROGRAM)


class _Writer:
    """Writes bar after bar into the part."""

    def __init__(self, plan: Plan, part: Element, show: Show) -> None:
        self._plan, self._part, self._show = plan, part, show
        self._divisions = 0
        self._passage = ""
        self._swing = STRAIGHT
        self._shown: tuple[str, Fingering] | None = None

    def write(self) -> None:
        """All bars."""
        meter = self._plan.drill.meter
        bars = bars_of(self._plan, as_played=self._show.patterns)
        written = [write_bar([(slot.start, slot.end) for slot in bar.slots], meter) for bar in bars]
        needed = [_needed_divisions(values) for values in written]
        common = lcm(*needed)
        notes = NoteWriter(meter, written_key(self._plan.drill.key), self._show.fingers)
        for bar, values, own in zip(bars, written, needed, strict=True):
            measure = add(self._part, "measure", number=bar.number)
            if bar.number in self._show.line_breaks:
                add(measure, "print", new_system="yes")
            if bar.number == 1 and self._plan.drill.loop:
                _repeat(measure, "left", "heavy-light", "forward")
            self._attributes(measure, bar, common if common <= LARGEST_DIVISIONS else own)
            self._heading(measure, bar)
            self._voices(measure, bar, notes, values)
            if bar is bars[-1]:
                _repeat(measure, "right", "light-heavy", "backward" if self._plan.drill.loop else None)

    def _attributes(self, measure: Element, bar: Bar, divisions: int) -> None:
        if divisions == self._divisions:
            return
        self._divisions = divisions
        attributes = add(measure, "attributes")
        add(attributes, "divisions", divisions)
        if bar.number > 1:
            return
        signature = written_key(self._plan.drill.key)
        if signature is not None:
            key = add(attributes, "key")
            add(key, "fifths", signature.signature)
            add(key, "mode", signature.mode)
        time = add(attributes, "time")
        add(time, "beats", self._plan.drill.meter[0])
        add(time, "beat-type", self._plan.drill.meter[1])
        add(attributes, "staves", 2)
        _clefs(attributes, self._plan.string_count)
        _staff_details(attributes, self._plan)

    def _heading(self, measure: Element, bar: Bar) -> None:
        """The tempo over the first bar, and a passage's name where it begins."""
        if bar.number == 1 and self._show.words:
            _tempo(measure, self._plan.drill.tempo, self._plan.drill.meter[1])
        first = next((slot.planned for slot in bar.slots if slot.planned is not None and slot.begins), None)
        if first is None or first.step.passage == self._passage:
            return
        self._passage, self._shown = first.step.passage, None
        if self._show.words and self._passage:
            direction = add(measure, "direction", placement="above")
            add(add(direction, "direction-type"), "words", self._passage, font_style="italic")
            add(direction, "staff", STAFF)
        if self._show.patterns:
            self._swing_of(measure, first.step.pattern)

    def _swing_of(self, measure: Element, pattern: Pattern | None) -> None:
        """Swing is written straight, with a word and for programs that play it (MusicXML 4.0, element ``swing``)."""
        swing = pattern.swing if pattern is not None else STRAIGHT
        if swing == self._swing:
            return
        self._swing = swing
        direction = add(measure, "direction", placement="above")
        add(add(direction, "direction-type"), "words", "straight" if swing == STRAIGHT else "swing")
        add(direction, "staff", STAFF)
        kind = _SWUNG.get(pattern.place) if pattern is not None else None
        played = add(add(direction, "sound"), "swing") if swing == STRAIGHT or kind else None
        if played is not None and swing == STRAIGHT:
            add(played, "straight")
        elif played is not None:
            add(played, "first", swing.numerator)
            add(played, "second", swing.denominator - swing.numerator)
            add(played, "swing-type", kind)

    def _voices(self, measure: Element, bar: Bar, notes: NoteWriter, values: list[list[Value]]) -> None:
        voices = notes.bar(bar, values, self._divisions)
        for slot, row in zip(bar.slots, voices[TOP], strict=True):
            if self._show.words:
                self._chord_name(measure, bar, slot)
            measure.extend(row)
        for voice in (UNDER, TAB):
            add(add(measure, "backup"), "duration", int(bar.length * self._divisions))
            measure.extend(note for row in voices[voice] for note in row)

    def _chord_name(self, measure: Element, bar: Bar, slot: BarSlot) -> None:
        """A chord's name with its diagram where either changes; N.C. where nothing sounds for a whole bar."""
        if slot.planned is None:
            if slot.length == bar.length and self._shown is not None:
                add_no_chord(measure)
                self._shown = None
            return
        chord, fingering = slot.planned.voicing.chord, slot.planned.fingering
        if slot.opens and self._shown != (chord.symbol, fingering):
            self._shown = (chord.symbol, fingering)
            add_chord_name(measure, chord, fingering, self._plan.string_count)


def _needed_divisions(written: list[list[Value]]) -> int:
    """The least number of parts of a quarter note in which every length is whole."""
    return lcm(*(time.denominator for row in written for value in row for time in (value.start, value.length)))


def _repeat(measure: Element, location: str, style: str, direction: str | None) -> None:
    barline = add(measure, "barline", location=location)
    add(barline, "bar-style", style)
    if direction is not None:
        add(barline, "repeat", direction=direction)


def _tempo(measure: Element, tempo: float, unit: int) -> None:
    """The meter's beats a minute to be seen, quarters a minute to be heard."""
    direction = add(measure, "direction", placement="above")
    metronome = add(add(direction, "direction-type"), "metronome", parentheses="no")
    add(metronome, "beat-unit", TYPES[Fraction(4, unit)])
    add(metronome, "per-minute", f"{tempo:g}")
    add(direction, "staff", STAFF)
    add(direction, "sound", tempo=f"{tempo * 4 / unit:g}")


def _clefs(attributes: Element, strings: int) -> None:
    clef = add(attributes, "clef", number=STAFF)
    add(clef, "sign", "G")
    add(clef, "line", 2)
    add(clef, "clef-octave-change", -1)
    clef = add(attributes, "clef", number=TAB_STAFF)
    add(clef, "sign", "TAB")
    add(clef, "line", (strings + 1) // 2)


def _staff_details(attributes: Element, plan: Plan) -> None:
    """Tab lines from the bottom: the lowest string is line 1."""
    details = add(attributes, "staff-details", number=TAB_STAFF)
    add(details, "staff-lines", plan.string_count)
    for line, name in enumerate(plan.tuning[: plan.string_count], start=1):
        pitch = parse_pitch(name)
        tuning = add(details, "staff-tuning", line=line)
        add(tuning, "tuning-step", pitch.letter)
        if pitch.alteration:
            add(tuning, "tuning-alter", pitch.alteration)
        add(tuning, "tuning-octave", pitch.octave)
    if plan.capo:
        add(details, "capo", plan.capo)
