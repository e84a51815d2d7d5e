"""What a simulated player is like: how often something slips, how wide chords are plucked and strummed, how even.

Numbers, with how far each can be trusted. *Measured* means: in one take of GuitarSet (Xi, Bittner, Pauwels, Ye, Bello,
ISMIR 2018, CC BY 4.0; 03_BN3-119-G_comp, 48 chords plucked by one player). *Assumed* means that nothing better was
found; no published figure for the width of a strum was.
"""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field
from itertools import accumulate
from math import log
from random import Random
from typing import Final

from listener.simulation.slips import CLOSED_UP, DROPPED, EXTRA, LATE, OCTAVE, WRONG_TOP

#: Shares of chords on which each slip happens (assumed; a demo should show every fault now and then).
_SLIP_SHARES: Final = {
    WRONG_TOP: 0.03,
    DROPPED: 0.03,
    CLOSED_UP: 0.02,
    OCTAVE: 0.02,
    LATE: 0.03,
    EXTRA: 0.02,
}


@dataclass(frozen=True)
class Player:
    """Habits of a simulated player."""

    slip_shares: Mapping[str, float] = field(default_factory=lambda: dict(_SLIP_SHARES))
    #: Common tones on the same string and fret that are let ring instead of plucked again (assumed; measured: none
    #: in 15 changes, but holding them is what the drills teach).
    hold_share: float = 0.3
    #: Chords of this many notes and more are strummed, smaller ones plucked (common practice).
    strum_from: int = 5
    #: First to last onset of a plucked chord: lognormal (measured; cut at 60 ms, more than twice the widest of 48).
    pluck_spread_ms: float = 10.1
    pluck_spread_sigma: float = 0.73
    pluck_spread_most_ms: float = 60.0
    #: Chords in which the thumb comes before the fingers (from the measured bass lead: mean 8.6, sd 7.7 ms).
    thumb_first_share: float = 0.87
    #: First to last string of a strum: uniform (assumed), at most 0.6 of the time to the next chord.
    strum_spread_ms: tuple[float, float] = (15.0, 90.0)
    #: Strums from the highest string down to the lowest (assumed).
    up_strum_share: float = 0.25
    #: Chords that are struck once more, half-way to the next (assumed; a demo plays each once).
    repeat_share: float = 0.0
    #: How uneven the gaps of a strum are: coefficient of variation (measured 0.5 for plucked chords; assumed here).
    gap_variation: float = 0.4
    #: Onset against the click: normal (measured mean +2.7, sd 11.8).
    early_late_ms: float = 3.0
    early_late_sd_ms: float = 12.0
    #: Own pace: each chord takes this much more or less than the drill's tempo says: normal share (assumed).
    pace_sd: float = 0.06
    #: A late slip is this late: uniform (assumed, beyond any drill's tolerance).
    late_ms: tuple[float, float] = (130.0, 190.0)
    #: Notes of a chord are let go over this long: lognormal (measured; cut as below).
    release_spread_ms: float = 57.0
    release_spread_sigma: float = 0.73
    release_spread_most_s: float = 0.07
    #: An undamped string rings this long, strings 1-3 and lower ones: lognormal (assumed).
    ring_s: tuple[float, float] = (1.2, 2.5)
    ring_sigma: float = 0.3
    #: Velocity: a chord's mean and a note's deviation from it: normal, kept within 25 to 127 (assumed).
    velocity: float = 80.0
    velocity_sd: float = 14.0
    note_velocity_sd: float = 9.0
    #: An accent is so much louder; an up-stroke touches at least so many strings, the highest: uniform up to all
    #: (assumed).
    accent_velocity: float = 22.0
    least_up_strings: int = 3
    #: A voice that a drill wants to stand out is so much louder, and a passage that is meant loud or quiet so much
    #: louder or softer (assumed); the top voice is always louder by so much (for tests: somebody with a habit).
    asked_velocity: float = 16.0
    level_velocity: float = 12.0
    top_velocity: float = 0.0
    #: How long before the next chord the fingers leave, in seconds, where a drill wants voices held to the change
    #: (assumed), and always; None: early enough that nothing seems held over. The voices of these ranks (0 is the bass)
    #: are lifted so much earlier (for tests: somebody with a habit).
    asked_leaves_s: float = 0.08
    leaves_s: float | None = None
    lifted: frozenset[int] = frozenset()
    lift_s: float = 0.0

    def pluck_spread_ms_drawn(self, random: Random) -> float:
        """First to last onset of one chord plucked at once."""
        return min(random.lognormvariate(log(self.pluck_spread_ms), self.pluck_spread_sigma), self.pluck_spread_most_ms)

    def strum_delays_s_drawn(self, count: int, spread_ms: float, random: Random) -> list[float]:
        """When each of so many strings (at least one) of a strum of that width sounds, after the first."""
        gaps = [max(0.2, random.gauss(1.0, self.gap_variation)) for _ in range(count - 1)]
        return list(accumulate((gap / sum(gaps) * spread_ms / 1000 for gap in gaps), initial=0.0))

    def release_spread_s_drawn(self, random: Random) -> float:
        """How much later than the hand leaves a note ends."""
        spread_ms = random.lognormvariate(log(self.release_spread_ms), self.release_spread_sigma)
        return min(spread_ms / 1000, self.release_spread_most_s)


#: Nothing goes wrong; everything else as above.
FLAWLESS: Final = Player(slip_shares={})
