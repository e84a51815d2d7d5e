"""What notes are called, in a sentence."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.music.voicing import FULL, OTHER, Voicing

_ORDINALS: Final = ("root position", "first inversion", "second inversion", "third inversion")


def reading_words(voicing: Voicing, missing: Sequence[str]) -> str:
    """A voicing in a sentence; ``missing`` are degrees that its chord has and that do not sound."""
    without = f", without its {' and '.join(missing)}" if missing else ""
    semitones = "1 semitone" if voicing.span == 1 else f"{voicing.span} semitones"
    return (
        f"{voicing.chord.symbol}{_kind_words(voicing)}, {_position(voicing)} ({'-'.join(voicing.degrees)})"
        f"{without}: {' '.join(voicing.names)}, span {semitones}"
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
    if voicing.inversion < len(_ORDINALS) and voicing.degrees[0] not in ("9", "b9", "#9", "11", "#11", "13", "b13"):
        return _ORDINALS[voicing.inversion]
    return f"the {voicing.degrees[0]} in the bass"
