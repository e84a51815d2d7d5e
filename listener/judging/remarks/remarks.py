"""What a teacher of counterpoint would remark about a change, and a comping player may like as it is. Never a fault.

Each voice is compared with each other. Rules as in Open Music Theory (K. Shaffer and others, version 1, CC BY-SA 4.0),
"basso continuo" and "first species", and in S. Kostka and D. Payne, *Tonal Harmony*, chapter 5 (spacing):

- *parallel fifths, octaves*: two voices a perfect fifth (octave, unison) apart, octaves aside, both move the same way
  and are so again;
- *contrary fifths, octaves*: the same by contrary motion;
- *hidden octave*: the outer voices move the same way into an octave, unless the top voice steps there;
- *crossing*: a lower voice sounds above a higher one;
- *spacing*: neighbouring voices above the lowest are more than an octave apart.

Voices are given by who sings them, lowest voice first, so that crossing can be seen; sorted notes never cross.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from itertools import combinations, pairwise
from typing import Final

PARALLEL: Final = "parallel"
CONTRARY: Final = "contrary"
_FIFTH: Final = 7
_OCTAVE: Final = 0
_NAMES: Final = {_FIFTH: "fifths", _OCTAVE: "octaves"}
#: The largest step, in semitones.
_STEP: Final = 2


@dataclass(frozen=True, slots=True)
class Remark:
    """``code`` for programs (``parallel_fifths``, ``contrary_octaves``, ``hidden_octave``, ``crossing``, ``spacing``),
    ``text`` for players; ``voices`` are the ranks of both, 1 for the lowest."""

    code: str
    text: str
    voices: tuple[int, int]

    def as_json(self) -> dict[str, object]:
        """All fields."""
        return {"code": self.code, "text": self.text, "voices": list(self.voices)}


def remarks(before: Sequence[int], after: Sequence[int]) -> tuple[Remark, ...]:
    """What there is to remark about a change (MIDI notes, lowest voice first).

    With unequal numbers of voices nobody can say who went where: only what the second chord is by itself is remarked.

    >>> [remark.text for remark in remarks((48, 55, 64), (50, 57, 65))]
    ['parallel fifths between voices 1 and 2']
    """
    found: list[Remark] = []
    if len(before) == len(after):
        for low, high in combinations(range(len(after)), 2):
            found += _perfect(before, after, low, high)
        found += _hidden(before, after)
    return (*found, *placing(after))


def placing(voices: Sequence[int]) -> tuple[Remark, ...]:
    """What there is to remark about one chord by itself: crossing and spacing."""
    return (*_crossings(voices), *_gaps(voices))


def _perfect(before: Sequence[int], after: Sequence[int], low: int, high: int) -> Iterator[Remark]:
    moved = after[low] - before[low], after[high] - before[high]
    if not all(moved):
        return
    apart = abs(before[high] - before[low]), abs(after[high] - after[low])
    for interval, name in _NAMES.items():
        if apart[0] % 12 == apart[1] % 12 == interval:
            kind = PARALLEL if (moved[0] > 0) == (moved[1] > 0) else CONTRARY
            yield Remark(f"{kind}_{name}", f"{kind} {name} between {_who(low, high)}", (low + 1, high + 1))


def _hidden(before: Sequence[int], after: Sequence[int]) -> Iterator[Remark]:
    """Only between the outer voices, and only where the octave was none before."""
    if len(after) < 2:
        return
    bass, top = after[0] - before[0], after[-1] - before[-1]
    same_way = bass * top > 0
    arrives = (after[-1] - after[0]) % 12 == _OCTAVE != (before[-1] - before[0]) % 12
    if same_way and arrives and abs(top) > _STEP:
        last = len(after) - 1
        yield Remark("hidden_octave", "hidden octave between the outer voices", (1, last + 1))


def _crossings(voices: Sequence[int]) -> Iterator[Remark]:
    for low, high in combinations(range(len(voices)), 2):
        if voices[low] > voices[high]:
            text = f"voice {low + 1} lies above voice {high + 1}"
            yield Remark("crossing", text, (low + 1, high + 1))


def _gaps(voices: Sequence[int]) -> Iterator[Remark]:
    for low, (below, above) in enumerate(pairwise(voices[1:]), start=1):
        if above - below > 12:
            yield Remark("spacing", f"more than an octave between {_who(low, low + 1)}", (low + 1, low + 2))


def _who(low: int, high: int) -> str:
    return f"voices {low + 1} and {high + 1}"
