"""What notes are called, in a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.music.voicing import FULL, OTHER, Voicing
from listener.plain_words import counted

INVERSIONS: Final = ("root position", "first inversion", "second inversion", "third inversion")


def inversion_words(inversion: int | None) -> str:
    """``first inversion``; a bass that is no tone of the chord is a foreign bass."""
    if inversion is None:
        return "foreign bass"
    return INVERSIONS[inversion] if inversion < len(INVERSIONS) else f"inversion {inversion}"


def reading_words(voicing: Voicing, missing: Sequence[str]) -> str:
    """A voicing in a sentence; ``missing`` are degrees that its chord has and that do not sound."""
    without = f", without its {' and '.join(missing)}" if missing else ""
    return (
        f"{voicing.chord.symbol}{_kind_words(voicing)}, {_position(voicing)} ({'-'.join(voicing.degrees)})"
        f"{without}: {' '.join(voicing.names)}, span {counted(voicing.span, 'semitone')}"
    )


def _kind_words(voicing: Voicing) -> str:
    tones = len(voicing.chord.quality.degrees)
    if tones == 2:
        return " (root and fifth)"
    noun = "triad" if tones == 3 else "voicing"
    if voicing.kind == OTHER:
        return f" {noun}"
    if voicing.kind == FULL:
        return f" {noun} with doubled tones" if tones == 3 else " with doubled tones"
    return f" {voicing.kind} {noun}"


def _position(voicing: Voicing) -> str:
    if voicing.inversion is None:
        return f"over {voicing.pitches[0].tone}"
    if voicing.inversion < len(INVERSIONS) and voicing.degrees[0] not in ("9", "b9", "#9", "11", "#11", "13", "b13"):
        return INVERSIONS[voicing.inversion]
    return f"the {voicing.degrees[0]} in the bass"
