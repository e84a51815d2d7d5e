"""Counting verdicts against the truth: made-up verdicts on takes whose truth is known."""

from __future__ import annotations

from dataclasses import replace

import pytest

from lab.conftest import Practiser
from lab.following import Disagreement, Result, Said, compare, follow, said_of, told_steps
from lab.people.take import Take
from lab.people.truth import HIT_TRUTH, NO_HIT, NOT_PLAYED
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.simulation.converter import FAULTLESS, make_converter


@pytest.fixture
def clean(practise_small: Practiser) -> Take:
    return practise_small("own pace: clean", 1)


def verdict(step: int, onset_s: float, grade: str = HIT, *, settled: bool = True) -> Verdict:
    return Verdict(step, 1, grade, (), (48,), (), onset_s, 0.0, settled=settled)


def not_played(step: int, onset_s: float, code: str = "nothing") -> Verdict:
    return Verdict(step, 1, MISS, (Fault(code, code),), (), (), onset_s, 0.0)


def perfect(take: Take) -> list[Said]:
    """What is true, said when each chord is complete."""
    return [Said(a.complete_s + 0.05, verdict(a.step, a.onset_s, HIT if a.hit else NEAR)) for a in take.truth.attempts]


def counted(take: Take, said: list[Said]) -> tuple[Result, list[Disagreement]]:
    return compare(take, said, "way", "small", 1)


def test_the_truth_agrees_with_itself(practise_small: Practiser) -> None:
    for way in ("own pace: clean", "own pace: slips in a row", "own pace: two back", "click: chords dropped"):
        take = practise_small(way, 3)
        result, wrong = counted(take, perfect(take))
        assert wrong == []
        assert (result.takes, result.steps, result.agreed, result.agreement) == (1, 5, 5, 1.0)
        assert result.heard == len(take.truth.attempts)
        assert result.astray == result.extra == result.false_hits == result.into_quiet == result.taken_back == 0
        assert result.hits == result.at_once == take.truth.first.count(HIT_TRUTH)


def test_saying_nothing_says_not_played(clean: Take) -> None:
    result, wrong = counted(clean, [])
    assert result.agreed == 0
    assert result.confusion == {(HIT_TRUTH, NOT_PLAYED): 5}
    assert [one.what for one in wrong] == ["first"] * 5
    assert wrong[2].onset_s == clean.truth.attempts[2].onset_s


def test_the_first_verdict_counts(clean: Take) -> None:
    said = perfect(clean)
    said.insert(1, Said(2.6, verdict(1, clean.truth.attempts[1].onset_s, MISS)))
    result, wrong = counted(clean, said)
    assert result.agreed == 4
    assert result.confusion[HIT_TRUTH, NO_HIT] == 1
    assert result.extra == 1
    assert [(one.what, one.step, one.truth, one.said) for one in wrong] == [
        ("first", 1, HIT_TRUTH, NO_HIT),
        ("extra", 1, "1 attempts", HIT_TRUTH),
    ]


def test_a_verdict_on_another_step_is_astray_and_a_false_hit(clean: Take) -> None:
    said = perfect(clean)
    at_s = clean.truth.attempts[1].onset_s
    said[1] = Said(at_s + 0.05, verdict(3, at_s))
    result, wrong = counted(clean, said)
    assert (result.astray, result.heard, result.astray_share) == (1, 5, 0.2)
    assert result.false_hits == 1
    assert result.extra == 1
    assert [one.what for one in wrong] == ["first", "astray", "false hit", "extra"]


def test_a_verdict_may_be_a_third_of_a_second_off(clean: Take) -> None:
    attempt = clean.truth.attempts[2]
    for off_s, astray in ((-0.3, 0), (-0.4, 1)):
        said = perfect(clean)
        said[2] = Said(attempt.onset_s, verdict(2, attempt.onset_s + off_s))
        assert counted(clean, said)[0].astray == astray


def test_a_hit_for_a_slip_is_false(practise_small: Practiser) -> None:
    take = practise_small("own pace: slips, and on", 2)
    said = [Said(at_s, replace(one, grade=HIT)) for at_s, one in perfect(take)]
    result, _ = counted(take, said)
    assert result.false_hits == take.truth.first.count(NO_HIT) > 0
    assert result.agreed == take.truth.first.count(HIT_TRUTH)


def test_a_hit_for_the_grip_that_was_tried_is_not(practise_small: Practiser) -> None:
    """All its tones rang; and then it was played."""
    take = practise_small("own pace: the grip tried", 3)
    tried = next(a for a in take.truth.attempts if a.from_s < a.onset_s - 0.5)
    said = [one for one in perfect(take) if one.verdict.step != tried.step]
    said.append(Said(tried.from_s + 0.5, verdict(tried.step, tried.from_s)))
    assert counted(take, said)[0].false_hits == 0


