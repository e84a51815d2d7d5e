"""What the numbers say, in one or two plain sentences: what got easier or holds steady, what to look at next, and care
for the hand.

What counts as easier is :mod:`listener.history.progress.trend`'s to say.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, timedelta, tzinfo
from math import sqrt
from statistics import NormalDist
from typing import Final

from listener.history.progress.facts import ChangeTotals, ProgressFacts
from listener.history.progress.periods import Period
from listener.history.progress.progress import LEAST_ATTEMPTS
from listener.history.progress.summary import ChangeProgress, DrillProgress
from listener.history.progress.trend import ENOUGH, WEEKS_FOR_A_TREND, Gain, Trend, change_words

#: A change is weak when its hits speak against nine in ten, so that chance alone would call one in twenty weak. Our own
#: choice.
_EASY: Final = 0.9
_SURE: Final = NormalDist().inv_cdf(0.95)
#: A week with this many times the mean of the four weeks before is a jump. Our own choice: "raise the load slowly" is
#: common practice among teachers and clinicians; no number for guitarists has been measured that we know of.
JUMP: Final = 1.5
#: Weeks below this many minutes are never called too much. Our own choice.
_LIGHT_MINUTES: Final = 60.0
_BEFORE: Final = 4
CARE: Final = "Raise the load slowly and rest often. Pain means stop; if it stays, ask a teacher or a clinician."


@dataclass(frozen=True, slots=True)
class ProgressWords:
    """Sentences for the player; empty where there is nothing to say. ``trend`` is from when on one can be seen, later
    that things hold steady; ``jumps`` are the Mondays of weeks with a jump."""

    easier: str = ""
    next: str = ""
    trend: str = ""
    care: str = ""
    jumps: tuple[date, ...] = ()

    def as_json(self) -> dict[str, object]:
        """The ``words`` of the document."""
        told = {"easier": self.easier, "next": self.next, "trend": self.trend, "care": self.care}
        return {**{name: text or None for name, text in told.items()}, "jumps": [day.isoformat() for day in self.jumps]}


def words(facts: ProgressFacts, weeks: Mapping[date, Period], zone: tzinfo | None) -> ProgressWords:
    """All of them; ``weeks`` as :func:`listener.history.progress.periods.grouped` gives them."""
    jumps = load_jumps(weeks)
    trend = Trend.of(facts, len(weeks), zone)
    gain = trend.best(facts.changes) if trend else None
    lately = len(weeks) >= WEEKS_FOR_A_TREND
    return ProgressWords(
        easier=_since(gain, facts, zone),
        next=_next(facts, lately),
        trend=_since(trend.steady(), facts, zone) if trend and not gain else _not_yet(weeks),
        care=_care(weeks, jumps),
        jumps=jumps,
    )


def day_words(day: date) -> str:
    """``5 May 2031``."""
    return f"{day.day} {day:%B} {day.year}"


def _since(gain: Gain | None, facts: ProgressFacts, zone: tzinfo | None) -> str:
    """``walk got easier: 95 % hits since 23 May 2031, 60 % before.``"""
    if gain is None or facts.split_at is None:
        return ""
    return f"{gain.what}: {gain.now} since {day_words(facts.split_at.astimezone(zone).date())}, {gain.then} before."


@dataclass(frozen=True, slots=True)
class Weak:
    """A change to look at: how it went ``lately``, where it was tried often enough for that; else in all its takes."""

    change: ChangeTotals
    lately: bool

    @property
    def counted(self) -> ChangeProgress:
        """The attempts and hits that speak for it."""
        change = self.change
        if not self.lately:
            return change.whole
        return replace(change.whole, attempts=change.late_attempts, hits=change.late_hits)


def weak(changes: Iterable[ChangeTotals], *, lately: bool) -> list[Weak]:
    """The changes to look at, what needs it most first; ``lately`` as soon as there is such a thing.

    Weak is what nine hits in ten would hardly explain (score test for a proportion: E. Wilson, Journal of the American
    Statistical Association 22, 1927); one slip in five tries is none. Two hits of four are less certain than twenty of
    forty, so for the order each rate is drawn towards one half by one hit and one miss (Laplace's rule of succession).
    """

    def order(one: Weak) -> tuple[float, int, str]:
        counted = one.counted
        return (counted.hits + 1) / (counted.attempts + 2), -counted.attempts, change_words(counted)

    every = [Weak(change, lately and change.late_attempts >= ENOUGH) for change in changes]
    return sorted((one for one in every if _is_weak(one.counted)), key=order)


def _is_weak(one: ChangeProgress) -> bool:
    short = _EASY * one.attempts - one.hits
    return one.attempts >= LEAST_ATTEMPTS and short > _SURE * sqrt(one.attempts * _EASY * (1 - _EASY))


def _next(facts: ProgressFacts, lately: bool) -> str:
    found = weak(facts.changes, lately=lately)
    if found:
        first, one = found[0], found[0].counted
        told = f"{one.hits} of {one.attempts} were hits{' lately' if first.lately else ''}"
        return f"Look at {change_words(one)} next: {told} (in {first.change.drill})."
    drill = min(facts.progress.drills, key=lambda one: (one.last.account.share, one.drill), default=None)
    return _next_of(drill) if drill is not None else ""


def _next_of(drill: DrillProgress) -> str:
    last, account = drill.last, drill.last.account
    if not account.complete:
        clean = ", and no slip in them" if account.hits == account.judged else ""
        return f"Play {drill.drill} through to its end: {account.how_far} last time{clean}."
    if account.hits < account.judged:
        return f"Play {drill.drill} once more: {account.hits} of {account.judged} chords were hits."
    if last.tempo is not None:
        return f"{drill.drill} went without a slip at {last.tempo:g}: try it a little faster, or something new."
    return f"{drill.drill} went without a slip: try it with the click, or something new."


def _not_yet(weeks: Mapping[date, Period]) -> str:
    """From when on a trend can be seen; empty once it can."""
    missing = WEEKS_FOR_A_TREND - len(weeks)
    if missing <= 0 or not weeks:
        return ""
    # Somebody who plays on next week and every week after it; near the end of the calendar nobody does.
    days = min(7 * missing, (date.max - max(weeks)).days)
    first = max(weeks) + timedelta(days=days)
    return (
        f"A trend can be seen once there are takes in {WEEKS_FOR_A_TREND} different weeks: at the earliest in the week "
        f"of {day_words(first)}."
    )


def _minutes(period: Period | None) -> float:
    return period.minutes if period else 0.0


def _stretch(period: Period | None) -> float:
    return (period.stretch_minutes or 0.0) if period else 0.0


def load_jumps(weeks: Mapping[date, Period]) -> tuple[date, ...]:
    """Mondays of the weeks whose minutes or stretch load are far above the mean of the four weeks before, oldest first.

    Weeks of a pause count as nothing, so a full week straight after a pause is a jump as well; the first two weeks of a
    history never are, because nothing is known of the time before.
    """
    return tuple(week for week in sorted(weeks) if _jumps(weeks, week, _minutes) or _jumps(weeks, week, _stretch))


def _jumps(weeks: Mapping[date, Period], week: date, load: Callable[[Period | None], float]) -> bool:
    first = min(weeks)
    weeks_before = min(_BEFORE, (week - first).days // 7)
    if weeks_before < 2 or _minutes(weeks[week]) < _LIGHT_MINUTES:
        return False
    before = [load(weeks.get(week - timedelta(days=7 * back))) for back in range(1, weeks_before + 1)]
    return load(weeks[week]) > JUMP * sum(before) / len(before)


def _care(weeks: Mapping[date, Period], jumps: Sequence[date]) -> str:
    """Only about the newest two weeks: what lies further back has been and gone."""
    recent = [week for week in jumps if (max(weeks) - week).days <= 7] if weeks else []
    if not recent:
        return ""
    week = recent[-1]
    before = [_minutes(weeks.get(week - timedelta(days=7 * back))) for back in range(1, _BEFORE + 1)]
    mean = sum(before) / min(_BEFORE, (week - min(weeks)).days // 7)
    minutes = _minutes(weeks[week])
    if minutes > JUMP * mean:
        told = f"{minutes:.0f} minutes, after {mean:.0f} a week in the weeks before"
    else:
        told = f"{minutes:.0f} minutes, with wider stretches than in the weeks before"
    return f"The week of {day_words(week)} was a jump: {told}. {CARE}"
