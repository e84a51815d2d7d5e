"""Big layers: the same routes as the plain search, choice for choice, and an end to what is too big to compare."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise
from random import Random

import numpy as np
import pytest
from how_many import THOROUGH, examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_search import UNITS, plain_changes, plain_least, plain_moves, plain_own, plain_route
from spots import Spot, links, minding_layers, spot

from listener.drill.drill import Drill, Step, Wish
from listener.drill.manners import COMPING, EVERYDAY, VOICE_LEADING, Weights, manner
from listener.errors import PlanError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.planning import planner
from listener.planning.planner import plan_drill
from listener.planning.report import report
from listener.planning.routes import alignment
from listener.planning.routes import network as network_module
from listener.planning.routes.alignment import PitchSets, Tables, movement_table
from listener.planning.routes.network import costs_so_far, costs_to_go
from listener.planning.routes.route import Link, NoRoute, best_route, movement_costs, network
from listener.planning.shapes.candidates import candidates
from listener.planning.shapes.found import Candidates
from listener.planning.yardsticks import least_possible

GUITAR, HAND, USUAL = make_instrument(), make_hand(), manner(VOICE_LEADING)
ROOTS = ("C", "D", "Eb", "F#", "G", "A")
QUALITIES = ("7", "maj7", "m9", "13", "maj13", "m7b5", "6")
KINDS = (("any",), ("full",), ("any", "full"), ("close",), ("shell", "full"))
pitch_sets = st.lists(st.integers(30, 90), min_size=1, max_size=8).map(lambda notes: tuple(sorted(notes)))


PARTS = [(0, 7), (4, 12)]


def random_layers(random: Random, parts: Sequence[tuple[int, int] | None]) -> list[Candidates]:
    """Two to four chords in kinds that may differ, on all of the neck or a part of it; a chord that has nothing of a
    kind is taken in any voicing."""
    layers = []
    for _ in range(random.randint(2, 4)):
        chord, kinds = parse_chord(random.choice(ROOTS) + random.choice(QUALITIES)), random.choice(KINDS)
        wish = Wish(chord, kinds, frets=random.choice(parts))
        layers.append(candidates(wish, GUITAR, HAND) or candidates(Wish(chord, ("any",)), GUITAR, HAND))
    return layers


def as_the_plain_search(seed: int, drills: int, parts: Sequence[tuple[int, int] | None]) -> int:
    """Drills of big chords and small, in all kinds: the same cost, choice among equals and least movement. The pairs of
    the largest change."""
    random, largest = Random(seed), 0
    own = Weights(movement=0.5, travel=0.05, strain=5.0, shift=0.5, place=0.25)
    minds = [USUAL, manner(EVERYDAY), manner(COMPING), own]
    for number in range(drills):
        layers = random_layers(random, parts)
        largest = max(largest, *(len(a) * len(b) for a, b in pairwise(layers)))
        prices = [random.choice(minds) for _ in layers] if number % 2 else [minds[number // 2 % 4]] * len(layers)
        cost, choice = plain_route(layers, prices)
        route = best_route(layers, prices)
        assert (round(route.cost * UNITS), route.choice) == (cost, choice)
        least = best_route(layers, prices, least_movement=True)
        taken = [layer[index].fingering.pitches for layer, index in zip(layers, least.choice, strict=True)]
        moved = sum(movement(a, b).cost for a, b in pairwise(taken))
        assert moved == plain_least(layers)
    return largest


def test_some_drills_as_the_plain_search() -> None:
    """A few on a part of the neck, where comparing everything is quick."""
    as_the_plain_search(seed=3, drills=3 if THOROUGH else 1, parts=PARTS)


@pytest.mark.slow
def test_many_drills_as_the_plain_search() -> None:
    """Millions of pairs in a change are compared in full."""
    assert as_the_plain_search(seed=11, drills=100, parts=[None, *PARTS]) > 2_000_000


@settings(max_examples=examples(100), deadline=None)
@given(asked=minding_layers(), loop=st.booleans(), first=st.booleans(), data=st.data())
def test_how_tables_are_made_changes_nothing(
    asked: tuple[list[list[Spot]], list[Weights]], loop: bool, first: bool, data: st.DataObject
) -> None:
    """With no table of movement kept and trees of two rows: the same route, and the same costs to go and so far."""
    layers, prices = asked
    ties = data.draw(st.lists(links, min_size=len(layers), max_size=len(layers)))

    def found() -> object:
        graph = network(layers, prices, links=ties, least_movement=first)
        both = [[row.tolist() for row in costs(graph)] for costs in (costs_to_go, costs_so_far)]
        try:
            return both, best_route(layers, prices, links=ties, loop=loop, least_movement=first)
        except NoRoute:
            return both

    usual = found()
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(network_module, "TABLES", Tables(0))
        patch.setattr(alignment, "_ROWS_AT_ONCE", 2)
        assert found() == usual


@settings(max_examples=examples(60), deadline=None)
@given(
    before=st.lists(pitch_sets, min_size=1, max_size=12),
    after=st.lists(pitch_sets, min_size=1, max_size=12),
    at_once=st.integers(1, 5),
)
def test_tables_are_those_of_movement(
    before: list[tuple[int, ...]], after: list[tuple[int, ...]], at_once: int
) -> None:
    """Whatever the blocks: the one-by-one alignment, the same in both directions, and that of the plain search."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setattr(alignment, "_ROWS_AT_ONCE", at_once)
        patch.setattr(alignment, "_COLUMNS_AT_ONCE", at_once)
        costs = movement_costs(before, after)
        forth, back = movement_table(PitchSets.of(before), PitchSets.of(after)), None
        back = movement_table(PitchSets.of(after), PitchSets.of(before))
    assert costs.tolist() == [[movement(here, there).cost for there in after] for here in before]
    assert costs.tolist() == plain_moves([spot(s) for s in before], [spot(s) for s in after]).tolist()
    assert (forth == back.T).all()


