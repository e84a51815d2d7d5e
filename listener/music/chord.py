"""Chords as musicians write them: ``C``, ``C-7``, ``CΔ``, ``Cø``, ``C7#9``, ``C6/9``, ``Csus4``, ``C/E``, ``N.C.``.

Reading goes left to right: root, then the quality (:mod:`listener.music.suffix`), then a bass note after a slash. What
cannot be read is a :class:`MusicError` that carries the position where reading stopped.
"""

from __future__ import annotations

import re
from collections.abc import Sequence
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Final

from listener.errors import MusicError
from listener.music.pitch import LETTERS, Tone, degree_semitones, parse_tone
from listener.music.quality import Quality, sort_degrees
from listener.music.suffix import parse_suffix as parse_suffix

#: Stands in place of a symbol for notes that have no name; only its notes say what it is.
UNNAMED: Final = "?"


@dataclass(frozen=True)
class Chord:
    """A root, a quality and, for slash chords, a bass tone. Equal chords may be written differently."""

    root: Tone
    quality: Quality
    bass: Tone | None = None
    written: str = field(default="", compare=False)

    @property
    def symbol(self) -> str:
        """How this program writes it."""
        if self.quality.symbol == UNNAMED:
            return UNNAMED
        slash = f"/{self.bass}" if self.bass is not None else ""
        return f"{self.root}{self.quality.symbol}{slash}"

    def __str__(self) -> str:
        return self.written or self.symbol

    @cached_property
    def tones(self) -> dict[str, Tone]:
        """Each degree with its spelled tone, root first. A bass tone outside the chord is not among them."""
        return {degree: self.root.at(degree) for degree in self.quality.degrees}

    @cached_property
    def pitch_classes(self) -> frozenset[int]:
        """Pitch classes of the chord's tones and of its bass."""
        classes = {tone.pitch_class for tone in self.tones.values()}
        return frozenset(classes | ({self.bass.pitch_class} if self.bass is not None else set()))

    def degree_of(self, midi: int) -> str | None:
        """The degree that a MIDI note (or pitch class) is in this chord, or None."""
        return self.quality.degree_at(midi - self.root.pitch_class)

    def tone_of(self, midi: int) -> Tone | None:
        """The spelled tone that a MIDI note is in this chord; also knows the slash bass."""
        degree = self.degree_of(midi)
        if degree is not None:
            return self.tones[degree]
        if self.bass is not None and (midi - self.bass.pitch_class) % 12 == 0:
            return self.bass
        return None

    def transposed(self, root: Tone) -> Chord:
        """The same chord on another root; the bass keeps its distance."""
        if self.bass is None:
            return Chord(root, self.quality)
        steps = (ord(self.bass.letter) - ord(self.root.letter)) % 7 + 1
        natural = Tone("C").at(str(steps))
        alteration = (self.bass.pitch_class - self.root.pitch_class - natural.pitch_class + 6) % 12 - 6
        signs = "#" * alteration if alteration > 0 else "b" * -alteration
        return Chord(root, self.quality, root.at(f"{signs}{steps}"))


_ROOT: Final = re.compile(r"[A-G](?:[#♯]{1,2}|[b♭]{1,2}|x)?")
_BASS: Final = re.compile(r"/\s*([A-G](?:[#♯]{1,2}|[b♭]{1,2}|x)?)$")
_NO_CHORD: Final = re.compile(r"N\.?\s?C\.?", re.IGNORECASE)


@lru_cache(maxsize=2048)
def parse_chord(text: str) -> Chord:
    """Read one chord symbol.

    >>> parse_chord("F#-7b5/E").symbol
    'F#m7b5/E'

    Raises :class:`MusicError` with the position where reading stopped; ``N.C.`` has no tones and is an error here,
    see :func:`is_no_chord`.
    """
    written = text.strip()
    if is_no_chord(written):
        raise MusicError(f"'{text}' means that nothing is played; a chord is needed here", text=text)
    root = _ROOT.match(written)
    if root is None:
        raise MusicError(f"'{text}' does not begin with a root; {_root_advice(written)}", text=text, position=0)
    slash = _BASS.search(written)
    end = slash.start() if slash else len(written)
    quality = parse_suffix(written[root.end() : end], whole=written, offset=root.end())
    bass = parse_tone(slash[1]) if slash else None
    tone = parse_tone(root[0])
    if bass is not None and bass.pitch_class == tone.pitch_class:
        bass = None
    return Chord(tone, quality, bass, written)


def _root_advice(written: str) -> str:
    """What to write for a symbol that does not begin with A to G."""
    german = written[:1] in ("H", "h")
    meant = ("B" if german else written[:1].upper()) + written[1:]
    if not _ROOT.match(meant) or not _is_read(meant):
        return "a chord starts with a capital A to G, such as Am7"
    if german:
        return f"H is the German name for B: write {meant}, and Bb for the German B"
    return f"a root is a capital: write {meant}"


def _is_read(text: str) -> bool:
    try:
        parse_chord(text)
    except MusicError:
        return False
    return True


def unnamed_chord(tones: Sequence[Tone]) -> Chord:
    """The chord that these tones are, lowest first, where no symbol is known for them: ``?`` over the lowest.

    >>> str(unnamed_chord([parse_tone("C"), parse_tone("F#"), parse_tone("G")]))
    '?'
    """
    root = tones[0]
    degrees = sort_degrees({interval_degree(root, tone): None for tone in tones})
    return Chord(root, Quality(UNNAMED, UNNAMED, degrees, degrees, ()))


def interval_degree(root: Tone, tone: Tone) -> str:
    """A tone as a degree above a root, within the octave: D above C is ``"2"``, F sharp ``"#4"``."""
    number = (LETTERS.index(tone.letter) - LETTERS.index(root.letter)) % 7 + 1
    away = (tone.pitch_class - root.pitch_class - degree_semitones(str(number)) + 6) % 12 - 6
    return ("#" * away if away > 0 else "b" * -away) + str(number)


def is_no_chord(text: str) -> bool:
    """True for ``N.C.``, however it is written: nothing is to be played."""
    return _NO_CHORD.fullmatch(text.strip()) is not None
