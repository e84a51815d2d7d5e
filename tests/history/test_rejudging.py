"""Kept takes are judged again from what was kept, and what is different now is shown and can be kept."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime, timedelta
from pathlib import Path
from typing import Any

import pytest
from how_many import THOROUGH
from played_takes import plan_of, played

from listener.commands.keeping import rejudge as command
from listener.errors import StoreError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take
from listener.history.rejudging import VerdictChange, changes, plan_again, rejudge
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import HIT, MISS, NEAR, Fault, Verdict
from listener.planning.plan import Plan

NOW = datetime(2031, 5, 6, 7, 20, tzinfo=UTC)
MakeVerdict = Callable[..., Verdict]


def play(store: Store, plan: Plan, *, seed: int, tempo: float | None = 72.0, pickup: str = "per-string") -> int:
    """One take of the simulated player, live into the store; gives its number."""
    _, recorder = played(store, plan, seed=seed, tempo=tempo, pickup=pickup)
    assert recorder.take_id is not None
    return recorder.take_id


def judge_again(store: Store, take: int) -> tuple[Verdict, ...]:
    """What today's program says about a kept take."""
    kept = store.take(take)
    return rejudge(kept.info, plan_again(kept.info), read_take(store.take_file(take), "take"))


def run(path: Path | str, capsys: pytest.CaptureFixture[str], **options: Any) -> tuple[int, str]:
    """The command's exit code and output."""
    given = {"store": str(path), "take": None, "drill": None, "write": False, "json": False, "rebuild": False}
    code = command.main(Namespace(**{**given, **options}))
    return code, capsys.readouterr().out


def spoil_verdict(store: Store, take: int) -> Verdict:
    """An older program thought otherwise of the third stroke; gives what is right."""
    verdicts = list(store.verdicts(take))
    right = verdicts[2]
    verdicts[2] = replace(right, grade="miss", faults=(Fault("missing", "the 3rd is missing"),))
    store.rewrite(take, verdicts, NOW, "0.0.3")
    return right


@pytest.mark.parametrize(
    ("drill", "tempo", "instrument", "pickup"),
    [
        ("ferry-landing", 72.0, {}, "per-string"),
        ("mill-verse", None, {"scale_mm": 610.0, "fret_count": 19}, "single"),
        ("harbour-lullaby", 60.0, {"tuning": "D2 A2 D3 G3 B3 E4", "capo": 2}, "per-string"),
    ],
)
def test_rejudging_equals_live(
    any_store: Store, drill: str, tempo: float | None, instrument: dict[str, Any], pickup: str
) -> None:
    """Every verdict comes out the same from MIDI, drill text and settings as they were kept, field for field."""
    plan = plan_of(drill, **instrument)
    for seed in range(3 if THOROUGH else 1):
        take = play(any_store, plan, seed=seed, tempo=tempo, pickup=pickup)
        assert len(any_store.verdicts(take)) >= len(plan.steps)
        assert judge_again(any_store, take) == any_store.verdicts(take)
        assert any_store.take(take).info.instrument == make_instrument(**instrument)
        assert any_store.take(take).info.hand_model == make_hand()
        assert any_store.take(take).info.pickup_profile == make_pickup(pickup)


