"""The tempo ladder: when the click goes up a rung, when it comes down, when it stays.

Rules, all our own choice and common practice among teachers (raising the tempo step by step has not been shown to beat
other ways: P. Henley, JRME 49, 2001, found no effect):

- a clean take, the whole drill with at least :data:`CLEAN` of its chords hits and no miss, climbs one rung;
- a rough take, less than :data:`ROUGH` hits, comes down two;
- anything else stays; three takes on the same rung that are neither come down one, so that nobody gets stuck;
- a rung is 4 % of the tempo, at least one beat a minute: the average listener just hears a change of 3 to 4 % (C.
  Drake and M.-C. Botte, Perception & Psychophysics 54, 1993).
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

from listener.judging.account import Account

CLEAN: Final = 0.95
ROUGH: Final = 0.7
RUNG: Final = 0.04
PATIENCE: Final = 3
#: How far the ladder comes down below where it began, as a share of that tempo (our choice).
DEPTH: Final = 0.6
#: The rule that matters here, for players.
RULES: Final = f"the same tempo again: {100 * CLEAN:.0f} % hits and no miss make it faster"


@dataclass(frozen=True, slots=True)
class Ladder:
    """Where a player stands: ``tempo`` and its limits in beats per minute, takes spent on this rung so far."""

    tempo: float
    lowest: float
    highest: float
    stayed: int = 0

    def after(self, account: Account) -> Ladder:
        """The rung for the next take. A take that was broken off changes nothing.

        >>> Ladder(60, 40, 90).after(Account(steps=8, reached=8, hits=8)).tempo
        62
        """
        if account.broken_off or not account.judged:
            return self
        if is_clean(account):
            return self._to(self.tempo + self._rung())
        if account.share < ROUGH:
            return self._to(self.tempo - 2 * self._rung())
        if self.stayed + 1 >= PATIENCE:
            return self._to(self.tempo - self._rung())
        return replace(self, stayed=self.stayed + 1)

    @property
    def at_top(self) -> bool:
        """The tempo that was aimed at is reached."""
        return self.tempo >= self.highest

    def _rung(self) -> int:
        return max(1, round(RUNG * self.tempo))

    def _to(self, tempo: float) -> Ladder:
        return replace(self, tempo=min(self.highest, max(self.lowest, tempo)), stayed=0)


def is_clean(account: Account) -> bool:
    """Clean enough to climb: the whole drill, not only as far as it went."""
    return account.complete and not account.misses and account.share >= CLEAN


def ladder_words(before: Ladder, after: Ladder) -> str:
    """What to tell the player before the next take; empty when nothing changes."""
    if after.tempo > before.tempo:
        return f"clean: now {after.tempo:g} beats a minute"
    if after.tempo < before.tempo:
        return f"a little slower, {after.tempo:g} beats a minute, until it is easy"
    return ""
