"""What a take comes to so far, kept up verdict by verdict, so that a frame after an hour costs what the first one did.

The numbers depend on the verdicts alone. What was counted for the last picture is remembered, and when the verdicts of
the next picture begin with the same ones only the new ones are added.
"""

from __future__ import annotations

from collections import Counter, deque
from dataclasses import dataclass, field
from typing import Final

from listener.judging.verdict import Verdict

#: How many of the last movement scores and timings are kept to be drawn.
RECENT_SCORES: Final = 64
RECENT_OFFSETS: Final = 8


@dataclass(slots=True)
class Tally:
    """Settled verdicts, counted. ``grades`` counts first attempts; ``newest`` is the last verdict on each step.

    Movement scores are 0 to 100; offsets are ms, late positive. To be read only; :func:`tally` keeps it.
    """

    grades: Counter[str] = field(default_factory=Counter)
    newest: dict[int, Verdict] = field(default_factory=dict)
    scores: deque[float] = field(default_factory=lambda: deque(maxlen=RECENT_SCORES))
    offsets_ms: deque[float] = field(default_factory=lambda: deque(maxlen=RECENT_OFFSETS))
    count: int = 0
    _score_sum: float = 0.0
    _score_count: int = 0
    _offset_sum: float = 0.0
    _offset_count: int = 0

    @property
    def mean_score(self) -> float | None:
        """Mean movement score of all changes."""
        return self._score_sum / self._score_count if self._score_count else None

    @property
    def mean_offset_ms(self) -> float | None:
        """How late on the mean, None without a click."""
        return self._offset_sum / self._offset_count if self._offset_count else None

    def add(self, verdict: Verdict) -> None:
        """One more verdict."""
        self.count += 1
        self.newest[verdict.step] = verdict
        self.grades[verdict.grade] += verdict.attempt == 1
        if verdict.movement_score is not None:
            self.scores.append(verdict.movement_score)
            self._score_sum += verdict.movement_score
            self._score_count += 1
        if verdict.offset_ms is not None:
            self.offsets_ms.append(verdict.offset_ms)
            self._offset_sum += verdict.offset_ms
            self._offset_count += 1


class _Kept:
    """The tally of the last picture and the verdicts that are in it."""

    def __init__(self) -> None:
        self.verdicts: tuple[Verdict, ...] = ()
        self.tally = Tally()

    def goes_on_with(self, verdicts: tuple[Verdict, ...]) -> bool:
        """The very same first and last verdict: a take only grows, so all between are the same too."""
        count = len(self.verdicts)
        return not count or (
            len(verdicts) >= count and verdicts[0] is self.verdicts[0] and verdicts[count - 1] is self.verdicts[-1]
        )


_kept = _Kept()


def tally(verdicts: tuple[Verdict, ...]) -> Tally:
    """What these settled verdicts (oldest first) come to."""
    global _kept
    if not _kept.goes_on_with(verdicts):
        _kept = _Kept()
    for verdict in verdicts[_kept.tally.count :]:
        _kept.tally.add(verdict)
    _kept.verdicts = verdicts
    return _kept.tally
