"""What a take comes to, and how steady it was: rules in tables, laws for any verdicts."""

from __future__ import annotations

from collections.abc import Sequence
from statistics import fmean, pstdev

import pytest
from hypothesis import given
from hypothesis import strategies as st
from judged import TOPS, VERDICTS

from listener.judging.account import Account, Counting, timed_ms
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.music.movement import movement


def verdict(step: int, grade: str = HIT, attempt: int = 1, **changes: object) -> Verdict:
    return Verdict(step, attempt, grade, (), (60,), (), 1.0, 0.0, **changes)  # type: ignore[arg-type]


def timed(offsets: Sequence[float | None], grade: str = HIT) -> Account:
    return Account.of([verdict(step, grade, offset_ms=ms) for step, ms in enumerate(offsets)], len(offsets))


def test_nothing_played() -> None:
    """Zeros and nothing to measure; no drill is complete without a step, and the end of one with steps not reached."""
    nothing = Account.of([], 8)
    assert (nothing.judged, nothing.share, nothing.complete, nothing.broken_off) == (0, 0.0, False, True)
    assert nothing.movement_score is nothing.mean_ms is nothing.spread_ms is nothing.steadiness is None
    assert nothing.top_accuracy is None
    assert nothing.how_far == "0 of 8 steps"
    assert (Account().complete, Account().broken_off, Account().how_far) == (False, False, "")


def test_a_steady_offset_is_perfectly_steady() -> None:
    """Always 30 ms early: the bias is -30, the spread 0, and no count is lower for it."""
    account = timed([-30.0] * 8)
    assert (account.mean_ms, account.spread_ms, account.steadiness) == (-30.0, 0.0, "very steady")
    assert (account.hits, account.nears, account.misses) == (8, 0, 0)
    assert account.as_json()["steadiness"] == "very steady"


@pytest.mark.parametrize(
    ("offsets", "word"),
    [
        ([100.0, 120.0, 100.0, 120.0], "very steady"),
        ([-20.0, 20.0, -20.0, 20.0], "very steady"),
        ([-21.0, 21.0, -21.0, 21.0], "steady"),
        ([-50.0, 50.0, -50.0, 50.0], "steady"),
        ([-51.0, 51.0, -51.0, 51.0], "not steady yet"),
        ([0.0, 200.0, 0.0], None),
        ([5.0], None),
    ],
)
def test_steadiness_words(offsets: list[float], word: str | None) -> None:
    """20 ms and 50 ms about the player's own mean (Hirsh 1959 in Watson 2004; Rasch 1979); too few say nothing."""
    assert timed(offsets).steadiness == word


def test_what_counts_for_the_timing() -> None:
    """First attempts with the click that were no miss; what is a minute off was not played to its beat."""
    assert timed([None, None]).mean_ms is None
    assert timed([10.0, 20.0], MISS).mean_ms is None
    late = [verdict(step, MISS, offset_ms=500.0) for step in range(4, 7)]
    again = [verdict(step, HIT, 2, offset_ms=-400.0) for step in range(4, 7)]
    lost = [verdict(7, NEAR, offset_ms=60_000.0), verdict(8, NEAR, offset_ms=-1e300)]
    steady = [verdict(step, offset_ms=10.0) for step in range(4)]
    account = Account.of([*steady, *late, *again, *lost], 9)
    assert (account.onsets, account.mean_ms, account.spread_ms, account.steadiness) == (4, 10.0, 0.0, "very steady")


@given(st.lists(st.floats(-200, 200), min_size=4, max_size=20), st.floats(-100, 100))
def test_the_bias_never_changes_the_spread(offsets: list[float], bias: float) -> None:
    """Playing everything later by the same amount moves the mean and leaves the spread."""
    one, other = timed(offsets), timed([ms + bias for ms in offsets])
    assert one.mean_ms is not None
    assert other.mean_ms == pytest.approx(one.mean_ms + bias, abs=0.11)
    assert one.spread_ms is not None
    assert other.spread_ms == pytest.approx(one.spread_ms, abs=0.11)


def test_first_attempts_count() -> None:
    """A step put right counts by its first attempt, and apart; one that was right at once was not put right later."""
    missed = Verdict(0, 1, NEAR, (Fault("extra", "one"), Fault("extra", "another")), (60,), (), 1.0, 0.0)
    righted, again = verdict(0, HIT, 2), verdict(0, HIT, 3)
    account = Account.of([missed, righted, again, verdict(1), verdict(1, HIT, 2), verdict(1, MISS, 1)], 2)
    assert (account.hits, account.nears, account.misses, account.put_right) == (1, 1, 0, 1)
    assert account.faults == (("extra", 1),)
    assert (account.strokes, account.judged, account.complete) == (6, 2, True)


def test_movement() -> None:
    """Scores of the first attempts that have one; semitones of all of them, also where the score is None."""
    moved = movement((48, 55, 64), (50, 57, 65))
    account = Account.of(
        [
            verdict(0),
            verdict(1, movement=moved, movement_score=80.0),
            verdict(2, MISS, movement=moved),
            verdict(2, HIT, 2, movement=moved, movement_score=100.0),
            verdict(3, NEAR, movement=moved, movement_score=90.1),
        ],
        4,
    )
    assert (account.moves, account.movement_score) == (2, pytest.approx(85.05))
    assert account.semitones == 3 * moved.semitones > 0


