"""How singable each voice is, over a plan or a take: what it held, stepped, skipped and leapt, and how far it ranged.

Voices are told by their rank: the top line, the bottom line, and those between counted from the top, these only where
the number of notes stays the same (as in :mod:`listener.planning.report`). A hold is 0, a step 1-2, a skip 3-4, a leap
5 semitones or more. The yardstick is what singers were asked for in chorales (``shared/chorale_voices.toml``): a top
line beside sopranos, a bottom line beside basses, inner voices beside altos and tenors. It is no rule.
"""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from functools import cache
from itertools import pairwise
from typing import Final

from listener.data import shared_table
from listener.judging.verdict import Verdict
from listener.music.movement import step_word

TOP: Final = "top"
BOTTOM: Final = "bottom"
_WORDS: Final = ("hold", "step", "skip", "leap")


@dataclass(frozen=True, slots=True)
class Chorale:
    """How one voice of the chorales moves from beat to beat: shares 0 to 1, mean distance in semitones."""

    voice: str
    hold: float
    step: float
    skip: float
    leap: float
    mean_semitones: float

    @property
    def smooth(self) -> float:
        """Share of moves that hold or step."""
        return self.hold + self.step


@dataclass(frozen=True, slots=True)
class VoiceSinging:
    """One voice. Counts of moves; ``largest`` and ``semitones`` (all moves together) in semitones; ``low`` and
    ``high`` are the lowest and highest note (MIDI) that it sang."""

    name: str
    holds: int
    steps: int
    skips: int
    leaps: int
    semitones: int
    largest: int
    low: int
    high: int
    beside: Chorale

    @property
    def moves(self) -> int:
        """Changes in which this voice could be followed; at least one."""
        return self.holds + self.steps + self.skips + self.leaps

    @property
    def smooth(self) -> float:
        """Share of moves that held or stepped, 0 to 1."""
        return (self.holds + self.steps) / self.moves

    @property
    def mean_semitones(self) -> float:
        """Mean distance of a move."""
        return self.semitones / self.moves

    @property
    def range_semitones(self) -> int:
        """Lowest to highest note."""
        return self.high - self.low

    def as_json(self) -> dict[str, object]:
        """Counts, shares 0 to 1, distances in semitones, notes as MIDI numbers."""
        counts = dict(zip(_WORDS, (self.holds, self.steps, self.skips, self.leaps), strict=True))
        return {
            "voice": self.name,
            "changes": self.moves,
            "counts": counts,
            "shares": {word: round(count / self.moves, 3) for word, count in counts.items()},
            "mean_semitones": round(self.mean_semitones, 3),
            "largest": self.largest,
            "low": self.low,
            "high": self.high,
            "range": self.range_semitones,
            "chorales": {
                "voice": self.beside.voice,
                "shares": {word: round(getattr(self.beside, word), 3) for word in _WORDS},
                "mean_semitones": self.beside.mean_semitones,
            },
        }


@dataclass(frozen=True, slots=True)
class Singing:
    """All voices that could be followed, top first, bottom second."""

    voices: tuple[VoiceSinging, ...]

    def voice(self, name: str) -> VoiceSinging | None:
        """The voice of that name (``top``, ``bottom``, ``inner 1`` and so on)."""
        return next((voice for voice in self.voices if voice.name == name), None)

    def as_json(self) -> dict[str, object]:
        """``{"voices": [...]}``."""
        return {"voices": [voice.as_json() for voice in self.voices]}


@cache
def chorale(voice: str) -> Chorale:
    """How ``soprano``, ``alto``, ``tenor`` or ``bass`` moves from beat to beat in the chorales."""
    row = shared_table("chorale_voices")["changes"][voice]
    hold, step, skip, leap = (row[word] / 100 for word in _WORDS)
    return Chorale(voice, hold, step, skip, leap, row["mean_semitones"])


def singing(runs: Iterable[Sequence[Sequence[int]]]) -> Singing:
    """The voices of one or more runs of chords (MIDI notes, any order); between runs nothing moves.

    >>> top = singing([[(48, 55, 64), (48, 57, 65), (50, 55, 71)]]).voice("top")
    >>> (top.steps, top.leaps, top.largest, top.range_semitones) if top else None
    (1, 1, 6, 7)
    """
    lines: dict[str, list[tuple[int, int]]] = {}
    for run in runs:
        chords = [tuple(sorted(set(chord))) for chord in run]
        for before, after in pairwise(chords):
            for name, pair in _followed(before, after):
                lines.setdefault(name, []).append(pair)
    order = {TOP: "", BOTTOM: " "}
    return Singing(tuple(_voice(name, lines[name]) for name in sorted(lines, key=lambda name: order.get(name, name))))


def singing_of(verdicts: Iterable[Verdict]) -> Singing:
    """The voices of a take, from its settled verdicts in order; silence and jumps begin a new run."""
    runs: list[list[tuple[int, ...]]] = []
    for verdict in verdicts:
        if not verdict.settled:
            continue
        if verdict.movement is None or not runs:
            runs.append([])
        if verdict.heard:
            runs[-1].append(verdict.heard)
    return singing(runs)


def _followed(before: tuple[int, ...], after: tuple[int, ...]) -> list[tuple[str, tuple[int, int]]]:
    if not before or not after:
        return []
    found = [(TOP, (before[-1], after[-1]))]
    if len(before) > 1 and len(after) > 1:
        found.append((BOTTOM, (before[0], after[0])))
    if len(before) == len(after):
        inner = zip(before[-2:0:-1], after[-2:0:-1], strict=True)
        found += [(f"inner {number}", pair) for number, pair in enumerate(inner, start=1)]
    return found


def _voice(name: str, moves: Sequence[tuple[int, int]]) -> VoiceSinging:
    distances = [abs(after - before) for before, after in moves]
    words = [step_word(distance) for distance in distances]
    notes = [note for move in moves for note in move]
    holds, steps, skips, leaps = (words.count(word) for word in _WORDS)
    singer = {TOP: "soprano", BOTTOM: "bass", "inner 1": "alto"}.get(name, "tenor")
    return VoiceSinging(
        name, holds, steps, skips, leaps, sum(distances), max(distances), min(notes), max(notes), chorale(singer)
    )
