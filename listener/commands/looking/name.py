"""``widehand name NOTES…``: what chord and which voicing these notes are."""

from __future__ import annotations

import re
from argparse import Namespace
from collections.abc import Sequence
from typing import Final

from listener.commands.json_out import print_json
from listener.errors import MusicError, UsageError
from listener.music.naming import Naming, name_pitches
from listener.music.pitch import parse_pitch, parse_tone, spell
from listener.music.voicing import FULL, OTHER

#: What has more digits is no note, and Python refuses to read thousands of them.
_MOST_DIGITS: Final = 20
_ORDINALS: Final = ("root position", "first inversion", "second inversion", "third inversion")
_BLACK_KEY: Final = re.compile(r"[A-Ga-g]([#♯x]|[b♭])")


def parse_notes(words: Sequence[str]) -> tuple[int, ...]:
    """MIDI notes, low to high, from names with octave (``E4``, ``Bb3``) and MIDI numbers, also joined by commas.

    >>> parse_notes(["C3,Bb3", "64"])
    (48, 58, 64)

    Raises :class:`MusicError` naming the bad word, :class:`UsageError` when there is none at all.
    """
    notes = [_parse_note(word) for word in _split(words)]
    if not notes:
        raise UsageError("no notes given; write names or MIDI numbers, such as: widehand name G3 E4 C5")
    return tuple(sorted(notes))


def _split(words: Sequence[str]) -> list[str]:
    return [word for piece in words for word in re.split(r"[\s,]+", piece) if word]


def _parse_note(word: str) -> int:
    if re.fullmatch(r"[+-]?\d+", word):
        number = int(word) if len(word) <= _MOST_DIGITS else 128
        if not 0 <= number <= 127:
            raise MusicError(f"'{word}' is not a MIDI note; they run from 0 to 127 (60 is C4)", text=word)
        return number
    try:
        return parse_pitch(word).midi
    except MusicError:
        if _is_name(word):
            problem = f"'{word}' needs its octave, as in E4 or Bb3; or write a MIDI number from 0 to 127"
        else:
            problem = (
                f"'{word}' is not a note; write a name with its octave, such as E4 or Bb3, "
                "or a MIDI number from 0 to 127"
            )
        raise MusicError(problem, text=word) from None


def _is_name(word: str) -> bool:
    try:
        parse_tone(word)
    except MusicError:
        return False
    return True


def wants_flats(words: Sequence[str]) -> bool | None:
    """How the player spells black keys: True with flats only, False with sharps only, None when nothing tells."""
    signs = {match[1] in "b♭" for word in _split(words) if (match := _BLACK_KEY.match(word))}
    return signs.pop() if len(signs) == 1 else None


def describe(naming: Naming) -> str:
    """One reading as a sentence.

    >>> describe(name_pitches([55, 64, 72])[0])
    'C spread triad, second inversion (5-3-1): G3 E4 C5, span 17 semitones'
    """
    voicing = naming.voicing
    without = f", without its {' and '.join(naming.missing)}" if naming.missing else ""
    semitones = "1 semitone" if voicing.span == 1 else f"{voicing.span} semitones"
    return (
        f"{voicing.chord.symbol}{_kind_words(naming)}, {_position(naming)} ({'-'.join(voicing.degrees)})"
        f"{without}: {' '.join(voicing.names)}, span {semitones}"
    )


def _kind_words(naming: Naming) -> str:
    voicing = naming.voicing
    tones = len(voicing.chord.quality.degrees)
    if tones == 2:
        return " (root and fifth)"
    noun = "triad" if tones == 3 else "voicing"
    if voicing.kind == OTHER:
        return f" {noun}"
    if voicing.kind == FULL:
        return f" {noun} with doubled tones" if tones == 3 else " with doubled tones"
    return f" {voicing.kind} {noun}"


def _position(naming: Naming) -> str:
    voicing = naming.voicing
    if voicing.inversion is None:
        return f"over {voicing.pitches[0].tone}"
    if voicing.inversion < len(_ORDINALS) and voicing.degrees[0] not in ("9", "b9", "#9", "11", "#11", "13", "b13"):
        return _ORDINALS[voicing.inversion]
    return f"the {voicing.degrees[0]} in the bass"


def run(notes: list[str], as_json: bool) -> int:
    """Print the readings of the notes, best first, as lines or as one JSON document; exit code 0."""
    midi = parse_notes(notes)
    found = name_pitches(midi, flats=wants_flats(notes))
    if as_json:
        print_json("name", {"pitches": list(midi), "names": [naming.as_json() for naming in found]})
        return 0
    if not found:
        sounding = " ".join(str(spell(note, flats=bool(wants_flats(notes)))) for note in midi)
        print(f"no chord name fits {sounding}, span {midi[-1] - midi[0]}; chords of three tones and more have names")
        return 0
    print(describe(found[0]))
    for naming in found[1:]:
        print(f"  also {describe(naming)}")
    return 0


def main(arguments: Namespace) -> int:
    """The command line's way in."""
    return run(arguments.notes, arguments.json)
