"""Progress counts what was played, and nothing else."""

from __future__ import annotations

import json
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st
from judged import VERDICTS

from listener.history.progress.progress import PlayedTake, summarise, weak_changes
from listener.history.store.rows import TakeInfo
from listener.judging.account import Account
from listener.judging.verdict import Fault, Verdict

START = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
STEPS = (("C", "spread", (48, 55, 64)), ("F", "spread", (48, 57, 65)), ("G", "close", (55, 59, 62)))


def stroke(
    step: int,
    grade: str = "hit",
    *,
    attempt: int = 1,
    offset_ms: float | None = None,
    top: int | None = -1,
    score: float | None = None,
    faults: tuple[str, ...] = (),
) -> Verdict:
    """A verdict on a step; by default with the planned top note, with None for silence."""
    heard = STEPS[step][2] if top == -1 else () if top is None else (top,)
    codes = tuple(Fault(code, code) for code in faults)
    return Verdict(step, attempt, grade, codes, heard, (), float(step), 0.0, offset_ms, movement_score=score)


def take(
    verdicts: Sequence[Verdict],
    number: int = 1,
    *,
    drill: str = "walk",
    tempo: float | None = 60,
    steps: Sequence[tuple[str, str, tuple[int, ...]]] = STEPS,
) -> PlayedTake:
    """A take of the three-step drill, one day after the take before."""
    plan = {"steps": [{"chord": chord, "kind": kind, "pitches": pitches} for chord, kind, pitches in steps]}
    info = TakeInfo(1, drill, "", plan, (), 0, "medium", "plain", "click", "a port", START + timedelta(days=number),
                    tempo)  # fmt: skip
    return PlayedTake.of(info, verdicts, number, 1)


def test_nothing_played() -> None:
    """No takes: zeros and empty lists, not an error."""
    document = summarise([]).as_json()
    assert document == {"sessions": 0, "takes": 0, "strokes": 0, "drills": [], "weak_changes": []}


def test_series_and_totals_of_a_drill() -> None:
    """Grades of each take and of all, accuracy and movement score as series, first attempts only."""
    first = take([stroke(0), stroke(1, "near", score=50.0), stroke(1, attempt=2, score=99.0), stroke(2, "miss")], 1)
    second = take([stroke(0), stroke(1, score=80.0), stroke(2, score=90.0)], 2)
    (drill,) = summarise([first, second]).drills
    assert [one.account.grades for one in drill.takes] == [(1, 1, 1), (3, 0, 0)]
    assert [one.account.share for one in drill.takes] == [pytest.approx(1 / 3), 1.0]
    assert [one.account.movement_score for one in drill.takes] == [50.0, 85.0]
    assert drill.account.grades == (4, 1, 1)
    assert drill.last.started_at == START + timedelta(days=2)


def test_drills_played_last_come_first() -> None:
    """The table begins with what the player has just done."""
    takes = [take([stroke(0)], 1, drill="a"), take([stroke(0)], 2, drill="b"), take([stroke(0)], 3, drill="a")]
    progress = summarise(takes)
    assert [drill.drill for drill in progress.drills] == ["a", "b"]
    assert (progress.takes, progress.strokes, progress.sessions) == (3, 3, 1)


@pytest.mark.parametrize(
    ("takes", "reached"),
    [
        ([("hhh", 60.0), ("hhh", 72.0)], 72.0),
        ([("hhh", 60.0), ("hhm", 90.0)], 60.0),  # 67 % is not enough
        ([("hhh", 60.0), ("h", 200.0)], 60.0),  # one chord only: the drill was not tried
        ([("hhh", None)], None),  # at the player's own pace
        ([("mmm", 60.0)], None),
    ],
)
def test_tempo_reached(takes: list[tuple[str, float | None]], reached: float | None) -> None:
    """The highest tempo at which it was the whole drill and at least 90 % were hits."""
    words = {"h": "hit", "m": "miss"}
    played = [
        take([stroke(step, words[letter]) for step, letter in enumerate(grades)], number, tempo=tempo)
        for number, (grades, tempo) in enumerate(takes)
    ]
    assert summarise(played).drills[0].tempo_reached == reached


