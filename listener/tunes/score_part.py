"""One part of a MusicXML score, read bar by bar: a cursor runs through the durations, notes fall off on the way."""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import dataclass, field
from fractions import Fraction
from typing import Final
from xml.etree.ElementTree import Element

from listener.errors import MusicError, SourceError
from listener.music.chord import Chord
from listener.music.pitch import LETTERS, NATURAL, Pitch, Tone, on_line_of_fifths, spell
from listener.music.scale import Key
from listener.safe_text import echo
from listener.tunes.chord_symbols import harmony_chord
from listener.tunes.parts import MAX_NOTES, Sounded

_NUMBER: Final = re.compile(r"\s*(-?\d{1,9}(?:\.\d{1,6})?)\s*")
#: Time signatures and divisions that are written by hand or by programs give small denominators; beyond this a file is
#: made to be slow.
_FINEST: Final = 10**9
_MODES: Final = {"": "major", "major": "major", "ionian": "major", "minor": "minor", "aeolian": "minor"}


@dataclass(frozen=True, slots=True)
class _Shift:
    """From written to sounding pitch, in steps of the staff and in semitones."""

    steps: int = 0
    semitones: int = 0

    def pitch(self, written: Pitch) -> Pitch:
        step = 7 * written.octave + LETTERS.index(written.letter) + self.steps
        octave, letter = divmod(step, 7)
        midi = written.midi + self.semitones
        alteration = midi - 12 * (octave + 1) - NATURAL[letter]
        if abs(alteration) > 2:
            return spell(midi)
        return Pitch(LETTERS[letter], alteration, octave)

    def tone(self, written: Tone) -> Tone:
        return self.pitch(Pitch(written.letter, written.alteration, 4)).tone


@dataclass
class _Bar:
    """What one bar holds: voices in the order of their staff and number, and how far the cursor came."""

    start: Fraction
    cursor: Fraction
    furthest: Fraction
    voices: dict[str, list[Sounded]] = field(default_factory=dict)
    order: dict[str, tuple[int, int, int]] = field(default_factory=dict)
    last_start: Fraction = Fraction(0)


