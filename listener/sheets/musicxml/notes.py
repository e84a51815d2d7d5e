"""The notes of one bar in MusicXML 4.0 (W3C), element ``note``: three voices with the same rhythm."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final
from xml.etree.ElementTree import Element

from listener.music.pattern import DOWN, Place
from listener.music.pattern_text import FINGERS
from listener.music.pitch import Pitch
from listener.music.scale import Key
from listener.planning.plan import PlannedStep
from listener.sheets.bars import Bar, BarSlot
from listener.sheets.musicxml.accidentals import Accidentals
from listener.sheets.musicxml.beams import beams
from listener.sheets.musicxml.note_values import Tuplet, Value, beat_length
from listener.sheets.xml_text import add, element

STAFF: Final = 1
TAB_STAFF: Final = 2


@dataclass(frozen=True, slots=True)
class Voice:
    """One of the three voices: the top line, the notes under it, the tab."""

    number: int
    staff: int
    stem: str
    brackets: bool = False


TOP: Final = Voice(1, STAFF, "up", brackets=True)
UNDER: Final = Voice(2, STAFF, "down")
TAB: Final = Voice(3, TAB_STAFF, "none")


@dataclass(frozen=True, slots=True)
class _Tone:
    """One note of a fingering, or a rest's place in a voice."""

    pitch: Pitch
    string: int
    fret: int
    finger: int


@dataclass(frozen=True, slots=True)
class _Moment:
    """What one written value of a slot needs to know: whether it ties back and on, and its beams."""

    value: Value
    slot: BarSlot
    tied_back: bool
    tied_on: bool
    beams: tuple[str, ...]

    @property
    def place(self) -> Place | None:
        """The place of the pattern that is struck, if one is."""
        return self.slot.placed.place if self.slot.placed is not None else None


class NoteWriter:
    """Writes the bars of one part in order; accidentals and the ids of chords go on from bar to bar."""

    def __init__(self, meter: tuple[int, int], key: Key | None, fingers: bool) -> None:
        self._fingers = fingers
        self._beat = beat_length(meter)
        self._accidentals = Accidentals(key)
        self._count = 0
        #: Strings of the present chord whose finger was written; once is enough.
        self._fingered: set[int] = set()

    def bar(self, bar: Bar, written: Sequence[Sequence[Value]], divisions: int) -> dict[Voice, list[list[Element]]]:
        """For every voice and slot its notes; ``written`` holds the note values of each slot."""
        self._accidentals.bar_line()
        moments = _moments(bar, written, self._beat)
        found: dict[Voice, list[list[Element]]] = {voice: [] for voice in (TOP, UNDER, TAB)}
        for slot, row in zip(bar.slots, moments, strict=True):
            notes: dict[Voice, list[Element]] = {voice: [] for voice in found}
            for moment in row:
                self._moment(notes, moment, divisions, whole_bar=slot.length == bar.length)
            for voice, elements in notes.items():
                found[voice].append(elements)
        return found

    def _moment(self, notes: dict[Voice, list[Element]], moment: _Moment, divisions: int, *, whole_bar: bool) -> None:
        duration = int(moment.value.length * divisions)
        planned = moment.slot.planned
        if planned is None:
            notes[TOP].append(_rest(moment, TOP, duration, whole_bar))
            for voice in (UNDER, TAB):  # one rest says it for all
                notes[voice].append(_forward(voice, duration))
            return
        everything = _tones(planned)
        tones = [everything[rank] for rank in moment.slot.ranks]
        opens = moment.slot.opens and not moment.tied_back
        self._count += opens
        if opens:
            self._fingered.clear()
        for voice, chosen in ((TOP, tones[-1:]), (UNDER, tones[:-1]), (TAB, tones)):
            if not chosen:
                notes[voice].append(_forward(voice, duration))
            for index, tone in enumerate(chosen):
                note = self._note(moment, voice, tone, duration, chord=index > 0)
                if voice is not UNDER and tone is tones[-1] and opens:
                    note.set("id", f"{'chord' if voice is TOP else 'tab'}-{self._count}")
                notes[voice].append(note)

    def _note(self, moment: _Moment, voice: Voice, tone: _Tone, duration: int, *, chord: bool) -> Element:
        note = element("note")
        if chord:
            add(note, "chord")
        pitch = add(note, "pitch")
        add(pitch, "step", tone.pitch.letter)
        if tone.pitch.alteration:
            add(pitch, "alter", tone.pitch.alteration)
        add(pitch, "octave", tone.pitch.octave)
        add(note, "duration", duration)
        for kind in _ties(moment):
            add(note, "tie", type=kind)
        sign = self._accidentals.of(tone.pitch) if voice.staff == STAFF and not moment.tied_back else None
        _value(note, moment, voice, sign)
        add(note, "staff", voice.staff)
        if voice.staff == STAFF and not chord:
            for level, beam in enumerate(moment.beams, start=1):
                add(note, "beam", beam, number=level)
        self._notations(note, moment, voice, tone, chord=chord)
        return note

    def _notations(self, note: Element, moment: _Moment, voice: Voice, tone: _Tone, *, chord: bool) -> None:
        notations = element("notations")
        for kind in _ties(moment):
            add(notations, "tied", type=kind)
        if moment.value.tuplet is not None and not chord:
            _tuplet(note, moment.value.tuplet, voice, notations)
        technical = element("technical")
        if voice.staff == TAB_STAFF:
            add(technical, "string", tone.string)
            add(technical, "fret", tone.fret)
        elif self._fingers and tone.string not in self._fingered and tone.finger >= 0:
            self._fingered.add(tone.string)
            add(technical, "fingering", tone.finger)
        if moment.place is not None and voice.staff == STAFF and not moment.tied_back:
            _struck(notations, technical, moment, tone, first=voice is TOP)
        if len(technical):
            notations.append(technical)
        if len(notations):
            note.append(notations)


