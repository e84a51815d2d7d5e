"""Spelled notes: in G flat the fourth is C flat, not B.

A :class:`Tone` is a note name without octave, a :class:`Pitch` has one. Octave numbers follow scientific
pitch notation: C4 is MIDI note 60 and A4 is 69 (440 Hz, ISO 16:1975). Makers number octaves differently;
this program always writes the scientific number.
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cached_property, lru_cache
from typing import Final

from listener.errors import MusicError

LETTERS: Final = "CDEFGAB"
#: The letters on the line of fifths: as sharps are added to a key signature, and flats from the other end.
FIFTHS: Final = "FCGDAEB"
#: Semitones of the natural letters above C.
NATURAL: Final = (0, 2, 4, 5, 7, 9, 11)

_ACCIDENTALS: Final = {"#": 1, "♯": 1, "b": -1, "♭": -1, "x": 2, "𝄪": 2, "𝄫": -2}
_TONE: Final = re.compile(r"([A-Ga-g])([#♯b♭x𝄪𝄫]*)")
_PITCH: Final = re.compile(r"([A-Ga-g])([#♯b♭x𝄪𝄫]*)(-?\d{1,2})")
_DEGREE: Final = re.compile(r"([#♯b♭]*)(\d{1,2})")


def _alteration(signs: str) -> int:
    return sum(_ACCIDENTALS[sign] for sign in signs)


def _signs(alteration: int) -> str:
    return "#" * alteration if alteration > 0 else "b" * -alteration


@dataclass(frozen=True)
class Tone:
    """A note name: ``letter`` in C..B, ``alteration`` in semitones (flat -1, sharp +1)."""

    letter: str
    alteration: int = 0

    @cached_property
    def pitch_class(self) -> int:
        """0 for C to 11 for B."""
        return (NATURAL[LETTERS.index(self.letter)] + self.alteration) % 12

    def __str__(self) -> str:
        return self.letter + _signs(self.alteration)

    def at(self, degree: str) -> Tone:
        """The tone at a chord or scale degree above this one, spelled.

        >>> str(Tone("G", -1).at("4")), str(Tone("C").at("#11"))
        ('Cb', 'F#')
        """
        number, _ = parse_degree(degree)
        step = LETTERS.index(self.letter) + number - 1
        letter = LETTERS[step % 7]
        want = self.pitch_class + degree_semitones(degree)
        have = NATURAL[step % 7]
        return Tone(letter, (want - have + 6) % 12 - 6)

    def above(self, midi: int) -> Pitch:
        """The lowest pitch of this name at or above a MIDI note."""
        return self.pitch(midi + (self.pitch_class - midi) % 12)

    def pitch(self, midi: int) -> Pitch:
        """This name for a MIDI note of the same pitch class.

        >>> str(Tone("C", -1).pitch(59)), str(Tone("B", 1).pitch(60))
        ('Cb4', 'B#3')
        """
        if (midi - self.pitch_class) % 12:
            raise MusicError(f"MIDI note {midi} is not {self}", text=str(midi))
        natural = midi - self.alteration
        return Pitch(self.letter, self.alteration, natural // 12 - 1)


@dataclass(frozen=True)
class Pitch:
    """A spelled pitch; ``octave`` is scientific and belongs to the letter (Cb4 is MIDI 59, B#3 is 60)."""

    letter: str
    alteration: int
    octave: int

    @cached_property
    def midi(self) -> int:
        """MIDI note number; 60 is C4."""
        return 12 * (self.octave + 1) + NATURAL[LETTERS.index(self.letter)] + self.alteration

    @property
    def tone(self) -> Tone:
        """The name without the octave."""
        return Tone(self.letter, self.alteration)

    def __str__(self) -> str:
        return f"{self.letter}{_signs(self.alteration)}{self.octave}"


def parse_tone(text: str) -> Tone:
    """Read ``C``, ``F#``, ``Bb`` (also ♯ and ♭)."""
    match = _TONE.fullmatch(text.strip())
    if not match:
        raise MusicError(f"'{text}' is not a note name; write A to G with # or b, such as F# or Bb", text=text)
    return Tone(match[1].upper(), _alteration(match[2]))


def parse_pitch(text: str) -> Pitch:
    """Read ``C4``, ``F#3``, ``Bb2``; a MIDI note must be given as a number (see :func:`spell`)."""
    match = _PITCH.fullmatch(text.strip())
    if not match:
        raise MusicError(f"'{text}' is not a pitch; write a note name and an octave, such as E4", text=text)
    pitch = Pitch(match[1].upper(), _alteration(match[2]), int(match[3]))
    if not 0 <= pitch.midi <= 127:
        raise MusicError(f"'{text}' lies outside MIDI's range, C-1 to G9", text=text)
    return pitch


@lru_cache(maxsize=1024)
def parse_degree(text: str) -> tuple[int, int]:
    """A degree such as ``b7`` or ``#11`` as (number, alteration in semitones)."""
    match = _DEGREE.fullmatch(text.strip())
    if not match or not 1 <= int(match[2]) <= 15:
        raise MusicError(f"'{text}' is not a degree; write 1 to 13 with # or b, such as 3, b7 or #11", text=text)
    return int(match[2]), _alteration(match[1])


@lru_cache(maxsize=1024)
def degree_semitones(degree: str) -> int:
    """Semitones of a degree above its root, counted in the major scale: ``"b7"`` 10, ``"9"`` 14."""
    number, alteration = parse_degree(degree)
    octave, step = divmod(number - 1, 7)
    return 12 * octave + NATURAL[step] + alteration


#: The twelve names with sharps, and with flats.
SHARPS: Final = ("C", "C#", "D", "D#", "E", "F", "F#", "G", "G#", "A", "A#", "B")
FLATS: Final = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")


def on_line_of_fifths(place: int) -> Tone:
    """C is 0, G is 1, F is -1."""
    return Tone(FIFTHS[(place + 1) % 7], (place + 1) // 7)


def spell(midi: int, *, flats: bool = False) -> Pitch:
    """A plain name for a MIDI note when nothing says how it is meant: sharps, or flats on request."""
    if not 0 <= midi <= 127:
        raise MusicError(f"{midi} is not a MIDI note; they run from 0 to 127 (60 is C4)", text=str(midi))
    return parse_tone((FLATS if flats else SHARPS)[midi % 12]).pitch(midi)


def frequency_hz(midi: float) -> float:
    """Equal-tempered frequency at A4 = 440 Hz (ISO 16:1975)."""
    return float(440.0 * 2.0 ** ((midi - 69) / 12))