@pytest.mark.slow
def test_rejudging_a_thousand_takes(store: Store, store_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """1,000 simulated takes with their slips, judged again by the command: nothing differs."""
    store.backend.db.execute("PRAGMA synchronous = OFF")  # only for speed
    plans = [plan_of("ferry-landing"), plan_of("mill-verse"), plan_of("three-barns", capo=1)]
    for seed in range(1000):
        play(store, plans[seed % 3], seed=seed, tempo=None if seed % 4 == 0 else 60.0 + seed % 60)
    code, text = run(store_path, capsys, json=True)
    found = json.loads(text)
    assert (code, found["checked"], found["changed"], found["troubles"], found["takes"]) == (0, 1000, 0, [], [])


def test_what_is_different_is_shown_and_kept_only_when_asked(
    store: Store, store_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without --write nothing changes; with it the new verdicts count, and the old ones stay with their version."""
    plan = plan_of()
    for seed in (1, 2):
        play(store, plan, seed=seed)
    right = spoil_verdict(store, 1)
    spoilt = store.verdicts(1)
    code, text = run(store_path, capsys)
    assert code == 0
    assert "take 1 of ferry-landing, 2031-05-06" in text
    assert "judged by 0.0.3: 1 change" in text
    assert f"  {right.step + 1}  " in text
    assert "miss (the 3rd is missing) -> hit" in text
    assert "2 takes judged again: 1 with changes." in text
    assert store.verdicts(1) == spoilt
    code, text = run(store_path, capsys, write=True, json=True)
    document = json.loads(text)
    assert (code, document["checked"], document["changed"], document["written"]) == (0, 2, 1, 1)
    (change,) = document["takes"][0]["changes"]
    assert (change["what"], change["before"]["grade"], change["after"]["grade"]) == (["grade", "faults"], "miss", "hit")
    assert store.verdicts(1)[2] == right
    first, second = store.former_judgements(1)
    assert (second.program_version, second.verdicts) == ("0.0.3", spoilt)
    assert first.verdicts == store.verdicts(1)
    assert store.take(1).judged_by == store.take(2).judged_by != "0.0.3"
    assert store.former_judgements(2) == ()
    assert "every verdict is the same" in run(store_path, capsys)[1]


def test_options_choose_takes(store: Store, store_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One take, or those of one drill; what is not there is said."""
    play(store, plan_of(), seed=1)
    play(store, plan_of("harbour-lullaby"), seed=2)
    assert json.loads(run(store_path, capsys, take=2, json=True)[1])["checked"] == 1
    assert json.loads(run(store_path, capsys, drill="ferry-landing", json=True)[1])["checked"] == 1
    assert json.loads(run(store_path, capsys, json=True)[1])["checked"] == 2
    with pytest.raises(StoreError, match="there is no take 9 in"):
        run(store_path, capsys, take=9)
    with pytest.raises(StoreError, match="no takes of cellar-steps; there are some of: ferry-landing, harbour-lullaby"):
        run(store_path, capsys, drill="cellar-steps")
    with pytest.raises(StoreError, match="take 2 is one of harbour-lullaby, not of ferry-landing"):
        run(store_path, capsys, take=2, drill="ferry-landing")


def test_an_empty_history(store_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing to do is not an error, and looking makes no file."""
    assert run(store_path, capsys) == (0, "No takes yet, so nothing to judge again.\n")
    assert not store_path.exists()


def test_a_history_that_may_only_be_read(
    store: Store, store_path: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """Looking works there; keeping new verdicts is refused in plain words."""
    play(store, plan_of(), seed=1)
    spoil_verdict(store, 1)

    def refuse(path: Path) -> None:
        raise StoreError(f"{path} cannot be written; check the rights")  # tried with real rights in test_trouble.py

    monkeypatch.setattr("listener.history.store.embedded.connect", refuse)
    assert "1 take judged again: 1 with changes." in run(store_path, capsys)[1]
    with pytest.raises(StoreError, match="cannot be written; check the rights"):
        run(store_path, capsys, write=True)


def test_a_damaged_history_is_saved_by_looking(
    store: Store, store_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What other commands promise: rejudge saves what can be read, and says what it did."""
    for seed in (1, 2, 3):
        play(store, plan_of(), seed=seed)
    before = [(take, store.verdicts(take.id)) for take in store.takes()]
    store.close()
    data = bytearray(store_path.read_bytes())
    page = data.rindex(b'"heard"') // 4096
    assert page > 0
    data[page * 4096 : page * 4096 + 8] = b"\xff" * 8
    store_path.write_bytes(bytes(data))
    code = command.main(Namespace(store=str(store_path), take=None, drill=None, write=False, json=True, rebuild=False))
    printed = capsys.readouterr()
    assert "was damaged" in printed.err
    assert "came whole from their files" in printed.err
    assert "the damaged file is kept as" in printed.err
    assert (code, json.loads(printed.out)["troubles"]) == (0, [])
    with Store.open(store_path) as again:
        after = [(take, again.verdicts(take.id)) for take in again.takes()]
    assert [(take.info, verdicts) for take, verdicts in after] == [
        (replace(take.info, session=now.info.session), verdicts)
        for (take, verdicts), (now, _) in zip(before, after, strict=True)
    ]


def test_a_running_take_is_left_out(
    store: Store, store_path: Path, info: Callable[..., TakeInfo], capsys: pytest.CaptureFixture[str]
) -> None:
    """A take that is being played is not judged behind the player's back."""
    take = store.begin_take(info(session=store.begin_session(NOW)))
    assert run(store_path, capsys)[1].startswith("1 take is not finished: being played now. ")
    with pytest.raises(StoreError, match="still being played"):
        run(store_path, capsys, take=take)
    with pytest.raises(ValueError, match="still being played"):
        store.rewrite(take, [], NOW)


@pytest.mark.parametrize(
    ("spoil", "words"),
    [
        ("UPDATE route SET drill_text = 'title ='", "its drill's text was not kept"),
        ("UPDATE route SET drill_text = ''", "its drill's text was not kept"),
        ("UPDATE route SET plan = '{}'", "its drill's text was not kept"),
        ("UPDATE take SET pickup = 'gone', pickup_profile = NULL, seal = NULL", "there is no pickup profile 'gone'"),
        ("UPDATE take SET file_sha256 = 'another', seal = NULL", "is not what was kept"),
    ],
)
def test_takes_that_cannot_be_judged_again(
    store: Store, store_path: Path, capsys: pytest.CaptureFixture[str], spoil: str, words: str
) -> None:
    """Each says why in one line, the others are done, and the exit code tells."""
    play(store, plan_of(), seed=1)
    store.backend.db.execute(spoil)
    before = store.verdicts(1)
    code, text = run(store_path, capsys, write=True)
    assert code == 1
    line, last = text.splitlines()
    assert line.startswith("take 1 of ferry-landing")
    assert "cannot be judged again: " in line
    assert words in line
    assert last == "0 takes judged again: every verdict is the same. 1 take could not be."
    assert store.verdicts(1) == before


def test_the_kept_pickup_stands_in_for_one_that_is_gone(store: Store) -> None:
    """A profile that a later program no longer has was kept with the take."""
    take = play(store, plan_of(), seed=1)
    kept = store.take(take)
    info = replace(kept.info, pickup="a profile of long ago")
    assert rejudge(info, plan_again(info), read_take(store.take_file(take), "take")) == store.verdicts(take)


def test_the_kept_route_stands(store: Store) -> None:
    """Where the planner of today would choose other shapes, the take is judged against those that were shown."""
    today = plan_of("mill-verse")
    shown = _another_route(today)
    take = play(store, shown, seed=3)
    again = plan_again(store.take(take).info)
    assert [planned.voicing.midi for planned in again.steps] == [planned.voicing.midi for planned in shown.steps]
    assert [p.voicing.midi for p in again.steps] != [p.voicing.midi for p in today.steps]
    assert [planned.fingering.frets for planned in again.steps] == [p.fingering.frets for p in shown.steps]
    assert judge_again(store, take) == store.verdicts(take)


def _another_route(plan: Plan) -> Plan:
    """The same with one shape replaced by another that its step's wish allows."""
    from listener.music.voicing import voicing_of
    from listener.planning.shapes.candidates import candidates

    for place, planned in enumerate(plan.steps):
        wish = planned.step.wish
        for other in candidates(wish, make_instrument(), make_hand()):
            if other.fingering.pitches != planned.voicing.midi:
                voicing = voicing_of(wish.chord, other.fingering.pitches)
                steps = list(plan.steps)
                steps[place] = replace(planned, voicing=voicing, fingering=other.fingering)
                return replace(plan, steps=tuple(steps))
    raise AssertionError("every wish of this drill has only one answer")


def test_changes_pair_what_belongs_together(verdict: MakeVerdict) -> None:
    """By time and step; an onset that is reckoned a little otherwise is the same stroke, one far away is not."""
    one, two, three = verdict(0, onset_s=1.0), verdict(1, onset_s=2.0), verdict(2, onset_s=3.0)
    assert changes([one, two, three], [one, two, three]) == ()
    moved = replace(two, onset_s=1.994)
    (change,) = changes([one, two], [one, moved])
    assert (change.before, change.after, change.what) == (two, moved, ("onset_s",))
    gone, new = changes([one, two], [one, three])
    assert (gone.before, gone.after, gone.what) == (two, None, ())
    assert (new.before, new.after, new.step) == (None, three, 2)
    left_out = verdict(1, "miss", onset_s=3.0)
    (change,) = changes([one, three], [one, left_out, three])
    assert (change.before, change.after) == (None, left_out)
    (change,) = changes([one, three], [one, replace(three, step=1)])
    assert (change.what, change.after and change.after.step) == (("step",), 1)


def test_takes_of_the_first_program_are_judged_again(store_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Their instrument follows from tuning and capo, all that could be chosen then."""
    import shutil

    shutil.copytree(Path(__file__).with_name("versions") / "1", store_path.parent)
    code, text = run(store_path, capsys, json=True)
    document = json.loads(text)
    assert (code, document["checked"]) == (0, 4)
    assert all(take["trouble"] is None for take in document["takes"])


def test_rewriting_is_one_step(any_store: Store, info: Callable[..., TakeInfo], verdict: MakeVerdict) -> None:
    """Verdicts can become more or fewer; sums follow; what was before comes back whole."""
    take = any_store.begin_take(info(session=any_store.begin_session(NOW)))
    given = [verdict(step, grade, attempt=1) for step, grade in enumerate(("hit", "near", "miss"))]
    for one in given:
        any_store.keep(take, one, [])
    any_store.finish_take(take, b"file", NOW)
    any_store.rewrite(take, [verdict(0, attempt=1)], NOW + timedelta(days=1), "7.1")
    assert any_store.verdicts(take) == (verdict(0, attempt=1),)
    (former,) = any_store.former_judgements(take)
    assert former.verdicts == tuple(given)
    assert former.replaced_at == NOW + timedelta(days=1)
    assert any_store.take(take).judged_by == "7.1"
    assert any_store.progress().drills[0].account.hits == any_store.progress().strokes == 1


def test_a_change_says_why() -> None:
    """Attempts that went, came or moved, each with what the judge goes by; a verdict that is only worded otherwise
    says nothing."""
    heard = Verdict(2, 1, NEAR, (), (48, 55), (), 1.0, 0.0)
    silent = replace(heard, heard=(), grade=MISS)
    whole = replace(heard, heard=(48, 55, 64), spread_ms=400.0, grade=HIT)
    assert "silence" in VerdictChange(2, silent, None).why
    assert "no attempt" in VerdictChange(2, heard, None).why
    assert "of its own" in VerdictChange(2, None, heard).why
    assert "went on" in VerdictChange(2, None, silent).why
    assert "belongs to step 4" in VerdictChange(2, heard, replace(heard, step=3)).why
    assert "at this step" in VerdictChange(2, heard, replace(heard, attempt=2)).why
    assert "heard out" in VerdictChange(2, heard, whole).why
    assert VerdictChange(2, heard, replace(heard, offset_ms=3.0)).why == ""
