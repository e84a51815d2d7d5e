"""Keys and scales, spelled: G flat major has a C flat, A harmonic minor a G sharp.

A :class:`Key` is what a tune is in: a tonic and major or minor. A :class:`Scale` is a row of tones with a name from
``shared/scales.toml``. Steps count from 1 and run on through the octaves (step 8 is step 1 again).
"""

from __future__ import annotations

import re
from dataclasses import dataclass
from functools import cache, cached_property
from typing import Final, Literal

from listener.data import shared_table
from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.pitch import FIFTHS, FLATS, SHARPS, Pitch, Tone, degree_semitones, parse_tone
from listener.music.quality import compose

Mode = Literal["major", "minor"]

_TONIC: Final = re.compile(r"([A-Ga-g])([#♯]{1,2}|[b♭]{1,2}|x)?")
_MODES: Final[dict[str, Mode]] = {
    "": "major",
    "major": "major",
    "maj": "major",
    "M": "major",
    "minor": "minor",
    "min": "minor",
    "m": "minor",
}
#: Names that occur in signatures only; elsewhere players expect the plain one.
_ODD: Final = {"Cb": "B", "Fb": "E", "E#": "F", "B#": "C"}


@dataclass(frozen=True)
class Key:
    """A tonic and a mode, ``"major"`` or ``"minor"``."""

    tonic: Tone
    mode: Mode = "major"

    @property
    def signature(self) -> int:
        """Sharps at the clef, flats negative: 1 for G major, -3 for C minor."""
        sharps = FIFTHS.index(self.tonic.letter) - 1 + 7 * self.tonic.alteration
        return sharps - 3 if self.mode == "minor" else sharps

    @property
    def scale(self) -> Scale:
        """The major or natural minor scale: the tones of the signature."""
        return scale_named(self.tonic, "major" if self.mode == "major" else "natural minor")

    @property
    def tones(self) -> tuple[Tone, ...]:
        """The seven tones of the signature, tonic first."""
        return self.scale.tones

    def __str__(self) -> str:
        return f"{self.tonic} {self.mode}"


@dataclass(frozen=True)
class Scale:
    """A tonic, the scale's name, and its degrees counted in the major scale of the tonic."""

    tonic: Tone
    name: str
    degrees: tuple[str, ...]

    @cached_property
    def tones(self) -> tuple[Tone, ...]:
        """The spelled tones, tonic first, without the octave."""
        return tuple(self.tonic.at(degree) for degree in self.degrees)

    @cached_property
    def pitch_classes(self) -> frozenset[int]:
        """0 for C to 11 for B."""
        return frozenset(tone.pitch_class for tone in self.tones)

    def pitches(self, low: int, high: int) -> tuple[Pitch, ...]:
        """The scale's pitches between two MIDI notes, both included, low to high."""
        names = {tone.pitch_class: tone for tone in self.tones}
        return tuple(names[note % 12].pitch(note) for note in range(low, high + 1) if note % 12 in names)

    def chord_on(self, step_number: int, size: int = 3) -> Chord:
        """The chord of ``size`` tones (3 to 7) in thirds on a step, from the scale's own tones.

        >>> parse_scale("A harmonic minor").chord_on(7, 4).symbol
        'G#dim7'

        Raises :class:`MusicError` for scales without seven tones, since every other step of them is not a third.
        """
        if len(self.degrees) != 7:
            raise MusicError(
                f"{self} has {len(self.degrees)} tones; chords in thirds need a scale of seven, such as dorian",
                text=self.name,
            )
        if step_number < 1:
            raise MusicError(f"{step_number} is not a step of a scale; steps count from 1", text=str(step_number))
        if not 3 <= size <= 7:
            raise MusicError(f"a chord in thirds has 3 to 7 tones, not {size}", text=str(size))
        stacked = [self.tones[(step_number - 1 + 2 * third) % 7] for third in range(size)]
        root = stacked[0]
        degrees = [_degree_above(root, tone, 1 + 2 * third) for third, tone in enumerate(stacked)]
        return Chord(root, compose(degrees, "".join(degrees[1:])))

    def __str__(self) -> str:
        return f"{self.tonic} {self.name}"