class PartReader:
    """Feed it the part's measures in order, then read its fields. All times are quarter notes from the beginning."""

    def __init__(self, name: str, title: str) -> None:
        self.name, self.title = name, title
        self.end = self.pickup = Fraction(0)
        self.bars = 0
        self.sounded: list[Sounded] = []
        self.chords: list[tuple[Fraction, Chord | None]] = []
        self.chord_remarks: list[str] = []
        self.key: Key | None = None
        self.meter: tuple[int, int] | None = None
        self.unpitched = self.grace_notes = self.other_voices = 0
        self.repeats = False
        self.meter_changes = 0
        self.has_notes = False
        self._bar_length = Fraction(4)
        self._meter_now: tuple[int, int] | None = None
        self._divisions = Fraction(1)
        self._shift = _Shift()

    def measure(self, element: Element) -> None:
        """Read the next bar."""
        self.bars += 1
        bar = _Bar(self.end, self.end, self.end)
        for child in element:
            if child.tag == "note":
                self._note(child, bar)
            elif child.tag == "attributes":
                self._attributes(child)
            elif child.tag == "harmony":
                self._harmony(child, bar)
            elif child.tag == "backup":
                bar.cursor = max(bar.start, bar.cursor - self._duration(child))
            elif child.tag == "forward":
                self._advance(bar, self._duration(child))
            elif child.tag in ("barline", "sound", "direction"):
                self.repeats = self.repeats or _repeats(child)
        self._close(bar)

    def remarks(self) -> Iterator[str]:
        """What a player should know about what was read."""
        if self.repeats:
            yield "Repeats and endings are taken once, as they are written."
        if self.grace_notes:
            yield f"Grace notes are left out ({self.grace_notes})."
        if self.other_voices:
            yield "Only the top voice is taken where there are several."
        if self.meter_changes:
            yield "The meter changes on the way."

    def _close(self, bar: _Bar) -> None:
        if bar.voices:
            names = sorted(bar.voices, key=bar.order.__getitem__)
            self.sounded += bar.voices[names[0]]
            self.other_voices += any(bar.voices[name] for name in names[1:])
        if len(self.sounded) > MAX_NOTES * 8:
            raise SourceError(f"{self.name} has too many notes; cut out the tune that is to be practised")
        empty = bar.furthest == bar.start
        self.end = bar.start + self._bar_length if empty else bar.furthest
        if self.bars == 1 and not empty and bar.furthest - bar.start < self._bar_length:
            self.pickup = bar.furthest - bar.start

    def _note(self, note: Element, bar: _Bar) -> None:
        if note.find("grace") is not None:
            self.grace_notes += 1
            return
        length = self._duration(note)
        if note.find("chord") is not None:
            start = bar.last_start
        else:
            start = bar.cursor
            bar.last_start = start
            self._advance(bar, length)
        if note.find("cue") is not None:
            return
        voice = note.findtext("voice", "1").strip()
        notes = bar.voices.setdefault(voice, [])
        if voice not in bar.order:
            staff = note.findtext("staff", "1").strip()
            bar.order[voice] = (_small(staff), _small(voice), len(bar.order))
        if note.find("unpitched") is not None:
            self.unpitched += 1
        pitch = note.find("pitch")
        if pitch is None or length == 0:
            return
        self.has_notes = True
        notes.append(Sounded(self._shift.pitch(self._pitch(pitch)), start, length, _ties_on(note)))

    def _pitch(self, element: Element) -> Pitch:
        step = element.findtext("step", "").strip()
        octave = element.findtext("octave", "").strip()
        alter = self._number(element.findtext("alter", "0"))
        if len(step) != 1 or step not in LETTERS or not re.fullmatch(r"\d", octave):
            raise self._trouble(f"'{shown(step)}{shown(octave)}' is not a pitch")
        if alter.denominator != 1:
            raise self._trouble("a quarter tone lies between the frets; leave it out")
        if abs(alter) > 3:
            raise self._trouble(f"a note is altered by {alter} semitones")
        pitch = Pitch(step, int(alter), int(octave))
        if not 0 <= pitch.midi + self._shift.semitones <= 127:
            raise self._trouble(f"{pitch} lies outside of what can be heard")
        return pitch

    def _advance(self, bar: _Bar, length: Fraction) -> None:
        bar.cursor += length
        if bar.cursor.denominator > _FINEST:
            raise self._trouble("the lengths of notes fit no common grid; is the file damaged?")
        bar.furthest = max(bar.furthest, bar.cursor)

    def _duration(self, element: Element) -> Fraction:
        text = element.findtext("duration")
        if text is None:
            raise self._trouble(f"a {element.tag} has no duration; is the file damaged?")
        value = self._number(text) / self._divisions
        if value < 0:
            raise self._trouble(f"a {element.tag} lasts less than nothing; is the file damaged?")
        return value

    def _number(self, text: str) -> Fraction:
        match = _NUMBER.fullmatch(text)
        if match is None:
            raise self._trouble(f"'{shown(text)}' is not a number that belongs here")
        return Fraction(match[1])

    def _trouble(self, what: str) -> SourceError:
        return SourceError(f"{self.name}, '{self.title}', bar {self.bars}: {what}")

    def _attributes(self, element: Element) -> None:
        divisions = element.findtext("divisions")
        if divisions is not None:
            self._divisions = self._number(divisions)
            if self._divisions <= 0:
                raise self._trouble("a quarter note has no divisions; is the file damaged?")
        shift = element.find("transpose")
        if shift is not None:
            self._shift = self._shift_of(shift)
        key = element.find("key")
        if key is not None and self.key is None and not self.sounded:
            self.key = self._key_of(key)
        time = element.find("time")
        if time is not None:
            self._meter_of(time)

    def _shift_of(self, element: Element) -> _Shift:
        octaves = int(self._number(element.findtext("octave-change", "0")))
        semitones = int(self._number(element.findtext("chromatic", "0")))
        steps = element.findtext("diatonic")
        moved = int(self._number(steps)) if steps is not None else round(semitones * 7 / 12)
        return _Shift(moved + 7 * octaves, semitones + 12 * octaves)

    def _key_of(self, element: Element) -> Key | None:
        """Major where no mode is said (common practice); none for other modes and for signatures of a special kind."""
        mode = _MODES.get(element.findtext("mode", "").strip().lower())
        fifths = element.findtext("fifths")
        if mode is None or fifths is None or not -7 <= self._number(fifths) <= 7:
            return None
        place = int(self._number(fifths)) + (3 if mode == "minor" else 0)
        tonic = self._shift.tone(on_line_of_fifths(place))
        return Key(tonic, "minor" if mode == "minor" else "major")

    def _meter_of(self, element: Element) -> None:
        length, beats, unit = Fraction(0), 0, 0
        for upper, lower in zip(element.findall("beats"), element.findall("beat-type"), strict=False):
            count = sum(self._number(one) for one in (upper.text or "").split("+"))
            kind = self._number(lower.text or "")
            if count <= 0 or kind not in (1, 2, 4, 8, 16, 32, 64) or count.denominator != 1:
                raise self._trouble(f"'{shown(upper.text or '')}/{shown(lower.text or '')}' is not a meter")
            length += 4 * count / kind
            unit = max(unit, int(kind))
        if not length:
            return
        beats = int(length * unit / 4)
        meter = (beats, unit)
        self.meter_changes += self._meter_now not in (None, meter)
        self._bar_length, self._meter_now = length, meter
        self.meter = self.meter or meter

    def _harmony(self, element: Element, bar: _Bar) -> None:
        offset = element.findtext("offset")
        at = bar.cursor + (self._number(offset) / self._divisions if offset is not None else 0)
        try:
            chord = harmony_chord(element)
        except MusicError as error:
            if len(self.chord_remarks) < 20:
                self.chord_remarks.append(f"Bar {self.bars}: {error}; the chord is left out.")
            return
        if chord is not None and self._shift.semitones % 12:
            chord = Chord(
                self._shift.tone(chord.root), chord.quality, self._shift.tone(chord.bass) if chord.bass else None
            )
        self.chords.append((max(Fraction(0), at), chord))


def shown(text: str) -> str:
    """A few characters of what a file holds, fit for a line."""
    return echo(text, 20)


def _small(text: str) -> int:
    return int(text) if re.fullmatch(r"\d{1,4}", text) else 9999


def _ties_on(note: Element) -> bool:
    """Whether a tie begins here: a sounding one, or where none is marked a drawn one."""
    kinds = {tie.get("type", "") for tie in note.findall("tie")} or {
        tied.get("type", "") for tied in note.findall("notations/tied")
    }
    return bool(kinds & {"start", "continue"})


def _repeats(element: Element) -> bool:
    if element.find("repeat") is not None or element.find("ending") is not None:
        return True
    sounds = [element] if element.tag == "sound" else element.findall("sound")
    return any(sound.get(word) for sound in sounds for word in ("dacapo", "dalsegno", "tocoda", "coda", "segno"))