@pytest.mark.parametrize(("hits", "reached"), [(9, 60.0), (8, None)])
def test_ninety_percent_is_enough(hits: int, reached: float | None) -> None:
    """Nine of ten hits reach the tempo, eight do not."""
    strokes = [Verdict(step, 1, "hit" if step < hits else "near", (), (64,), (), 0.0, 0.0) for step in range(10)]
    assert summarise([take(strokes, steps=STEPS[:1] * 10)]).drills[0].tempo_reached == reached


def test_commonest_fault() -> None:
    """Counted once a stroke; a tie goes by the alphabet."""
    strokes = [
        stroke(0, "miss", faults=("missing", "missing", "late")),
        stroke(1, "near", faults=("late",)),
        stroke(2, "near", faults=("extra",)),
    ]
    (drill,) = summarise([take(strokes)]).drills
    assert drill.account.faults == (("late", 2), ("extra", 1), ("missing", 1))
    assert drill.as_json()["commonest_fault"] == {"code": "late", "strokes": 2}
    (drill,) = summarise([take(strokes[2:]), take([stroke(0, "near", faults=("bass",))])]).drills
    assert drill.account.faults[0] == ("bass", 1)
    assert summarise([take([stroke(0)])]).drills[0].as_json()["commonest_fault"] is None


def test_weak_changes() -> None:
    """From three attempts on, weakest first, without those that always succeed."""
    played = [
        take([stroke(0), stroke(1, "near"), stroke(2)]),
        take([stroke(0), stroke(1, "hit"), stroke(2, "miss")]),
        take([stroke(0), stroke(1, "miss"), stroke(2)]),
    ]
    first, second = weak_changes(played)
    assert (first.from_chord, first.from_kind, first.to_chord, first.to_kind) == ("C", "spread", "F", "spread")
    assert (first.attempts, first.hits) == (3, 1)
    assert (second.from_chord, second.to_chord, second.to_kind, second.hits) == ("F", "G", "close", 2)
    assert weak_changes(played[:2]) == ()
    assert weak_changes([take([stroke(0), stroke(1)]) for _ in range(5)]) == ()


@pytest.mark.parametrize(
    "strokes",
    [
        [stroke(0), stroke(2, "miss")],  # a step was skipped
        [stroke(0, "miss", top=None), stroke(1, "miss")],  # nothing sounded before
        [stroke(0), stroke(1, "miss", attempt=2)],  # a repeated attempt
        [stroke(1), stroke(0, "miss")],  # started again
    ],
)
def test_what_is_no_change(strokes: list[Verdict]) -> None:
    """Only neighbouring steps, played one after the other, make a change."""
    assert weak_changes([take(strokes) for _ in range(3)]) == ()


@given(st.lists(st.lists(VERDICTS, min_size=1, max_size=8), min_size=1, max_size=5))
def test_laws_of_progress(takes: list[list[Verdict]]) -> None:
    """Totals are sums of the takes, shares lie between 0 and 1, the document is JSON."""
    progress = summarise([take(verdicts, number) for number, verdicts in enumerate(takes)])
    (drill,) = progress.drills
    assert drill.account == sum((one.account for one in drill.takes), Account())
    for share in (drill.account.top_accuracy, drill.account.share, *(one.hit_rate for one in progress.weak_changes)):
        assert share is None or 0 <= share <= 1
    rates = [one.hit_rate for one in progress.weak_changes]
    assert rates == sorted(rates)
    assert json.loads(json.dumps(progress.as_json(), allow_nan=False))["takes"] == len(takes)


def test_a_take_that_was_broken_off() -> None:
    """It stays in the list with how far it went, beside the whole ones and in none of their series."""
    takes = [take([stroke(step) for step in range(3)], 0), take([stroke(0), stroke(1)], 1, tempo=90.0)]
    (drill,) = summarise(takes).drills
    assert drill.last.account.how_far == "2 of 3 steps"
    assert (drill.last.account.complete, drill.last.went_well, drill.tempo_reached) == (False, False, 60.0)
    assert drill.whole_takes == drill.takes[:1]
    assert drill.last.as_json()["complete"] is False
    assert [drill.last.as_json()[name] for name in ("steps", "reached", "judged", "accuracy")] == [3, 2, 2, 1.0]
