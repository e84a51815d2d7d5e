"""What a player likes whatever the drill: where on the neck chords lie, and open strings under a high hand."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import replace

import pytest

from listener.commands.setup import plan_of
from listener.drill.drill_file import load_drill, read_drill
from listener.drill.manners import Taste
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.request import taste_of
from listener.session.take.header import header_of
from listener.settings import Settings

USUAL = Taste()


def planned(passage: str, taste: Taste) -> Plan:
    drill = read_drill(f'title = "t"\nkey = "E major"\n[[passage]]\n{passage}\n', "t")
    return plan_drill(drill.to_taste(taste), make_instrument(), make_hand())


def mean_fret(plan: Plan) -> float:
    pressed = [fret for step in plan.steps for fret in step.fingering.frets if fret]
    return sum(pressed) / len(pressed)


@pytest.mark.parametrize("kind", ["full", "spread", "drop 2"])
def test_the_register_goes_where_it_is_liked(kind: str) -> None:
    """The same chords lie higher for who likes them higher."""
    chords = "Cmaj7 | Am7 | Dm7 | G7" if kind == "drop 2" else "C | F | G"
    passage = f'chords = "{chords}"\nkind = "{kind}"'
    assert mean_fret(planned(passage, Taste(register=7))) > mean_fret(planned(passage, USUAL)) + 1


def test_open_strings_stay_away_from_a_high_hand() -> None:
    """Where the prices of a drill let them ring, the player's word goes before."""
    text = (
        'title = "t"\nkey = "E major"\n[weights]\nhigh_open = 0\nopen_gap = 0\n'
        '[[passage]]\nchords = "E7 | A7"\nkind = "any"\nvoices = 4\ntop = "B4 A4"\nfrets = [5, 9]\n'
    )
    drill = read_drill(text, "t")
    plans = [
        plan_drill(drill.to_taste(taste), make_instrument(), make_hand()) for taste in (USUAL, Taste(high_open=False))
    ]
    open_ones = [sum(0 in step.fingering.frets for step in plan.steps) for plan in plans]
    assert open_ones[0] > 0
    assert open_ones[1] == 0


def test_a_taste_is_taken_once() -> None:
    """Asked twice, the register does not move twice."""
    taste = Taste(register=3)
    drill = load_drill("ferry-landing")
    once = drill.to_taste(taste)
    assert once.to_taste(taste) is once
    assert drill.to_taste(USUAL) is drill
    assert {
        step.weights.low_fret - was.weights.low_fret for step, was in zip(once.steps, drill.steps, strict=True)
    } == {3}


def test_a_take_knows_the_taste_it_was_planned_with(monkeypatch: pytest.MonkeyPatch) -> None:
    """Heard again, it is judged against what was played, whatever the settings say by then."""
    options = Namespace(tuning=None, capo=None, hand=None, left_handed=False)
    liked = replace(Settings(), register=5, high_open=False)
    monkeypatch.setattr("listener.request.load_settings", lambda: liked)
    plan = plan_of(options, "winter-well")
    header = header_of(plan, "single", None, None)
    assert (header.register, header.high_open) == (5, False)
    assert header.meter == "4/4"
    assert taste_of(Settings(), header) == Taste(5, False)
    monkeypatch.setattr("listener.request.load_settings", Settings)
    again = plan_of(options, "winter-well", header)
    assert [step.fingering for step in again.steps] == [step.fingering for step in plan.steps]
    assert [step.fingering for step in plan_of(options, "winter-well").steps] != [s.fingering for s in plan.steps]
