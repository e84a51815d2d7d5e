"""A chord heard in free listening, in words: name, spacing, how the voices moved, what would be smoother."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.judging.free.free import HeardChord
from listener.judging.free.harmony import HarmonyChord
from listener.judging.free.smoother import Smoother
from listener.music.movement import Movement
from listener.music.naming_words import inversion_words
from listener.plain_words import counted

#: So many chords of the harmony are said at the end.
_LAST: Final = 16


def chord_line(chord: HeardChord) -> str:
    """``C: spread, root position; C3 G3 E4, top E4; moved 5 semitones, 1 held.`` and a suggestion, if there is one."""
    said = [f"{name_of(chord)}: {kind_of(chord)}{' '.join(chord.names)}, top {chord.names[-1]}"]
    if chord.movement is not None:
        said.append(moved_words(chord.movement))
    if chord.smoother is not None:
        said.append(smoother_words(chord.smoother))
    return "; ".join(said) + "."


def name_of(chord: HeardChord) -> str:
    """The chord's symbol; single notes and clusters have none."""
    if chord.chord is not None:
        return chord.chord
    return chord.names[0] if len(chord.names) == 1 else "no chord name"


def kind_of(chord: HeardChord) -> str:
    """``spread, root position; `` and nothing where there is no name."""
    return f"{chord.kind}, {inversion_words(chord.inversion)}; " if chord.kind is not None else ""


def moved_words(moved: Movement) -> str:
    """``moved 5 semitones, 1 held, 1 came, 2 left, largest 4``; only what there is is said.

    Without the voices that came and left, a smoother voicing that keeps them all would seem to move no less.
    """
    words = f"moved {counted(moved.semitones, 'semitone')}, {moved.common} held"
    came, left = moved.entered + moved.split, moved.left + moved.merged
    words += (f", {came} came" if came else "") + (f", {left} left" if left else "")
    return words + (f", largest {moved.largest}" if moved.largest > 2 else "")


def smoother_words(smoother: Smoother) -> str:
    """``smoother: close, second inversion, G3 C4 E4 on strings 4 3 2, moves 2 semitones``."""
    voicing = smoother.voicing
    strings = " ".join(map(str, smoother.strings))
    frets = " ".join(map(str, smoother.frets))
    return (
        f"smoother: {voicing.kind}, {inversion_words(voicing.inversion)}, {' '.join(voicing.names)} "
        f"(strings {strings}, frets {frets}), moves {counted(smoother.movement.semitones, 'semitone')}"
    )


def harmony_words(harmony: Sequence[HarmonyChord]) -> str:
    """``C Am7 - F``: the chords that governed, a dash where none did."""
    return " ".join(chord.symbol or "-" for chord in harmony)


def free_summary(chords: Sequence[HeardChord], harmony: Sequence[HarmonyChord] = ()) -> list[str]:
    """The end of free listening."""
    if not chords:
        return ["Nothing was played."]
    changes = [chord.movement for chord in chords if chord.movement is not None]
    lines = [f"{counted(len(chords), 'chord')} heard."]
    if any(chord.chord is not None for chord in harmony):
        last = harmony[-_LAST:]
        lines.append(f"The harmony{' at the end' if len(harmony) > _LAST else ''}: {harmony_words(last)}.")
    if changes:
        mean = sum(moved.semitones for moved in changes) / len(changes)
        held = sum(moved.common for moved in changes)
        lines.append(f"Each change moved {mean:.1f} semitones on average; {counted(held, 'voice')} held.")
    smoother = [chord for chord in chords if chord.smoother is not None]
    if smoother:
        first = smoother[0]
        lines.append(f"{counted(len(smoother), 'change')} could move less, the first of them to {name_of(first)}.")
    return lines
