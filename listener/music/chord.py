"""Chords as musicians write them: ``C``, ``C-7``, ``CΔ``, ``Cø``, ``C7#9``, ``C6/9``, ``Csus4``, ``C/E``, ``N.C.``.

Reading goes left to right: root, then the quality, then a bass note after a slash. A minus sign means minor, a
capital M or a triangle major seventh (common practice). What cannot be read is a :class:`MusicError` that
carries the position where reading stopped.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, field
from functools import cached_property, lru_cache
from typing import Final

from listener.errors import MusicError
from listener.music.pitch import Tone, parse_tone
from listener.music.quality import Quality, compose


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
_BASS: Final = re.compile(r"/([A-G](?:[#♯]{1,2}|[b♭]{1,2}|x)?)$")
_NO_CHORD: Final = frozenset({"N.C.", "NC", "N.C", "n.c."})

#: Quality words that may stand right after the root, in the order in which they are tried.
_HEAD: Final = (
    ("minor major", re.compile(r"(?:mM|mMaj|mmaj|mΔ|-Δ|-M|-maj|minmaj|minMaj|m/M)(7|9|11|13)?")),
    ("half-diminished", re.compile(r"(?:ø|Ø|hdim)7?")),
    ("diminished", re.compile(r"(?:dim|°|º|o)(7)?")),
    ("triangle", re.compile(r"(?:Δ|△)(7|9|11|13)?")),
    ("major", re.compile(r"(?:major|Major|maj|Maj|MAJ|ma(?!j)|Ma|M)(7|9|11|13)?")),
    ("minor", re.compile(r"minor|min|mi|m|-")),
    ("augmented", re.compile(r"aug|\+")),
)
#: Words that may follow in any order.
_TAIL: Final = (
    ("space", re.compile(r"[\s(),\[\]]+")),
    ("six nine", re.compile(r"6/9|69")),
    ("altered", re.compile(r"([#♯b♭+-])(5|9|11|13)")),
    ("major size", re.compile(r"(?:maj|Maj|ma|M|Δ|△)(7|9|11|13)?")),
    ("size", re.compile(r"13|11|9|7|6|5")),
    ("suspended", re.compile(r"sus(2|4)?")),
    ("added", re.compile(r"add([#♯b♭]?(?:2|4|6|9|11|13))")),
    ("without", re.compile(r"(?:no|omit)(3|5)")),
    ("all altered", re.compile(r"alt")),
    ("augmented", re.compile(r"aug|\+")),
)
_SIGNS: Final = {"#": "#", "♯": "#", "+": "#", "b": "b", "♭": "b", "-": "b"}
_EXTENSIONS: Final = {"7": (), "9": ("9",), "11": ("9", "11"), "13": ("9", "11", "13")}


class _Builder:
    """The tones gathered so far while a suffix is read."""

    def __init__(self) -> None:
        self.third: str | None = "3"
        self.fifth: str | None = "5"
        self.seventh: str | None = None
        self.rest: set[str] = set()

    def size(self, size: str, seventh: str) -> None:
        self.seventh = seventh
        self.rest.update(_EXTENSIONS[size])

    def alter(self, sign: str, number: str) -> None:
        if number == "5":
            self.fifth = sign + "5"
            return
        self.rest.discard(number)
        self.rest.add(sign + number)

    def degrees(self) -> set[str]:
        found = {"1", *self.rest}
        found.update(part for part in (self.third, self.fifth, self.seventh) if part)
        if "4" in found:
            found.discard("11")
        if "2" in found:
            found.discard("9")
        return found

    def head(self, word: str, size: str | None) -> None:
        if word in ("minor major", "half-diminished", "diminished", "minor"):
            self.third = "b3"
        if word in ("half-diminished", "diminished"):
            self.fifth = "b5"
        if word == "augmented":
            self.fifth = "#5"
        if word == "half-diminished":
            self.seventh = "b7"
        elif word == "diminished" and size:
            self.seventh = "bb7"
        elif word in ("minor major", "triangle"):
            self.size(size or "7", "7")
        elif word == "major" and size:
            self.size(size, "7")

    def tail(self, word: str, groups: tuple[str | None, ...], text: str) -> None:
        first = groups[0] if groups else None
        if word == "six nine":
            self.seventh = "6"
            self.rest.add("9")
        elif word == "altered":
            self.alter(_SIGNS[first or ""], groups[1] or "")
        elif word == "major size":
            self.size(first or "7", "7")
        elif word == "size":
            self.plain_size(text)
        elif word == "suspended":
            self.third = first or "4"
        elif word == "added":
            tone = (first or "").replace("♯", "#").replace("♭", "b")
            self.rest.add({"2": "9", "4": "11"}.get(tone, tone))
        elif word == "without":
            if first == "3":
                self.third = None
            else:
                self.fifth = None
        elif word == "all altered":
            self.fifth, self.seventh = None, "b7"
            self.rest.update(("b5", "#5", "b9", "#9"))
        elif word == "augmented":
            self.fifth = "#5"

    def plain_size(self, text: str) -> None:
        if text == "6":
            self.seventh = "6"
        elif text == "5":
            self.third = None
        else:
            self.size(text, self.seventh or "b7")


@lru_cache(maxsize=2048)
def parse_chord(text: str) -> Chord:
    """Read one chord symbol.

    >>> parse_chord("F#-7b5/E").symbol
    'F#m7b5/E'

    Raises :class:`MusicError` with the position where reading stopped; ``N.C.`` has no tones and is an error here,
    see :func:`is_no_chord`.
    """
    written = text.strip()
    root = _ROOT.match(written)
    if root is None:
        raise MusicError(
            f"'{text}' does not begin with a root; a chord starts with a capital A to G, such as Am7",
            text=text,
            position=0,
        )
    slash = _BASS.search(written)
    end = slash.start() if slash else len(written)
    quality = parse_suffix(written[root.end() : end], whole=written, offset=root.end())
    bass = parse_tone(slash[1]) if slash else None
    tone = parse_tone(root[0])
    if bass is not None and bass.pitch_class == tone.pitch_class:
        bass = None
    return Chord(tone, quality, bass, written)


def is_no_chord(text: str) -> bool:
    """True for ``N.C.``: nothing is to be played."""
    return text.strip() in _NO_CHORD


def parse_suffix(suffix: str, *, whole: str | None = None, offset: int = 0) -> Quality:
    """Read what follows the root, such as ``-7b5``; ``whole`` and ``offset`` are for the error's text."""
    builder = _Builder()
    position = 0
    for word, pattern in _HEAD:
        match = pattern.match(suffix)
        if match:
            size = match.groups()[0] if match.groups() else None
            builder.head(word, size)
            position = match.end()
            break
    while position < len(suffix):
        for word, pattern in _TAIL:
            match = pattern.match(suffix, position)
            if match:
                builder.tail(word, match.groups(), match[0])
                position = match.end()
                break
        else:
            shown = whole if whole is not None else suffix
            raise MusicError(
                f"'{shown}' cannot be read from '{suffix[position:]}' on (character {offset + position + 1})",
                text=shown,
                position=offset + position,
            )
    return compose(builder.degrees(), suffix.strip())