@pytest.mark.parametrize(
    ("played", "complete", "broken_off", "how_far"),
    [
        ("hhhh", True, False, ""),
        ("hmnh", True, False, ""),
        ("hh", False, True, "2 of 4 steps"),
        ("--h", False, True, "1 of 4 steps"),
        ("hh-h", False, False, "3 of 4 steps"),
        ("---h", False, False, "1 of 4 steps"),
        ("", False, True, "0 of 4 steps"),
        ("hhhhh", False, False, "5 of 4 steps"),  # not of this plan: surely no whole drill
    ],
)
def test_how_far(played: str, complete: bool, broken_off: bool, how_far: str) -> None:
    """``-`` has no verdict. Only a drill of which every step was reached and judged is a whole one."""
    words = {"h": HIT, "n": NEAR, "m": MISS}
    account = Account.of([verdict(step, words[one]) for step, one in enumerate(played) if one in words], 4)
    assert (account.complete, account.broken_off, account.how_far) == (complete, broken_off, how_far)
    assert account.as_json()["complete"] is complete


def test_a_step_tried_again_only_is_not_judged() -> None:
    """Of a history from which a verdict was lost nothing is made up."""
    account = Account.of([verdict(0), verdict(1, HIT, 2)], 2)
    assert (account.judged, account.reached, account.put_right, account.complete) == (1, 2, 1, False)


def test_top_notes() -> None:
    """Right by pitch or by a hit in another octave; wrong by another note or by silence; only where one is planned."""
    silent = Verdict(3, 1, MISS, (), (), (), 0.0, 0.0)
    played = [verdict(0, NEAR), verdict(1, HIT), verdict(2, MISS), silent, verdict(4, NEAR), verdict(5)]
    account = Account.of(played, 5, (60, 77, 62, 64, None))
    assert (account.tops, account.tops_right, account.top_accuracy) == (4, 2, 0.5)


def plainly(verdicts: Sequence[Verdict], steps: int) -> dict[str, object]:
    """The summary worked out once more from the text of the rules, with floats and without keeping anything."""
    first = {}
    for one in verdicts:
        if one.attempt == 1:
            first.setdefault(one.step, one)
    every = list(first.values())
    later = [v for v in verdicts if first.get(v.step) is not v]
    right = {v.step for v in later if v.grade == HIT} - {v.step for v in every if v.grade == HIT}
    offsets = [v.offset_ms for v in every if v.grade != MISS and v.offset_ms is not None]
    scores = [v.movement_score for v in every if v.movement_score is not None]
    reached = max((v.step + 1 for v in verdicts), default=0)
    return {
        "steps": steps,
        "reached": reached,
        "judged": len(every),
        "complete": steps > 0 and reached == steps and set(first) == set(range(steps)),
        "hits": sum(v.grade == HIT for v in every),
        "nears": sum(v.grade == NEAR for v in every),
        "misses": sum(v.grade == MISS for v in every),
        "put_right": len(right),
        "movement_score": pytest.approx(fmean(scores), abs=0.0501) if scores else None,
        "total_movement": sum(v.movement.semitones for v in every if v.movement),
        "timing_mean_ms": pytest.approx(fmean(offsets), abs=0.0501) if offsets else None,
        "timing_spread_ms": pytest.approx(pstdev(offsets), abs=0.0501) if len(offsets) > 1 else None,
    }


@given(st.lists(VERDICTS, max_size=30), st.integers(0, 10))
def test_the_rules_worked_out_plainly(verdicts: list[Verdict], steps: int) -> None:
    """For any verdicts, in any order, on any steps."""
    found = Account.of(verdicts, steps).as_json()
    wanted = plainly(verdicts, steps)
    assert {name: found[name] for name in wanted} == wanted


@given(st.lists(VERDICTS, max_size=30))
def test_counting_on_is_counting_afresh(verdicts: list[Verdict]) -> None:
    """After every verdict the account is that of the verdicts so far."""
    counting = Counting(8, TOPS)
    for count, one in enumerate(verdicts, 1):
        counting.add(one)
        assert counting.account == Account.of(verdicts[:count], 8, TOPS)


@given(st.lists(st.lists(VERDICTS, max_size=10), max_size=6))
def test_accounts_add_up(takes: list[list[Verdict]]) -> None:
    """In any order, with nothing for none; means and spreads of a sum are those of everything together."""
    accounts = [Account.of(take, 8, TOPS) for take in takes]
    whole = Account.total(accounts)
    assert whole == Account.total(reversed(accounts)) == sum(accounts, Account())
    assert whole.judged == sum(one.judged for one in accounts)
    offsets = [ms for take in takes for ms in _offsets(take)]
    assert whole.mean_ms == (pytest.approx(fmean(offsets), abs=1e-6) if offsets else None)
    assert whole.spread_ms == (pytest.approx(pstdev(offsets), abs=1e-6) if len(offsets) > 1 else None)
    assert [count for _, count in whole.faults] == sorted((count for _, count in whole.faults), reverse=True)


def _offsets(take: Sequence[Verdict]) -> list[float]:
    tried: set[int] = set()
    found = []
    for one in take:
        if one.attempt == 1 and one.step not in tried:
            tried.add(one.step)
            ms = timed_ms(one)
            found += [] if ms is None else [ms]
    return found
