"""From a progression that somebody typed to the sketch of a drill."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from typing import Final

from listener.drill.drill_file import read_drill
from listener.drill.drill_text import Sketch, drill_text
from listener.errors import DrillError
from listener.music.scale import Key, parse_key
from listener.tunes.chord_line import ChordLine, read_chord_line
from listener.tunes.likely_key import key_of_chords

#: Kinds of voicing that are proposed: where all chords are triads, and where some have more tones, in this order.
_TRIADS: Final = ("spread", "any")
_LARGER: Final = ("spread or drop 2 or drop 3", "any")


def progression_sketch(line: ChordLine, key: Key | None, *, title: str, kind: str | None = None) -> tuple[Sketch, bool]:
    """The sketch, and whether its key was guessed. Where no kind is named, spread ones are taken as far as they go."""
    chosen = key or key_of_chords((one.chord, float(one.length)) for one in line.chords)
    sketch = Sketch(title=title, key=str(chosen), chords=line.text, notation=line.notation, kind=kind or "any")
    if kind is None:
        sketch = with_fields(sketch, kind=proposed_kind(sketch))
    return sketch, key is None


def proposed_kind(sketch: Sketch) -> str:
    """``spread`` where all chords are triads, with drop voicings where some are not, else any."""
    chords = read_chord_line(sketch.chords, parse_key(sketch.key)).chords
    kinds = _TRIADS if all(len(one.chord.quality.degrees) <= 3 for one in chords) else _LARGER
    return next((kind for kind in kinds if not faults(with_fields(sketch, kind=kind))), kinds[-1])


def with_fields(sketch: Sketch, **fields: str) -> Sketch:
    """The sketch with some of its texts replaced."""
    return replace(sketch, **fields)  # type: ignore[arg-type]  # all fields given here are texts


def faults(sketch: Sketch) -> Sequence[str]:
    """What the reader of drill files has against it, without line numbers; empty when it is a good drill."""
    try:
        read_drill(drill_text(sketch), "drill")
    except DrillError as error:
        return tuple(dict.fromkeys(problem.text for problem in error.problems))
    return ()
