"""How a played take is touched: simulated players with known habits, through all kinds of pickups, live or replayed."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest
from by_hand import with_ticks
from how_many import examples, some
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.drill.drill_file import read_drill
from listener.following.pace import Anchor
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Take
from listener.judging.take import TakeJudge
from listener.judging.touch import log as touch_log
from listener.judging.touch.touch import HELD, LET_GO, TOLERANCE_MS, StepTouch
from listener.judging.touch.words import TouchVerdict, touch_lines
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.simulation.converter import make_converter
from listener.simulation.player import FLAWLESS, Player
from listener.simulation.simulated import simulate

#: Closed shapes on inner strings: nothing is open, so that every voice is a finger's.
TEXT = """
title = "Touched"
key = "Eb major"
tempo = 120
{0}
[[passage]]
name = "one"
chords = "Eb Cm | Fm Bb | Eb Ab | Fm Bb"
kind = "{2}"
open_strings = false
times = 2
{1}
"""
FIRST_S = 2.0
#: So many takes are enough to count what happens to one note in a hundred.
_TAKES = 40
#: Strings that ring for as long as they are held, and a hand that goes where it has to.
HELD_DOWN = replace(FLAWLESS, ring_s=(20.0, 20.0), ring_sigma=0.01, hold_share=0.0)


def plan_for(drill: str = "", passage: str = "", *, kind: str = "spread or drop 2", more: str = "") -> Plan:
    text = TEXT.format(drill, passage, kind) + more
    instrument = make_instrument("E2 A2 D3 G3 B3 E4")
    return plan_drill(read_drill(text, "touched"), instrument, make_hand("medium"))


@pytest.fixture(scope="module")
def plain() -> Plan:
    return plan_for()


def heard(
    plan: Plan, player: Player, *, seed: int, tempo: float | None = 120.0, profile: str = "per-string", errors: str = ""
) -> TakeJudge:
    """A performance, judged."""
    pickup = make_pickup(profile)
    converter = make_converter(errors) if errors else None
    run = simulate(
        plan, seed=seed, pickup=pickup, tempo=tempo, first_beat_s=FIRST_S, player=player, converter=converter
    )
    judge = TakeJudge(plan, pickup, None if tempo is None else Anchor(0, FIRST_S, tempo))
    judge.hear(Take(run.messages, (), None))
    return judge


@pytest.mark.parametrize("profile", ["single", "per-string", "zone"])
@pytest.mark.parametrize("tempo", [None, 120.0])
def test_who_holds_and_who_does_not(plain: Plan, profile: str, tempo: float | None) -> None:
    """Fingers that leave 60 ms before the next chord hold every voice; 400 ms before it, every hand is said to leave,
    by so much, give or take the player's own timing and the pickup's late note-offs."""
    holding = heard(plain, replace(HELD_DOWN, leaves_s=0.06), seed=1, tempo=tempo, profile=profile).touch.account
    assert (holding.changes, holding.whole) == (15, 15)
    assert holding.let_go == 0
    leaving = heard(plain, replace(HELD_DOWN, leaves_s=0.4), seed=1, tempo=tempo, profile=profile).touch.account
    assert (leaving.changes, leaving.whole, leaving.hands) == (15, 0, 15)
    assert leaving.held == 0
    assert leaving.mean_early_ms == pytest.approx(385, abs=25)
    assert leaving.died == 0


@pytest.mark.parametrize("rank", [0, 1, -1])
def test_the_voice_that_is_lifted_is_named(plain: Plan, rank: int) -> None:
    """One finger leaves 450 ms early at every change, the others hold: that voice and no other is told of."""
    size = len(plain.steps[0].voicing.midi)
    player = replace(HELD_DOWN, leaves_s=0.05, lifted=frozenset({rank % size}), lift_s=0.45)
    judge = heard(plain, player, seed=2)
    for touch in judge.touch.touches[:-1]:
        ranks = range(len(touch.voices))
        states = {number: one.state for number, one in zip(ranks, touch.voices, strict=True)}
        assert states == {number: LET_GO if number == rank % size else HELD for number in ranks}
    account = judge.touch.account
    assert account.whole == account.hands == 0
    (line,) = touch_lines(plain, account)
    assert "was let go early in" in line
    assert line.endswith("a beat before them.")


@pytest.mark.parametrize("profile", ["single", "per-string"])
def test_a_common_tone_that_stays_is_no_hand_that_holds(plain: Plan, profile: str) -> None:
    """The player leaves every chord early, but for common tones, which ring on into the next one: held as they are,
    they make nobody a player who lifts single fingers."""
    player = replace(HELD_DOWN, leaves_s=0.4, hold_share=1.0)
    pickup = make_pickup(profile)
    run = simulate(plain, seed=1, pickup=pickup, tempo=120.0, first_beat_s=FIRST_S, player=player)
    kept = {step: {pitch for _, pitch in intent.held} for step, intent in enumerate(run.intents)}
    assert any(kept.values())
    judge = heard(plain, player, seed=1, profile=profile)
    for touch in judge.touch.touches:
        staying = {one.pitch for one in touch.voices if one.stays and one.state == HELD}
        assert staying <= kept.get(touch.step + 1, set())
    assert any(one.stays for touch in judge.touch.touches for one in touch.voices)
    account = judge.touch.account
    assert account.hands == account.changes - account.whole
    assert sum(one.early for one in account.early) == 0
    assert touch_lines(plain, account) == []


@pytest.mark.parametrize("top", [25.0, -25.0])
def test_the_balance_of_the_top_voice(plain: Plan, top: float) -> None:
    """Louder by far more than a player's own unevenness, it stands out; softer, it is under."""
    account = heard(plain, replace(HELD_DOWN, top_velocity=top, note_velocity_sd=4.0), seed=3).touch.account
    assert account.tops == 16
    assert (account.tops_out, account.tops_under) == ((16, 0) if top > 0 else (0, 16))
    (line,) = touch_lines(plain, account)
    assert ("stood out" if top > 0 else "was the softest") in line


