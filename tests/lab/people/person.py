"""Who plays: the habits that one person has in everything they play, drawn anew for every take.

The spreads, loudness and ring of strings are :class:`listener.simulation.player.Player`'s, which says which of
them are measured; what is added here is assumed: made wide enough that no two people sound alike.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from random import Random
from typing import Final

from listener.simulation.player import FLAWLESS, Player


@dataclass(frozen=True, slots=True)
class Release:
    """How the left hand leaves a chord. ``lift_s`` before the next one the strings that it needs fall silent; those
    that it does not need ring on into it with the chance ``keep_share``, for ``keep_s``. ``length_s``: who plays
    staccato stops everything so long after the last string was plucked."""

    name: str
    lift_s: tuple[float, float]
    keep_share: float = 0.0
    keep_s: tuple[float, float] = (0.3, 2.5)
    length_s: tuple[float, float] | None = None


#: The first is how the program's own simulated player does it.
RELEASES: Final = (
    Release("early", (0.15, 0.30)),
    Release("legato", (0.01, 0.08)),
    Release("staccato", (0.02, 0.10), length_s=(0.12, 0.50)),
    Release("hand down", (0.01, 0.08), keep_share=0.8),
    Release("careless", (0.02, 0.20), keep_share=0.4),
)
#: How long strings 1-3 and the lower ones ring undamped, as a multiple of the player's.
_RINGS: Final = (0.6, 1.0, 1.0, 1.6, 2.5)


@dataclass(frozen=True, slots=True)
class Person:
    """One person. ``chord_s`` is the time for a chord of usual length at own pace, ``unevenness`` the spread (sigma of
    a lognormal) of it; ``drift_ms`` how far off the click they sit, always; ``other_share`` of the chords of which a
    drill wants any voicing they play otherwise than it is planned. ``downward`` and ``upward`` are the same
    player strumming, from the lowest string or the highest, ``plucking`` with the fingers."""

    player: Player
    downward: Player
    upward: Player
    plucking: Player
    release: Release
    chord_s: float
    unevenness: float
    drift_ms: float
    other_share: float = 0.0


def draw_person(random: Random) -> Person:
    """Somebody."""
    ring = random.choice(_RINGS)
    narrow, wide = random.uniform(10, 25), random.uniform(40, 130)
    player = replace(
        FLAWLESS,
        hold_share=random.choice((0.0, 0.0, 0.3, 0.3, 1.0)),
        strum_from=random.choice((1, 3, 4, 5, 5, 5, 99)),
        strum_spread_ms=(narrow, wide),
        up_strum_share=random.choice((0.0, 0.25, 0.25, 0.5)),
        pluck_spread_ms=random.choice((6.0, 10.1, 10.1, 18.0)),
        ring_s=(FLAWLESS.ring_s[0] * ring, FLAWLESS.ring_s[1] * ring),
        velocity=random.uniform(60, 95),
        early_late_sd_ms=random.choice((8.0, 11.8, 11.8, 16.0)),
    )
    return Person(
        player=player,
        downward=replace(player, strum_from=1, up_strum_share=0.0),
        upward=replace(player, strum_from=1, up_strum_share=1.0),
        plucking=replace(player, strum_from=99),
        release=random.choice(RELEASES),
        chord_s=random.uniform(1.1, 3.2),
        unevenness=random.uniform(0.05, 0.3),
        drift_ms=random.gauss(3.0, 10.0),
        other_share=random.choice((0.0, 0.0, 0.3)),
    )
