"""What comes after a take: the tempo ladder, hard spots until they are clean, the whole again, or the end. Pure.

Rules, all our own choice, as a patient teacher would have it: after the whole, each hard spot is looped with a count-in
until it was clean :data:`listener.session.spots.CLEAN_TIMES` times in a row, or is left for another day after
:data:`MOST_TRIES` times; then comes the whole again. It ends with the whole: when it was played as often as was asked
for, or else when nothing is left to do (no hard spot, the ladder's top played clean), or after :data:`MOST_WHOLES`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, replace
from typing import Final

from listener.judging.account import Account
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan
from listener.session.ladder import RULES, Ladder, is_clean, ladder_words
from listener.session.spots import CLEAN_TIMES, HardSpot, hard_spots
from listener.session.take.practice import TakeSettings

#: A spot that does not come clean is left for another day after so many times.
MOST_TRIES: Final = 12
#: Whole takes in a row when nobody said how many.
MOST_WHOLES: Final = 30


@dataclass(frozen=True)
class Loop:
    """Where a player stands between two takes. ``settings`` are those of the take that comes next, ``words`` what to
    tell before it; ``done`` when nothing comes by itself any more.

    ``times`` is how many whole takes were asked for, None for as many as it needs. ``spots`` are those still to be
    looped, the first of them now; ``tries`` how often that was.
    """

    plan: Plan
    settings: TakeSettings
    ladder: Ladder | None = None
    with_spots: bool = False
    times: int | None = None
    wholes: int = 0
    spots: tuple[HardSpot, ...] = ()
    tries: int = 0
    words: str = ""
    done: bool = False

    @property
    def loops(self) -> bool:
        """More than a single take was asked for."""
        return self.ladder is not None or self.with_spots or self.times is not None

    def after(self, verdicts: Sequence[Verdict]) -> Loop:
        """The take with these settled verdicts has ended by itself."""
        return self._after_spot(verdicts) if self.spots else self._after_whole(verdicts)

    def skipped(self) -> Loop:
        """The player wants to go on: the spot is left, or the next take begins."""
        return self._next_spot("") if self.spots else self

    def at_tempo(self, tempo: float) -> Loop:
        """The player wants another tempo; the ladder goes on from there."""
        ladder = None
        if self.ladder is not None:
            lowest, highest = min(tempo, self.ladder.lowest), max(tempo, self.ladder.highest)
            ladder = replace(self.ladder, tempo=tempo, lowest=lowest, highest=highest, stayed=0)
        return replace(self, ladder=ladder, settings=replace(self.settings, tempo=tempo))

    def _after_whole(self, verdicts: Sequence[Verdict]) -> Loop:
        account = Account.of_take(self.plan, verdicts)
        ladder = self.ladder.after(account) if self.ladder is not None else None
        spots = hard_spots(self.plan, verdicts) if self.with_spots else ()
        found = replace(self, ladder=ladder, wholes=self.wholes + 1, tries=0, words="")
        if ladder is not None:
            found = replace(found, settings=replace(self.settings, tempo=ladder.tempo))
        if self._enough(account, spots):
            return replace(found, done=True, words=self._last_words(account))
        said = "" if self.ladder is None or ladder is None else ladder_words(self.ladder, ladder) or RULES
        if spots:
            return replace(found, spots=spots)._part(said)
        return found._whole(said)

    def _enough(self, account: Account, spots: Sequence[HardSpot]) -> bool:
        if not self.loops:
            return True
        played = self.wholes + 1
        if self.times is not None:
            return played >= self.times
        climbed = self.ladder is None or (self.ladder.at_top and is_clean(account))
        return played >= MOST_WHOLES or (climbed and not spots)

    def _last_words(self, account: Account) -> str:
        if self.ladder is not None and self.ladder.at_top and is_clean(account):
            return f"{self.ladder.tempo:g} beats a minute, clean: that is the top of the ladder"
        if self.times is None and self.wholes + 1 >= MOST_WHOLES:
            return f"{MOST_WHOLES} times through: let it settle, and come back another day"
        return ""

    def _after_spot(self, verdicts: Sequence[Verdict]) -> Loop:
        spot = self.spots[0].after(verdicts)
        if spot.done:
            return self._next_spot(f"clean {CLEAN_TIMES} times in a row")
        if self.tries + 1 >= MOST_TRIES:
            return self._next_spot("enough of this for now: it will be easier another day")
        return replace(self, spots=(spot, *self.spots[1:]), tries=self.tries + 1)._part("")

    def _next_spot(self, said: str) -> Loop:
        found = replace(self, spots=self.spots[1:], tries=0)
        return found._part(said) if found.spots else found._whole(said)

    def _part(self, said: str) -> Loop:
        spot = self.spots[0]
        settings = replace(self.settings, first_step=spot.first, last_step=spot.last)
        return replace(self, settings=settings, words=_joined(said, spot_words(self.plan, spot)))

    def _whole(self, said: str) -> Loop:
        settings = replace(self.settings, first_step=0, last_step=None)
        if self.with_spots:
            again = "now the whole"
        else:
            again = "once more" + (f", {self.wholes + 1} of {self.times}" if self.times is not None else "")
        return replace(self, settings=settings, words=_joined(said, again))


def spot_words(plan: Plan, spot: HardSpot) -> str:
    """``next: steps 3 to 4 (G7 to C), clean 1 of 3``."""
    first, last = (plan.steps[step].voicing.chord for step in (spot.first, spot.last))
    where = f"step {spot.first + 1} ({first})"
    if spot.last > spot.first:
        where = f"steps {spot.first + 1} to {spot.last + 1} ({first} to {last})"
    return f"next: {where}, clean {spot.clean} of {CLEAN_TIMES}"


def _joined(*parts: str) -> str:
    return "; ".join(part for part in parts if part)
