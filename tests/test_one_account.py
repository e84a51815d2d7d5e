"""Whoever is asked what a take came to says the same: screen, JSON, history, bundle, progress, since last time."""

from __future__ import annotations

import json
import re
from collections.abc import Iterator, Sequence
from dataclasses import replace
from datetime import UTC, datetime
from itertools import count
from pathlib import Path

import pytest
from by_hand import PlanMaker, make_plan
from hypothesis import HealthCheck, Phase, given, settings
from hypothesis import strategies as st
from judged import VERDICTS

from listener.hearing.pickup import make_pickup
from listener.hearing.plucks import Plucks
from listener.hearing.rings import Rings
from listener.hearing.take_file import Take, TakeHeader, take_bytes
from listener.history.exchange.selecting import bundle_of, packed, selected
from listener.history.exchange.students import Student, students_of
from listener.history.exchange.unpacking import unpack
from listener.history.progress.periods import grouped
from listener.history.progress.reading import read_facts
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.account import Account
from listener.judging.judged import JudgedTake
from listener.judging.touch.log import TouchLog
from listener.judging.verdict import HIT, MISS, Fault, Verdict
from listener.planning.plan import Plan
from listener.screen.practice.summary import summary_lines
from listener.screen.practice.totals import count_parts, movement_parts, timing_row
from listener.screen.theme import Theme
from listener.session.ladder import Ladder, is_clean
from listener.session.since import WholeTake, improved
from listener.session.take.so_far import SoFar
from listener.session.take.state import FINISHED, Snapshot

__all__ = ["make_plan"]

NUMBERS = count(1)
NOW = datetime(2031, 5, 6, 7, 8, tzinfo=UTC)
CHORDS = [("C", (48, 55, 60)), ("Dm", (50, 57, 62)), ("C", (52, 55, 64)), ("G", (55, 59, 62))] * 2
#: What the judge can have given for this plan.
TAKES = st.lists(VERDICTS.filter(lambda verdict: verdict.step < 8), max_size=16)
#: Each example writes a history and a bundle: one that fails is shown as it is, a smaller one would take minutes.
PHASES = [Phase.explicit, Phase.reuse, Phase.generate]


@pytest.fixture(scope="module")
def plan(make_plan: PlanMaker) -> Plan:
    return make_plan(CHORDS)


def nothing_touched(plan: Plan) -> TouchLog:
    """Of verdicts that nobody played."""
    return TouchLog(plan, Rings(Plucks(make_pickup("single"))))


def json_of(plan: Plan, verdicts: Sequence[Verdict], account: Account) -> dict[str, object]:
    return JudgedTake(plan, tuple(verdicts), account, {}, (), nothing_touched(plan)).as_json()


@pytest.fixture
def store(tmp_path: Path) -> Iterator[Store]:
    with Store.open(tmp_path / "history.sqlite3") as opened:
        opened.backend.db.execute("PRAGMA synchronous = OFF")
        yield opened


def shown(plan: Plan, verdicts: Sequence[Verdict]) -> Snapshot:
    return Snapshot(plan, FINISHED, 8, None, SoFar.of(plan, verdicts), (), 0.0, 60.0, 0, 0, "a port")


def kept(store: Store, plan: Plan, verdicts: Sequence[Verdict], drill: str) -> int:
    """The number of the take in the history, as a finished one of a drill of that name."""
    header = TakeHeader(plan.drill.name, "click", 60.0, 1.0, "single", "E2 A2 D3 G3 B3 E4", 0, "medium")
    info = TakeInfo.of(plan, session=store.begin_session(NOW), pickup="single", pace="click", source="a port",
                       started_at=NOW, tempo=60.0, header=header)  # fmt: skip
    take = store.begin_take(replace(info, drill=drill))
    for verdict in verdicts:
        store.keep(take, verdict, [])
    store.finish_take(take, take_bytes(Take((), (), header)), NOW)
    return take


def text(parts: Sequence[object]) -> str:
    return "".join(part if isinstance(part, str) else str(part[0]) for part in parts)  # type: ignore[index]


