"""Extension ladder: the same changes as triads, then as sevenths, ninths, elevenths and thirteenths.

What a chord does not say itself comes from the key: the tone of its scale with the right letter. So G in C major grows
into G7, G9 and G13, a Dm chord into Dm7, Dm9, Dm11 and Dm13. Where that tone would be none that chords are
built with, or would hide a tone that the chord has, the plain seventh, ninth or thirteenth is taken. A natural eleventh
clashes with a major third: on the rung of elevenths it is raised, in thirteenths it is not played (common practice).
"""

from __future__ import annotations

from typing import Final

from listener.drill.exercises.chords import ChordOfChanges, read_changes
from listener.drill.exercises.spots import PassageFrame, Round, Spot, limited
from listener.drill.reading.fields import Table
from listener.drill.reading.wish_fields import WishFields
from listener.music.chord import Chord
from listener.music.pitch import LETTERS, degree_semitones
from listener.music.quality import compose
from listener.music.scale import Key
from listener.music.voicing import interval_degree
from listener.records import shown

TRIAD: Final = "triad"
RUNGS: Final = (TRIAD, "7", "9", "11", "13")
FIELDS: Final = ("chords", "numerals", "ladder", "times")
#: Degrees by which a chord may grow, the plain one first.
_SEVENTHS: Final = ("b7", "7", "bb7")
_NINTHS: Final = ("9", "b9")
_ELEVENTHS: Final = ("11", "#11")
_THIRTEENTHS: Final = ("13", "b13")
_GROWTH: Final = {"9": _NINTHS, "11": _ELEVENTHS, "13": _THIRTEENTHS}
_LOW: Final = frozenset({"1", "2", "b3", "3", "4", "b5", "5", "#5"})


def ladder(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read an extension ladder. ``kind`` and ``voices`` count rungs, ``top`` and ``bottom`` chords."""
    rungs = _rungs(table)
    times = table.whole("times", 1, 100) or 1
    changes = read_changes(table, frame)
    for plan in (fields.top, fields.bottom):
        if plan is not None:
            plan.check_length(table, changes.count)
    spots = limited(
        _spot(change, grown(change.chord, rung, frame.key), level, entry, level * changes.bars * frame.bar_beats)
        for level, rung in enumerate(rungs)
        for entry, change in enumerate(changes.chords)
    )
    return Round(spots, changes.bars * len(rungs), times)


def _spot(change: ChordOfChanges, chord: Chord, level: int, entry: int, start: int) -> Spot:
    clash = {"3", "11"} <= set(chord.quality.degrees)
    return Spot(
        chord,
        start + change.start,
        change.length,
        change.line,
        level,
        entry=entry,
        without=("11",) if clash else (),
        fresh=entry == 0,
    )


def _rungs(table: Table) -> tuple[str, ...]:
    value = table.filled_list("ladder", 'a list of rungs such as ["triad", 7, 9]', most=20)
    if value is None:
        return RUNGS
    bad = [index for index, rung in enumerate(value) if str(rung) not in RUNGS or isinstance(rung, bool)]
    for index in bad:
        place = (*table.place("ladder"), index)
        table.report.add(place, f"'ladder' holds {shown(value[index])}; its rungs are {', '.join(RUNGS)}")
    return RUNGS if bad else tuple(str(rung) for rung in value)


def grown(chord: Chord, rung: str, key: Key | None) -> Chord:
    """The chord as a triad, or with everything up to the seventh, ninth, eleventh or thirteenth.

    >>> from listener.music.chord import parse_chord
    >>> from listener.music.scale import parse_key
    >>> [str(grown(parse_chord("Am"), rung, parse_key("G major"))) for rung in ("7", "9", "13")]
    ['Am7', 'Am9', 'Am13']
    """
    low = [degree for degree in chord.quality.degrees if degree in _LOW]
    degrees = list(low)
    if rung != TRIAD:
        degrees.append(_next(chord, "7", _sevenths(low), key, degrees))
    for number, choice in _GROWTH.items():
        if rung in RUNGS[RUNGS.index(number) :]:
            degrees.append(_next(chord, number, choice, key, degrees))
    if rung == "11" and "3" in degrees:
        degrees = ["#11" if degree == "11" else degree for degree in degrees]
    return Chord(chord.root, compose(degrees, "".join(degrees[1:])), chord.bass)


def _sevenths(low: list[str]) -> tuple[str, ...]:
    """The sevenths that go with these lower tones: the diminished one only over a diminished triad."""
    if "b3" in low and "b5" in low:
        return _SEVENTHS
    return ("b7", "7")


def _next(chord: Chord, number: str, choice: tuple[str, ...], key: Key | None, below: list[str]) -> str:
    """The degree of this number: the chord's own, else the key's, else the plain one; none that sounds as one below."""
    own = [degree for degree in chord.quality.degrees if degree.lstrip("b#") == number]
    if own:
        return own[0]
    taken = {degree_semitones(degree) % 12 for degree in below}
    free = [degree for degree in choice if degree_semitones(degree) % 12 not in taken] or list(choice)
    letter = LETTERS[(LETTERS.index(chord.root.letter) + int(number) - 1) % 7]
    for tone in key.tones if key is not None else ():
        if tone.letter == letter:
            away = degree_semitones(interval_degree(chord.root, tone)) % 12
            return next((degree for degree in free if degree_semitones(degree) % 12 == away), free[0])
    return free[0]
