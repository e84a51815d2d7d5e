"""What the numbers say, in one or two plain sentences: what got easier, what to look at next, and care for the hand.

A change for the better is only called one when it is larger than chance makes it: two rates of hits are compared by the
pooled two-proportion z-test (for instance NIST/SEMATECH e-Handbook of Statistical Methods, section 7.3.3), two spreads
by their distance in standard errors. Where many are looked at, the largest must be larger still (Bonferroni's rule), or
somebody with two hundred changes would be told about chance every day. Nothing is said about what got worse: a bad week
needs no witness.
"""

from __future__ import annotations

from collections.abc import Callable, Iterable, Mapping, Sequence
from dataclasses import dataclass
from datetime import date, timedelta, tzinfo
from math import sqrt
from statistics import NormalDist
from typing import Final

from listener.history.progress import LEAST_ATTEMPTS
from listener.history.progress_facts import Change, Facts, Worked
from listener.history.progress_periods import Period
from listener.history.summary import DrillProgress
from listener.judging.account import Account

#: How often chance alone may make a gain of the kind that is told. Our own choice, the usual one in forty.
CHANCE: Final = 0.025
#: Fewer attempts than this on either side are no ground for a comparison. Our own choice.
ENOUGH: Final = 5
#: A trend needs takes in so many different weeks. Our own choice.
WEEKS_FOR_A_TREND: Final = 3
#: A week with this many times the mean of the four weeks before is a jump. Our own choice: "raise the load slowly" is
#: common practice among teachers and clinicians; no number for guitarists has been measured that we know of.
JUMP: Final = 1.5
#: Weeks below this many minutes are never called too much. Our own choice.
_LIGHT_MINUTES: Final = 60.0
_BEFORE: Final = 4
CARE: Final = "Raise the load slowly and rest often. Pain means stop; if it stays, ask a teacher or a clinician."


@dataclass(frozen=True, slots=True)
class Words:
    """Sentences for the player; empty where there is nothing to say. ``jumps`` are the Mondays of weeks with a jump."""

    easier: str = ""
    next: str = ""
    trend: str = ""
    care: str = ""
    jumps: tuple[date, ...] = ()

    def as_json(self) -> dict[str, object]:
        """The ``words`` of the document."""
        told = {"easier": self.easier, "next": self.next, "trend": self.trend, "care": self.care}
        return {**{name: text or None for name, text in told.items()}, "jumps": [day.isoformat() for day in self.jumps]}


def words(facts: Facts, weeks: Mapping[date, Period], zone: tzinfo | None) -> Words:
    """All of them; ``weeks`` as :func:`listener.history.progress_periods.grouped` gives them."""
    jumps = load_jumps(weeks)
    return Words(
        easier=_easier(facts, zone),
        next=_next(facts),
        trend=_trend(weeks),
        care=_care(weeks, jumps),
        jumps=jumps,
    )


def change_words(change: Change) -> str:
    """``F spread to G close``."""
    one = change.whole
    return f"{one.from_chord} {one.from_kind} to {one.to_chord} {one.to_kind}"


def day_words(day: date) -> str:
    """``5 May 2031``."""
    return f"{day.day} {day:%B} {day.year}"


@dataclass(frozen=True, slots=True)
class _Gain:
    """``sureness`` in standard errors, None where there is too little to compare."""

    sureness: float | None
    text: str
    before: str


def surer(hits: int, attempts: int, hits_before: int, attempts_before: int) -> float | None:
    """How many standard errors the newer rate of hits lies above the older one; None when there is too little."""
    if min(attempts, attempts_before) < ENOUGH:
        return None
    pooled = (hits + hits_before) / (attempts + attempts_before)
    error = sqrt(pooled * (1 - pooled) * (1 / attempts + 1 / attempts_before))
    return (hits / attempts - hits_before / attempts_before) / error if error else 0.0


def _easier(facts: Facts, zone: tzinfo | None) -> str:
    """The clearest gain of late: of a change, of a drill's hits, or of time with the click."""
    if facts.split_at is None:
        return ""
    late = [take for take in facts.takes if take.summary.started_at >= facts.split_at]
    early = [take for take in facts.takes if take.summary.started_at < facts.split_at]
    found = [*map(_change_gain, facts.changes), *_drill_gains(early, late), _steadier(early, late)]
    compared = [gain for gain in found if gain.sureness is not None]
    best = max(compared, key=lambda gain: (gain.sureness, gain.text), default=None)
    if best is None or best.sureness is None or best.sureness < sure_from(len(compared)):
        return ""
    return f"{best.text} since {day_words(facts.split_at.astimezone(zone).date())}, {best.before} before."


