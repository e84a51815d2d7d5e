"""What is called a trend is one: made-up players who change, stand still, come back or play slower, by the hundred."""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Sequence
from dataclasses import dataclass, replace
from datetime import UTC, datetime, timedelta
from math import exp, inf
from random import Random

import pytest
from how_many import examples
from hypothesis import given
from hypothesis import strategies as st

from listener.history.progress.facts import ChangeTotals, Neck, ProgressFacts, Worked, split_at
from listener.history.progress.progress import progress_of
from listener.history.progress.report import report_on
from listener.history.progress.summary import ChangeProgress, TakeSummary
from listener.history.progress.trend import lower, sure_from, surer
from listener.history.progress.words import ProgressWords
from listener.judging.account import Account

MONDAY = datetime(2031, 1, 6, 18, tzinfo=UTC)
STEPS = 16
#: What no player should ever read.
BLAME = ("worse", "lost", "less", "fell", "fewer", "drop", "down", "back", "unfortunately", "only", "pause", "missed")


@dataclass(frozen=True)
class Player:
    """Three evenings a week of four takes on two drills. ``form`` is how much days differ (logits of the chance of a
    hit), ``better`` what comes with each week, ``broken`` the share of takes that are broken off, ``tempos`` those of
    each week, ``away`` the weeks without a take, and ``rust`` what is lost after them."""

    form: float = 0.4
    better: float = 0.0
    broken: float = 0.2
    days: Sequence[int] = (0, 2, 4)
    tempos: Sequence[float] = (60.0,) * 12
    away: Sequence[int] = ()
    rust: float = 0.0


def words(player: Player, weeks: int, seed: int) -> ProgressWords:
    """What is said after so many weeks."""
    return report_on(history(player, weeks, Random(seed)), zone=UTC).words


def history(player: Player, weeks: int, random: Random) -> ProgressFacts:
    """Takes with hits, late slips and a spread about the click, and the changes in them."""
    hard = {drill: [random.gauss(1.4, 0.6) for _ in range(STEPS)] for drill in ("a", "b")}
    takes: list[Worked] = []
    played: list[tuple[datetime, str, list[bool]]] = []
    for week in (week for week in range(weeks) if week not in player.away):
        rusty = player.rust if week - 1 in player.away else 0.0
        for day in player.days:
            form = random.gauss(0, player.form) + player.better * week - rusty
            spread = 35 * exp(random.gauss(0, 0.15) - player.better * week / 4)
            for number in range(4):
                drill = random.choice(sorted(hard))
                at = MONDAY + timedelta(weeks=week, days=day, minutes=4 * number)
                count = STEPS if random.random() >= player.broken else random.randrange(3, STEPS - 1)
                hits = [random.random() < 1 / (1 + exp(-hard[drill][step] - form)) for step in range(count)]
                late = [0.0 if hit or random.random() > 0.3 else random.uniform(130, 190) for hit in hits]
                tenths = [round(10 * (random.gauss(8, spread) + slip)) for slip in late]
                account = Account(
                    steps=STEPS, strokes=count, reached=count, hits=sum(hits), nears=count - sum(hits), onsets=count,
                    offset_tenths=sum(tenths), offset_squares=sum(one * one for one in tenths),
                )  # fmt: skip
                summary = TakeSummary(len(takes), 7 * week + day, drill, player.tempos[week], at, account)
                takes.append(Worked(summary, 60.0, None))
                played.append((at, drill, hits))
    summaries = [take.summary for take in takes]
    return ProgressFacts(
        progress_of(summaries, ()), tuple(takes), _changes(played, summaries), Neck((), ()), split_at(summaries)
    )


def _changes(
    played: Sequence[tuple[datetime, str, list[bool]]], takes: Sequence[TakeSummary]
) -> tuple[ChangeTotals, ...]:
    split = split_at(takes)
    assert split is not None
    counts: defaultdict[tuple[str, int], list[int]] = defaultdict(lambda: [0, 0, 0, 0])
    for at, drill, hits in played:
        for step, hit in enumerate(hits[1:]):
            found = counts[drill, step]
            for place, more in enumerate((1, hit, at >= split, at >= split and hit)):
                found[place] += more
    return tuple(
        ChangeTotals(
            ChangeProgress(f"{drill}{step}", "close", f"{drill}{step + 1}", "close", *one[:2]), *one[2:], drill
        )
        for (drill, step), one in sorted(counts.items())
    )


