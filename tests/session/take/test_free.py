"""Free listening: live as from the file, kept like every other take."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, date, datetime
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.commands.drills.keeping import PassageKeeper
from listener.commands.playing.play import FREE, free_plan
from listener.drill.drill_file import load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take, take_bytes
from listener.history.skills.reviews import PLAYER, whose
from listener.history.store.store import Store
from listener.history.vocabulary.rows import read
from listener.judging.free.free import FreeJudge, HeardChord, hear_freely, heard_in, stood_in
from listener.judging.free.smoother import suggester
from listener.planning.plan import Plan
from listener.session.companion import Companion
from listener.session.take.clock import JumpingClock
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.recorder import Session, StoreRecorder
from listener.session.take.run import Interrupt, run_take
from listener.session.take.state import FINISHED, PAUSED, Snapshot
from listener.simulation.simulated import SimulatedSource

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
    practice = Practice(plan, SINGLE, TakeSettings(None, source="x"), FreeJudge(SINGLE, SUGGEST))
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
    assert hear_freely(again, SINGLE, SUGGEST).chords == tuple(heard)
    assert [len(snapshot.chords or ()) for snapshot in eye.seen] == sorted(len(s.chords or ()) for s in eye.seen)
    assert eye.seen[-1].phase == FINISHED
    assert companion.load.playing_s > 0


def test_messages_are_kept_as_they_are_heard(
    plan: Plan, make_messages: Callable[..., list[Message]], tmp_path: Path
) -> None:
    """Cut off in the middle: what was named before is in the history when it is opened again."""
    practice = Practice(plan, SINGLE, TakeSettings(None, source="x"), FreeJudge(SINGLE))
    with Store.open(tmp_path / "h.sqlite3") as store:
        recorder = StoreRecorder(store, Session(store, datetime.now(UTC)), practice, seed=None)
        for message in make_messages([(1.0, CHORDS[0]), (3.0, CHORDS[1])]):
            practice.feed(message)
        recorder.keep_messages(practice.messages_since(0))
    with Store.open(tmp_path / "h.sqlite3") as store:
        (kept,) = store.takes()
        assert kept.recovered
        again = hear_freely(read_take(store.take_file(kept.id), "t.mid"), SINGLE)
        assert [chord.chord for chord in again.chords] == ["C", "F"]


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
    practice = Practice(plan, SINGLE, TakeSettings(None), FreeJudge(SINGLE))
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
    assert hear_freely(kept, SINGLE).chords == tuple(live)
    assert stood_in(kept, SINGLE) == practice.stood()
    again = FreeJudge(SINGLE)
    assert list(heard_in(kept, again)) == live
    assert again.harmony == practice.harmony


def test_a_click_gives_the_harmony_its_bars(plan: Plan, make_messages: Callable[..., list[Message]]) -> None:
    """The click goes on as long as somebody plays; chords stand in its bars, a little early too, and bars are counted
    on after a pause. From the file it is the same."""
    waltz = replace(plan, drill=replace(plan.drill, meter=(3, 4), tempo=120.0))
    practice = Practice(waltz, SINGLE, TakeSettings(120.0, count_in_bars=1), FreeJudge(SINGLE, beats_in_bar=3))
    beats = [beat for n in range(40) for beat in practice.clicks(n * 0.5)]
    assert [(beat.bar, beat.beat) for beat in beats[:8]] == [
        (0, 1), (0, 2), (0, 3), (1, 1), (1, 2), (1, 3), (2, 1), (2, 2),
    ]  # fmt: skip
    first = beats[3].time_s
    played = [(first, CHORDS[0]), (first + 2.95, CHORDS[1]), (first + 3.0 + 4.5, CHORDS[2])]
    for message in make_messages(played):
        practice.tick(message.time_s)
        practice.feed(message)
    practice.pause_or_resume(20.0)
    practice.pause_or_resume(22.0)
    again = practice.next_click_s()
    assert again is not None
    for message in make_messages([(again + 1.5, CHORDS[0])]):
        practice.feed(message)
    shown = practice.snapshot(again + 2.0)
    assert (shown.bar, shown.beat) == (1, 2)
    practice.end(40.0)
    assert [(chord.symbol, chord.bar) for chord in practice.harmony] == [("C", 1), ("F", 3), ("G", 6), ("C", 7)]
    kept = read_take(take_bytes(practice.take()), "take.mid")
    replay = FreeJudge(SINGLE, beats_in_bar=3)
    list(heard_in(kept, replay))
    assert replay.harmony == practice.harmony
    assert kept.header is not None
    assert (kept.header.pace, kept.header.tempo, kept.header.meter) == ("click", 120.0, "3/4")


def test_a_pause_is_not_listened_to(plan: Plan, make_messages: Callable[..., list[Message]]) -> None:
    """What is tried out while paused gets no name, and is no neighbour of what comes after."""
    practice = Practice(plan, SINGLE, TakeSettings(None), FreeJudge(SINGLE))
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


class Typed:
    """Keys, each pressed when the take has come so far."""

    def __init__(self, clock: JumpingClock, *keys: tuple[float, str]) -> None:
        self._clock = clock
        self._keys = list(keys)

    def read(self) -> list[str]:
        due = [word for at_s, word in self._keys if at_s <= self._clock.now()]
        self._keys = self._keys[len(due) :]
        return due


def test_the_key_keep_makes_a_drill_of_the_last_passage(
    plan: Plan, make_messages: Callable[..., list[Message]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """What was played since the last silence lies among the player's own drills, while the take goes on; pressed twice
    it is kept once, and after a single note nothing is."""
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "own"))
    clock, eye = JumpingClock(), Eye()
    played = [(1.0 + 2 * n, notes) for n, notes in enumerate(CHORDS[:3])]
    played += [(30.0 + 2 * n, notes) for n, notes in enumerate(CHORDS[1:3])]
    messages = make_messages(played)
    practice = Practice(plan, SINGLE, TakeSettings(None, source="x"), FreeJudge(SINGLE, SUGGEST))
    keeper = PassageKeeper(SINGLE, make_instrument(), make_hand(), today=date(2031, 5, 1))
    keys = Typed(clock, (0.5, "keep"), (8.0, "keep"), (9.0, "keep"), (33.0, "keep"))
    run_take(
        practice, SimulatedSource(messages, clock.now, start_s=0.0), clock, start_s=0.0, screen=eye, keys=keys,
        recorder=None, interrupt=Interrupt(), keep=keeper,
    )  # fmt: skip
    said = list(dict.fromkeys(snapshot.note for snapshot in eye.seen if snapshot.note))
    assert said[0] == "Not kept. This passage: nothing was heard in it, so there is nothing to keep."
    assert said[1].startswith("Kept as kept-1: 3 chords. Found in the playing: ")
    assert said[1].endswith("Practise it: widehand play kept-1")
    assert said[2] == "Nothing was played since: it is kept as kept-1."
    assert said[3].startswith("Kept as kept-2: 2 chords. ")
    assert len(said) == 4
    first = load_drill("kept-1")
    assert first.title == "Kept on 1 May 2031"
    assert [str(step.wish.chord) for step in first.steps] == ["C", "F", "G"]
    assert [str(step.wish.chord) for step in load_drill("kept-2").steps] == ["F", "G"]
    assert len(practice.chords) == 5


def test_what_cannot_be_written_ends_no_take(
    plan: Plan, make_messages: Callable[..., list[Message]], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A file where the folder should be: one line, and the take goes on."""
    (tmp_path / "own").write_text("no folder", encoding="utf-8")
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "own"))
    practice = Practice(plan, SINGLE, TakeSettings(None, source="x"), FreeJudge(SINGLE, SUGGEST))
    for message in make_messages([(1.0, CHORDS[0]), (3.0, CHORDS[1])]):
        practice.feed(message)
    said = PassageKeeper(SINGLE, make_instrument(), make_hand())(practice)
    assert said.startswith("Not kept. ")
    assert not practice.ended
