"""Whether something got easier, or holds steady. Pure.

The newer part of the takes (from :attr:`ProgressFacts.split_at` on) is set beside the part before it, and two things
must come together before a word is said: enough different weeks and days, and a difference larger than the player's
own scatter.

- *Hits*: the pooled two-proportion z-test (NIST/SEMATECH e-Handbook of Statistical Methods, section 7.3.3), divided by
  the square root of how much more a drill's hits differ from day to day than chance alone would have it (Pearson's
  dispersion: P. McCullagh and J. Nelder, Generalized Linear Models, 2nd ed. 1989, section 4.5). People have good days
  and bad ones, and without that every second good day would be a trend.
- *Time with the click*: the spreads of the newer days against those of the older by their ranks (H. Mann and
  D. Whitney, Annals of Mathematical Statistics 18, 1947), so that one day with two very late chords counts as one day.
- Where many things are compared the largest must be larger still (Bonferroni's rule), or somebody with two hundred
  changes would be told about chance every day.

Drills are compared by their whole takes, since the first half of a drill may well be its easier one, and only where the
click did not get slower. Nothing is said about what got worse: a bad week needs no witness.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Mapping, Sequence
from dataclasses import dataclass, replace
from datetime import date, tzinfo
from functools import cached_property
from math import inf, sqrt
from statistics import NormalDist, fmean
from typing import Final

from listener.history.progress.facts import ChangeTotals, ProgressFacts, Worked
from listener.history.progress.summary import ChangeProgress
from listener.judging.account import Account

#: How often chance alone may make a gain of the kind that is told. Our own choice, the usual one in forty.
CHANCE: Final = 0.025
#: Fewer attempts than this on either side are no ground for a comparison. Our own choice.
ENOUGH: Final = 5
#: A trend needs takes in so many different weeks, and on so many different days in each part. Our own choice.
WEEKS_FOR_A_TREND: Final = 3
_DAYS: Final = 3
#: What is looked for one after the other, each with its share of the chance.
_FAMILIES: Final = 3
#: Onsets that a day needs to have a spread. Our own choice.
_ONSETS: Final = 8
#: A click so much slower or faster is another one: just above the 3 % at which a change of tempo is noticed (C. Drake
#: and M.-C. Botte, Perception & Psychophysics 54, 1993).
_ANOTHER_TEMPO: Final = 0.03
#: Shares of hits no farther apart than one chord in twenty are about the same to a player. Our own choice.
_SAME: Final = 0.05


@dataclass(frozen=True, slots=True)
class Gain:
    """``sureness`` in standard errors, None where there is too little to compare; ``now`` and ``then`` in words;
    ``apart`` is how far two shares of hits are from each other, 0 to 1."""

    sureness: float | None
    what: str
    now: str = ""
    then: str = ""
    apart: float = 0.0


@dataclass(frozen=True, slots=True)
class _Part:
    """The newer or the older takes, by drill: the mean tempo of those with the click, None where most had none; and the
    accounts of whole takes, day by day and together."""

    tempos: Mapping[str, float | None]
    days: Mapping[str, Mapping[date, Account]]
    whole: Mapping[str, Account]

    @classmethod
    def of(cls, takes: Iterable[Worked], zone: tzinfo | None) -> _Part:
        tempos: dict[str, list[float | None]] = {}
        found: dict[str, dict[date, list[Account]]] = {}
        for take in takes:
            summary = take.summary
            tempos.setdefault(summary.drill, []).append(summary.tempo)
            if summary.account.complete:
                day = summary.started_at.astimezone(zone).date()
                found.setdefault(summary.drill, {}).setdefault(day, []).append(summary.account)
        days = {drill: {day: Account.total(some) for day, some in each.items()} for drill, each in found.items()}
        whole = {drill: Account.total(each.values()) for drill, each in days.items()}
        return cls({drill: _mean_tempo(each) for drill, each in tempos.items()}, days, whole)


@dataclass(frozen=True)
class Trend:
    """Both parts of what was played, ready to be compared; only made where there are weeks and days enough."""

    late: _Part
    early: _Part

    @classmethod
    def of(cls, facts: ProgressFacts, weeks: int, zone: tzinfo | None) -> Trend | None:
        """None as long as nothing can be said; ``weeks`` are those with a take."""
        split = facts.split_at
        if split is None or weeks < WEEKS_FOR_A_TREND:
            return None
        newer = [take for take in facts.takes if take.summary.started_at >= split]
        older = [take for take in facts.takes if take.summary.started_at < split]
        for part in (newer, older):
            if len({take.summary.started_at.astimezone(zone).date() for take in part}) < _DAYS:
                return None
        return cls(_Part.of(newer, zone), _Part.of(older, zone))

    def best(self, changes: Iterable[ChangeTotals]) -> Gain | None:
        """The clearest gain: of all drills together, else of one of them or of time with the click, else of a change;
        None when none is clear.

        The three share the chance that there is between them: otherwise what holds for all drills would drown among a
        hundred changes.
        """
        drills = [self._drill(drill) for drill in self._both]
        several = len(drills) > 1
        return (
            self._clearest([self._together()] if several else drills)
            or self._clearest([self._steadier(), *(drills if several else ())])
            or self._clearest(map(self._change, changes))
        )

    def steady(self) -> Gain | None:
        """All drills that were played before and lately, when their hits are about what they were."""
        gain = self._together()
        if gain.sureness is None or abs(gain.sureness) >= sure_from(1, self._free) or gain.apart > _SAME:
            return None
        what = f"{self._both[0]} is" if len(self._both) == 1 else "Your drills are"
        faster = " at a faster click" if self._times_as_fast(self._both) > 1 + _ANOTHER_TEMPO else ""
        return replace(gain, what=f"{what} holding steady{faster}")

    def _clearest(self, gains: Iterable[Gain]) -> Gain | None:
        compared = [(gain.sureness, gain.what, gain) for gain in gains if gain.sureness is not None]
        sureness, _, gain = max(compared, key=lambda one: one[:2], default=(0.0, "", None))
        return gain if sureness >= sure_from(_FAMILIES * max(1, len(compared)), self._free) else None

    @cached_property
    def _both(self) -> list[str]:
        return sorted(self.late.days.keys() & self.early.days.keys())

    @cached_property
    def _scatter(self) -> float:
        """How many times as much as by chance the hits of a day differ from those of the part that it lies in, at
        least 1. All drills of a day count together: what made one of them go badly was there for the others too."""
        squares = 0.0
        for part in (self.late, self.early):
            beside: defaultdict[date, float] = defaultdict(float)
            variance: defaultdict[date, float] = defaultdict(float)
            for drill in self._both:
                share = part.whole[drill].share
                for day, account in part.days[drill].items():
                    beside[day] += account.hits - account.judged * share
                    variance[day] += account.judged * share * (1 - share)
            squares += sum(beside[day] ** 2 / variance[day] for day in beside if variance[day])
        return max(1.0, squares / self._free)

    @cached_property
    def _free(self) -> int:
        """Days that the scatter is known from, less one for each part; may be 0."""
        days = [{day for drill in self._both for day in part.days[drill]} for part in (self.late, self.early)]
        return max(0, sum(map(len, days)) - len(days))

    def _change(self, change: ChangeTotals) -> Gain:
        late, early = (change.late_hits, change.late_attempts), (change.early_hits, change.early_attempts)
        return self._easier(change_words(change.whole), change.drill, late, early)

    def _drill(self, drill: str) -> Gain:
        late, early = self.late.whole[drill], self.early.whole[drill]
        return self._easier(drill, drill, (late.hits, late.judged), (early.hits, early.judged))

    def _easier(self, name: str, drill: str, late: tuple[int, int], early: tuple[int, int]) -> Gain:
        what, sureness = f"{name} got easier", surer(*late, *early)
        if sureness is None or not self._free or self._slower((drill,)):
            return Gain(None, what)
        now, then = (f"{100 * hits / attempts:.0f} %" for hits, attempts in (late, early))
        return Gain(sureness / sqrt(self._scatter), what, f"{now} hits", then)

    def _together(self) -> Gain:
        """Hits drill by drill against what each had before (W. Cochran, Biometrics 10, 1954), so that playing more of
        an easy one is no gain; the share before is what these drills would have had in the mix of late."""
        what, drills = "More of your chords land", self._both
        pairs = [(self.late.whole[drill], self.early.whole[drill]) for drill in drills]
        judged = sum(now.judged for now, _ in pairs)
        if not self._free or judged < ENOUGH or self._slower(drills):
            return Gain(None, what)
        hits, before = sum(now.hits for now, _ in pairs), sum(now.judged * then.share for now, then in pairs)
        over, variance = 0.0, 0.0
        for now, then in pairs:
            share = (now.hits + then.hits) / (now.judged + then.judged)
            over += now.hits - now.judged * share
            variance += share * (1 - share) * now.judged * then.judged / (now.judged + then.judged)
        sureness = over / sqrt(variance * self._scatter) if variance else 0.0
        told, then_told = (f"{100 * share / judged:.0f} %" for share in (hits, before))
        same = " in the same drills" if len(drills) > 1 else ""
        return Gain(sureness, what, f"{told} hits{same}", then_told, abs(hits - before) / judged)

    def _steadier(self) -> Gain:
        """Spread about the own mean with the click, of drills that were played before and lately."""
        what = "Your time got steadier"
        late, early = self._spreads(self.late), self._spreads(self.early)
        if min(len(late), len(early)) < _DAYS or self._slower(self._both):
            return Gain(None, what)
        now, then = (f"{_median(part):.0f} ms of spread on a usual day" for part in (late, early))
        return Gain(lower(late, early), what, now, then)

    def _spreads(self, part: _Part) -> list[float]:
        by_day: dict[date, list[Account]] = {}
        for drill in self._both:
            for day, account in part.days[drill].items():
                by_day.setdefault(day, []).append(account)
        days = [Account.total(found) for found in by_day.values()]
        return [day.spread_ms for day in days if day.spread_ms is not None and day.onsets >= _ONSETS]

    def _slower(self, drills: Collection[str]) -> bool:
        """Whether the click is slower than it was, or is no more."""
        return any(self.early.tempos.get(one) and not self.late.tempos.get(one) for one in drills) or (
            self._times_as_fast(drills) < 1 - _ANOTHER_TEMPO
        )

    def _times_as_fast(self, drills: Collection[str]) -> float:
        """The tempos of late beside those before, drill by drill; 1 where there was no click before."""
        pairs = [(self.late.tempos.get(drill), self.early.tempos.get(drill)) for drill in drills]
        return fmean([now / then for now, then in pairs if now and then] or [1.0])


def surer(hits: int, attempts: int, hits_before: int, attempts_before: int) -> float | None:
    """How many standard errors the newer rate of hits lies above the older one; None when there is too little."""
    if min(attempts, attempts_before) < ENOUGH:
        return None
    pooled = (hits + hits_before) / (attempts + attempts_before)
    error = sqrt(pooled * (1 - pooled) * (1 / attempts + 1 / attempts_before))
    return (hits / attempts - hits_before / attempts_before) / error if error else 0.0


def lower(late: Sequence[float], early: Sequence[float]) -> float:
    """How many standard errors the newer values lie below the older ones by their ranks, with the correction for
    continuity; there must be some of both.

    >>> lower([3.0, 4.0, 5.0], [6.0, 7.0, 8.0]) > 1.7
    True
    """
    beaten = sum((now < then) + 0.5 * (now == then) for now in late for then in early)
    pairs = len(late) * len(early)
    over = beaten - pairs / 2
    shrunk = max(0.0, abs(over) - 0.5)
    return (shrunk if over > 0 else -shrunk) / sqrt(pairs * (len(late) + len(early) + 1) / 12)


def sure_from(comparisons: int, free: float) -> float:
    """Standard errors from which on the largest of so many differences counts, where the scatter is known from so many
    days (infinitely many where only chance counts): Student's t by its first terms (M. Abramowitz and I. Stegun,
    Handbook of Mathematical Functions, 26.7.5); infinite for no day."""
    if free < 1:
        return inf
    z = NormalDist().inv_cdf(1 - CHANCE / comparisons)
    return z + (z**3 + z) / (4 * free) + (5 * z**5 + 16 * z**3 + 3 * z) / (96 * free**2)


def change_words(one: ChangeProgress) -> str:
    """``F spread to G close``."""
    return f"{one.from_chord} {one.from_kind} to {one.to_chord} {one.to_kind}"


def _mean_tempo(tempos: Sequence[float | None]) -> float | None:
    clicked = [tempo for tempo in tempos if tempo is not None]
    return fmean(clicked) if 2 * len(clicked) > len(tempos) else None


def _median(values: Sequence[float]) -> float:
    return sorted(values)[len(values) // 2]
