"""Drills written on the spot for single shapes and changes, from how they lay on the neck before.

Every step fixes kind, outer notes, number of notes and strings, so that what was played in some drill can be played in
this one as well, on the same guitar. What the drill file cannot ask for (a melody note that the chord does not have,
held tones) is left out.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from listener.drill.exercises.weak_changes import ARROW
from listener.drill.reading.wish_fields import KIND_SIZE
from listener.errors import MusicError
from listener.music.chord import parse_chord
from listener.music.voicing import ANY, KINDS, SHELL
from listener.safe_text import printable, toml_text

#: Beats for each chord of such a drill: time to look, place and listen.
BEATS_EACH: Final = 4
TEMPO: Final = 60.0
#: How often a shape, or a change, is played in one go.
TIMES: Final = 4


@dataclass(frozen=True, slots=True)
class Shape:
    """A voicing as it lay on the neck. ``pitches`` are MIDI, low to high; ``strings`` count from 1, the highest."""

    chord: str
    kind: str
    strings: tuple[int, ...]
    pitches: tuple[int, ...]


def skill_drill(groups: Iterable[Sequence[Sequence[Shape]]], *, title: str, about: str = "") -> str | None:
    """A drill file with a passage for each group: changes, or chords of one shape, to be played :data:`TIMES` times.

    A group holds changes of the same length; a single chord is a change of length one. None when nothing is left.
    """
    passages = [text for group in groups if (text := _passage(group))]
    if not passages:
        return None
    return "\n".join([drill_head(title, about), *passages])


def drill_head(title: str, about: str = "") -> str:
    """What stands above the passages of a drill for one day."""
    head = f'title = {toml_text(printable(title))}\nkey = "C major"\ntempo = {TEMPO:g}\ntopic = "for today"\n'
    return head + (f"about = {toml_text(printable(about))}\n" if about else "")


def _passage(group: Sequence[Sequence[Shape]]) -> str:
    good = [changes for changes in group if changes and all(map(_can_be_asked, changes))]
    if not good:
        return ""
    if len(good[0]) == 1:
        return _shapes([changes[0] for changes in good])
    return "\n".join(map(_change, good))


def _shapes(shapes: Sequence[Shape]) -> str:
    """One shape through its chords: a progression, one chord in a bar, the round as often as makes sense."""
    times = max(1, -(-TIMES // len(shapes)))
    chords = " | ".join(shape.chord for shape in shapes)
    return f"[[passage]]\nchords = {toml_text(chords)}\ntimes = {times}\n{_wishes(shapes)}"


def _change(shapes: Sequence[Shape]) -> str:
    words = f" {ARROW} ".join(shape.chord for shape in shapes)
    return (
        f'[[passage]]\nexercise = "weak changes"\nchanges = [{toml_text(words)}]\n'
        f"times = {TIMES}\nbeats_each = {BEATS_EACH}\n{_wishes(shapes)}"
    )


def _wishes(shapes: Sequence[Shape]) -> str:
    kinds = [_kind(shape) for shape in shapes]
    left_out = _left_out(shapes)
    strings = sorted({string for shape in shapes for string in shape.strings}, reverse=True)
    return (
        f"kind = {_listed(kinds)}\nvoices = [{', '.join(str(len(shape.pitches)) for shape in shapes)}]\n"
        f"top = {_listed([_note(shape, -1) for shape in shapes])}\n"
        f"bottom = {_listed([_note(shape, 0) for shape in shapes])}\n"
        f"strings = [{', '.join(map(str, strings))}]\n" + (f"without = {_listed(left_out)}\n" if left_out else "")
    )


def _left_out(shapes: Sequence[Shape]) -> list[str]:
    """Degrees that none of the shapes sounds though its chord has them; a shell leaves out the fifth anyway."""
    silent: dict[str, bool] = {}
    for shape in shapes:
        sounding = {midi % 12 for midi in shape.pitches}
        for degree, tone in parse_chord(shape.chord).tones.items():
            missing = tone.pitch_class not in sounding and shape.kind != SHELL
            silent[degree] = silent.get(degree, True) and missing
    return [degree for degree, missing in silent.items() if missing]


def _kind(shape: Shape) -> str:
    """The kind to ask for. With a melody note laid over it, it has more notes than its kind: any spacing will do."""
    usual = KIND_SIZE.get(shape.kind, len(shape.pitches))
    return shape.kind if shape.kind in KINDS and usual == len(shape.pitches) else ANY


def _can_be_asked(shape: Shape) -> bool:
    """Whether a drill file can ask for these outer notes of this chord."""
    if not shape.pitches:
        return False
    try:
        _note(shape, 0), _note(shape, -1)
    except MusicError:
        return False
    return True


def _note(shape: Shape, place: int) -> str:
    """A note of the chord as the chord spells it; MusicError when the chord does not have it."""
    midi = shape.pitches[place]
    tone = parse_chord(shape.chord).tone_of(midi)
    if tone is None:
        raise MusicError(f"{shape.chord} does not have this note", text=shape.chord)
    return str(tone.pitch(midi))


def _listed(words: Sequence[str]) -> str:
    return f"[{', '.join(map(toml_text, words))}]"
