"""How a teacher says it: one function for each fault, so that all wording lives in one place.

Notes are named as the chord spells them. A note outside the chord is named by its likeliest interval above the root: a
minor third over C is E flat, never D sharp.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Final

from listener.judging.verdict import Fault
from listener.music.chord import Chord
from listener.music.naming import name_pitches
from listener.music.naming_words import inversion_words
from listener.music.pitch import Pitch, Tone, parse_degree, spell
from listener.music.voicing import inversion_of
from listener.plain_words import listed

_ORDINALS: Final = {1: "root", 2: "2nd", 3: "3rd"}
#: What a player would call the shape that was heard.
_KIND_WORDS: Final = {"full": "with doubled tones", "shell": "as a shell", "other": "spaced differently"}
#: Intervals above a root by the name that musicians give them first (common practice); 6 and 8 depend on the chord.
_OUTSIDE: Final = {1: "b2", 2: "2", 3: "b3", 4: "3", 5: "4", 7: "5", 9: "6", 10: "b7", 11: "7"}
#: Names that are only right where the scale has them.
_ODD: Final = frozenset({"E#", "B#", "Cb", "Fb"})
#: What costs more than this to name (:mod:`listener.music.naming`) is no chord that a teacher would call by name.
_EVERYDAY_COST: Final = 1.3
#: From here on times are said in seconds.
_SECONDS_FROM_MS: Final = 200.0


def note_name(chord: Chord, midi: int, *, octave: bool = True, added: Sequence[Tone] = ()) -> str:
    """``G3`` (or ``G``) as the chord spells it, or one of the ``added`` tones (a melody note), or as it is heard.

    >>> from listener.music.chord import parse_chord
    >>> note_name(parse_chord("Gb"), 59), note_name(parse_chord("C"), 63)
    ('Cb4', 'Eb4')
    """
    known = chord.tone_of(midi) or next((tone for tone in added if (midi - tone.pitch_class) % 12 == 0), None)
    pitch = known.pitch(midi) if known is not None else _outside(chord, midi)
    return str(pitch) if octave else str(pitch.tone)


@lru_cache(maxsize=4096)
def _outside(chord: Chord, midi: int) -> Pitch:
    """Scale tones of the root's major scale are spelled strictly (C flat over G flat), the others for easy reading."""
    interval = (midi - chord.root.pitch_class) % 12
    degrees = chord.quality.degrees
    if interval == 6:
        degree = "#4" if "3" in degrees else "b5"
    elif interval == 8:
        degree = "#5" if {"3", "5"} <= set(degrees) and not {"6", "13"} & set(degrees) else "b6"
    else:
        degree = _OUTSIDE.get(interval, "1")
    tone = chord.root.at(degree)
    if abs(tone.alteration) < 2 and (degree.isdecimal() or str(tone) not in _ODD):
        return tone.pitch(midi)
    return spell(midi, flats=chord.root.alteration < 0)


def degree_word(degree: str) -> str:
    """``b3`` is "3rd", ``#11`` "sharp 11th", ``b9`` "flat 9th": the quality of thirds, sevenths goes without saying."""
    number, alteration = parse_degree(degree)
    word = _ORDINALS.get(number, f"{number}th")
    plain = number in (3, 7) and alteration <= 0
    sign = "" if plain or not alteration else "sharp " if alteration > 0 else "flat "
    return sign + word


def inversion_word(number: int | None) -> str:
    """ "first inversion" and so on; a bass outside the chord has no number."""
    return "another bass note" if number is None else inversion_words(number)


def nothing() -> Fault:
    """The step went by in silence."""
    return Fault("nothing", "nothing was heard")


def left_out(chord: Chord) -> Fault:
    """The player went on to the next chord."""
    return Fault("left_out", f"{chord} was left out")


def octave_off(octaves: int) -> Fault:
    """The whole voicing is octaves away: +1 is one too high."""
    return Fault("octave", f"{_octaves(octaves)} {'high' if octaves > 0 else 'low'}")


