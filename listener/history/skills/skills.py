"""What a take says about each skill, and how the standing of a skill follows from its reviews. Pure.

A change is a pair of skills: ``spread maj 0 6-4-3 -> spread min 1 6-4-3``. It was tried when a first attempt came
straight after a stroke that sounded at the step before.
"""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import datetime
from itertools import pairwise
from statistics import fmean
from typing import Final, NamedTuple

from listener.history.skills.grading import Showing, grade_of
from listener.history.skills.memory import Memory, reviewed
from listener.judging.verdict import HIT, MISS, NEAR

ARROW: Final = " -> "
#: Weight of the newest take in ``recent``. Our own choice: after four takes nine tenths are from these four.
NEWEST: Final = 0.4


class Played(NamedTuple):
    """The columns of a kept stroke that skills ask for; ``top`` is None when nothing sounded."""

    step: int
    attempt: int
    grade: str
    top: int | None
    movement_score: float | None


@dataclass(frozen=True, slots=True)
class Review:
    """One skill in one take: its grade, how often it was tried and hit, and the first step that asked for it.

    ``at`` is when the take ended; reviews come in the order of ``at`` and, where that is the same, of their takes.
    """

    grade: int
    tries: int
    hits: int
    take: int
    route: int
    step: int
    at: datetime

    @property
    def order(self) -> tuple[datetime, int]:
        """What reviews are sorted by."""
        return self.at, self.take


@dataclass(frozen=True, slots=True)
class Standing:
    """Where a player stands with a skill after all its reviews.

    ``recent`` is the share of hits with the newest takes weighing most; ``route`` and ``step`` say where it was asked
    for last.
    """

    memory: Memory
    reviews: int
    tries: int
    hits: int
    recent: float
    take: int
    route: int
    step: int

    @property
    def order(self) -> tuple[datetime, int]:
        """That of the newest review."""
        return self.memory.reviewed_at, self.take


def is_change(key: str) -> bool:
    """Whether a skill is a change from one to another."""
    return ARROW in key


def change_key(before: str, after: str) -> str:
    """The key of a change."""
    return f"{before}{ARROW}{after}"


def sides(key: str) -> tuple[str, ...]:
    """The skills of a change, or the skill itself."""
    return tuple(key.split(ARROW))


def kind_of(key: str) -> str:
    """The voicing kind of a skill (of a change: of what it leads to).

    >>> kind_of("drop 2 & 4 m7 0 5-4-2-1")
    'drop 2 & 4'
    """
    return sides(key)[-1].rsplit(" ", 3)[0]


def keys_of(skills: Mapping[int, str | None]) -> frozenset[str]:
    """All skills that the steps of a route can show, the changes between neighbours too."""
    pairs = ((skills.get(step - 1), skill) for step, skill in skills.items())
    changes = {change_key(before, after) for before, after in pairs if before is not None and after is not None}
    return frozenset(skill for skill in skills.values() if skill is not None) | changes


def showings(
    strokes: Sequence[Played], skills: Mapping[int, str | None], tempo_share: float | None
) -> dict[str, tuple[Showing, int]]:
    """How each skill went in a take, and the first step that asked for it.

    ``strokes`` are all of the take in the order of playing, ``skills`` the skill of each step.
    """
    tried: dict[str, list[Played]] = {}
    for stroke in strokes:
        skill = skills.get(stroke.step)
        if skill is not None and stroke.attempt == 1:
            tried.setdefault(skill, []).append(stroke)
    for before, after in pairwise(strokes):
        source, goal = skills.get(before.step), skills.get(after.step)
        follows = after.step == before.step + 1 and after.attempt == 1 and before.top is not None
        if follows and source is not None and goal is not None:
            tried.setdefault(change_key(source, goal), []).append(after)
    return {
        key: (_showing(those, tempo_share, moved=is_change(key)), min(one.step for one in those))
        for key, those in tried.items()
    }


def reviews(shown: Mapping[str, tuple[Showing, int]], take: int, route: int, at: datetime) -> dict[str, Review]:
    """The reviews that a take gives."""
    return {
        key: Review(grade_of(showing), showing.tries, showing.hits, take, route, step, at)
        for key, (showing, step) in shown.items()
    }


def after(standing: Standing | None, review: Review) -> Standing:
    """The standing after one more review; ValueError when it is older than what is known."""
    share = review.hits / review.tries
    if standing is None:
        memory = reviewed(None, review.grade, review.at)
        return Standing(memory, 1, review.tries, review.hits, share, review.take, review.route, review.step)
    return replace(
        standing,
        memory=reviewed(standing.memory, review.grade, review.at),
        reviews=standing.reviews + 1,
        tries=standing.tries + review.tries,
        hits=standing.hits + review.hits,
        recent=(1 - NEWEST) * standing.recent + NEWEST * share,
        take=review.take,
        route=review.route,
        step=review.step,
    )


def standing_of(found: Iterable[Review]) -> Standing | None:
    """The standing from all reviews of a skill, in whatever order they come; None without any."""
    standing = None
    for review in sorted(found, key=lambda one: one.order):
        standing = after(standing, review)
    return standing


def _showing(strokes: Sequence[Played], tempo_share: float | None, *, moved: bool) -> Showing:
    """Movement belongs to the change, not to the shape that it ends in."""
    scores = [stroke.movement_score for stroke in strokes if stroke.movement_score is not None] if moved else []
    grades = [stroke.grade for stroke in strokes]
    return Showing(
        hits=grades.count(HIT),
        nears=grades.count(NEAR),
        misses=grades.count(MISS),
        movement_score=fmean(scores) if scores else None,
        tempo_share=tempo_share,
    )
