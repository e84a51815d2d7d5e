"""The simulated guitarist plays the patterns of a drill, and nothing else changes."""

from __future__ import annotations

from collections import defaultdict
from functools import cache
from itertools import pairwise
from random import Random

import pytest

from listener.drill.drill_file import read_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import NoteOn, Stroke
from listener.judging.pattern.pattern import PatternVerdict, pattern_verdict
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.simulation.player import FLAWLESS, Intent, Player, Pluck, perform
from listener.simulation.slips import DROPPED, EXTRA, LATE, SLIPS

VERSE = 'numerals = "I | vi | IV V | I"\nkind = "spread"\n'
CHORUS = 'numerals = "IV | I | V | I"\nkind = "full"\n'
PICKED = 'pattern = { pick = "1 3 2 3 1 3 2 3" }\n'
STRUMMED = 'pattern = { strum = ">d . d u - u d u" }\n'
SWUNG = 'pattern = { strum = "d u d u", swing = 0.67, over = "chord" }\n'
SIXTEENTHS = 'pattern = { pick = "p i+m i m p m i m", place = "1/16" }\n'
PASSAGES = {
    "picked": VERSE + PICKED,
    "strummed": CHORUS + STRUMMED,
    "swung": CHORUS + SWUNG,
    "sixteenths": VERSE + SIXTEENTHS,
}
TEMPO = 80.0
FIRST_S = 2.0


@cache
def planned(*passages: str) -> Plan:
    text = 'title = "T"\nkey = "D major"\ntempo = 80\n' + "".join(f"[[passage]]\n{one}" for one in passages)
    return plan_drill(read_drill(text, "t"), make_instrument("standard"), make_hand("medium"))


def performed(
    plan: Plan,
    seed: int,
    *,
    tempo: float | None = TEMPO,
    player: Player = FLAWLESS,
    slips: dict[int, str] | None = None,
) -> tuple[list[Pluck], list[Intent]]:
    return perform(plan, Random(seed), tempo=tempo, first_beat_s=FIRST_S, player=player, slips=slips)


def verdicts(plan: Plan, plucks: list[Pluck], intents: list[Intent], tempo: float | None) -> list[PatternVerdict]:
    """What is said about the pattern of every step, from what was really struck."""
    notes = defaultdict(list)
    for pluck in plucks:
        notes[pluck.step].append(NoteOn(pluck.onset_s, pluck.pitch, pluck.velocity, pluck.string))
    found = []
    for step, intent in zip(plan.steps, intents, strict=True):
        stroke = Stroke(tuple(notes[step.step.index]), (), settled=True, closed_s=0.0)
        due_s = None if tempo is None else intent.due_s
        verdict = pattern_verdict(step, [stroke], due_s=due_s, beat_s=60.0 / TEMPO)
        assert verdict is not None
        found.append(verdict)
    return found


@pytest.mark.parametrize("tempo", [TEMPO, None])
@pytest.mark.parametrize("name", PASSAGES)
def test_a_flawless_player_plays_the_pattern_as_asked(name: str, tempo: float | None) -> None:
    """Every place, the right way, on the right voices, about as even as players are, with the click and without."""
    plan = planned(PASSAGES[name])
    for seed in range(20):
        plucks, intents = performed(plan, seed, tempo=tempo)
        for verdict in verdicts(plan, plucks, intents, tempo):
            assert verdict.as_asked, verdict.words
            assert verdict.spread_ms is None or verdict.spread_ms < 40


@pytest.mark.parametrize("name", PASSAGES)
def test_the_first_round_is_the_whole_chord(name: str) -> None:
    """What was plucked for the first time in each step has all planned pitches, once each."""
    plan = planned(PASSAGES[name])
    for seed in range(10):
        plucks, intents = performed(plan, seed)
        for step, (one, intent) in enumerate(zip(plan.steps, intents, strict=True)):
            first = sorted(pluck.pitch for pluck in plucks if pluck.step == step and not pluck.again)
            assert first == sorted(one.voicing.midi)
            assert intent.held == ()


@pytest.mark.parametrize("name", PASSAGES)
def test_strings_sound_one_note_at_a_time_and_end_before_the_next_chord(name: str) -> None:
    """A string that is struck again has ended before; nothing rings into another chord."""
    plan = planned(PASSAGES[name])
    plucks, intents = performed(plan, 3)
    for string in range(1, 7):
        mine = [pluck for pluck in plucks if pluck.string == string]
        for before, after in pairwise(mine):
            assert before.onset_s < before.end_s <= after.onset_s
    for pluck in plucks:
        if pluck.step + 1 < len(intents):
            assert pluck.end_s < intents[pluck.step + 1].due_s


def test_rests_stop_the_strings_and_accents_are_louder() -> None:
    """On the rest of the pattern nothing sounds; the accented down-stroke stands out on the average."""
    plan = planned(CHORUS + STRUMMED)
    plucks, intents = performed(plan, 5)
    beat_s = 60.0 / TEMPO
    for intent in intents:
        rest_s = intent.due_s + 2.2 * beat_s
        assert not [pluck for pluck in plucks if pluck.onset_s < rest_s < pluck.end_s]
    loud = [pluck.velocity for pluck in plucks if pluck.again == 0]
    others = [pluck.velocity for pluck in plucks if pluck.again]
    assert sum(loud) / len(loud) > sum(others) / len(others) + 10


def test_later_up_strokes_touch_the_highest_strings() -> None:
    """At least three of them, neighbours from the top of the shape."""
    plan = planned(CHORUS + STRUMMED)
    plucks, intents = performed(plan, 1)
    shape = sorted(plan.steps[0].fingering.strings)
    seconds = [pluck for pluck in plucks if pluck.step == 0]
    up_s = intents[0].due_s + 1.5 * 60.0 / TEMPO
    touched = sorted(pluck.string for pluck in seconds if abs(pluck.onset_s - up_s) < 0.2)
    assert len(touched) >= 3
    assert touched == shape[: len(touched)]


@pytest.mark.parametrize("slip", SLIPS)
def test_slips_can_be_made_in_patterns(slip: str) -> None:
    """What was plucked first has the slip's notes; a dropped voice falls out of the picking; who is late catches up."""
    plan = planned(VERSE + PICKED)
    plucks, intents = performed(plan, 4, slips={1: slip})
    first = sorted(pluck.pitch for pluck in plucks if pluck.step == 1 and not pluck.again)
    wanted = sorted(plan.steps[1].voicing.midi)
    assert (first == wanted) == (slip == LATE)
    assert len(first) == len(wanted) + {EXTRA: 1, DROPPED: -1}.get(slip, 0)
    verdict = verdicts(plan, plucks, intents, TEMPO)[1]
    assert verdict.asked == 8
    assert bool(verdict.fell_out) == (slip == DROPPED)
    if slip == LATE:
        assert min(pluck.onset_s for pluck in plucks if pluck.step == 1) > intents[1].due_s + 0.1
        assert max(pluck.onset_s for pluck in plucks if pluck.step == 1) < intents[2].due_s - 0.2


def test_what_comes_before_a_pattern_is_played_as_if_there_were_none() -> None:
    """The same strings at the same times: a pattern changes only its own passage."""
    plain, with_one = planned(VERSE, CHORUS), planned(VERSE, CHORUS + STRUMMED)
    for tempo in (TEMPO, None):
        for seed in range(5):
            without, _ = performed(plain, seed, tempo=tempo, player=Player())
            found, _ = performed(with_one, seed, tempo=tempo, player=Player())
            verse = len(planned(VERSE).steps)
            assert [one for one in found if one.step < verse] == [one for one in without if one.step < verse]
