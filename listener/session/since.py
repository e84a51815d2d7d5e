"""What improved since the last take of a drill, and what was put right within one; never what did not. Pure.

Every such line gives its reason in numbers, and is only said where two takes can show it: more hits when they are more
than chance makes of the same playing, a faster click when the take reached it. What two takes cannot show (a steadier
time, a better second half) is left to ``widehand progress``, which looks at weeks.
"""

from __future__ import annotations

from dataclasses import dataclass
from math import inf
from typing import Final

from listener.history.progress.summary import REACHED
from listener.history.progress.trend import sure_from, surer
from listener.judging.account import Account

#: From here on a change of tempo is noticed (C. Drake and M.-C. Botte, Perception & Psychophysics 54, 1993).
_FASTER: Final = 1.03


@dataclass(frozen=True, slots=True)
class WholeTake:
    """One whole take and its tempo in beats per minute, None at the own pace."""

    tempo: float | None
    account: Account

    @classmethod
    def of(cls, account: Account, tempo: float | None) -> WholeTake | None:
        """A take, kept or just played; None when it was not the whole drill."""
        return cls(tempo, account) if account.complete else None


def improved(before: WholeTake | None, now: WholeTake | None) -> str:
    """``Since last time: 6 more hits (15 of 16), 66 beats a minute instead of 60.``; empty when there is no such thing,
    or nothing to compare."""
    if before is None or now is None or before.account.steps != now.account.steps:
        return ""
    then, here = before.account, now.account
    found: list[str] = []
    if not _slower(before.tempo, now.tempo) and _surer(then, here):
        found.append(f"{here.hits - then.hits} more hits ({here.hits} of {here.judged})")
    if before.tempo is not None and (now.tempo or 0.0) >= _FASTER * before.tempo and here.share >= REACHED:
        hits = "" if found else f", with {here.hits} of {here.judged} hits"
        found.append(f"{now.tempo:g} beats a minute instead of {before.tempo:g}{hits}")
    return f"Since last time: {', '.join(found)}." if found else ""


def put_right(account: Account) -> str:
    """``2 chords put right at once.``; empty when there was none."""
    count = account.put_right
    return f"{count} chord{'s' if count > 1 else ''} put right at once." if count else ""


def _surer(then: Account, here: Account) -> bool:
    sureness = surer(here.hits, here.judged, then.hits, then.judged)
    return sureness is not None and sureness >= sure_from(1, inf)


def _slower(before: float | None, now: float | None) -> bool:
    """Whether the click was slower, or has gone."""
    return before is not None and (now is None or now < before)