def test_without_velocities_nothing_is_said_of_balance(plain: Plan) -> None:
    """A pickup that sends every note as loud."""
    pickup = make_pickup("single")
    run = simulate(plain, seed=3, pickup=pickup, tempo=None, first_beat_s=FIRST_S, player=HELD_DOWN)
    level = [
        message._replace(data=(*message.data[:2], 100)) if message.begins_note else message for message in run.messages
    ]
    judge = TakeJudge(plain, pickup)
    judge.hear(Take(tuple(level), (), None))
    assert (judge.touch.account.tops, judge.touch.account.tops_out) == (0, 0)


def test_what_a_drill_asks_for_the_simulated_player_does() -> None:
    """And it is said of every chord, in the order in which they were left, beside its verdict."""
    plan = plan_for("ring = true", 'balance = "top"')
    judge = heard(plan, replace(HELD_DOWN, note_velocity_sd=2.0), seed=4)
    said = [(step, aside) for step, aside in judge.asides if isinstance(aside, TouchVerdict)]
    assert [step for step, _ in said] == list(range(16))
    assert all(aside.as_asked for _, aside in said)
    assert said[0][1].words == ("held to the change", "the top voice stands out")
    assert said[-1][1].words == ("the top voice stands out",)
    left = heard(plan, replace(HELD_DOWN, note_velocity_sd=2.0, leaves_s=0.5, asked_velocity=-20), seed=4)
    (_, first), *_ = ((step, aside) for step, aside in left.asides if isinstance(aside, TouchVerdict))
    assert (first.ring, first.balance) == (False, False)
    assert first.words == ("let go a beat before the change", "the top voice is softer than what lies inside")
    plain_verdicts = [verdict for verdict in heard(plan_for(), HELD_DOWN, seed=4).asides]
    assert plain_verdicts == []


