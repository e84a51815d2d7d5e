"""When a skill is due again: the published FSRS algorithm, version 6, through the library ``fsrs``.

FSRS was fitted to the reviews of flash cards, which is memory for facts. No study is known that shows it for chords
under the fingers; what it gives here is a reasonable order and spacing, not a measurement of a hand. The library's own
weights are used, the published ones, and its random variation of intervals is off, so that the same takes always give
the same dates. The library counts whole days between two reviews.

Source: J. Ye and others, py-fsrs 6 (MIT licence), ``fsrs/scheduler.py``. Pinned by the tables ``fsrs_vectors.csv`` and
``fsrs_forgetting_curve.csv`` in ``tests/outside/tables``.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import UTC, datetime
from functools import cache
from typing import TYPE_CHECKING, Final

if TYPE_CHECKING:
    from fsrs import Card, Scheduler

#: What the player is told about it.
HONEST_NOTE: Final = (
    "The dates come from FSRS, an algorithm fitted to people learning flash cards, not to hands learning chords. "
    "Take them as a sensible order, not as a measurement; your own ear and your teacher know better."
)
#: A skill is due when the chance that it is still there has fallen to this (the library's default).
WANTED: Final = 0.9
#: Stages of a skill, by the library's numbers.
LEARNING: Final = 1
REVIEW: Final = 2
RELEARNING: Final = 3


@dataclass(frozen=True, slots=True)
class Memory:
    """What the algorithm knows about a skill.

    ``stability_days`` is the time after which the chance that it is still there has fallen to nine in ten,
    ``difficulty`` lies between 1 and 10, ``stage`` is one of :data:`LEARNING`, :data:`REVIEW`, :data:`RELEARNING`, and
    ``step`` counts the short repetitions at the start of learning (None in review). Times are in UTC.
    """

    stability_days: float
    difficulty: float
    stage: int
    step: int | None
    reviewed_at: datetime
    due_at: datetime


def reviewed(before: Memory | None, grade: int, at: datetime) -> Memory:
    """What is known after a review with this grade (1 to 4) at this time; ``before`` is None at the first.

    ValueError for a grade that is none and for a time before the last review.
    """
    from fsrs import Card, Rating

    at = at.astimezone(UTC)
    if before is not None and at < before.reviewed_at:
        raise ValueError(f"a review at {at} after one at {before.reviewed_at}")
    # Whatever is left out of a card is filled in from the clock.
    card = Card(card_id=0, due=at) if before is None else _card(before)
    after, _log = _scheduler().review_card(card, Rating(grade), at)
    assert after.stability is not None
    assert after.difficulty is not None
    return Memory(after.stability, after.difficulty, int(after.state), after.step, at, after.due)


def recall(stability_days: float, elapsed_days: float) -> float:
    """The chance, 0 to 1, that something of this stability is still there after so many days: the forgetting curve.

    R(t, S) = (1 + F t/S)^D with D the library's decay and F such that R(S, S) is nine in ten. The library gives the
    same for whole days and asks for a card each time.

    >>> round(recall(10.0, 10.0), 9), recall(10.0, 0.0)
    (0.9, 1.0)
    """
    decay, factor = _curve()
    return float((1.0 + factor * max(0.0, elapsed_days) / stability_days) ** decay)


@cache
def _curve() -> tuple[float, float]:
    decay = -_scheduler().parameters[-1]
    return decay, WANTED ** (1.0 / decay) - 1.0


@cache
def _scheduler() -> Scheduler:
    from fsrs import Scheduler

    return Scheduler(desired_retention=WANTED, enable_fuzzing=False)


def _card(memory: Memory) -> Card:
    from fsrs import Card, State

    return Card(
        card_id=0,
        state=State(memory.stage),
        step=memory.step,
        stability=memory.stability_days,
        difficulty=memory.difficulty,
        due=memory.due_at,
        last_review=memory.reviewed_at,
    )