@settings(suppress_health_check=[HealthCheck.function_scoped_fixture], phases=PHASES, deadline=None)
@given(verdicts=TAKES)
def test_everybody_tells_the_same(plan: Plan, store: Store, verdicts: list[Verdict]) -> None:
    """The account of the verdicts, from wherever it is read; and every number that is told is one of its numbers."""
    account = Account.of_take(plan, verdicts)

    # The screen, while it is played and at its end.
    snapshot = shown(plan, verdicts)
    assert snapshot.account == account
    counts = re.findall(r"\d+", text(count_parts(snapshot, Theme(ascii_only=True))))
    assert tuple(map(int, counts)) == account.grades
    told = " ".join(summary_lines(snapshot))
    if verdicts:
        hits, nears, misses = map(int, re.search(r"(\d+) hits?, (\d+) nears?, (\d+) miss", told).groups())  # type: ignore[union-attr]
        assert (hits, nears, misses) == account.grades
        assert ("of 8 steps" in told) == (not account.complete)
        assert (", then broken off" in told) == (account.reached < 8)
    mean = re.search(r"Movement score (\d+) of 100", told)
    assert (mean and mean[1]) == (None if account.movement_score is None else f"{account.movement_score:.0f}")
    assert f"mean {account.movement_score or 0:.0f}" in text(movement_parts(snapshot, 20, Theme())) or not account.moves
    late = re.search(r"Timing: (?:on the click|(\d+) ms (late|early)) on average", told)
    assert bool(late) == (account.mean_ms is not None)
    if late is not None and account.mean_ms is not None:
        assert int(late[1] or 0) == round(abs(account.mean_ms))
        assert f"on average {late[1] or ''}" in "".join(one.text for one in timing_row(snapshot, 80, Theme()))
    assert (f": {account.steadiness}." in told) == (account.steadiness is not None)
    if account.faults:
        count = account.faults[0][1]
        assert {1: ", once, at step", 2: " (twice), "}.get(count, f" ({count} times), ") in told

    # JSON, of hear, play and demo.
    summary = json.loads(json.dumps(json_of(plan, verdicts, snapshot.account)))["summary"]
    assert summary == json.loads(json.dumps(account.as_json()))

    # The history: while it is open, opened anew, over one drill, over a week.
    drill = f"drill-{next(NUMBERS)}"
    take = kept(store, plan, verdicts, drill)
    assert store.take(take).account == account
    summaries = store.summaries(drill)
    assert [one.account for one in summaries] == [account] * bool(verdicts)
    if not verdicts:
        return
    (progress,) = store.progress(drill).drills
    assert progress.account == progress.last.account == account
    document = progress.last.as_json()
    for name in ("steps", "reached", "judged", "complete", "hits", "nears", "misses", "movement_score"):
        assert document[name] == summary[name], name
    with store.backend.reading() as db:
        facts = read_facts(db, drill)
    (week,) = grouped(facts.takes, "week", UTC).values()
    assert week.account == account

    # A bundle, as a teacher reads it.
    (student,) = _students(store, take)
    assert student.account == account
    assert student.progress.drills[0].last.as_json() == {**document, "take": 1}

    # Since last time, and the ladder.
    standing = WholeTake.of(account, 60.0)
    assert (standing is None) == (not account.complete)
    assert is_clean(account) == (account.complete and not account.misses and account.hits >= 0.95 * 8)
    worse = WholeTake(60.0, Account(steps=8, reached=8, misses=8))
    if standing is not None and account.hits:
        assert f"({account.hits} of 8)" in improved(worse, standing)
    if account.reached < 8:
        assert Ladder(60, 40, 90).after(account) == Ladder(60, 40, 90)
        assert improved(worse, standing) == ""


def _students(store: Store, take: int) -> tuple[Student, ...]:
    chosen = selected(store, (take,), None, None, every=False)
    return students_of([("a.zip", unpack(packed(bundle_of(store, chosen, [], "Mara")), "a.zip"))])


def test_three_late_wrong_chords(plan: Plan, store: Store) -> None:
    """What was 'not steady yet' in words and 'very steady' in JSON: five steady chords and three far too late."""
    other = (Fault("other_chord", "that was another chord"),)
    verdicts = [Verdict(step, 1, HIT, (), (60,), (), 1.0 + step, 0.0, 4.0) for step in range(5)]
    verdicts += [Verdict(step, 1, MISS, other, (61,), (), 1.4 + step, 0.0, 400.0) for step in range(5, 8)]
    told = " ".join(summary_lines(shown(plan, verdicts)))
    assert "Timing: 4 ms late on average, give or take 0 ms: very steady." in told
    row = json_of(plan, verdicts, Account.of_take(plan, verdicts))
    assert row["summary"]["steadiness"] == "very steady"  # type: ignore[index]
    kept(store, plan, verdicts, "a drill")
    (take,) = store.summaries()
    assert take.account.steadiness == "very steady"
    assert take.as_json()["timing"] == {"mean_ms": 4.0, "spread_ms": 0.0, "strokes": 5}


@pytest.mark.parametrize("played", [8, 3])
def test_a_clean_half_is_no_clean_drill(plan: Plan, store: Store, played: int) -> None:
    """Eight of eight chords are 100 %; three of eight are three of eight steps, whoever tells it."""
    verdicts = [Verdict(step, 1, HIT, (), plan.steps[step].voicing.midi, (), 1.0 + step, 0.0) for step in range(played)]
    whole = played == 8
    account = Account.of_take(plan, verdicts)
    assert (is_clean(account), account.how_far) == ((True, "") if whole else (False, "3 of 8 steps"))
    told = summary_lines(shown(plan, verdicts))
    assert ("3 hits, 0 nears, 0 misses: 3 of 8 steps, then broken off." in told) == (not whole)
    take = kept(store, plan, verdicts, "a drill")
    (drill,) = store.progress().drills
    assert (drill.tempo_reached, len(drill.whole_takes)) == ((60.0, 1) if whole else (None, 0))
    assert store.take(take).account == account