def off_beat(offset_ms: float) -> Fault:
    """Early (negative) or late with the click."""
    late = offset_ms > 0
    return Fault("late" if late else "early", f"{'late' if late else 'early'} by {abs(offset_ms):.0f} ms", ms=offset_ms)


def rolled_words(spread_ms: float) -> str:
    """How long a chord took from its first string to its last.

    >>> rolled_words(84.0), rolled_words(160.0), rolled_words(612.0)
    ('rolled over 84 ms', 'rolled over 160 ms', 'rolled over 0.6 s')
    """
    took = f"{spread_ms:.0f} ms" if spread_ms < _SECONDS_FROM_MS else f"{spread_ms / 1000:.1f} s"
    return f"rolled over {took}"


def rolled(spread_ms: float) -> Fault:
    """All notes were right, but not together where the drill wants them so."""
    return Fault("rolled", f"{rolled_words(spread_ms)}: this drill wants it together", ms=spread_ms)


def _octaves(count: int) -> str:
    return {1: "an octave", 2: "two octaves"}.get(abs(count), f"{abs(count)} octaves")


def everyday_chord(chord: Chord, heard: Sequence[int], *, plain: bool = False) -> Chord | None:
    """Another chord that the heard notes are, when a teacher would call it by name.

    It is readily named, has a third, and a tone that the planned chord lacks: what only has tones of the planned chord
    is that chord with tones missing. ``plain`` wants more: a triad or seventh with all its tones, and with its root in
    the bass or the root of the planned chord.
    """
    names = name_pitches(heard)
    if not names or len({note % 12 for note in heard}) < 3 or {note % 12 for note in heard} <= chord.pitch_classes:
        return None
    best = names[0]
    named = best.voicing.chord
    thirds = {"3", "b3"} & set(named.quality.degrees)
    if best.cost > _EVERYDAY_COST or not thirds or named.bass is not None:
        return None
    at_home = best.voicing.inversion == 0 or named.root.pitch_class == chord.root.pitch_class
    if plain and (best.missing or not at_home or (named.quality.rarity or 0) > 1):
        return None
    return None if named.pitch_classes == chord.pitch_classes else named


def other_chord(chord: Chord, named: Chord) -> Fault:
    """Another chord was played."""
    return Fault("other_chord", f"that was {named.symbol}, the plan says {chord}")