def sure_from(comparisons: int) -> float:
    """Standard errors from which on the largest of so many differences counts; 1.96 for a single one."""
    return NormalDist().inv_cdf(1 - CHANCE / comparisons)


def _change_gain(change: Change) -> _Gain:
    late, before = (change.late_hits, change.late_attempts), (change.early_hits, change.early_attempts)
    return _gain(f"{change_words(change)} got easier", late, before)


def _drill_gains(early: Sequence[Worked], late: Sequence[Worked]) -> list[_Gain]:
    then, now = (_by_drill(takes) for takes in (early, late))
    return [
        _gain(f"{drill} got easier", (now[drill].hits, now[drill].judged), (then[drill].hits, then[drill].judged))
        for drill in sorted(now.keys() & then.keys())
    ]


def _by_drill(takes: Iterable[Worked]) -> dict[str, Account]:
    accounts: dict[str, list[Account]] = {}
    for take in takes:
        accounts.setdefault(take.summary.drill, []).append(take.summary.account)
    return {drill: Account.total(found) for drill, found in accounts.items()}


def _gain(what: str, late: tuple[int, int], before: tuple[int, int]) -> _Gain:
    sureness = surer(*late, *before)
    if sureness is None:
        return _Gain(None, what, "")
    now, then = (f"{100 * hits / attempts:.0f} %" for hits, attempts in (late, before))
    return _Gain(sureness, f"{what}: {now} hits", then)


def _steadier(early: Sequence[Worked], late: Sequence[Worked]) -> _Gain:
    """Spread about the own mean with the click. The standard error of a spread of n is about spread / sqrt(2 n)."""
    now, then = (Account.total(take.summary.account for take in takes) for takes in (late, early))
    now_ms, then_ms = now.spread_ms, then.spread_ms
    if now_ms is None or then_ms is None or min(now.onsets, then.onsets) < 4 * ENOUGH:
        return _Gain(None, "", "")
    error = sqrt(now_ms**2 / (2 * now.onsets) + then_ms**2 / (2 * then.onsets))
    sureness = (then_ms - now_ms) / error if error else 0.0
    return _Gain(sureness, f"Your time got steadier: {now_ms:.0f} ms of spread", f"{then_ms:.0f} ms")


def weakest(changes: Iterable[Change]) -> Change | None:
    """The change to look at next. Two hits of four are less certain than twenty of forty, so each rate is drawn towards
    one half by one hit and one miss (Laplace's rule of succession); what was played lately counts where it suffices.
    A change without a slip, however seldom played, is none to look at."""

    def rate(hits: int, attempts: int) -> float:
        return (hits + 1) / (attempts + 2)

    def standing(change: Change) -> float:
        hits, attempts = _counted(change)
        return 1.0 if hits == attempts else rate(hits, attempts)

    tried = [one for one in changes if one.whole.attempts >= LEAST_ATTEMPTS and standing(one) < rate(9, 10)]
    return min(tried, key=lambda one: (standing(one), -one.whole.attempts, change_words(one)), default=None)


def _counted(change: Change) -> tuple[int, int]:
    """Hits and attempts: those of late where they suffice."""
    if change.late_attempts >= LEAST_ATTEMPTS:
        return change.late_hits, change.late_attempts
    return change.whole.hits, change.whole.attempts


def _next(facts: Facts) -> str:
    change = weakest(facts.changes)
    if change is not None:
        hits, attempts = _counted(change)
        lately = change.late_attempts >= LEAST_ATTEMPTS
        return (
            f"Look at {change_words(change)} next: {hits} of {attempts} were hits{' lately' if lately else ''} "
            f"(in {change.drill})."
        )
    drill = min(facts.progress.drills, key=lambda one: (one.last.account.share, one.drill), default=None)
    return _next_of(drill) if drill is not None else ""


def _next_of(drill: DrillProgress) -> str:
    last, account = drill.last, drill.last.account
    if account.hits < account.judged:
        return f"Play {drill.drill} once more: {account.hits} of {account.judged} chords were hits."
    if not account.complete:
        return f"Play {drill.drill} through to its end: {account.how_far} last time, and no slip in them."
    if last.tempo is not None:
        return f"{drill.drill} went without a slip at {last.tempo:g}: try it a little faster, or something new."
    return f"{drill.drill} went without a slip: try it with the click, or something new."


def _trend(weeks: Mapping[date, Period]) -> str:
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
    return period.playing_s / 60 if period else 0.0


def _stretch(period: Period | None) -> float:
    return (period.stretch_s or 0.0) / 60 if period else 0.0


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
