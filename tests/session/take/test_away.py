"""Nobody is playing: the take pauses by itself, says so, records nothing that was not played, and goes on when somebody
comes back."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from spread_chords import AM, C, F, G

from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import read_take, take_bytes
from listener.judging.take import judge_take
from listener.judging.verdict import HIT, MISS, NEAR, Verdict
from listener.planning.plan import Plan
from listener.session.companion import Companion
from listener.session.take.away import OWN_PACE_S
from listener.session.take.clock import JumpingClock
from listener.session.take.practice import LEAD_S, Practice, TakeSettings
from listener.session.take.run import Interrupt, run_take
from listener.session.take.simulated_player import SimulatedPlayer
from listener.session.take.state import COUNT_IN, FINISHED, PAUSED, PLAYING, Snapshot

#: Its delay is left out here, so that times of messages are times of plucks.
SINGLE = replace(make_pickup("single"), delay_periods=0.0)
#: Eight bars, a chord each; no note of the noodling is a chord of it.
TUNE = [("C", C), ("F", F), ("G", G), ("Am", AM), ("F", F), ("C", C), ("G", G), ("C", C)]
NOODLING = [(1.3 * number, (note,)) for number, note in enumerate((61, 63, 66, 68, 70, 73, 75, 78, 70, 66, 63, 61))]
#: A bar lasts a second.
TEMPO = 240.0
FIRST_S = LEAD_S + 1.0

PlanMaker = Callable[..., Plan]
TakeMaker = Callable[..., list[Message]]


class Player:
    """Drives a take as the loop does: messages in time, a tick every 20 ms."""

    def __init__(self, practice: Practice, make_messages: TakeMaker) -> None:
        self.practice = practice
        self.make_messages = make_messages
        self.now_s = 0.0
        self.verdicts: list[Verdict] = []

    def play(self, strokes: Sequence[tuple[float, Sequence[int]]], until_s: float) -> None:
        """Strokes at these times of the take, and the time until then."""
        pending = self.make_messages(strokes, ring_s=0.4)
        while self.now_s < until_s:
            self.now_s = round(self.now_s + 0.02, 2)
            while pending and pending[0].time_s <= self.now_s:
                self._said(self.practice.feed(pending.pop(0)))
            self._said(self.practice.tick(self.now_s))

    def press_pause(self) -> None:
        self._said(self.practice.pause_or_resume(self.now_s))

    def _said(self, verdicts: list[Verdict]) -> None:
        self.verdicts += [verdict for verdict in verdicts if verdict.settled]

    @property
    def shown(self) -> Snapshot:
        return self.practice.snapshot(self.now_s)

    @property
    def told(self) -> list[tuple[int, str]]:
        return [(verdict.step, verdict.grade) for verdict in self.verdicts]

    @property
    def marks(self) -> list[str]:
        return [mark.word.split()[0] for mark in self.practice.marks]

    def replayed(self, plan: Plan) -> list[Verdict]:
        return judge_take(plan, SINGLE, read_take(take_bytes(self.practice.take()), "take.mid"))


@pytest.fixture
def tune(make_plan: PlanMaker) -> Plan:
    return make_plan(TUNE, beats=4.0)


@pytest.fixture
def player(tune: Plan, make_messages: TakeMaker) -> Callable[..., Player]:
    def make(tempo: float | None, **more: object) -> Player:
        return Player(Practice(tune, SINGLE, TakeSettings(tempo=tempo, **more)), make_messages)  # type: ignore[arg-type]

    return make


def due_s(step: int) -> float:
    return FIRST_S + step


# With the click --------------------------------------------------------------------------------------------------


def test_four_bars_before_the_first_note(player: Callable[..., Player]) -> None:
    """The hands are not on the guitar yet: the click stops after four bars and waits."""
    one = player(TEMPO)
    one.play([], FIRST_S + 3.9)
    assert one.shown.phase == PLAYING
    one.play([], FIRST_S + 4.1)
    assert (one.shown.phase, one.shown.step) == (PAUSED, 0)
    assert one.shown.away == "Paused: nobody is playing. Play C to go on."
    assert one.practice.marks[-1].word == "pause"
    assert one.practice.marks[-1].time_s == pytest.approx(FIRST_S + 4.0)
    assert one.practice.next_click_s() is None
    one.play([], 3600.0)
    assert (one.shown.phase, one.told) == (PAUSED, [])


def test_four_bars_of_silence_and_back(player: Callable[..., Player], tune: Plan) -> None:
    """Two chords, then nothing: it waits with the third one, which wakes it and is judged after a bar of count-in."""
    one = player(TEMPO)
    one.play([(due_s(0), C), (due_s(1), F)], due_s(6) - 0.1)
    assert one.shown.phase == PLAYING
    one.play([], 20.0)
    assert (one.shown.phase, one.shown.step) == (PAUSED, 2)
    assert one.shown.away == "Paused: nobody is playing. Play G to go on."
    assert one.practice.marks[-1].time_s == pytest.approx(due_s(6))
    one.play([(20.5, G)], 20.7)
    assert (one.shown.phase, one.shown.away) == (COUNT_IN, "")
    again_s = one.practice.marks[-1].time_s + LEAD_S + 1.0
    one.play([(again_s + number, notes) for number, (_, notes) in enumerate(TUNE[2:])], 40.0)
    assert one.told == [(step, HIT) for step in range(8)]
    assert [verdict.offset_ms for verdict in one.verdicts[2:]] == [pytest.approx(0.0, abs=0.1)] * 6
    assert one.shown.phase == FINISHED
    assert one.replayed(tune) == one.verdicts


def test_who_came_in_early_was_at_the_next_chord(player: Callable[..., Player]) -> None:
    """The third chord was played, long before its time: it waits with the fourth one, four bars after the third."""
    one = player(TEMPO)
    one.play([(due_s(0), C), (due_s(1), F), (due_s(2) - 0.6, G)], 20.0)
    assert (one.shown.phase, one.shown.step) == (PAUSED, 3)
    assert one.practice.marks[-1].time_s == pytest.approx(due_s(7))


def test_the_first_chord_of_the_passage_wakes_it_too(player: Callable[..., Player]) -> None:
    """Who begins the passage anew is followed there."""
    one = player(TEMPO)
    one.play([(due_s(0), C), (due_s(1), F)], 15.0)
    one.play([(15.5, C)], 16.0)
    assert one.practice.marks[-1].word.startswith("click 0 ")
    assert one.shown.step == 0


def test_a_chord_that_is_nearly_right_wakes_it(player: Callable[..., Player]) -> None:
    """One tone beside it: somebody is there; another chord of the drill, or a single string, is nobody."""
    one = player(TEMPO)
    one.play([(due_s(0), C), (due_s(1), F)], 15.0)
    one.play([(15.5, AM), (17.0, (55,))], 19.0)
    assert one.shown.phase == PAUSED
    one.play([(19.0, (55, 62, 72))], 19.3)
    assert one.practice.marks[-1].word.startswith("click 2 ")
    assert one.told == [(0, HIT), (1, HIT)]


def test_no_count_in_was_asked_for(player: Callable[..., Player]) -> None:
    """A bar is counted in all the same: the hands need it."""
    one = player(TEMPO, count_in_bars=0)
    one.play([], 6.0)
    one.play([(6.5, C)], 6.7)
    assert one.shown.phase == COUNT_IN


def test_noodling_is_nobody_at_a_chord(player: Callable[..., Player]) -> None:
    """It goes on for four bars: the click stops, says why, and nothing of it was held against anybody."""
    one = player(TEMPO)
    one.play([(due_s(0), C), (due_s(1), F), *((due_s(2) + at_s, notes) for at_s, notes in NOODLING)], due_s(2) + 8.0)
    assert one.shown.phase == PAUSED
    assert one.shown.away == "Paused while you play something else. Play G to go on."
    assert one.told == [(0, HIT), (1, HIT)]


def test_a_part_ends_with_its_last_chord(player: Callable[..., Player], tune: Plan) -> None:
    """A hard spot of two bars: over when its last chord is, however late that is noticed, and nothing of the next chord
    is held against anybody. Where nobody was at all it waits, for otherwise it would be played again and again."""
    one = player(TEMPO, first_step=2, last_step=3)
    one.play([(due_s(0), G), (due_s(1) + 0.2, AM)], due_s(2) - 0.1)
    assert one.shown.phase == PLAYING
    one.practice.tick(due_s(2) + 30.0)
    assert one.practice.marks[-1].word == "end"
    assert one.practice.marks[-1].time_s == pytest.approx(due_s(2))
    assert [verdict.step for verdict in one.practice.verdicts] == [2, 3]
    assert one.replayed(tune) == list(one.practice.verdicts)
    other = player(TEMPO, first_step=2, last_step=3)
    other.play([], 60.0)
    assert (other.shown.phase, other.shown.step) == (PAUSED, 2)
    assert other.shown.away == "Paused: nobody is playing. Play G to go on."


@pytest.mark.parametrize("right", [True, False])
def test_a_part_at_own_pace(player: Callable[..., Player], right: bool) -> None:
    """Over when its last chord is right, or when that was tried and nobody puts it right for a while."""
    one = player(None, first_step=2, last_step=3)
    one.play([(1.0, G), (2.0, AM if right else (57, 64, 71))], 4.0)
    assert one.practice.ended is right
    one.play([], 6.5)
    assert one.practice.ended
    assert one.told == [(2, HIT), (3, HIT if right else NEAR)]


@pytest.mark.parametrize("beats", [0.5, 1.0, 1.5, 3.0, 4.0, 7.0, 12.0, 20.0])
def test_whatever_chords_last(make_plan: PlanMaker, make_messages: TakeMaker, beats: float) -> None:
    """Nobody is blamed for the bars before the click stopped: at least four, and no more than one chord over that."""
    one = Player(Practice(make_plan(12 * TUNE, beats=beats), SINGLE, TakeSettings(tempo=TEMPO)), make_messages)
    second_s = FIRST_S + beats / 4
    one.play([(FIRST_S, C), (second_s, F)], second_s + beats / 4 + 12.0)
    assert one.told == [(0, HIT), (1, HIT)]
    waited_s = one.practice.marks[-1].time_s - second_s - beats / 4
    assert 4.0 <= round(waited_s, 3) < 4.0 + beats / 4


def test_the_end_comes_before(player: Callable[..., Player]) -> None:
    """Less than four bars are left: the take ends with the click, and nothing that was not played is a hit."""
    one = player(TEMPO, first_step=5)
    one.play([(due_s(0), C)], 30.0)
    assert one.shown.phase == FINISHED
    assert one.told[0] == (5, HIT)
    assert {grade for _, grade in one.told[1:]} <= {MISS}


def test_the_key_goes_on_as_ever(player: Callable[..., Player]) -> None:
    """While it waits space counts in; pressed again it pauses, and then no chord wakes it."""
    one = player(TEMPO)
    one.play([], 10.0)
    one.press_pause()
    assert one.shown.phase == COUNT_IN
    one.play([], 10.5)
    one.press_pause()
    one.play([(11.0, C)], 30.0)
    assert (one.shown.phase, one.shown.away) == (PAUSED, "")
    assert one.marks == ["click", "pause", "click", "pause"]


def test_who_is_away_after_a_jump(make_plan: PlanMaker, make_messages: TakeMaker) -> None:
    """What was played before the key was pressed does not matter: it waits for the chord that the key has gone to."""
    plan = make_plan(2 * TUNE, beats=4.0)
    steps = (
        replace(one, step=replace(one.step, passage="chorus")) if n >= 8 else one for n, one in enumerate(plan.steps)
    )
    one = Player(Practice(replace(plan, steps=tuple(steps)), SINGLE, TakeSettings(tempo=TEMPO)), make_messages)
    one.play([(due_s(0), C), (due_s(1), F)], due_s(1) + 0.5)
    one.practice.next_passage(one.now_s)
    again_s = one.now_s + LEAD_S + 1.0
    one.play([], again_s + 3.9)
    assert one.shown.phase == PLAYING
    one.play([], again_s + 4.2)
    assert (one.shown.phase, one.shown.step) == (PAUSED, 8)
    assert one.shown.away == "Paused: nobody is playing. Play C to go on."


def test_the_port_goes_while_it_waits(player: Callable[..., Player]) -> None:
    """Back again it still waits for a chord; meanwhile nobody is asked to play one."""
    one = player(TEMPO)
    one.play([], 10.0)
    one.practice.port_gone(10.0)
    assert (one.shown.phase, one.shown.away) == (PAUSED, "")
    one.practice.port_back(12.0)
    one.now_s = 12.0
    one.play([], 13.0)
    assert one.shown.away
    one.play([(13.5, C)], 13.8)
    assert one.shown.phase == COUNT_IN


def test_a_late_tick_changes_nothing(player: Callable[..., Player], tune: Plan) -> None:
    """The computer slept for an hour: the pause is where four bars were over, and nothing else is recorded."""
    one = player(TEMPO)
    one.play([(due_s(0), C)], due_s(1))
    one.practice.tick(3600.0)
    assert one.practice.marks[-1].word == "pause"
    assert one.practice.marks[-1].time_s == pytest.approx(due_s(5))
    assert [verdict.step for verdict in one.practice.verdicts] == [0]
    assert one.replayed(tune) == list(one.practice.verdicts)


# At the player's own pace ----------------------------------------------------------------------------------------


def test_own_pace_waits_for_the_first_note(player: Callable[..., Player]) -> None:
    """As long as it takes."""
    one = player(None)
    one.play([], 300.0)
    assert (one.shown.phase, one.shown.away) == (PLAYING, "")


def test_own_pace_rests_and_is_woken_by_the_chord_that_counts(player: Callable[..., Player], tune: Plan) -> None:
    """Half a minute after the last chord it is shown as paused; nothing is written, and the next chord is judged."""
    one = player(None)
    one.play([(1.0, C), (2.0, F)], 2.0 + OWN_PACE_S - 0.1)
    assert one.shown.phase == PLAYING
    one.play([], 120.0)
    assert (one.shown.phase, one.shown.step) == (PAUSED, 2)
    assert one.shown.away == "Paused: nobody is playing. Play G to go on."
    one.play([(120.5, G)], 120.6)
    assert (one.shown.phase, one.shown.away) == (PLAYING, "")
    one.play([(122.0, AM)], 125.0)
    assert one.told == [(0, HIT), (1, HIT), (2, HIT), (3, HIT)]
    assert one.marks == []
    assert one.replayed(tune)[:3] == one.verdicts[:3]


def test_own_pace_says_that_something_else_is_played(player: Callable[..., Player]) -> None:
    """Noodling goes on and on: it is said, and held against nobody."""
    one = player(None)
    noodling = [(4.0 + round_ * 15.6 + at_s, notes) for round_ in range(3) for at_s, notes in NOODLING]
    one.play([(1.0, C), (2.0, F), *noodling], 48.0)
    assert one.shown.away == "Paused while you play something else. Play G to go on."
    assert one.told == [(0, HIT), (1, HIT)]
    one.play([(50.0, G)], 50.5)
    assert one.shown.phase == PLAYING


def test_an_unsettled_verdict_does_not_outlast_its_player(player: Callable[..., Player]) -> None:
    """A pause shows what is certain."""
    one = player(None)
    one.play([(1.0, C), (2.0, (61, 66, 70))], 40.0)
    assert one.shown.phase == PAUSED
    assert one.shown.verdict is not None
    assert one.shown.verdict.settled


def test_the_key_pauses_at_own_pace(player: Callable[..., Player]) -> None:
    """Who has pressed it goes on with it, however long that takes."""
    one = player(None)
    one.play([(1.0, C)], 3.0)
    one.press_pause()
    one.play([], 100.0)
    assert (one.shown.phase, one.shown.away) == (PAUSED, "")
    one.press_pause()
    assert one.shown.phase == PLAYING


def test_the_key_goes_on_at_own_pace(player: Callable[..., Player]) -> None:
    """Pressed while it rests: it listens, with the chord that was due."""
    one = player(None)
    one.play([(1.0, C)], 60.0)
    one.press_pause()
    one.press_pause()
    assert (one.shown.phase, one.shown.step) == (PLAYING, 1)


# Around it -------------------------------------------------------------------------------------------------------


def test_the_hand_rests(tune: Plan, player: Callable[..., Player]) -> None:
    """Silence is no load: of the minutes between two chords ten seconds count; and the line of talk gives way."""
    one, companion = player(None), Companion()
    one.play([(1.0, C), (200.0, F)], 203.0)
    for verdict in one.verdicts:
        companion.judged(tune, verdict, verdict.onset_s)
    assert companion.load.playing_s == 10.0
    companion.words = "once more, 2 of 3"
    one.play([], 300.0)
    assert companion.dressed(one.shown, 300.0).note == ""


class _Left(SimulatedPlayer):
    """One whose guitar cannot be heard."""

    def poll(self) -> list[Message]:
        super().poll()
        return []


class _Screen:
    def __init__(self) -> None:
        self.phases: set[str] = set()

    def show(self, snapshot: Snapshot) -> None:
        self.phases.add(snapshot.phase)


class _Keys:
    def read(self) -> list[str]:
        return []


def test_a_source_that_has_run_out_does_not_wait_for_ever(tune: Plan) -> None:
    """A file, or the simulated player, cannot come back: the take ends soon after it has paused."""
    practice = Practice(tune, SINGLE, TakeSettings(tempo=TEMPO))
    clock, screen = JumpingClock(), _Screen()
    source = _Left(practice, SINGLE, seed=1, clock=clock, start_s=0.0)
    run_take(
        practice, source, clock, start_s=0.0, screen=screen, keys=_Keys(), recorder=None, interrupt=Interrupt()
    )  # fmt: skip
    assert practice.ended
    assert not practice.verdicts
    assert PAUSED in screen.phases
    assert clock.now() < 10.0


moments = st.lists(
    st.tuples(
        st.floats(0.02, 7.0), st.sampled_from([C, F, G, AM, (61,), (66,), (70, 73), (55, 62, 72), "tick", "pause"])
    ),
    min_size=1,
    max_size=14,
)


@settings(max_examples=150, deadline=None)
@given(moments, st.booleans(), st.booleans())
def test_a_replay_says_the_same(
    make_plan: PlanMaker,
    make_messages: TakeMaker,
    played: list[tuple[float, tuple[int, ...] | str]],
    click: bool,
    until_right: bool,
) -> None:
    """Whoever goes away and comes back, however often anybody looks: the take, written and read again, is judged as it
    was; and with the click nothing is recorded of the bars before it stopped."""
    plan = make_plan(TUNE, beats=4.0)
    practice = Practice(
        plan, SINGLE, TakeSettings(tempo=TEMPO if click else None, until_right=until_right and not click)
    )
    now_s = 0.0
    live: list[Verdict] = []
    for wait_s, what in played:
        now_s += wait_s
        if what == "tick":
            live += practice.tick(now_s)
        elif what == "pause":
            live += practice.pause_or_resume(now_s)
        else:
            for message in make_messages([(now_s, what)], ring_s=0.3):
                live += practice.feed(message)
    live += practice.end(now_s + 1.0)
    settled = [verdict for verdict in live if verdict.settled]
    again = read_take(take_bytes(practice.take()), "take.mid")
    assert judge_take(plan, SINGLE, again) == settled == list(practice.verdicts)
