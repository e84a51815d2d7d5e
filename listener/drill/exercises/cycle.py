"""Cycles: chords whose roots go on by one and the same interval until the first comes again.

``by = "thirds"`` stays in a scale, with the scale's own chord on every step; since seven is a prime number every such
cycle takes in all seven chords. ``by = "minor thirds"`` moves one kind of chord by an exact interval and closes after
12 / gcd(12, semitones) chords.
"""

from __future__ import annotations

from math import gcd
from typing import Final

from listener.drill.exercises.spots import PassageFrame, Round, Spot, beats_each, read_chord, read_scale, round_of
from listener.drill.reading.fields import Table
from listener.drill.reading.wish_fields import WishFields
from listener.music.chord import Chord
from listener.music.scale import Mode, usual_tonic

#: Steps of the scale from each chord to the next.
IN_THE_SCALE: Final = {"seconds": 1, "thirds": 2, "fourths": 3, "fifths": 4, "sixths": 5, "sevenths": 6}
#: Semitones from each chord to the next.
EXACT: Final = {
    "minor seconds": 1,
    "major seconds": 2,
    "minor thirds": 3,
    "major thirds": 4,
    "perfect fourths": 5,
    "tritones": 6,
    "perfect fifths": 7,
    "minor sixths": 8,
    "major sixths": 9,
    "minor sevenths": 10,
    "major sevenths": 11,
}
FIELDS: Final = ("by", "direction", "chord", "scale", "chord_size", "from_degree", "steps", "beats_each", "times")
_MOST_CHORDS: Final = 100


def cycle(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read a cycle; without ``steps`` it goes round once, the first chord not played again."""
    by = table.word("by", (*IN_THE_SCALE, *EXACT))
    if by is None and not table.has("by"):
        table.missing("by", '"thirds"')
    sign = -1 if table.word("direction", ("up", "down")) == "down" else 1
    count = table.whole("steps", 2, _MOST_CHORDS)
    times = table.whole("times", 1, 100) or 1
    beats = beats_each(table, frame)
    if by in EXACT:
        chords = _exact(table, sign * EXACT[by], count)
    else:
        chords = _in_the_scale(table, frame, sign * IN_THE_SCALE.get(by or "", 2), count)
    line = table.line("by")
    for plan in (fields.top, fields.bottom):
        if plan is not None and chords:
            plan.check_length(table, len(chords))
    spots = (Spot(chord, place * beats, beats, line, place, fresh=place == 0) for place, chord in enumerate(chords))
    return round_of(spots, frame, times)


def _in_the_scale(table: Table, frame: PassageFrame, away: int, count: int | None) -> list[Chord]:
    if table.has("chord"):
        table.wrong("chord", 'goes with an exact interval such as by = "minor thirds"; here the scale gives the chords')
    scale = read_scale(table, frame)
    size = table.whole("chord_size", 3, 7) or 3
    first = table.whole("from_degree", 1, 7) or 1
    if scale is None:
        return []
    return [scale.chord_on((first - 1 + number * away) % 7 + 1, size) for number in range(count or 7)]


def _exact(table: Table, semitones: int, count: int | None) -> list[Chord]:
    for name in ("scale", "chord_size", "from_degree"):
        if table.has(name):
            table.wrong(name, "goes with a cycle in the scale such as by = \"thirds\"; here 'chord' is the first chord")
    chord = read_chord(table, '"Cmaj7"')
    if chord is None:
        return []
    mode: Mode = "minor" if "b3" in chord.quality.degrees else "major"
    round_length = 12 // gcd(12, semitones)
    found = [chord]
    for number in range(1, count or round_length):
        if number % round_length == 0:
            found.append(chord)
            continue
        root = usual_tonic(chord.root.pitch_class + number * semitones, mode)
        found.append(chord.transposed(root))
    return found
