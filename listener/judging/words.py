"""How a teacher says it: one function for each fault, so that all wording lives in one place.

Notes are named as the chord spells them; a note outside the chord gets the plainest name.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.judging.verdict import Fault
from listener.music.chord import Chord
from listener.music.naming import name_pitches
from listener.music.pitch import parse_degree, spell
from listener.music.voicing import inversion_of

_ORDINALS: Final = {1: "root", 2: "2nd", 3: "3rd"}
_INVERSIONS: Final = ("root position", "first inversion", "second inversion", "third inversion")
#: What a player would call the shape that was heard.
_KIND_WORDS: Final = {"full": "with doubled tones", "close": "close", "spread": "spread", "shell": "as a shell"}


def note_name(chord: Chord, midi: int, *, octave: bool = True) -> str:
    """``G3`` (or ``G``) as the chord spells it."""
    tone = chord.tone_of(midi)
    flats = "b" in f"{chord.root}{chord.bass or ''}"
    pitch = tone.pitch(midi) if tone is not None else spell(midi, flats=flats)
    return str(pitch) if octave else str(pitch.tone)


def degree_word(degree: str) -> str:
    """``b3`` is "3rd", ``#11`` "sharp 11th", ``b9`` "flat 9th": the quality of thirds, sevenths goes without saying."""
    number, alteration = parse_degree(degree)
    word = _ORDINALS.get(number, f"{number}th")
    plain = number in (3, 7) and alteration <= 0
    sign = "" if plain or not alteration else "sharp " if alteration > 0 else "flat "
    return sign + word


def _tone_with_degree(chord: Chord, midi: int) -> str:
    degree = chord.degree_of(midi)
    name = note_name(chord, midi)
    if degree is not None:
        return f"the {degree_word(degree)} ({name})"
    bass = chord.bass is not None and (midi - chord.bass.pitch_class) % 12 == 0
    return f"the bass note {name}" if bass else f"the {name}"


def inversion_word(number: int | None) -> str:
    """ "first inversion" and so on; a bass outside the chord has no number."""
    if number is None:
        return "another bass note"
    return _INVERSIONS[number] if number < len(_INVERSIONS) else f"inversion {number}"


def nothing() -> Fault:
    """The step went by in silence."""
    return Fault("nothing", "nothing was heard")


def left_out(chord: Chord) -> Fault:
    """The player went on to the next chord."""
    return Fault("left_out", f"{chord} was left out")


def octave_off(octaves: int) -> Fault:
    """The whole voicing is octaves away: +1 is one too high."""
    count = {1: "an octave", 2: "two octaves"}.get(abs(octaves), f"{abs(octaves)} octaves")
    return Fault("octave", f"{count} {'high' if octaves > 0 else 'low'}")


def spacing(chord: Chord, kind: str, moves: Sequence[tuple[int, int]]) -> Fault:
    """The right chord in another kind of voicing; ``moves`` are (planned, heard) notes an octave or more apart."""
    todo = " and ".join(_octave_move(chord, wanted, heard) for wanted, heard in moves[:2])
    return Fault("spacing", f"right chord, but {_KIND_WORDS.get(kind, kind)}: {todo}")


def _octave_move(chord: Chord, wanted: int, heard: int) -> str:
    octaves = abs(wanted - heard) // 12
    count = "an octave" if octaves == 1 else f"{octaves} octaves"
    return f"{'lift' if wanted > heard else 'drop'} the {note_name(chord, heard, octave=False)} {count}"


def inversion(chord: Chord, heard: Sequence[int], planned: Sequence[int]) -> Fault:
    """Another chord tone is in the bass."""
    was, wanted = inversion_of(chord, heard[0]), inversion_of(chord, planned[0])
    bass = note_name(chord, planned[0], octave=False)
    return Fault(
        "inversion",
        f"right chord, but in {inversion_word(was)}: the plan has {inversion_word(wanted)}, {bass} in the bass",
        pitch=heard[0],
        wanted=planned[0],
    )


def wrong_octave(chord: Chord, wanted: int, heard: int) -> Fault:
    """One voice is in another octave."""
    return Fault(
        "wrong_octave",
        f"the {note_name(chord, heard, octave=False)} is in the wrong octave: {_octave_move(chord, wanted, heard)}",
        pitch=heard,
        wanted=wanted,
    )


def top_note(chord: Chord, heard: int, wanted: int) -> Fault:
    """The line on top is not the planned one."""
    return Fault(
        "top_note",
        f"top note is {note_name(chord, heard)}, the plan says {note_name(chord, wanted)}",
        pitch=heard,
        wanted=wanted,
    )


def wrong_tone(chord: Chord, wanted: int, heard: int) -> Fault:
    """Another note where a planned one should be."""
    return Fault(
        "wrong_tone",
        f"{note_name(chord, heard)} should be {_tone_with_degree(chord, wanted)}",
        pitch=heard,
        wanted=wanted,
    )


def missing(chord: Chord, wanted: int, *, is_top: bool) -> Fault:
    """A planned note did not sound."""
    place = " on top" if is_top else ""
    return Fault("missing", f"{_tone_with_degree(chord, wanted)}{place} is missing", wanted=wanted)


def extra(chord: Chord, heard: int, *, on_top: bool) -> Fault:
    """A note that the plan does not have."""
    place = " on top" if on_top else ""
    return Fault("extra", f"{note_name(chord, heard)}{place} is one note too many", pitch=heard)


def other_chord(chord: Chord, heard: Sequence[int]) -> Fault | None:
    """The heard notes are a complete chord of another name, or None when they are not."""
    names = name_pitches(heard)
    if not names or len(set(note % 12 for note in heard)) < 3:
        return None
    best = names[0].voicing.chord
    if best.pitch_classes == chord.pitch_classes or best.symbol == chord.symbol:
        return None
    return Fault("other_chord", f"that was {best.symbol}, the plan says {chord}")


def off_beat(offset_ms: float) -> Fault:
    """Early (negative) or late with the click."""
    late = offset_ms > 0
    return Fault("late" if late else "early", f"{'late' if late else 'early'} by {abs(offset_ms):.0f} ms", ms=offset_ms)


def other_string(chord: Chord, midi: int, played: int, planned: int) -> Fault:
    """The right note on another string, where the pickup can tell and the drill asks."""
    return Fault(
        "string", f"{note_name(chord, midi)} played on string {played}, planned on {planned}", pitch=midi, wanted=midi
    )
