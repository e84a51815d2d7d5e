"""Free listening: live as from the file, kept like every other take."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.commands.play import FREE, free_plan
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.simulated import SimulatedSource
from listener.hearing.take_file import read_take, take_bytes
from listener.history.reviews import PLAYER, whose
from listener.history.store import Store
from listener.history.vocabulary_rows import read
from listener.judging.free import FreeJudge, HeardChord, hear_freely, heard_in, stood_in
from listener.judging.smoother import suggester
from listener.planning.plan import Plan
from listener.session.clock import JumpingClock
from listener.session.companion import Companion
from listener.session.practice import Practice, Settings
from listener.session.recorder import Session, StoreRecorder
from listener.session.run import Interrupt, run_take
from listener.session.state import FINISHED, PAUSED, Snapshot

SINGLE = make_pickup("single")
SUGGEST = suggester(make_instrument(), make_hand())
CHORDS = [(48, 55, 64), (53, 60, 69), (55, 62, 71), (60,), (45, 52, 55, 60)]


@pytest.fixture(scope="module")
def plan() -> Plan:
    options = {"tuning": None, "capo": None, "hand": None, "left_handed": False}
    return free_plan(Namespace(**options))


class Eye:
    """A screen that remembers everything."""

    def __init__(self) -> None:
        self.seen: list[Snapshot] = []

    def show(self, snapshot: Snapshot) -> None:
        self.seen.append(snapshot)


class NoKeys:
    def read(self) -> list[str]:
        return []


def test_live_from_source_to_history(plan: Plan, make_messages: Callable[..., list[Message]], tmp_path: Path) -> None:
    """Chords are named while they are played, with their movement and a suggestion; the take is kept under its own
    name, reads back, is named the same again, and counts neither as practice of a drill nor as something to judge."""
    clock, eye = JumpingClock(), Eye()
    messages = make_messages([(1.0 + 2 * n, notes) for n, notes in enumerate(CHORDS)])
    practice = Practice(plan, SINGLE, Settings(None, source="x"), FreeJudge(SINGLE, SUGGEST))
    companion = Companion()
    with Store.open(tmp_path / "h.sqlite3") as store:
        recorder = StoreRecorder(store, Session(store, datetime.now(UTC)), practice, seed=None)
        run_take(
            practice, SimulatedSource(messages, clock.now, start_s=0.0), clock, start_s=0.0, screen=eye,
            keys=NoKeys(), recorder=recorder, interrupt=Interrupt(), companion=companion,
        )  # fmt: skip
        (kept,) = store.takes()
        again = read_take(store.take_file(kept.id), "take.mid")
        assert (kept.info.drill, kept.step_count, kept.finished_at is not None) == (FREE, 0, True)
        assert store.check() == ()
        assert store.progress().strokes == 0
        with store.backend.reading() as db:
            vocabulary = read(db, whose(PLAYER))
        assert (vocabulary.roots[0], vocabulary.roots[5], vocabulary.roots[7], vocabulary.roots[9]) == (1, 1, 1, 1)
        store.review_again([kept.id])
        with store.backend.reading() as db:
            assert read(db, whose(PLAYER)) == vocabulary
    heard = practice.chords
    assert [chord.chord for chord in heard] == ["C", "F", "G", None, "Am7"]
    assert [chord.kind for chord in heard][:3] == ["spread"] * 3
    assert heard[1].movement is not None
    assert heard[1].movement.voices == (5, 5, 5)
    assert heard[1].smoother is not None
    assert heard[1].smoother.voicing.midi == (48, 57, 65)
    assert heard[3].smoother is None
    assert hear_freely(again, SINGLE, SUGGEST) == list(heard)
    assert [len(snapshot.chords or ()) for snapshot in eye.seen] == sorted(len(s.chords or ()) for s in eye.seen)
    assert eye.seen[-1].phase == FINISHED
    assert companion.load.playing_s > 0


def test_messages_are_kept_as_they_are_heard(
    plan: Plan, make_messages: Callable[..., list[Message]], tmp_path: Path
) -> None:
    """Cut off in the middle: what was named before is in the history when it is opened again."""
    practice = Practice(plan, SINGLE, Settings(None, source="x"), FreeJudge(SINGLE))
    with Store.open(tmp_path / "h.sqlite3") as store:
        recorder = StoreRecorder(store, Session(store, datetime.now(UTC)), practice, seed=None)
        for message in make_messages([(1.0, CHORDS[0]), (3.0, CHORDS[1])]):
            practice.feed(message)
        recorder.keep_messages(practice.messages_since(0))
    with Store.open(tmp_path / "h.sqlite3") as store:
        (kept,) = store.takes()
        assert kept.recovered
        assert [c.chord for c in hear_freely(read_take(store.take_file(kept.id), "t.mid"), SINGLE)] == ["C", "F"]


strokes = st.lists(st.tuples(st.floats(0.01, 2.0), st.sampled_from(CHORDS)), min_size=1, max_size=8)
presses = st.lists(st.floats(0.0, 15.0), max_size=4)


@given(strokes, presses, st.lists(st.floats(0.0, 20.0), max_size=20))
def test_live_is_as_from_the_file(
    plan: Plan,
    make_messages: Callable[..., list[Message]],
    played: list[tuple[float, tuple[int, ...]]],
    pauses: list[float],
    ticks: list[float],
) -> None:
    """Whatever is played, paused and however often the clock ticks: the file is named as it was live."""
    now, placed = 0.0, []
    for wait_s, notes in played:
        now += wait_s
        placed.append((now, notes))
    practice = Practice(plan, SINGLE, Settings(None), FreeJudge(SINGLE))
    moments: list[tuple[float, int, Message | str]] = [(m.time_s, 0, m) for m in make_messages(placed)]
    moments += [(time_s, 1, "pause") for time_s in pauses] + [(time_s, 2, "tick") for time_s in ticks]
    for time_s, _, what in sorted(moments, key=lambda moment: moment[:2]):
        practice.tick(time_s)
        if isinstance(what, Message):
            practice.feed(what)
        elif what == "pause":
            practice.pause_or_resume(time_s)
    practice.end(40.0)
    live: list[HeardChord] = list(practice.chords)
    kept = read_take(take_bytes(practice.take()), "take.mid")
    assert hear_freely(kept, SINGLE) == live
    assert stood_in(kept, SINGLE) == practice.stood()
    again = FreeJudge(SINGLE)
    assert list(heard_in(kept, again)) == live
    assert again.harmony == practice.harmony


def test_a_pause_is_not_listened_to(plan: Plan, make_messages: Callable[..., list[Message]]) -> None:
    """What is tried out while paused gets no name, and is no neighbour of what comes after."""
    practice = Practice(plan, SINGLE, Settings(None), FreeJudge(SINGLE))
    messages = make_messages([(1.0, CHORDS[0]), (4.0, CHORDS[1]), (8.0, CHORDS[2])])
    for message in messages:
        if message.time_s > 3.0 and not practice.marks:
            practice.pause_or_resume(3.0)
            assert practice.snapshot(3.0).phase == PAUSED
        if message.time_s > 7.0 and practice.paused:
            practice.pause_or_resume(7.0)
        practice.feed(message)
    practice.end(20.0)
    assert [chord.chord for chord in practice.chords] == ["C", "G"]
    assert practice.chords[1].movement is None
    assert replace(practice.snapshot(20.0), chords=None).phase == FINISHED