@dataclass(frozen=True)
class ChordWords:
    """What is said about the notes of one planned chord; ``added`` are spelled tones foreign to it that it has."""

    chord: Chord
    added: tuple[Tone, ...] = ()

    def name(self, midi: int, *, octave: bool = True) -> str:
        """A note's name."""
        return note_name(self.chord, midi, octave=octave, added=self.added)

    def _tone(self, midi: int, *, octave: bool = True, second: bool = False) -> str:
        degree = self.chord.degree_of(midi)
        name = self.name(midi, octave=octave)
        if degree is not None:
            return f"the {'doubled ' if second else ''}{degree_word(degree)} ({name})"
        bass = self.chord.bass is not None and (midi - self.chord.bass.pitch_class) % 12 == 0
        return f"the bass note {name}" if bass else f"the {name}"

    def spacing(self, kind: str, todo: str) -> Fault:
        """The right chord in another kind of voicing, and what to do about it."""
        return Fault("spacing", f"right chord, but {_KIND_WORDS.get(kind, kind)}: {todo}")

    def moves(self, pairs: Sequence[tuple[int, int]]) -> str:
        """What to do with (planned, heard) notes an octave or more apart: ``lift the E and G an octave``."""
        grouped: dict[int, list[str]] = {}
        for wanted, heard in pairs:
            grouped.setdefault((wanted - heard) // 12, []).append(self.name(heard, octave=False))
        moves = [f"{'lift' if octaves > 0 else 'drop'} the {listed(names)}" for octaves, names in grouped.items()]
        if len({abs(octaves) for octaves in grouped}) == 1:
            return f"{' and '.join(moves)} {_octaves(next(iter(grouped)))}"
        return " and ".join(f"{move} {_octaves(octaves)}" for move, octaves in zip(moves, grouped, strict=True))

    def leave_out(self, notes: Sequence[int]) -> str:
        """``leave out E3 and C4``."""
        return f"leave out {listed([self.name(note) for note in notes])}"

    def add(self, notes: Sequence[int]) -> str:
        """``add E3 and C4``."""
        return f"add {listed([self.name(note) for note in notes])}"

    def the_plan(self, planned: Sequence[int]) -> str:
        """All notes of the plan, when there is too much to change."""
        return f"the plan has {' '.join(self.name(note) for note in planned)}"

    def inversion(self, heard: int, wanted: int) -> Fault:
        """Another chord tone is in the bass; both lowest notes are given."""
        bass = self.name(wanted, octave=False)
        degree = self.chord.degree_of(heard)
        if degree is not None and parse_degree(degree)[0] > 7:
            text = f"{degree_word(degree)} in the bass: {bass} belongs there"
        else:
            text = f"{inversion_word(inversion_of(self.chord, heard))}: {bass} belongs in the bass"
        return Fault("inversion", text, pitch=heard, wanted=wanted)

    def wrong_octave(self, wanted: int, heard: int) -> Fault:
        """One voice is in another octave."""
        side = "high" if heard > wanted else "low"
        text = f"the {self.name(heard, octave=False)} is {_octaves((heard - wanted) // 12)} too {side}"
        return Fault("wrong_octave", text, pitch=heard, wanted=wanted)

    def top_note(self, wanted: int, heard: int) -> Fault:
        """The line on top is not the planned one."""
        text = f"top note is {self.name(heard)}, the plan says {self.name(wanted)}"
        return Fault("top_note", text, pitch=heard, wanted=wanted)

    def wrong_tone(self, wanted: int, heard: int, *, everywhere: bool = False) -> Fault:
        """Another note where a planned one should be; ``everywhere``: the same slip in every octave."""
        said = f"every {self.name(heard, octave=False)}" if everywhere else self.name(heard)
        text = f"{said} should be {self._tone(wanted, octave=not everywhere)}"
        return Fault("wrong_tone", text, pitch=heard, wanted=wanted)

    def missing(self, wanted: int, *, place: str = "", second: bool = False) -> Fault:
        """A planned note did not sound. ``place`` is "on top", "in the bass" or nothing; with ``second`` the tone
        still sounds in another octave."""
        tone = self._tone(wanted, second=second)
        where = f" {place}" if place and "bass note" not in tone else ""
        return Fault("missing", f"{tone}{where} is missing", wanted=wanted)

    def missing_everywhere(self, notes: Sequence[int]) -> Fault:
        """A tone that was planned in several octaves did not sound in any."""
        tone = self._tone(notes[0]).split(" (")[0]
        return Fault("missing", f"{tone} ({', '.join(map(self.name, notes))}) is missing", wanted=notes[0])

    def missing_degree(self, degree: str) -> Fault:
        """A tone that no octave is asked of did not sound."""
        return Fault("missing", f"the {degree_word(degree)} ({self.chord.tones[degree]}) is missing")

    def missing_bass(self) -> Fault:
        """The slash bass did not sound."""
        return Fault("missing", f"the bass note {self.chord.bass} is missing")

    def extra(self, heard: int, *, place: str = "") -> Fault:
        """A note that the plan does not have."""
        where = f" {place}" if place else ""
        return Fault("extra", f"{self.name(heard)}{where} is one note too many", pitch=heard)

    def other_string(self, midi: int, played: int, planned: int) -> Fault:
        """The right note on another string, where the pickup can tell and the drill asks."""
        text = f"{self.name(midi)} played on string {played}, planned on {planned}"
        return Fault("string", text, pitch=midi, wanted=midi)

    def lone_string(self, midi: int, played: Sequence[int], planned: Sequence[int]) -> Fault:
        """A unison that was planned on more strings than were heard."""
        both = listed([str(string) for string in planned])
        text = f"{self.name(midi)} on string {listed([str(string) for string in played])} only, planned on {both}"
        return Fault("string", text, pitch=midi, wanted=midi)