def _moments(bar: Bar, written: Sequence[Sequence[Value]], beat: Fraction) -> list[list[_Moment]]:
    flat = [value if slot.planned else None for slot, row in zip(bar.slots, written, strict=True) for value in row]
    joined = iter(beams(flat, beat))
    return [
        [
            _Moment(
                value,
                slot,
                tied_back=index > 0 or not slot.begins,
                tied_on=index + 1 < len(row) or not slot.ends,
                beams=next(joined),
            )
            for index, value in enumerate(row)
        ]
        for slot, row in zip(bar.slots, written, strict=True)
    ]


def _tones(planned: PlannedStep) -> list[_Tone]:
    fingering = planned.fingering
    parallel = (planned.voicing.pitches, fingering.strings, fingering.frets, fingering.fingers)
    return [_Tone(*tone) for tone in zip(*parallel, strict=True)]


def _ties(moment: _Moment) -> list[str]:
    return ["stop"] * moment.tied_back + ["start"] * moment.tied_on


def _struck(notations: Element, technical: Element, moment: _Moment, tone: _Tone, *, first: bool) -> None:
    """Which way a strum goes, by the signs for the bow, which are those for a plectrum, too (MusicXML 4.0, elements
    ``down-bow`` and ``up-bow``); the finger that picks; the accent of all that is struck at once, written once."""
    place = moment.place
    if place is None:
        return
    if place.strum and first:
        add(technical, "down-bow" if place.strum == DOWN else "up-bow")
    fingers = sorted((name for name in place.sign.split("+") if name in FINGERS), key=FINGERS.index)
    if fingers and moment.slot.planned is not None:
        strings = [moment.slot.planned.fingering.strings[rank] for rank in moment.slot.ranks]
        add(technical, "pluck", fingers[strings.index(tone.string)])
    if place.accent and first:
        add(add(notations, "articulations"), "accent")


def _rest(moment: _Moment, voice: Voice, duration: int, whole_bar: bool) -> Element:
    note = element("note")
    add(note, "rest", measure="yes" if whole_bar else None)
    add(note, "duration", duration)
    if whole_bar:
        add(note, "voice", voice.number)
    else:
        _value(note, moment, voice, None, stem=False)
    add(note, "staff", voice.staff)
    if moment.value.tuplet is not None and not whole_bar:
        _tuplet(note, moment.value.tuplet, voice, None)
    return note


def _forward(voice: Voice, duration: int) -> Element:
    """Nothing in this voice for a while."""
    found = element("forward")
    add(found, "duration", duration)
    add(found, "voice", voice.number)
    add(found, "staff", voice.staff)
    return found


def _value(note: Element, moment: _Moment, voice: Voice, sign: str | None, *, stem: bool = True) -> None:
    """From the voice to the stem, in the standard's order."""
    value = moment.value
    add(note, "voice", voice.number)
    if value.type is not None:
        add(note, "type", value.type)
    for _ in range(value.dots):
        add(note, "dot")
    if sign is not None:
        add(note, "accidental", sign)
    if value.tuplet is not None:
        ratio = add(note, "time-modification")
        add(ratio, "actual-notes", value.tuplet.actual)
        add(ratio, "normal-notes", value.tuplet.normal)
    if stem:
        add(note, "stem", voice.stem)


def _tuplet(note: Element, tuplet: Tuplet, voice: Voice, notations: Element | None) -> None:
    """The ends of a tuplet; only the top line has its number and bracket printed."""
    if not (tuplet.begins or tuplet.ends):
        return
    parent = notations if notations is not None else add(note, "notations")
    if tuplet.begins:
        shown = {} if voice.brackets else {"show_number": "none"}
        add(parent, "tuplet", type="start", bracket="yes" if voice.brackets else "no", **shown)
    if tuplet.ends:
        add(parent, "tuplet", type="stop")
