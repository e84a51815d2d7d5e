"""Chord symbols of a MusicXML score (``<harmony>``) as our chords.

Sources: MusicXML 4.0 (W3C), elements harmony, kind, degree, inversion and bass; the kinds' tones are in
``shared/chord_qualities.toml``.
"""

from __future__ import annotations

from functools import cache
from typing import Final
from xml.etree.ElementTree import Element

from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.pitch import LETTERS, Tone, degree_semitones, parse_degree
from listener.music.quality import Quality, compose, qualities, symbol_of
from listener.music.suffix import parse_suffix
from listener.safe_text import echo

_NO_CHORD: Final = "none"
#: Named after what they do in a key; whether their root is the key's or their own, the standard does not say.
FUNCTIONAL: Final = frozenset({"Neapolitan", "Italian", "French", "German", "Tristan", "pedal"})
#: Tones added next to a third are called by their place above the octave.
_UPPER: Final = {"2": "9", "4": "11"}
#: What an added degree is without an alteration: that of a dominant chord.
_DOMINANT_SEVENTH: Final = "b7"


@cache
def _kinds() -> dict[str, Quality]:
    return {quality.musicxml: quality for quality in qualities() if quality.musicxml}


def harmony_chord(harmony: Element) -> Chord | None:
    """The chord of a ``<harmony>``, the first where it stacks several; None where it says that nothing is played.

    Raises :class:`MusicError` for what has no root of its own (a function in a key) or no tones that we know.
    """
    kind = harmony.find("kind")
    word = _word(kind)
    if word == _NO_CHORD:
        return None
    root = _tone(harmony.find("root"), "root")
    if root is None or kind is None:
        raise MusicError(f"the chord symbol '{_shown(kind)}' names no root")
    if word in FUNCTIONAL:
        raise MusicError(f"the chord symbol '{_shown(kind)}' names a function, not its tones")
    quality = _quality(kind, word)
    for degree in _first_chord(harmony, "degree"):
        quality = _changed(quality, degree)
    bass = _tone(harmony.find("bass"), "bass") or _inverted(root, quality, harmony.findtext("inversion", ""))
    if bass is not None and bass.pitch_class == root.pitch_class:
        bass = None
    return Chord(root, quality, bass)


def _first_chord(harmony: Element, tag: str) -> list[Element]:
    """The elements of this name that come before a second root."""
    found: list[Element] = []
    roots = 0
    for element in harmony:
        roots += element.tag == "root"
        if element.tag == tag and roots < 2:
            found.append(element)
    return found


def _word(kind: Element | None) -> str:
    return (kind.text or "").strip() if kind is not None else ""


def _shown(kind: Element | None) -> str:
    """The kind as the score shows it, else its word."""
    text = (kind.get("text") or _word(kind)) if kind is not None else ""
    return echo(text)


def _quality(kind: Element, word: str) -> Quality:
    known = _kinds().get(word)
    if known is not None:
        return known
    text = kind.get("text") or ""
    if not text:
        raise MusicError(f"the kind of chord '{_shown(kind)}' is unknown")
    return parse_suffix(text)


def _tone(element: Element | None, what: str) -> Tone | None:
    if element is None:
        return None
    step = element.findtext(f"{what}-step", "").strip()
    if len(step) != 1 or step not in LETTERS:
        raise MusicError(f"a chord symbol has no note name as its {what}")
    return Tone(step, _alteration(element.findtext(f"{what}-alter", "0")))


def _alteration(text: str) -> int:
    try:
        value = float(text)
    except ValueError:
        value = 0.5
    if not value.is_integer() or abs(value) > 2:
        raise MusicError(f"'{echo(text, 20)}' is not a number of semitones up or down")
    return int(value)


def _changed(quality: Quality, degree: Element) -> Quality:
    """The quality with one tone added, altered or taken away."""
    number = degree.findtext("degree-value", "").strip()
    if not number.isdecimal() or not 1 <= int(number[:3]) <= 13:
        raise MusicError(f"'{echo(number, 20)}' is not a degree of a chord")
    semitones = _alteration(degree.findtext("degree-alter", "0"))
    how = degree.findtext("degree-type", "add").strip()
    there = [one for one in quality.degrees if parse_degree(one)[0] == int(number)]
    if how == "subtract":
        return _composed([one for one in quality.degrees if one not in there])
    if how == "add" and {"3", "b3"} & set(quality.degrees):
        number = _UPPER.get(number, number)
    natural = there[0] if how == "alter" and there else _DOMINANT_SEVENTH if number == "7" else number
    new = _raised(natural, semitones)
    rest = [one for one in quality.degrees if how != "alter" or one not in there]
    if any(one != new and (degree_semitones(one) - degree_semitones(new)) % 12 == 0 for one in rest):
        raise MusicError(f"a chord symbol has the same note twice, once as {new}")
    return _composed([*rest, new])


def _composed(degrees: list[str]) -> Quality:
    if "1" not in degrees or len(degrees) < 2 or symbol_of(degrees) is None:
        raise MusicError(f"no chord symbol has the tones {' '.join(degrees)}")
    return compose(degrees)


def _raised(degree: str, semitones: int) -> str:
    number, alteration = parse_degree(degree)
    total = alteration + semitones
    return ("#" * total if total > 0 else "b" * -total) + str(number)


def _inverted(root: Tone, quality: Quality, inversion: str) -> Tone | None:
    text = inversion.strip()
    if not text.isdecimal() or not 0 < int(text[:3]) < len(quality.degrees):
        return None
    return root.at(quality.degrees[int(text)])
