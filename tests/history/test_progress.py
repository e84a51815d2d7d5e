"""Progress counts what was played, and nothing else."""

from __future__ import annotations

import json
import statistics
from collections.abc import Sequence
from datetime import UTC, datetime, timedelta

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.history.progress import summarise, take_summary, weak_changes
from listener.history.rows import KeptStroke, PlayedTake, Target
from listener.judging.score import summarise as score_take
from listener.judging.verdict import Fault, Verdict

START = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
TARGETS = {
    0: Target(0, "C", "spread", 0, (5, 4, 2), (48, 55, 64), 64),
    1: Target(1, "F", "spread", 2, (5, 4, 2), (48, 57, 65), 65),
    2: Target(2, "G", "close", 0, (4, 3, 2), (55, 59, 62), 62),
}
TOPS = {step: target.top for step, target in TARGETS.items()}


def stroke(
    step: int,
    grade: str = "hit",
    *,
    attempt: int = 1,
    offset_ms: float | None = None,
    top: int | None = -1,
    score: float | None = None,
    faults: tuple[str, ...] = (),
) -> KeptStroke:
    """A stroke on a step; by default with the planned top note."""
    return KeptStroke(step, attempt, grade, float(step), offset_ms, TOPS[step] if top == -1 else top, score, faults)


def take(
    strokes: Sequence[KeptStroke], number: int = 1, *, drill: str = "walk", tempo: float | None = 60
) -> PlayedTake:
    """A take of the three-step drill, one day after the take before."""
    return PlayedTake(number, 1, drill, tempo, START + timedelta(days=number), None, 3, TARGETS, tuple(strokes))


def test_nothing_played() -> None:
    """No takes: zeros and empty lists, not an error."""
    document = summarise([]).as_json()
    assert document == {"sessions": 0, "takes": 0, "strokes": 0, "drills": [], "weak_changes": []}


def test_series_and_totals_of_a_drill() -> None:
    """Grades of each take and of all, accuracy and movement score as series, first attempts only."""
    first = take([stroke(0), stroke(1, "near", score=50.0), stroke(1, attempt=2, score=99.0), stroke(2, "miss")], 1)
    second = take([stroke(0), stroke(1, score=80.0), stroke(2, score=90.0)], 2)
    (drill,) = summarise([first, second]).drills
    assert [(one.grades.hits, one.grades.nears, one.grades.misses) for one in drill.takes] == [(1, 1, 1), (3, 0, 0)]
    assert [one.grades.accuracy for one in drill.takes] == [pytest.approx(1 / 3), 1.0]
    assert [one.movement_score for one in drill.takes] == [50.0, 85.0]
    assert (drill.grades.hits, drill.grades.nears, drill.grades.misses) == (4, 1, 1)
    assert drill.last.started_at == START + timedelta(days=2)


def test_drills_played_last_come_first() -> None:
    """The table begins with what the player has just done."""
    takes = [take([stroke(0)], 1, drill="a"), take([stroke(0)], 2, drill="b"), take([stroke(0)], 3, drill="a")]
    progress = summarise(takes)
    assert [drill.drill for drill in progress.drills] == ["a", "b"]
    assert (progress.takes, progress.strokes, progress.sessions) == (3, 3, 1)


def test_bias_and_spread_are_separate() -> None:
    """A steady player who is always 30 ms early has a mean of -30 and no spread at all."""
    steady = take([stroke(step, offset_ms=-30.0) for step in range(3)])
    timing = take_summary(steady).timing
    assert timing is not None
    assert (timing.mean_ms, timing.spread_ms, timing.strokes) == (-30.0, 0.0, 3)
    once = take_summary(take([stroke(0, offset_ms=12.0)])).timing
    assert once is not None
    assert once.spread_ms is None
    assert take_summary(take([stroke(0)], tempo=None)).timing is None


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
    """The highest tempo at which the whole drill was tried and at least 90 % were hits."""
    words = {"h": "hit", "m": "miss"}
    played = [
        take([stroke(step, words[letter]) for step, letter in enumerate(grades)], number, tempo=tempo)
        for number, (grades, tempo) in enumerate(takes)
    ]
    assert summarise(played).drills[0].tempo_reached == reached


@pytest.mark.parametrize(("hits", "reached"), [(9, 60.0), (8, None)])
def test_ninety_percent_is_enough(hits: int, reached: float | None) -> None:
    """Nine of ten hits reach the tempo, eight do not."""
    targets = {step: TARGETS[0] for step in range(10)}
    strokes = tuple(
        KeptStroke(step, 1, "hit" if step < hits else "near", 0.0, None, 64, None, ()) for step in range(10)
    )
    played = PlayedTake(1, 1, "walk", 60.0, START, None, 10, targets, strokes)
    assert summarise([played]).drills[0].tempo_reached == reached