def test_kept_tables_are_bounded() -> None:
    """The oldest go first, a table too large is never kept, and one way serves for the way back."""
    sets = [PitchSets.of([(40 + shift, 50 + shift), (41 + shift, 55 + shift)]) for shift in range(6)]
    tables = Tables(16)
    for after in sets[1:]:
        assert tables.table(sets[0], after) is not None
    assert tables.kept(sets[0], sets[1]) is None
    assert tables.kept(sets[5], sets[0]) is not None
    assert Tables(15).table(sets[0], sets[1]) is None


def big(tuning: str, **parts: object) -> tuple[Drill, object]:
    wishes = [Wish(parse_chord(chord), ("full",), **parts) for chord in ("G13", "C13")]  # type: ignore[arg-type]
    steps = tuple(Step(i, "p", i + 1, 1.0, 4.0 * i, 4.0, wish) for i, wish in enumerate(wishes))
    return Drill("d", "D", "C major", 80.0, (4, 4), steps), make_instrument(tuning)


def test_too_much_to_compare_is_told_at_once(monkeypatch: pytest.MonkeyPatch) -> None:
    """One line says which step, how many voicings, and what to narrow; what was narrowed is planned."""
    monkeypatch.setattr(planner, "MOST_PAIRS", 200_000)
    drill, guitar = big("standard")
    with pytest.raises(PlanError, match=r"step \d .*different ways.*a size, fewer strings or frets") as told:
        plan_drill(drill, guitar, HAND)  # type: ignore[arg-type]
    assert "\n" not in str(told.value)
    narrow, _ = big("standard", frets=(2, 6))
    assert plan_drill(narrow, guitar, HAND).steps  # type: ignore[arg-type]


def test_least_possible_may_be_too_much(monkeypatch: pytest.MonkeyPatch) -> None:
    """A plan whose lines narrow it stays, though without them there is too much to compare: the report says less."""
    drill, guitar = big("standard")
    plan = plan_drill(drill, guitar, HAND)  # type: ignore[arg-type]
    monkeypatch.setattr("listener.planning.yardsticks.check_size", _refuse)
    assert least_possible(drill, guitar, HAND) is None  # type: ignore[arg-type]
    told = report(plan, drill, guitar, HAND)  # type: ignore[arg-type]
    assert (told.least, told.ratio, told.as_json()["least_possible"]) == (None, None, None)


def test_everyday_shapes_may_be_too_many(monkeypatch: pytest.MonkeyPatch) -> None:
    """On many strings the yardstick may be too much though the plan is not: it is left out, and the note says why."""
    drill, guitar = big("standard")
    plan = plan_drill(drill, guitar, HAND)  # type: ignore[arg-type]
    monkeypatch.setattr("listener.planning.report.everyday_route", _refuse)
    told = report(plan, drill, guitar, HAND)  # type: ignore[arg-type]
    assert (told.everyday, told.everyday_note) == (None, "too much")


def _refuse(*_: object) -> None:
    raise PlanError("too much")


def test_a_step_tied_to_the_one_before_by_its_line() -> None:
    """Lines that go apart among big chords: the plain search over what may follow finds nothing better."""
    layers = [candidates(Wish(parse_chord(chord), ("full",), frets=(0, 7)), GUITAR, HAND) for chord in ("G13", "C13")]
    route = best_route(layers, USUAL, links=[Link(), Link(top="up", bottom="down")])
    before, after = (layer[index].fingering.pitches for layer, index in zip(layers, route.choice, strict=True))
    assert after[-1] > before[-1]
    assert after[0] < before[0]
    tops, bottoms = ([[c.fingering.pitches[end] for c in layer] for layer in layers] for end in (-1, 0))
    apart = np.greater.outer(tops[1], tops[0]).T & np.less.outer(bottoms[1], bottoms[0]).T
    costs = (
        plain_own(layers[0], USUAL)[:, None] + plain_changes(layers[0], layers[1], USUAL) + plain_own(layers[1], USUAL)
    )
    assert round(route.cost * UNITS) == costs[apart].min()