def test_quiet_and_loud() -> None:
    """A player who makes a difference is told so; one who makes none has none."""
    more = (
        '\n[[passage]]\nname = "two"\nlevel = "loud"\nchords = "Eb Cm | Fm Bb"\nkind = "spread"\nopen_strings = false'
    )
    plan = plan_for("", 'level = "quiet"', more=more)
    apart = heard(plan, replace(HELD_DOWN, level_velocity=20.0, velocity_sd=5.0), seed=5).touch.account
    assert (apart.pairs, apart.twice_louder) == (16 * 4, 2 * 16 * 4)
    alike = heard(plan, replace(HELD_DOWN, level_velocity=0.0), seed=5).touch.account
    assert alike.louder_share is not None
    assert 0.2 < alike.louder_share < 0.8


@pytest.mark.parametrize(
    ("profile", "errors"),
    some(
        [("single", "typical"), ("per-string", "typical"), ("single", "hard"), ("per-string", "hard")],
        each=3,
    ),
)
def test_a_pickup_with_errors(plain: Plan, errors: str, profile: str) -> None:
    """Notes that die early, ring over, trigger twice or are ghosts: of somebody who holds everything hardly a voice is
    said to be let go, and no habit is made of it. Of a hundred notes half a one dies early in a typical pickup, and one
    and a half in a hard one; most of those cannot be told from a finger."""
    player = replace(HELD_DOWN, leaves_s=0.05)
    judges = [heard(plain, player, seed=seed, profile=profile, errors=errors) for seed in range(_TAKES)]
    accounts = [judge.touch.account for judge in judges]
    voices, let_go = sum(one.voices for one in accounts), sum(one.let_go for one in accounts)
    assert voices > 35 * len(accounts)
    assert let_go <= (0.008 if errors == "typical" else 0.02) * voices
    assert not [line for one in accounts for line in touch_lines(plain, one) if "let go" in line]


def test_strings_that_die_away_are_not_let_go() -> None:
    """Chords of four seconds on strings that ring for one to three: hardly a voice is called let go, and no player is
    told of a habit."""
    slow = plan_for().drill
    plan = replace(plan_for(), drill=replace(slow, tempo=30.0))
    let_go = voices = 0
    for seed in range(_TAKES):
        touch = heard(plan, replace(FLAWLESS, hold_share=0.0, leaves_s=0.05), seed=seed, tempo=30.0).touch
        account = touch.account
        let_go += account.let_go
        voices += sum(len(one.voices) for one in touch.touches)
        assert not [line for line in touch_lines(plan, account) if "let go" in line]
    assert let_go <= 0.02 * voices


@pytest.mark.parametrize("tempo", [None, 90.0])
def test_nobody_is_told_of_a_habit_by_chance(tempo: float | None) -> None:
    """Players without one, over many takes: their top voice stands out by chance in one take of twenty-five at most."""
    plan = plan_for()
    told = 0
    takes = examples(200)
    for seed in range(takes):
        told += bool(
            touch_lines(plan, heard(plan, replace(HELD_DOWN, leaves_s=0.05), seed=seed, tempo=tempo).touch.account)
        )
    assert told <= takes // 25


@settings(max_examples=examples(20))
@given(seed=st.integers(0, 10_000), ticks=st.lists(st.floats(0, 20), max_size=60), louder=st.integers(0, 30))
def test_ticks_and_loudness_change_nothing(plain: Plan, seed: int, ticks: list[float], louder: int) -> None:
    """However often the time is told, and however much louder the whole take is sent, every chord is touched the same,
    and its verdicts are those that they are without."""
    pickup = make_pickup("per-string")
    player = replace(FLAWLESS, velocity=60.0, velocity_sd=3.0, note_velocity_sd=3.0, repeat_share=0.3)
    run = simulate(plain, seed=seed, pickup=pickup, tempo=120.0, first_beat_s=FIRST_S, player=player)
    first = TakeJudge(plain, pickup, Anchor(0, FIRST_S, 120.0))
    verdicts = first.hear(Take(run.messages, (), None))
    louder_ones = [
        message._replace(data=(*message.data[:2], message.data[2] + louder)) if message.begins_note else message
        for message in run.messages
    ]
    again = TakeJudge(plain, pickup, Anchor(0, FIRST_S, 120.0))
    found = [*with_ticks(again, louder_ones, ticks), *again.finish()]
    assert [verdict for verdict in found if verdict.settled] == verdicts
    shifted = [_shifted(one.as_json(), louder) for one in first.touch.touches]
    assert [one.as_json() for one in again.touch.touches] == shifted
    assert again.touch.account == first.touch.account