def test_a_hit_that_is_dated_a_little_early_is_not_false(practise_small: Practiser) -> None:
    """Tones that two chords share may be taken for the beginning, unless it was said before the chord was there; and
    a slip is none."""
    clean = practise_small("own pace: clean", 1)
    attempt = clean.truth.attempts[2]
    for early_s, said_s, false_hits in ((0.6, 0.1, 0), (2.4, 0.1, 0), (2.6, 0.1, 1), (0.6, -0.1, 1)):
        said = perfect(clean)
        said[2] = Said(attempt.complete_s + said_s, verdict(2, attempt.onset_s - early_s))
        assert counted(clean, said)[0].false_hits == false_hits
    slipped = practise_small("own pace: very fast", 4)
    wrong = next(attempt for attempt in slipped.truth.attempts if not attempt.hit)
    said = [one for one in perfect(slipped) if one.verdict.step != wrong.step]
    assert counted(slipped, [*said, Said(0.0, verdict(wrong.step, wrong.onset_s))])[0].false_hits == 1


def test_left_out_and_nothing_say_not_played() -> None:
    assert said_of(None) == NOT_PLAYED
    assert said_of(not_played(1, 2.0)) == NOT_PLAYED
    assert said_of(not_played(1, 2.0, "left_out")) == NOT_PLAYED
    assert said_of(verdict(1, 2.0, NEAR)) == said_of(verdict(1, 2.0, MISS)) == NO_HIT
    assert said_of(verdict(1, 2.0)) == HIT_TRUTH


def test_nothing_is_said_about_long_silence(practise_small: Practiser) -> None:
    """From the fifth bar on, here four seconds each and more."""
    take = next(
        take
        for seed in range(1, 60)
        if (take := practise_small("click: stops for good", seed)).truth.first.count(NOT_PLAYED) == 4
    )
    beat_s = 60 / (take.tempo or 60)
    said = perfect(take) + [
        Said(2 + 4 * step * beat_s, not_played(step, 2 + 4 * step * beat_s)) for step in (1, 2, 3, 4)
    ]
    result, _ = counted(take, said)
    assert result.agreed == 5
    assert result.into_quiet == 0
    longer = replace(take, truth=replace(take.truth, quiet=(replace(take.truth.quiet[0], start_s=0.0),)))
    assert compare(longer, said, "way", "small", 1)[0].into_quiet == sum(
        2 + 4 * step * beat_s > 16 * beat_s for step in (1, 2, 3, 4)
    )


def test_verdicts_on_noodling_are_astray_and_after_a_while_into_quiet(practise_small: Practiser) -> None:
    take = next(
        take
        for seed in range(1, 60)
        if (take := practise_small("own pace: noodling for long", seed)).truth.quiet[0].end_s
        - take.truth.quiet[0].start_s
        > 20
    )
    quiet = take.truth.quiet[0]
    said = [
        *perfect(take),
        Said(0, verdict(2, quiet.start_s + 10, MISS)),
        Said(0, verdict(2, quiet.start_s + 18, MISS)),
    ]
    result, _ = counted(take, said)
    assert result.astray == 2
    assert result.into_quiet == 1


def test_at_once_and_taken_back(clean: Take) -> None:
    attempts = clean.truth.attempts
    said = [
        Said(attempts[0].complete_s + 0.05, verdict(0, attempts[0].onset_s, settled=False)),
        Said(attempts[0].complete_s + 1.0, verdict(0, attempts[0].onset_s)),
        Said(attempts[1].complete_s + 0.05, verdict(1, attempts[1].onset_s, settled=False)),
        Said(attempts[1].complete_s + 1.0, verdict(1, attempts[1].onset_s, NEAR)),
        Said(attempts[2].complete_s + 1.0, verdict(2, attempts[2].onset_s)),
    ]
    result, _ = counted(clean, said)
    assert (result.hits, result.at_once, result.taken_back, result.heard) == (5, 2, 1, 3)


def test_steps_are_told_when_all_their_plucks_were_sent(practise_small: Practiser) -> None:
    lost = replace(make_converter("none"), never_sent=1.0)
    assert told_steps(practise_small("own pace: clean", 1, converter=lost)) == [False] * 5
    assert told_steps(practise_small("own pace: clean", 1, converter=FAULTLESS)) == [True] * 5
    take = practise_small("own pace: one left out", 1, converter=lost)
    assert told_steps(take) == [outcome == NOT_PLAYED for outcome in take.truth.first]


def test_results_add_up(practise_small: Practiser) -> None:
    total = Result()
    single = []
    for seed in (1, 2):
        result, _ = follow(practise_small("own pace: noodling", seed), "own pace: noodling", "small", seed)
        single.append(result)
        total.add(result)
    assert total.takes == 2
    for name in ("steps", "agreed", "heard", "astray", "false_hits", "hits"):
        assert getattr(total, name) == sum(getattr(result, name) for result in single)
    assert sum(total.confusion.values()) == total.steps == 10
