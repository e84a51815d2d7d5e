"""A scale run: one chord on every step of a scale, so that the top notes climb (or descend) the scale by step.

Which tone of each chord is on top follows from ``top``, or from kind and inversion where these fix it: a spread
triad in root position has its third on top, and so on. Without ``start`` the run lies as low as the six strings
of standard tuning allow.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from listener.drill.drill import NoteWish
from listener.drill.exercises.spots import PassageFrame, Round, Spot, beats_each, read_scale, round_of
from listener.drill.reading.fields import Table
from listener.drill.reading.top_line import own_degree
from listener.drill.reading.wish_fields import WishFields
from listener.drill.room import OPEN_STRINGS
from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.naming_words import inversion_words
from listener.music.pitch import Pitch, parse_pitch
from listener.music.scale import Scale
from listener.music.voicing import CLOSE, DROP_2, DROP_2_4, DROP_3, FULL, SPREAD, voicings

UP: Final = "up"
DOWN: Final = "down"
UP_AND_DOWN: Final = "up and down"
FIELDS: Final = ("scale", "chord_size", "direction", "octaves", "steps", "beats_each", "from_degree", "start")
DIRECTIONS: Final = (UP, DOWN, UP_AND_DOWN)
#: How many chord tones the top note lies above the bass, counted round the chord (from the definitions of the kinds,
#: see listener.music.voicing): a close voicing has the tone just below its bass on top.
_TOP_ABOVE_BASS: Final = {CLOSE: -1, SPREAD: 1, DROP_2: 1, DROP_3: 2, DROP_2_4: -1}
#: Where a run ends at the latest: E7, above any guitar's last fret; and its lowest possible top note.
_HIGHEST_TOP: Final = 100
_LOWEST_TOP: Final = 40
_STEPS_IN_SCALE: Final = 7


@dataclass(frozen=True, slots=True)
class _Climb:
    """A scale with a chord on each step; ``top_third`` is the place of the top note in each chord (0 = the root)."""

    scale: Scale
    chord_size: int
    top_third: int

    def chord(self, degree: int) -> Chord:
        """The chord on a scale degree; degrees go on above 7 and below 1."""
        return self.scale.chord_on((degree - 1) % _STEPS_IN_SCALE + 1, self.chord_size)

    def top(self, degree: int, midi: int) -> Pitch | None:
        """The top note of that chord at ``midi``, None when it is another note."""
        chord = self.chord(degree)
        tone = chord.tones[chord.quality.degrees[self.top_third]]
        return tone.pitch(midi) if midi % 12 == tone.pitch_class else None

    def run(self, degree: int, first_midi: int, count: int, step: int) -> list[tuple[Chord, Pitch]]:
        """``count`` chords from one on, up (``step`` 1) or down (-1), each top the nearest one beyond the last."""
        found: list[tuple[Chord, Pitch]] = []
        midi = first_midi
        while len(found) < count:
            pitch = self.top(degree, midi)
            if pitch is None:
                midi += step
                continue
            found.append((self.chord(degree), pitch))
            degree += step
            midi += step
        return found


def scale_run(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read a scale run; the scale is that of the passage's key where the passage names none."""
    scale = read_scale(table, frame)
    chord_size = table.whole("chord_size", 3, 4) or 3
    direction = table.word("direction", DIRECTIONS) or UP
    count = _count(table)
    beats = beats_each(table, frame)
    if scale is None:
        return Round()
    top_third = _top_third(table, fields, scale.chord_on(1, chord_size))
    if top_third is None:
        return Round()
    way = _way(table, fields, _Climb(scale, chord_size, top_third), count, direction)
    line = table.line("scale") if table.has("scale") else table.line("exercise")
    spots = (
        Spot(chord, place * beats, beats, line, place, top=NoteWish(pitch=top), fresh=place == 0)
        for place, (chord, top) in enumerate(way)
    )
    return round_of(spots, frame)


def _count(table: Table) -> int:
    """How many chords go one way."""
    octaves = table.whole("octaves", 1, 4)
    steps = table.whole("steps", 2, 30)
    if table.has("octaves") and table.has("steps"):
        table.wrong("steps", "and 'octaves' say the same thing twice; keep one of them")
    return steps or (octaves or 1) * _STEPS_IN_SCALE + 1


