"""Parts of a plan to be heard by themselves, and its everyday shapes."""

from __future__ import annotations

from dataclasses import replace
from functools import cache

import pytest

from listener.drill.drill_file import read_drill
from listener.errors import PlanError, UsageError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.excerpt import in_everyday_shapes, one_change, passages_named
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill

HEAD = 'title = "T"\nkey = "C major"\n'
PASSAGE = '[[passage]]\nname = "{}"\nchords = "{}"\nkind = "{}"\n'
TEXT = HEAD + "".join(
    PASSAGE.format(*words)
    for words in (
        ("Wide", "C | N.C. | G", "spread"),
        ("close one", "F | G", "close"),
        ("close two", "Am | F", "close"),
        ("Wide again", "C | F", "spread"),
    )
)


@cache
def planned(text: str = TEXT, tuning: str = "standard") -> Plan:
    return plan_drill(read_drill(text, "yard"), make_instrument(tuning), make_hand())


def told(plan: Plan) -> list[tuple[int, float]]:
    return [(one.step.index, one.step.start_beats) for one in plan.steps]


def test_a_passage_by_its_name() -> None:
    """That very name first, else every passage whose name has it, one after the other; rests stay."""
    assert told(passages_named(planned(), "wide")) == [(0, 0.0), (1, 8.0)]
    assert told(passages_named(planned(), " Close  ")) == [(2, 12.0), (3, 16.0), (4, 20.0), (5, 24.0)]
    assert told(passages_named(planned(), "ide")) == [(0, 0.0), (1, 8.0), (6, 12.0), (7, 16.0)]


@pytest.mark.parametrize("wanted", ["chorus", "", "  ", "\x1b[31m", "*", "x" * 500])
def test_no_such_passage(wanted: str) -> None:
    """The names there are."""
    with pytest.raises(UsageError, match=r"has no passage .*'Wide', 'close one', 'close two', 'Wide again'"):
        passages_named(planned(), wanted)


def test_one_change() -> None:
    """Two chords, as far apart as they are; the last of a loop leads to the first."""
    assert told(one_change(planned(), 1)) == [(0, 0.0), (1, 8.0)]
    assert told(one_change(planned(), 7)) == [(6, 28.0), (7, 32.0)]
    around = replace(planned(), drill=replace(planned().drill, loop=True))
    assert told(one_change(around, 8)) == [(7, 32.0), (0, 36.0)]
    for plan, number, last in ((planned(), 8, 7), (planned(), 0, 7), (around, 9, 8), (planned(), -1, 7)):
        with pytest.raises(UsageError, match=f"no change {number}; its changes are 1 to {last}"):
            one_change(plan, number)
    single = planned(HEAD + PASSAGE.format("one", "C", "spread"))
    with pytest.raises(UsageError, match="no change 1; it has one chord and no change"):
        one_change(single, 1)


def test_everyday_shapes_are_the_open_chords() -> None:
    """Each chord as every book of first chords has it, at its place in time."""
    plan, missing = in_everyday_shapes(planned())
    frets = {
        str(one.voicing.chord): dict(zip(one.fingering.strings, one.fingering.frets, strict=True)) for one in plan.steps
    }
    assert missing == ()
    assert frets["C"] == {5: 3, 4: 2, 3: 0, 2: 1, 1: 0}
    assert frets["Am"] == {5: 0, 4: 2, 3: 2, 2: 1, 1: 0}
    assert [one.step.start_beats for one in plan.steps] == [one.step.start_beats for one in planned().steps]


def test_without_everyday_shapes() -> None:
    """A chord that has none keeps the plan's own and is named; with none at all there is nothing to compare."""
    four = "E2 A2 D3 G3"
    some = planned(HEAD + PASSAGE.format("two", "C7 | C13#11", "shell"), four)
    plan, missing = in_everyday_shapes(some)
    assert missing == ("C13#11",)
    assert plan.steps[1].fingering == some.steps[1].fingering
    with pytest.raises(PlanError, match="no everyday shape of C13#11 for this neck and hand"):
        in_everyday_shapes(planned(HEAD + PASSAGE.format("one", "C13#11", "shell"), four))