def test_top_notes() -> None:
    """Right by pitch or by a hit in another octave; wrong by another note or by silence."""
    strokes = [stroke(0, "near"), stroke(1, "hit", top=77), stroke(2, "miss", top=60)]
    assert take_summary(take(strokes)).top_accuracy == pytest.approx(2 / 3)
    assert take_summary(take([stroke(0, "miss", top=None)])).top_accuracy == 0.0


def test_commonest_fault() -> None:
    """Counted once a stroke; a tie goes by the alphabet."""
    strokes = [
        stroke(0, "miss", faults=("missing", "missing", "late")),
        stroke(1, "near", faults=("late",)),
        stroke(2, "near", faults=("extra",)),
    ]
    (drill,) = summarise([take(strokes)]).drills
    assert drill.commonest_fault is not None
    assert (drill.commonest_fault.code, drill.commonest_fault.strokes) == ("late", 2)
    (drill,) = summarise([take(strokes[2:]), take([stroke(0, "near", faults=("bass",))])]).drills
    assert drill.commonest_fault is not None
    assert drill.commonest_fault.code == "bass"
    assert summarise([take([stroke(0)])]).drills[0].commonest_fault is None


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
def test_what_is_no_change(strokes: list[KeptStroke]) -> None:
    """Only neighbouring steps, played one after the other, make a change."""
    assert weak_changes([take(strokes) for _ in range(3)]) == ()


#: What the judge gives: offsets and scores in tenths.
_TENTHS = st.integers(-2000, 2000).map(lambda number: number / 10)
_SCORES = st.integers(0, 1000).map(lambda number: number / 10)
_STROKES = st.lists(
    st.builds(
        KeptStroke,
        step=st.integers(0, 2),
        attempt=st.integers(1, 3),
        grade=st.sampled_from(["hit", "near", "miss"]),
        onset_s=st.just(0.0),
        offset_ms=st.none() | _TENTHS,
        top=st.none() | st.integers(40, 90),
        movement_score=st.none() | _SCORES,
        fault_codes=st.lists(st.sampled_from(["late", "missing", "extra"]), unique=True).map(tuple),
    )
)


@given(_STROKES)
def test_a_take_counts_the_same_everywhere(strokes: list[KeptStroke]) -> None:
    """Progress gives for one take what the summary at its end gave."""
    verdicts = [
        Verdict(
            one.step,
            one.attempt,
            one.grade,
            tuple(Fault(code, code) for code in one.fault_codes),
            (),
            (),
            0.0,
            0.0,
            offset_ms=one.offset_ms,
            movement_score=one.movement_score,
        )
        for one in strokes
    ]
    score, summary = score_take(verdicts, 3), take_summary(take(strokes))
    assert (summary.grades.hits, summary.grades.nears, summary.grades.misses) == (score.hits, score.nears, score.misses)
    assert summary.movement_score == pytest.approx(score.movement_score, abs=0.051)
    mean, spread = (summary.timing.mean_ms, summary.timing.spread_ms) if summary.timing else (None, None)
    assert mean == pytest.approx(score.timing_mean_ms, abs=0.051)
    assert spread == pytest.approx(score.timing_spread_ms, abs=0.051)
    fault = summarise([take(strokes)]).drills[0].commonest_fault
    assert (fault and (fault.code, fault.strokes)) == (score.faults[0] if score.faults else None)


@given(st.lists(_STROKES.filter(bool), min_size=1, max_size=5))
def test_laws_of_progress(takes: list[list[KeptStroke]]) -> None:
    """Totals are sums of the takes, shares lie between 0 and 1, the document is JSON."""
    played = [take(strokes, number) for number, strokes in enumerate(takes)]
    progress = summarise(played)
    (drill,) = progress.drills
    assert drill.grades.strokes == sum(one.grades.strokes for one in drill.takes)
    for share in (drill.top_accuracy, drill.grades.accuracy, *(one.hit_rate for one in progress.weak_changes)):
        assert share is None or 0 <= share <= 1
    rates = [one.hit_rate for one in progress.weak_changes]
    assert rates == sorted(rates)
    offsets = [
        s.offset_ms for t in takes for s in t if s.attempt == 1 and s.grade != "miss" and s.offset_ms is not None
    ]
    if drill.timing and len(offsets) > 1:
        assert drill.timing.spread_ms == pytest.approx(statistics.pstdev(offsets))
    assert json.loads(json.dumps(progress.as_json(), allow_nan=False))["takes"] == len(takes)
