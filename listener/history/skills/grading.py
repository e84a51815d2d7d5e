"""How well a skill went in one take, as one of four grades. The one place where that is decided; pure.

The algorithm that schedules reviews (:mod:`listener.history.skills.memory`) asks a learner of flash cards to press one
of four buttons. Here nobody presses anything: the take says how it went. The rules are our own choice, as a patient
teacher
would have it, and there is no study behind them:

- *not yet*: more went wrong than right. A near miss is worth half a hit.
- *shaky*: better than that, but not yet five in six.
- *well*: at least five in six.
- *with ease*: every one a hit, two or more of them, with the click at the drill's own tempo or faster, and (where
  voices moved) with hardly more movement than was needed. At the player's own pace nothing ever goes with ease, only
  well: slow practice is right, but it does not show how much time there is to spare. Neither does a take that was not
  the whole drill: a few chords before one breaks off, or a hard spot looped by itself, show no tempo.

Only first attempts count: what was put right at the second try was not there at the first.

To change a rule, change it here, then ``widehand rejudge --write``: it grades every kept take anew.
"""

from __future__ import annotations

from dataclasses import dataclass
from typing import Final

#: As a teacher would say it: not yet, shaky, well, with ease.
AGAIN: Final = 1
HARD: Final = 2
GOOD: Final = 3
EASY: Final = 4

#: Worth of a near miss beside a hit.
NEAR_WORTH: Final = 0.5
#: Shares from which a skill counts as hard and as good.
HARD_FROM: Final = 0.5
GOOD_FROM: Final = 5 / 6
#: What *easy* asks for besides: so many tries, this share of the drill's tempo, this mean movement score (0 to 100).
EASY_TRIES: Final = 2
EASY_TEMPO_SHARE: Final = 1.0
EASY_MOVEMENT: Final = 90.0


@dataclass(frozen=True, slots=True)
class Showing:
    """How often a skill was tried in a take, at first attempts, and how it went.

    ``movement_score`` is the mean over the tries that have one (0 to 100), None when no voice had moved;
    ``tempo_share`` is the tempo as a share of the drill's own, None at the player's own pace and in a take that was not
    the whole drill.
    """

    hits: int
    nears: int = 0
    misses: int = 0
    movement_score: float | None = None
    tempo_share: float | None = None

    @property
    def tries(self) -> int:
        """All of them."""
        return self.hits + self.nears + self.misses

    @property
    def share(self) -> float:
        """What went right, 0 to 1; ValueError when nothing was tried."""
        if self.tries < 1:
            raise ValueError("a skill that was not tried has no grade")
        # One rounding, so that ten of twelve is the very same number as five of six.
        return (self.hits + NEAR_WORTH * self.nears) / self.tries


def grade_of(showing: Showing) -> int:
    """One of :data:`AGAIN`, :data:`HARD`, :data:`GOOD`, :data:`EASY`. ValueError when nothing was tried.

    >>> grade_of(Showing(hits=5, misses=1)) == GOOD, grade_of(Showing(hits=4, tempo_share=1.0)) == EASY
    (True, True)
    """
    share = showing.share
    if share < HARD_FROM:
        return AGAIN
    if share < GOOD_FROM:
        return HARD
    return EASY if _with_ease(showing) else GOOD


def _with_ease(showing: Showing) -> bool:
    fast = showing.tempo_share is not None and showing.tempo_share >= EASY_TEMPO_SHARE
    smooth = showing.movement_score is None or showing.movement_score >= EASY_MOVEMENT
    return fast and smooth and showing.hits == showing.tries >= EASY_TRIES
