"""Sums over strokes from which every number of progress follows, in whole numbers so that adding up is exact.

Offsets and movement scores are judged in tenths; they are added up here in thousandths. Whoever adds them, this module
stroke by stroke or a database a million at a time, comes to the same sum to the last digit.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, fields
from math import sqrt
from operator import attrgetter
from typing import Final

from listener.history.rows import KeptStroke, Target
from listener.history.summary import Grades, Timing
from listener.judging.verdict import HIT, MISS, NEAR

#: One millisecond, or one point of the movement score.
UNIT: Final = 1000


@dataclass(frozen=True, slots=True)
class Tally:
    """Counts and sums over first attempts. ``tops`` counts those at a step with a planned top note, ``tops_right`` the
    right ones; ``offsets`` those with an offset from the click that were no misses. Sums are in thousandths, squares in
    millionths.
    """

    hits: int = 0
    nears: int = 0
    misses: int = 0
    scores: int = 0
    score_sum: int = 0
    tops: int = 0
    tops_right: int = 0
    offsets: int = 0
    offset_sum: int = 0
    offset_squares: int = 0

    @property
    def grades(self) -> Grades:
        """How many got which grade."""
        return Grades(self.hits, self.nears, self.misses)

    @property
    def movement_score(self) -> float | None:
        """The mean, 0 to 100."""
        return self.score_sum / (UNIT * self.scores) if self.scores else None

    @property
    def top_accuracy(self) -> float | None:
        """Share of right top notes."""
        return self.tops_right / self.tops if self.tops else None

    @property
    def timing(self) -> Timing | None:
        """Mean offset and spread about it in ms."""
        count = self.offsets
        if not count:
            return None
        variance = (count * self.offset_squares - self.offset_sum**2) / (UNIT * count) ** 2
        return Timing(self.offset_sum / (UNIT * count), sqrt(variance) if count > 1 else None, count)


_VALUES: Final = attrgetter(*(field.name for field in fields(Tally)))


def total(tallies: Iterable[Tally]) -> Tally:
    """All of them together."""
    columns = zip(*map(_VALUES, tallies), strict=True)
    return Tally(*map(sum, columns))


def tally(strokes: Iterable[KeptStroke], targets: Mapping[int, Target]) -> Tally:
    """The sums over a take's first attempts."""
    return total(_one(stroke, targets.get(stroke.step)) for stroke in strokes if stroke.attempt == 1)


def _one(stroke: KeptStroke, target: Target | None) -> Tally:
    known = target is not None and target.top is not None
    offset = None if stroke.grade == MISS or stroke.offset_ms is None else round(UNIT * stroke.offset_ms)
    return Tally(
        hits=int(stroke.grade == HIT),
        nears=int(stroke.grade == NEAR),
        misses=int(stroke.grade == MISS),
        scores=int(stroke.movement_score is not None),
        score_sum=round(UNIT * (stroke.movement_score or 0.0)),
        tops=int(known),
        tops_right=int(target is not None and known and (stroke.grade == HIT or stroke.top == target.top)),
        offsets=int(offset is not None),
        offset_sum=offset or 0,
        offset_squares=(offset or 0) ** 2,
    )
