"""A first guess at chords for a tune that has none, to be edited by somebody with ears.

The rule, in words (a simple form of what harmony books teach; common practice, the weights are our own choice):

- A chord for each bar; also for each half bar where the half lasts at least a dotted quarter (4/4, 6/8, 12/8).
- The chord is one of the key's own: in major I ii iii IV V V7 vi, in minor i iio III iv V V7 VI VII.
- It shall have the notes that are long and begin on strong beats; what it lacks counts against it.
- The tune ends on I where its last notes allow that, with V or V7 before it, and begins on I for choice.
- I, V and IV are taken before the others when they do equally well; changing inside a bar has to be worth it.

Of all rows of chords the one that fulfils this best is found exactly (dynamic programming over the half bars).
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from fractions import Fraction
from typing import Final

from listener.music.chord import Chord
from listener.music.roman import parse_roman
from listener.music.scale import Key, Mode
from listener.tunes.tune import Melody, MelodyNote, TimedChord

#: What the choice is from, and how much each numeral is liked where nothing else decides (in quarter notes covered).
CHOICE: Final[dict[Mode, dict[str, float]]] = {
    "major": {"I": 0.4, "V": 0.3, "IV": 0.2, "V7": 0.1, "vi": 0.0, "ii": 0.0, "iii": -0.4},
    "minor": {"i": 0.4, "V": 0.3, "iv": 0.2, "V7": 0.1, "VI": 0.0, "VII": 0.1, "III": 0.0, "iio": -0.4},
}
_HOME: Final = ("I", "i")
_DOMINANTS: Final = ("V", "V7")
#: How much a note counts by where it begins: on the bar line, on half a bar, on another beat, between beats.
_BAR_LINE, _HALF_BAR, _BEAT, _BETWEEN = 2.0, 1.5, 1.0, 0.6
#: Against a chord, for each quarter note of a note it lacks, before the note's place counts.
_FOREIGN: Final = 1.0
#: A change inside a bar; V to I; V7 to anything else; what beginning, end and the bar before the end are worth.
_INSIDE_BAR: Final = 0.8
_RESOLVES: Final = 0.3
_UNRESOLVED: Final = 0.5
_BEGINS_HOME: Final = 0.5
_ENDS_HOME: Final = 2.0
_CADENCE: Final = 1.0
#: Halves of a bar shorter than this get no chord of their own.
_SHORTEST_HALF: Final = Fraction(3, 2)


@dataclass(frozen=True, slots=True)
class _Span:
    """A bar or half of one, with the notes that sound in it and how much each counts."""

    start: Fraction
    length: Fraction
    opens_bar: bool
    weights: tuple[float, ...]


def harmonise(melody: Melody, key: Key, meter: tuple[int, int]) -> tuple[TimedChord, ...]:
    """Chords under a melody, one after the other from its first full bar to the end of its last, none over a bar line.

    ``meter`` is beats in a bar and their unit; times are in quarter notes, as the melody's.
    """
    spans = tuple(_spans(melody, meter))
    if not spans:
        return ()
    names = tuple(CHOICE[key.mode])
    chords = [parse_roman(name, key) for name in names]
    liked = CHOICE[key.mode].values()
    fits = [[_fit(span, chord) + like for like, chord in zip(liked, chords, strict=True)] for span in spans]
    chosen = _best(names, spans, fits)
    return tuple(_joined(spans, [chords[index] for index in chosen]))


def _spans(melody: Melody, meter: tuple[int, int]) -> Iterator[_Span]:
    bar = Fraction(4 * meter[0], meter[1])
    halves = meter[0] % 2 == 0 and bar / 2 >= _SHORTEST_HALF
    length = bar / 2 if halves else bar
    # In 6/8, 9/8 and 12/8 three eighths are felt as one beat (common practice).
    beat = Fraction(3, 2) if meter[1] == 8 and meter[0] in (6, 9, 12) else Fraction(4, meter[1])
    start, end = melody.pickup_beats, max((note.end_beats for note in melody.notes), default=Fraction(0))
    notes = deque(melody.notes)
    number = 0
    while (at := start + number * length) < end:
        weights = [0.0] * 12
        while notes and notes[0].end_beats <= at:
            notes.popleft()
        for note in notes:
            if note.start_beats >= at + length:
                break
            share = min(note.end_beats, at + length) - max(note.start_beats, at)
            weights[note.pitch.midi % 12] += float(share) * _strength(note, at, start, bar, beat)
        yield _Span(at, length, not halves or number % 2 == 0, tuple(weights))
        number += 1


def _strength(note: MelodyNote, span_start: Fraction, first: Fraction, bar: Fraction, beat: Fraction) -> float:
    """How much a note counts; one that still sounds from before counts from the span's beginning."""
    place = (max(note.start_beats, span_start) - first) % bar
    if place == 0:
        return _BAR_LINE
    if place * 2 == bar:
        return _HALF_BAR
    return _BEAT if place % beat == 0 else _BETWEEN


def _fit(span: _Span, chord: Chord) -> float:
    has = chord.pitch_classes
    return sum(weight if number in has else -_FOREIGN * weight for number, weight in enumerate(span.weights))


def _best(names: Sequence[str], spans: Sequence[_Span], fits: Sequence[Sequence[float]]) -> list[int]:
    """The choice for every span with the greatest sum; of equal ones the numerals that stand first."""
    choice = range(len(names))
    totals = [fits[0][index] + (_BEGINS_HOME if names[index] in _HOME else 0.0) for index in choice]
    back: list[list[int]] = []
    close = _last_bars(spans)
    for place in range(1, len(spans)):
        came: list[int] = []
        new: list[float] = []
        for here in choice:
            ways = [totals[old] + _change(names[old], names[here], spans[place], place >= close) for old in choice]
            best = max(choice, key=ways.__getitem__)
            came.append(best)
            new.append(ways[best] + fits[place][here])
        back.append(came)
        totals = new
    ends = [totals[index] + (_ENDS_HOME if names[index] in _HOME else 0.0) for index in choice]
    chosen = [max(choice, key=ends.__getitem__)]
    for came in reversed(back):
        chosen.append(came[chosen[-1]])
    return chosen[::-1]


def _last_bars(spans: Sequence[_Span]) -> int:
    """Where the last bar but one begins."""
    opening = [place for place, span in enumerate(spans) if span.opens_bar]
    return opening[-2] if len(opening) > 1 else 0


def _change(before: str, after: str, span: _Span, at_the_end: bool) -> float:
    """What going from one chord to the next is worth."""
    if before == after:
        return 0.0
    worth = 0.0 if span.opens_bar else -_INSIDE_BAR
    if before in _DOMINANTS and after in _HOME:
        worth += _RESOLVES + (_CADENCE if at_the_end else 0.0)
    elif before == "V7":
        worth -= _UNRESOLVED
    return worth


def _joined(spans: Sequence[_Span], chords: Sequence[Chord]) -> Iterator[TimedChord]:
    """One chord for both halves of a bar where they are the same; a bar line always begins anew."""
    start, length, chord = spans[0].start, spans[0].length, chords[0]
    for span, after in zip(spans[1:], chords[1:], strict=True):
        if after == chord and not span.opens_bar:
            length += span.length
            continue
        yield TimedChord(start, length, chord)
        start, length, chord = span.start, span.length, after
    yield TimedChord(start, length, chord)
