"""What improved since the last take of a drill, or within a take; only that, never what did not. Pure."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from listener.history.summary import REACHED
from listener.judging.account import Account
from listener.judging.verdict import Verdict

#: Smaller differences say nothing (our choice): points of movement score, milliseconds of spread.
_POINTS: Final = 1.0
_STEADIER_MS: Final = 3.0
#: Fewer chords in half a take, or fewer hits more, say nothing (our choice).
_HALF: Final = 4
_MORE: Final = 2


@dataclass(frozen=True, slots=True)
class Standing:
    """One whole take and its tempo in beats per minute, None at the own pace."""

    tempo: float | None
    account: Account

    @classmethod
    def of(cls, account: Account, tempo: float | None) -> Standing | None:
        """A take, kept or just played; None when it was not the whole drill."""
        return cls(tempo, account) if account.complete else None


def improved(before: Standing | None, now: Standing | None) -> str:
    """``Since last time: 3 more hits (14 of 16), the movement score up from 84 to 91.``; empty when there is no such
    thing, or nothing to compare."""
    if before is None or now is None or before.account.steps != now.account.steps:
        return ""
    then, here = before.account, now.account
    found: list[str] = []
    more = here.hits - then.hits
    if more > 0:
        found.append(f"{more} more hit{'s' if more > 1 else ''} ({here.hits} of {here.judged})")
    if _gain(then.movement_score, here.movement_score) >= _POINTS:
        found.append(f"the movement score up from {then.movement_score:.0f} to {here.movement_score:.0f}")
    if _gain(before.tempo, now.tempo) > 0 and here.share >= min(then.share, REACHED):
        found.append(f"{now.tempo:g} beats a minute instead of {before.tempo:g}")
    if _gain(here.spread_ms, then.spread_ms) >= _STEADIER_MS:
        found.append(f"steadier (give or take {here.spread_ms:.0f} ms instead of {then.spread_ms:.0f})")
    return f"Since last time: {', '.join(found)}." if found else ""


def grown(account: Account, verdicts: Sequence[Verdict]) -> str:
    """What got better within a take: chords put right at once, or a second half with more hits than the first; empty
    when there is no such thing, or too few chords to say so."""
    if account.put_right:
        return f"{account.put_right} chord{'s' if account.put_right > 1 else ''} put right at once."
    first = [verdict for verdict in verdicts if verdict.attempt == 1]
    half = len(first) // 2
    early, late = (Account.of(part, account.steps).hits for part in (first[:half], first[len(first) - half :]))
    if half < _HALF or late - early < _MORE:
        return ""
    return f"It grew while you played: {late} of the last {half} chords were hits, after {early} of the first {half}."


def _gain(before: float | None, now: float | None) -> float:
    """How much more it is; 0 where there is nothing to compare."""
    return 0.0 if before is None or now is None else now - before
