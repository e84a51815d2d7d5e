"""Writing a drill file: a sketch of a drill as a TOML text with a note beside every field.

The vocabulary is that of ``docs/drill-file.md``; what is written here is read back by
:func:`listener.drill.drill_file.read_drill`.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass
from textwrap import wrap
from typing import Final

from listener.drill.reading.attached import with_attached
from listener.drill.reading.fixed_notes import NOTES
from listener.safe_text import printable, toml_escaped, toml_text
from listener.tunes.bars import MOST_CHORDS
from listener.tunes.chord_line import CHORDS
from listener.tunes.chord_line_text import in_lines

#: What the melody's file is called inside the drill.
MELODY_NAME: Final = "melody.mid"
_WIDTH: Final = 110


@dataclass(frozen=True, slots=True)
class PlayedPassage:
    """A passage whose notes are known: ``chords`` in bars, for each chord an entry of ``notes`` and its name, and of
    ``top`` the highest notes where the planner could voice other chords under them."""

    chords: str
    notes: tuple[str, ...]
    names: tuple[str, ...]
    top: tuple[str, ...] = ()
    times: int = 1


@dataclass(frozen=True)
class Sketch:
    """What a new drill shall be. Texts are those of the drill file's fields of the same name.

    ``chords`` is a progression in bars, ``notation`` the field it goes into: ``chords`` or ``numerals``. ``tempo`` is
    in beats a minute, ``top`` empty where nothing is wished, ``frets`` the lowest and highest fret or None. ``melody``
    is the tune on top as a Standard MIDI File, which is carried inside the drill; empty without one. ``remarks`` become
    notes at the head of the file. With ``played`` these are the passages, not ``chords`` and how they are voiced.
    """

    title: str
    key: str
    chords: str
    notation: str = CHORDS
    kind: str = "any"
    top: str = ""
    tempo: float = 60.0
    meter: str = "4/4"
    topic: str = "my own"
    about: str = ""
    frets: tuple[int, int] | None = None
    melody: bytes = b""
    remarks: tuple[str, ...] = ()
    played: tuple[PlayedPassage, ...] = ()


def drill_text(sketch: Sketch, file: str = "my-drill.toml") -> str:
    """The drill file; ``file`` is what it will be called, for the note on how to check it."""
    text = "\n".join(_lines(sketch, file)) + "\n"
    return with_attached(text, {MELODY_NAME: sketch.melody}) if sketch.melody else text


def _lines(sketch: Sketch, file: str) -> Iterator[str]:
    yield "# A drill file: change what you like. What follows a # is a note to yourself."
    yield f"# Afterwards: widehand drills check {printable(file)}"
    for remark in sketch.remarks:
        yield from _comment(remark)
    yield ""
    yield "# What it is called."
    yield f"title = {toml_text(sketch.title)}"
    yield "# What it is about, in two or three words."
    yield f"topic = {toml_text(sketch.topic)}"
    if sketch.about:
        yield "# What it is for."
        yield f"about = {toml_text(sketch.about)}"
    yield "# The key, such as G, Bb or F# minor."
    yield f"key = {toml_text(sketch.key)}"
    yield "# Beats a minute. A beat is the unit of the meter: an eighth in 6/8."
    yield f"tempo = {sketch.tempo:g}"
    yield "# Beats in a bar, and their unit."
    yield f"meter = {toml_text(sketch.meter)}"
    for number, passage in enumerate(sketch.played):
        yield from _played(passage, first=number == 0)
    if not sketch.played:
        yield ""
        yield "[[passage]]"
        yield from _chords(sketch)
        yield from _voicing(sketch)


def _played(passage: PlayedPassage, *, first: bool) -> Iterator[str]:
    """A passage as it was played; what is said beside the fields is said once."""
    yield ""
    yield "[[passage]]"
    if first:
        yield "# Chord symbols in bars. | ends a bar, the chords in a bar share it equally, a dot makes a chord one"
        yield "# share longer, N.C. is a rest. ? is a chord without a name."
    yield from _text(CHORDS, passage.chords)
    if passage.times > 1:
        yield f"times = {passage.times}"
    if first:
        yield "# The notes of each chord, as they were played, with their strings (1 is the highest) where these are"
        yield '# known. "any" leaves a chord to the planner.'
    yield f"{NOTES} = ["
    yield from (f"  {toml_text(entry)},  # {name}" for entry, name in zip(passage.notes, passage.names, strict=True))
    yield "]"
    if passage.top:
        if first:
            yield "# The top line alone: put it in place of 'notes', and the planner voices the chords anew under it."
        yield f"# top = {toml_text(' '.join(passage.top))}"


def _chords(sketch: Sketch) -> Iterator[str]:
    what = "Chord symbols" if sketch.notation == CHORDS else "Roman numerals of the key"
    yield f"# {what} in bars. | ends a bar, the chords in a bar share it equally, a dot makes a chord one share"
    yield "# longer, % repeats the bar before, N.C. is a rest."
    yield from _text(sketch.notation, sketch.chords)


def _text(field: str, chords: str) -> Iterator[str]:
    """A field with bars, on one line or on several."""
    lines = _in_lines(chords)
    if len(lines) == 1:
        yield f"{field} = {toml_text(lines[0])}"
        return
    yield f'{field} = """'
    yield from (f"  {toml_escaped(line)}" for line in lines)
    yield '"""'


def _voicing(sketch: Sketch) -> Iterator[str]:
    yield "# How they are spaced: close, spread, shell, drop 2, drop 3, drop 2 & 4, full (strummed) or any."
    yield '# "spread or drop 2" leaves the choice to the planner.'
    yield f"kind = {toml_text(sketch.kind)}"
    if sketch.frets is not None:
        yield "# The lowest and the highest fret that may be pressed."
        yield f"frets = [{sketch.frets[0]}, {sketch.frets[1]}]"
    if sketch.melody:
        yield "# The tune on top. It is carried at the end of this file; every note of it has its chord."
        yield f"melody = {toml_text(MELODY_NAME)}"
        return
    yield "# The highest note: a degree of the chord (3), pitches (E4 F4 ...), up, down, same, keep or any."
    yield f"top = {toml_text(sketch.top)}" if sketch.top else '# top = "3"'


def _in_lines(chords: str) -> list[str]:
    """The progression four bars to a line; one that has lines already keeps them."""
    lines = [line for line in (line.strip() for line in chords.splitlines()) if line]
    if len(lines) != 1:
        return lines or [""]
    bars = [bar.strip() for bar in lines[0].split("|")]
    return in_lines([bar for bar in bars if bar][:MOST_CHORDS]).splitlines() or [""]


def _comment(text: str) -> Iterator[str]:
    yield from (f"# {line}" for line in wrap(printable(text), _WIDTH) or [""])