def _shifted(row: dict[str, object], by: int) -> dict[str, object]:
    voices = row["voices"]
    assert isinstance(voices, list)
    for voice in voices:
        if voice["velocity"] is not None:
            voice["velocity"] += by
    return row


def test_asked_at_any_time_it_is_the_same(plain: Plan) -> None:
    """Looked at after every message, or once at the end."""
    pickup = make_pickup("single")
    run = simulate(plain, seed=8, pickup=pickup, tempo=None, first_beat_s=FIRST_S, player=FLAWLESS)
    often, once = TakeJudge(plain, pickup), TakeJudge(plain, pickup)
    seen = []
    for message in run.messages:
        often.feed(message)
        seen.append(len(often.touch.touches))
        once.feed(message)
    often.finish()
    once.finish()
    assert often.touch.touches == once.touch.touches
    assert seen == sorted(seen)
    assert len(once.touch.touches) == 16


def test_nobody_is_kept_waiting_for_it(plain: Plan, monkeypatch: pytest.MonkeyPatch) -> None:
    """While a drill is played that does not ask for touch, nothing of it is looked at; one that does has each chord
    looked at once."""
    looked: list[int] = []
    real = touch_log.step_touch

    def counted(*given: Any, **more: Any) -> StepTouch:
        looked.append(1)
        return real(*given, **more)

    monkeypatch.setattr(touch_log, "step_touch", counted)
    judge = heard(plain, FLAWLESS, seed=12)
    assert looked == []
    assert judge.touch.account == judge.touch.account
    assert len(looked) == len(judge.touch.touches) == 16
    looked.clear()
    asked = heard(plan_for("ring = true"), FLAWLESS, seed=12)
    assert len(looked) == 16
    assert asked.touch.account.changes <= 15
    assert len(looked) == 16


def test_chords_that_were_wrong_are_not_looked_at(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Nor is noodling, and a chord put right counts by its last try."""
    plan = make_plan([("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71))])
    wrong_then_right = [(1.0, (48, 55, 63)), (2.0, (48, 55, 64)), (4.0, (53, 60, 68)), (6.0, (55, 62, 71))]
    judge = TakeJudge(plan, replace(make_pickup("single"), delay_periods=0.0))
    slip, *rest = wrong_then_right
    messages = [*make_messages([slip], ring_s=0.9), *make_messages(rest, ring_s=1.95)]
    judge.hear(Take(tuple(messages), (), None))
    assert [one.step for one in judge.touch.touches] == [0, 2]
    assert [one.state for one in judge.touch.touches[0].voices] == [HELD] * 3


def test_the_tolerance_is_the_players(plain: Plan) -> None:
    """A hand that leaves just within it holds, just beyond it does not (the click is met exactly here)."""
    exact = replace(HELD_DOWN, early_late_ms=0.0, early_late_sd_ms=0.0, pluck_spread_ms=0.01, pluck_spread_sigma=0.01)
    for leaves_ms, held in ((TOLERANCE_MS - 20, True), (TOLERANCE_MS + 120, False)):
        account = heard(plain, replace(exact, leaves_s=leaves_ms / 1000), seed=9).touch.account
        assert (account.let_go == 0) == held


def test_chance_is_what_it_was() -> None:
    """A player without habits plays note for note what it did before there were any."""
    plan = plan_for()
    pickup = make_pickup("single")
    usual = simulate(plan, seed=11, pickup=pickup, tempo=120.0, first_beat_s=FIRST_S)
    habits = simulate(
        plan, seed=11, pickup=pickup, tempo=120.0, first_beat_s=FIRST_S,
        player=Player(asked_velocity=40.0, asked_leaves_s=0.3, level_velocity=40.0),
    )  # fmt: skip
    assert usual.messages == habits.messages
