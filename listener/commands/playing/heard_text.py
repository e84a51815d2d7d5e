"""What ``hear`` says about each stroke without a drill, as a line or as JSON, one at a time.

So a file of any length needs little memory, and what comes back is not put into words again.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Iterable, Iterator, Mapping, Sequence
from functools import lru_cache
from typing import Final

from listener.formats import format_of
from listener.hearing.cleaning import cleaned_json, counted_words
from listener.judging.free.free import HeardChord
from listener.judging.free.harmony import HarmonyChord
from listener.judging.words import inversion_word
from listener.music.movement import Movement
from listener.screen.free.words import smoother_words
from listener.screen.words import pickup_words

#: The chords that governed, asked for when all has been heard.
Governing = Callable[[], Sequence[HarmonyChord]]
#: So many of them stand in a line of 80 columns.
_IN_A_LINE: Final = 4
#: How often each kind of the pickup's errors was set right, asked for when all has been heard.
Cleaned = Callable[[], Mapping[str, int]]


def json_pieces(heard: Iterable[HeardChord], harmony: Governing, cleaned: Cleaned) -> Iterator[str]:
    """The document of ``hear --json`` in pieces."""
    yield f'{{"format": "{format_of("chords")}", "strokes": ['
    yield from _separated(map(entry, heard))
    yield '], "harmony": ['
    yield from _separated(json.dumps(chord.as_json()) for chord in harmony())
    yield f'], "cleaned": {json.dumps(cleaned_json(cleaned()))}}}\n'


def _separated(entries: Iterable[str]) -> Iterator[str]:
    for index, one in enumerate(entries):
        yield ", " + one if index else one


def entry(chord: HeardChord) -> str:
    """``json.dumps(chord.as_json())``, quicker."""
    if chord.smoother is not None:
        return json.dumps(chord.as_json())
    what = _what(chord.pitches, chord.held, chord.names, chord.chord, chord.kind, chord.inversion)
    return (
        f'{{"onset_s": {chord.onset_s!r}, "spread_ms": {chord.spread_ms!r}, {what}, '
        f'"movement": {_moved(chord.movement)}, "smoother": null}}'
    )


@lru_cache(maxsize=8192)
def _what(
    pitches: tuple[int, ...],
    held: tuple[int, ...],
    names: tuple[str, ...],
    chord: str | None,
    kind: str | None,
    inversion: int | None,
) -> str:
    spelled = ", ".join(map(_word, names))
    return (
        f'"pitches": {list(pitches)}, "held": {list(held)}, "names": [{spelled}], "chord": {_word(chord)}, '
        f'"kind": {_word(kind)}, "inversion": {_word(inversion)}, "top": {_word(names[-1])}'
    )


@lru_cache(maxsize=2048)
def _word(value: str | int | None) -> str:
    return json.dumps(value)


def _moved(moved: Movement | None) -> str:
    if moved is None:
        return "null"
    return (
        f'{{"semitones": {moved.semitones}, "voices": {list(moved.voices)}, "common": {moved.common}, '
        f'"largest": {moved.largest}, "cost": {moved.cost}, "entered": {moved.entered}, "left": {moved.left}, '
        f'"split": {moved.split}, "merged": {moved.merged}}}'
    )


def lines(heard: Iterable[HeardChord], harmony: Governing, cleaned: Cleaned) -> Iterator[str]:
    """The same for people: a line for each stroke, then how many there were, the chords that governed from when on, and
    what was set right."""
    count = 0
    for chord in heard:
        count += 1
        moved = "" if chord.movement is None else f"  moved {chord.movement.semitones}"
        said = _said(chord.names, chord.chord, chord.kind, chord.inversion)
        yield f"{chord.onset_s:8.2f} s  {said}{moved}\n"
        if chord.smoother is not None:
            yield f"{'':12}{smoother_words(chord.smoother)}\n"
    yield f"{count} chords and notes heard\n"
    governing = harmony()
    if any(chord.chord is not None for chord in governing):
        yield "The harmony, with the second from which on each chord holds:\n"
        for first in range(0, len(governing), _IN_A_LINE):
            row = governing[first : first + _IN_A_LINE]
            yield "".join(f"{chord.onset_s:8.2f} {chord.symbol or '-':<8}" for chord in row).rstrip() + "\n"
    words = counted_words(cleaned())
    if words:
        yield pickup_words(words) + "\n"


@lru_cache(maxsize=8192)
def _said(names: tuple[str, ...], chord: str | None, kind: str | None, inversion: int | None) -> str:
    if len(names) == 1 and chord is None:  # beside D5, the fifth on D, the note D5 must not look like a chord
        return f"a single note: {names[0]}"
    spacing = "" if kind is None else f" {kind}, {inversion_word(inversion)}"
    return f"{chord or 'no chord name':<8}{spacing}: {' '.join(names)}"