@pytest.mark.parametrize("weeks", [1, 3, 12])
@pytest.mark.parametrize("form", [0.0, 0.4])
def test_who_did_not_change_is_told_of_no_trend(form: float, weeks: int) -> None:
    """In at least 95 of 100 histories, with even days or with good and bad ones; in the first week in all of them."""
    told = [words(Player(form), weeks, seed).easier for seed in range(examples(100))]
    assert sum(map(bool, told)) <= (0 if weeks == 1 else len(told) // 20), told


def test_who_got_better_is_told() -> None:
    """Three in four chords at the beginning and nine in ten at the end: most are told so, in numbers."""
    told = [words(Player(form=0.2, better=0.1), 12, seed).easier for seed in range(60)]
    assert sum(map(bool, told)) >= 40
    assert any(one.startswith("More of your chords land: ") for one in told)


def test_a_plateau_is_called_steady_and_not_worse() -> None:
    """Whatever is said of twelve weeks at the same place, no word of it is a reproach; most are told that they hold."""
    told = [words(Player(), 12, seed).trend for seed in range(60)]
    assert sum("holding steady" in one for one in told) >= 40
    assert not [one for one in told if any(word in one for word in BLAME)]


def test_a_slower_click_makes_nothing_easier() -> None:
    """Twice as sure at two thirds of the tempo is no gain that anybody should be told of."""
    slower = Player(better=0.2, tempos=[60.0] * 8 + [40.0] * 4)
    assert not any(words(slower, 12, seed).easier for seed in range(20))
    assert any(words(replace(slower, tempos=[60.0] * 12), 12, seed).easier for seed in range(20))


def test_a_faster_click_is_said_with_what_holds() -> None:
    """As many hits as before, at a tempo that is another."""
    told = {words(Player(tempos=[60.0] * 8 + [70.0] * 4), 12, seed).trend for seed in range(20)}
    assert any("Your drills are holding steady at a faster click: " in one for one in told)


def test_after_three_weeks_away_nobody_is_blamed() -> None:
    """Out of practice, and told nothing of it: what to look at next, care for the hand, and no word about the gap."""
    for seed in range(30):
        said = words(Player(away=(6, 7, 8), rust=0.8), 10, seed)
        assert not said.easier
        assert not [word for word in BLAME if word in f"{said.trend} {said.next}".lower().split()]


def test_broken_off_takes_are_no_ground_for_a_comparison() -> None:
    """Only beginnings lately, and those without a slip, beside whole takes before: nothing got easier."""
    facts = history(Player(broken=0.0), 12, Random(1))
    assert facts.split_at is not None
    cut = Account(steps=STEPS, strokes=4, reached=4, hits=4)
    takes = tuple(
        replace(take, summary=replace(take.summary, account=cut)) if take.summary.started_at >= facts.split_at else take
        for take in facts.takes
    )
    said = report_on(replace(facts, takes=takes, changes=()), zone=UTC).words
    assert (said.easier, said.trend) == ("", "")


def test_more_of_an_easy_drill_is_no_gain() -> None:
    """Nine in ten in one drill, half in the other, before and lately; only which one was played more has changed."""

    def take(number: int, drill: str, day: int, hits: int) -> Worked:
        account = Account(steps=10, strokes=10, reached=10, hits=hits, misses=10 - hits)
        return Worked(TakeSummary(number, day, drill, 60.0, MONDAY + timedelta(days=day), account), 60.0, None)

    found: list[Worked] = []
    for day in range(0, 84, 2):
        easy = 1 if day < 50 else 5
        for number in range(6):
            drill, hits = ("easy", 9) if number < easy else ("hard", 5)
            found.append(take(len(found), drill, day, hits + day // 2 % 2 * (1 if number % 2 else -1)))
    summaries = [one.summary for one in found]
    said = report_on(
        ProgressFacts(progress_of(summaries, ()), tuple(found), (), Neck((), ()), split_at(summaries)), zone=UTC
    )
    assert said.words.easier == ""
    assert said.words.trend.startswith("Your drills are holding steady: ")


@given(st.integers(5, 300), st.integers(5, 300), st.data())
def test_two_proportions(late: int, early: int, data: st.DataObject) -> None:
    """The square is Pearson's chi-squared of the table of hits and others without correction, as SciPy computes it."""
    from scipy.stats import chi2_contingency

    hits, before = data.draw(st.integers(0, late)), data.draw(st.integers(0, early))
    found = surer(hits, late, before, early)
    assert found is not None
    if 0 < hits + before < late + early:
        table = [[hits, late - hits], [before, early - before]]
        assert found**2 == pytest.approx(chi2_contingency(table, correction=False).statistic, abs=1e-9)
        assert (found > 0) == (hits * early > before * late) or abs(found) < 1e-9
    else:
        assert found == 0.0
    assert surer(4, 4, 0, 100) is None


@given(st.lists(st.floats(5, 90), min_size=10, max_size=25, unique=True), st.integers(3, 7))
def test_ranks(values: list[float], count: int) -> None:
    """As SciPy has it, with the correction for continuity."""
    from scipy.stats import mannwhitneyu, norm

    late, early = values[:count], values[count:]
    chance = mannwhitneyu(late, early, alternative="less", method="asymptotic").pvalue
    if (found := lower(late, early)) > 0:
        assert norm.sf(found) == pytest.approx(chance, rel=1e-6)
    assert lower(early, late) == pytest.approx(-found)


def test_many_comparisons_and_few_days_need_more() -> None:
    """1.96 standard errors for one, more for each that is added, and Student's t where the scatter is hardly known."""
    from scipy.stats import t

    found = [sure_from(count, inf) for count in (1, 10, 100, 1000)]
    assert found[0] == pytest.approx(1.96, abs=0.001)
    assert found == sorted(found)
    for free in (6, 12, 40):
        assert sure_from(4, free) == pytest.approx(t.isf(0.025 / 4, free), rel=0.02)
    assert sure_from(1, 0) == inf