def _degree_above(root: Tone, tone: Tone, number: int) -> str:
    away = (tone.pitch_class - root.pitch_class - degree_semitones(str(number)) + 6) % 12 - 6
    return ("#" * away if away > 0 else "b" * -away) + str(number)


@cache
def _scale_words() -> dict[str, tuple[str, tuple[str, ...]]]:
    """Every name and alias, lower case, with the scale's name and degrees."""
    words = {}
    for row in shared_table("scales")["scale"]:
        for word in (row["name"], *row["aliases"]):
            words[word] = (row["name"], tuple(row["degrees"].split()))
    return words


def scale_names() -> tuple[str, ...]:
    """The names that :func:`parse_scale` knows, in the table's order, without aliases."""
    return tuple(row["name"] for row in shared_table("scales")["scale"])


def scale_named(tonic: Tone, name: str) -> Scale:
    """The scale of this name on a tonic; :class:`MusicError` lists the names when there is none."""
    found = _scale_words().get(" ".join(name.lower().split()))
    if found is None:
        raise MusicError(f"no scale is called '{name}'; there are {', '.join(scale_names())}", text=name)
    return Scale(tonic, *found)


def parse_key(text: str) -> Key:
    """Read ``G major``, ``G``, ``Em``, ``F# minor``, ``bb minor``.

    A lower-case tonic without a word is refused: some mean minor by it and some are only in a hurry.

    >>> parse_key("F# minor").signature, parse_key("Gb").signature
    (3, -6)
    """
    tonic, rest, position = _split(text, "a key")
    mode = _MODES.get(rest, _MODES.get(rest.lower()))
    if mode is None:
        raise MusicError(
            f"'{text}' is not a key: after {tonic} comes major or minor, not '{rest}'", text=text, position=position
        )
    if not rest and text.strip()[0].islower():
        raise MusicError(f"'{text}' could be major or minor; write {tonic} major or {tonic} minor", text=text)
    return Key(tonic, mode)


def usual_tonic(pitch_class: int, mode: Mode) -> Tone:
    """The tonic with the fewest signs at the clef; flats where sharps are as many (G flat major, E flat minor)."""
    names = {FLATS[pitch_class % 12], SHARPS[pitch_class % 12]}
    tones = map(parse_tone, sorted(names))
    return min(tones, key=lambda tone: (abs(Key(tone, mode).signature), tone.alteration))


def plain_tone(tone: Tone, key: Key | None = None) -> Tone:
    """The tone as players write it: a double sign or an odd name such as F flat gives way, unless the key has it."""
    if key is not None and tone in key.tones:
        return tone
    if abs(tone.alteration) > 1:
        return parse_tone((SHARPS if key is not None and key.signature > 0 else FLATS)[tone.pitch_class])
    odd = _ODD.get(str(tone))
    return Tone(odd) if odd is not None else tone


def parse_scale(text: str) -> Scale:
    """Read ``C major``, ``A harmonic minor``, ``D dorian``, ``Bb blues``; a tonic alone is major.

    >>> " ".join(map(str, parse_scale("Gb major").tones))
    'Gb Ab Bb Cb Db Eb F'
    """
    tonic, rest, position = _split(text, "a scale")
    if not rest:
        rest = "major"
    try:
        return scale_named(tonic, rest)
    except MusicError as error:
        raise MusicError(f"'{text}': {error}", text=text, position=position) from None


def _split(text: str, what: str) -> tuple[Tone, str, int]:
    """Tonic, the words after it, and where these begin in the text."""
    stripped = text.strip()
    match = _TONIC.match(stripped)
    if match is None:
        raise MusicError(f"'{text}' does not begin with a tonic; {what} is written like G major", text=text)
    start = len(text) - len(text.lstrip()) + match.end()
    rest = stripped[match.end() :]
    return parse_tone(match[0]), rest.strip(), start + len(rest) - len(rest.lstrip())
