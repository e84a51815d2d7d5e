"""What every exercise gives: spots, which are chords in time, with whatever the exercise itself settles about them."""

from __future__ import annotations

from collections.abc import Callable, Iterable
from dataclasses import dataclass
from fractions import Fraction
from itertools import islice
from typing import Final

from listener.drill.drill import NoteWish
from listener.drill.reading.fields import Table
from listener.drill.transposing import Move
from listener.errors import MusicError
from listener.music.chord import Chord, parse_chord
from listener.music.pitch import Tone
from listener.music.scale import Key, Scale, parse_scale

#: Steps of the largest drill.
MOST_STEPS: Final = 10_000
#: Gives the bytes of a file that lies beside the drill, by its name; OSError when it cannot be read.
Beside = Callable[[str], bytes]


@dataclass(frozen=True, slots=True)
class PassageFrame:
    """What surrounds an exercise: the key of its passage, the meter (``unit`` as in 6/8), the seed for whatever is
    shuffled, the files beside the drill, and where the passage moves (for exercises that transpose themselves)."""

    key: Key | None
    bar_beats: int
    unit: int = 4
    seed: int = 1
    shuffle: tuple[str, ...] = ()
    beside: Beside | None = None
    move: Move | None = None


@dataclass(frozen=True, slots=True)
class Spot:
    """A chord in time, in beats from the start of its passage, and the line of the file it comes from.

    ``place`` counts the entries of ``kind`` and ``voices``, ``entry`` those of ``top`` and ``bottom`` (the same where
    it is None). The other fields are set where the exercise itself settles them and mean what they do in a wish or
    step. A ``fresh`` spot begins a line anew; ``again`` is the chord before, struck once more; no
    voices lead to an ``unled`` one, which is taken for itself; of one with ``under`` only the top note is new.
    """

    chord: Chord
    start: Fraction
    length: Fraction
    line: int
    place: int
    entry: int | None = None
    top: NoteWish | None = None
    added_top: bool = False
    inversion: int | None = None
    size: int | None = None
    without: tuple[str, ...] = ()
    exact: tuple[int, ...] | None = None
    exact_strings: tuple[int | None, ...] = ()
    spelling: tuple[Tone, ...] = ()
    hold: tuple[int, ...] = ()
    top_motion: str | None = None
    bottom_motion: str | None = None
    fresh: bool = False
    again: bool = False
    unled: bool = False
    under: bool = False


@dataclass(frozen=True, slots=True)
class Round:
    """The spots of an exercise played once, the bars it takes, and how often it is played."""

    spots: tuple[Spot, ...] = ()
    bars: int = 0
    times: int = 1


class TooManySteps(Exception):
    """An exercise, or the drill, goes beyond :data:`MOST_STEPS`."""


def limited(spots: Iterable[Spot]) -> tuple[Spot, ...]:
    """All spots; none is made beyond the largest drill, which raises :class:`TooManySteps`."""
    found = tuple(islice(spots, MOST_STEPS + 1))
    if len(found) > MOST_STEPS:
        raise TooManySteps
    return found


def round_of(spots: Iterable[Spot], frame: PassageFrame, times: int = 1) -> Round:
    """Spots that follow one another from the start, with the whole bars they take."""
    found = limited(spots)
    end = found[-1].start + found[-1].length if found else Fraction(0)
    return Round(found, int(-(-end // frame.bar_beats)), times)


def beats_each(table: Table, frame: PassageFrame) -> Fraction:
    """The field ``beats_each``; a whole bar when nothing is said."""
    return Fraction(table.number("beats_each", 0.25, 64, "beats") or frame.bar_beats).limit_denominator(48)


def read_scale(table: Table, frame: PassageFrame) -> Scale | None:
    """The field ``scale``, of seven notes; else the scale of the key. None when it is wrong, which is reported."""
    if not table.has("scale"):
        return frame.key.scale if frame.key is not None else None
    text = table.text("scale")
    if not text:
        return None
    try:
        scale = parse_scale(text)
    except MusicError as error:
        table.wrong("scale", f"cannot be read: {error}")
        return None
    if len(scale.tones) != 7:
        table.wrong("scale", f"must have seven notes for this exercise; {text} has {len(scale.tones)}")
        return None
    return scale


def read_chord(table: Table, example: str) -> Chord | None:
    """The field ``chord``: one symbol, which has to be there."""
    text = table.text("chord", needed_like=example)
    if not text:
        return None
    try:
        return parse_chord(text)
    except MusicError as error:
        table.wrong("chord", f"cannot be read: {error}")
        return None
