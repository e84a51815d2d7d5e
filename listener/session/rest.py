"""Care: how long the hand has worked, how far it was stretched, and when to rest.

A break every 25 to 30 minutes is common guidance with little trial evidence behind it (common practice); pain,
numbness or tingling is a reason to stop at once and to ask a teacher or a clinician. The reminder can be set to come
sooner or later, never off: ``LATEST_S`` is the longest anyone may choose.
"""

from __future__ import annotations

from dataclasses import dataclass, replace
from typing import Final

USUAL_S: Final = 25 * 60.0
EARLIEST_S: Final = 5 * 60.0
LATEST_S: Final = 60 * 60.0
#: A pause of this length (seconds) counts as a rest: the count starts anew. Common practice: about five minutes.
RESTED_S: Final = 5 * 60.0
#: Who works at the limit of the hand all the time is asked to rest after this share of the time. Our own choice.
AT_THE_LIMIT: Final = 2 / 3

WORDS: Final = "time for a rest: put the guitar down for five minutes"
PAIN: Final = "Pain means stop. If it stays, ask a teacher or a clinician."


@dataclass(frozen=True, slots=True)
class Load:
    """What the fretting hand has done since its last rest.

    ``playing_s`` is time with a chord in hand; ``stretch_s`` the same weighted by its strain: ten seconds at strain 0.5
    count five. ``last_s`` is when a chord was last played (seconds of the sitting), None before the first, and
    ``strain`` is that chord's, which is in the hand until the next one comes.
    """

    after_s: float = USUAL_S
    playing_s: float = 0.0
    stretch_s: float = 0.0
    last_s: float | None = None
    strain: float = 0.0

    def played(self, strain: float, now_s: float) -> Load:
        """A chord of this strain (0 to 1) was played.

        The time since the one before counts, at most ten seconds of it, for nobody holds longer; so does its strain.
        """
        if self.last_s is None or now_s - self.last_s >= RESTED_S:
            return replace(self, playing_s=0.0, stretch_s=0.0, last_s=now_s, strain=strain)
        held_s = min(10.0, max(0.0, now_s - self.last_s))
        return replace(
            self,
            playing_s=self.playing_s + held_s,
            stretch_s=self.stretch_s + held_s * self.strain,
            last_s=now_s,
            strain=strain,
        )

    @property
    def used(self) -> float:
        """Share of the load after which a rest is due: 1 and more means now."""
        return max(self.playing_s, self.stretch_s / AT_THE_LIMIT) / self.after_s

    @property
    def due(self) -> bool:
        """It is time for a rest."""
        return self.used >= 1.0


def reminder(load: Load, now_s: float) -> str:
    """The words when a rest is due; empty before, and once the player has rested.

    They name the minutes in fives and so are said anew every five minutes to whoever plays on.
    """
    rested = load.last_s is None or now_s - load.last_s >= RESTED_S
    if rested or not load.due:
        return ""
    minutes = int(load.playing_s / 300.0) * 5
    return f"{WORDS} ({minutes} minutes played). {PAIN}" if minutes else f"{WORDS}. {PAIN}"


def rest_after(minutes: float | None) -> float:
    """The chosen time in seconds, within what may be chosen; the usual one when nothing was."""
    if minutes is None:
        return USUAL_S
    return min(LATEST_S, max(EARLIEST_S, 60.0 * minutes))