def _top_third(table: Table, fields: WishFields, chord: Chord) -> int | None:
    """The place of the top note among the chord's tones; a complaint when nothing fixes it, or two things differ."""
    size = len(chord.quality.degrees)
    kinds = [kind for turn in fields.kinds for kind in turn]
    inversion = fields.inversion or 0
    by_kind = {(inversion + _TOP_ABOVE_BASS[kind]) % size if kind in _TOP_ABOVE_BASS else None for kind in kinds}
    fixed = by_kind.pop() if len(by_kind) == 1 else None
    if fields.top is None:
        if table.has("top"):
            return None
        if fixed is None:
            table.missing("top", '"3" (the chord tone that climbs; the kind alone does not settle it)')
        return fixed
    if not fields.top.for_all or not _is_degree(fields.top.entries[0].text):
        table.wrong("top", "of a scale run is a single degree, such as \"3\"; its first pitch is given by 'start'")
        return None
    try:
        top = chord.quality.degrees.index(own_degree(chord, fields.top.entries[0].text))
    except MusicError as error:
        table.wrong("top", f"does not fit a scale run: {error}")
        return None
    if fields.inversion is not None and fixed is not None and fixed != top:
        there = f"{inversion_words(inversion)} puts the {chord.quality.degrees[fixed]} there"
        table.wrong("top", f"and 'inversion' disagree: with kind '{kinds[0]}', {there}; keep one of them")
        return None
    return top


def _is_degree(text: str) -> bool:
    return text[:1] in tuple("12345679b#♭♯")


def _way(table: Table, fields: WishFields, climb: _Climb, count: int, direction: str) -> Sequence[tuple[Chord, Pitch]]:
    """The chords in the order in which they are played, each with its top note."""
    falling = direction == DOWN
    if table.has("start"):
        begin = _given_start(table, climb)
        if begin is None:
            return ()
        way = climb.run(*begin, count, -1 if falling else 1)
    else:
        first = table.whole("from_degree", 1, _STEPS_IN_SCALE) or 1
        lowest = first - (count - 1) if falling else first
        top = _lowest_top(table, fields, climb, lowest)
        if top is None:
            return ()
        way = climb.run(lowest, top, count, 1)
        way = way[::-1] if falling else way
    highest = max(pitch.midi for _, pitch in way)
    if highest > _HIGHEST_TOP or min(pitch.midi for _, pitch in way) < _LOWEST_TOP:
        name = next((name for name in ("steps", "octaves", "start") if table.has(name)), "exercise")
        table.wrong(name, f"takes the top notes from {way[0][1]} to {way[-1][1]}, beyond any guitar")
        return ()
    return [*way, *way[-2::-1]] if direction == UP_AND_DOWN else way


def _given_start(table: Table, climb: _Climb) -> tuple[int, int] | None:
    """The scale degree of the first chord and the MIDI note of its top, from ``start`` (and ``from_degree``)."""
    text = table.text("start")
    first = table.whole("from_degree", 1, _STEPS_IN_SCALE)
    if not text:
        return None
    try:
        start = parse_pitch(text)
    except MusicError as error:
        table.wrong("start", f"cannot be read: {error}")
        return None
    fitting = [degree for degree in range(1, _STEPS_IN_SCALE + 1) if climb.top(degree, start.midi) is not None]
    if not fitting:
        table.wrong("start", f"is {text}, which is not in the scale ({' '.join(map(str, climb.scale.tones))})")
        return None
    if first is not None and first not in fitting:
        asked = climb.chord(first)
        top = asked.tones[asked.quality.degrees[climb.top_third]]
        table.wrong("start", f"is {text}, but the chord on degree {first} ({asked}) has {top} on top")
        return None
    return fitting[0], start.midi


def _lowest_top(table: Table, fields: WishFields, climb: _Climb, degree: int) -> int | None:
    """The lowest top note with which the run's lowest chord lies on the strings asked for, in standard tuning."""
    kind = fields.kinds[0][0]
    if kind == FULL:
        table.missing("start", '"E4" (the first top note; for full shapes it cannot be worked out)')
        return None
    strings = sorted(fields.strings or OPEN_STRINGS, reverse=True)
    frets = fields.frets or (0, 0)
    least = [OPEN_STRINGS.get(string, _LOWEST_TOP) + frets[0] for string in strings]
    low = min(least)
    chord = climb.chord(degree)
    try:
        found = voicings(chord, kind, low=low, high=low + 36, inversion=fields.inversion, size=fields.voices_at(0))
    except MusicError:
        found = []
    if not found:  # the wish itself is at odds, and will be reported as such: any place will do
        return next(midi for midi in range(60, 72) if climb.top(degree, midi) is not None)
    tops = [
        notes[-1]
        for notes in found
        if climb.top(degree, notes[-1]) is not None
        and all(note >= bound for note, bound in zip(notes, least, strict=False))
    ]
    if not tops:
        table.missing("start", '"E4" (the first top note; it cannot be worked out here)')
        return None
    return min(tops)
