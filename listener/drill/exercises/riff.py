"""Riff: small voicings repeat a rhythm under a given top line.

With a top note for each stroke the line may pass through notes that the chord does not have: then the chord stays as it
is while it lasts, and only the top moves.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator
from fractions import Fraction
from itertools import islice
from typing import Final

from listener.drill.drill import NoteWish
from listener.drill.exercises.chords import Changes, read_changes
from listener.drill.exercises.spots import MOST_STEPS, PassageFrame, Round, Spot, TooManySteps
from listener.drill.reading.fields import Table
from listener.drill.reading.wish_fields import KIND_SIZE, WishFields
from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.pitch import parse_pitch
from listener.music.voicing import tone_sets
from listener.plain_words import counted
from listener.tunes.bars import Bars, read_bars

FIELDS: Final = ("chords", "numerals", "rhythm", "times")
STROKE: Final = "x"
REST: Final = "-"
#: Notes of a voicing where neither ``voices`` nor ``kind`` says how many.
SMALL: Final = 3
_EXAMPLE: Final = '"x . - x | x x . ."'


def riff(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read a riff. ``top`` and ``bottom`` have one entry for each chord, or one for each stroke."""
    times = table.whole("times", 1, 100) or 1
    changes = read_changes(table, frame)
    rhythm = _rhythm(table)
    if rhythm is None or not changes.chords:
        return Round()
    strokes = list(islice(_strokes(rhythm, changes, frame.bar_beats), MOST_STEPS + 1))
    if len(strokes) > MOST_STEPS:
        raise TooManySteps
    struck = {place for place, _, _ in strokes}
    for place, change in enumerate(changes.chords):
        if place not in struck:
            table.wrong("rhythm", f"leaves {change.chord} in bar {change.bar} without a stroke")
            return Round()
    per_stroke = _counts_strokes(table, fields, changes.count, len(strokes))
    spots = []
    for number, (place, start, length) in enumerate(strokes):
        change = changes.chords[place]
        again = number > 0 and strokes[number - 1][0] == place
        top = _pitch_on_top(fields, number) if per_stroke else None
        spots.append(
            Spot(
                change.chord,
                start,
                length,
                change.line,
                place,
                entry=number if per_stroke else place,
                size=_size(change.chord, fields, place),
                fresh=number == 0,
                again=again and not per_stroke,
                top=top,
                added_top=top is not None,
                under=again and top is not None,
            )
        )
    return Round(tuple(spots), changes.bars, times)


def _rhythm(table: Table) -> Bars | None:
    """The rhythm as bars of strokes and rests."""
    text = table.text("rhythm", needed_like=_EXAMPLE)
    if not text:
        return None
    bars = read_bars(str(table.values["rhythm"]))
    faults = [misprint.text for misprint in bars.misprints]
    faults += [
        f"bar {timed.word.bar}: '{timed.word.text}' is neither x (a stroke), . (ringing on) nor - (a rest)"
        for timed in bars.timed
        if timed.word.text not in (STROKE, REST)
    ]
    if not faults and not any(timed.word.text == STROKE for timed in bars.timed):
        faults = [f"has no stroke; write for example {_EXAMPLE}"]
    for fault in faults[:10]:
        table.report.add(table.place("rhythm"), f"'rhythm'{',' if fault.startswith('bar') else ''} {fault}")
    return None if faults else bars


def _strokes(rhythm: Bars, changes: Changes, bar_beats: int) -> Iterator[tuple[int, Fraction, Fraction]]:
    """Place of the chord, start and length of every stroke; a stroke ends where its chord does."""
    starts = [change.start for change in changes.chords]
    for first_bar in range(0, changes.bars, rhythm.count):
        for timed in rhythm.timed:
            start = (first_bar + timed.start) * bar_beats
            place = bisect_right(starts, start) - 1
            if timed.word.text != STROKE or place < 0:
                continue
            end = changes.chords[place].start + changes.chords[place].length
            if start < end:
                yield place, start, min(timed.length * bar_beats, end - start)


def _counts_strokes(table: Table, fields: WishFields, chords: int, strokes: int) -> bool:
    """Whether the lines have an entry for each stroke; a complaint when they fit neither strokes nor chords."""
    plans = [plan for plan in (fields.top, fields.bottom) if plan is not None and not plan.for_all]
    per_stroke = bool(plans) and all(len(plan.entries) == strokes for plan in plans)
    for plan in plans:
        if not per_stroke and len(plan.entries) != chords:
            entries = counted(len(plan.entries), "entry", "entries")
            there = f"{entries} for {chords} chords and {strokes} strokes"
            table.wrong(plan.field, f"has {there}; give one for each chord, one for each stroke, or a single one")
    return per_stroke


def _pitch_on_top(fields: WishFields, number: int) -> NoteWish | None:
    """The top note of a stroke where the line names a pitch."""
    try:
        return NoteWish(pitch=parse_pitch(fields.top.entry(number).text)) if fields.top is not None else None
    except MusicError:
        return None


def _size(chord: Chord, fields: WishFields, place: int) -> int | None:
    """Three notes, or the fewest that the chord can have, where nothing else is said."""
    if fields.voices or any(kind in KIND_SIZE or kind == "full" for kind in fields.kinds_at(place)):
        return None
    foreign = chord.bass is not None and chord.degree_of(chord.bass.pitch_class) is None
    sizes = [len(tones) for tones in tone_sets(chord)]
    return max(min(sizes), min(SMALL, max(sizes))) + foreign
