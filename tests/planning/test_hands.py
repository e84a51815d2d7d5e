"""What a change asks of the hand, counted by hand and against counting finger by finger."""

from __future__ import annotations

from itertools import pairwise
from random import Random

import numpy as np
import pytest
from how_many import examples
from hypothesis import given, settings
from plain_costs import change_cost, finger_work, hand_cost, leap, position
from plain_search import UNITS, plain_changes
from spots import Spot, laid, spots, weights

from listener.drill.drill import Wish
from listener.drill.manners import PRICES, VOICE_LEADING, Weights, manner
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.planning.routes.hands import most_of_change
from listener.planning.routes.route import best_route, network
from listener.planning.shapes.candidates import candidates

GUITAR, HAND = make_instrument(), make_hand()
WORK = ("refinger", "slide", "place", "barre")


def held(frets: str, fingers: str) -> Spot:
    """A shape and its fingers as they are written on the board, from the lowest string up, ``x`` muted."""
    marks = [
        (6 - i, int(fret), int(finger))
        for i, (fret, finger) in enumerate(zip(frets.split(), fingers.split(), strict=True))
        if fret != "x"
    ]
    notes = sorted((GUITAR.pitch(string, fret), -string, fret, finger) for string, fret, finger in marks)
    return laid(notes, [GUITAR.finger_mm(fret) for _, _, fret, _ in notes if fret])


def cost(before: Spot, after: Spot, prices: Weights) -> float:
    """What the search says that a change costs."""
    return best_route([[before], [after]], [Weights(), prices]).cost


C = held("x 3 2 0 1 0", "x 3 2 0 1 0")
A_MINOR = held("x 0 2 2 1 0", "x 0 2 3 1 0")
A = held("x 0 2 2 2 0", "x 0 1 2 3 0")
D = held("x x 0 2 3 2", "x x 0 1 3 2")
E = held("0 2 2 1 0 0", "0 2 3 1 0 0")
F = held("1 3 3 2 1 1", "1 3 4 2 1 1")
G_BARRE = held("3 5 5 4 3 3", "1 3 4 2 1 1")
B_MINOR = held("x 2 4 4 3 2", "x 1 3 4 2 1")
D7 = held("x x 0 2 1 2", "x x 0 2 1 3")
G7 = held("3 2 0 0 0 1", "3 2 0 0 0 1")
OPEN = held("0 0 0 0 0 0", "0 0 0 0 0 0")
#: Before, after, and how often each price is paid, counted with the guitar in hand.
CHANGES = {
    "the third finger alone moves": (C, A_MINOR, {"place": 1}),
    "and back": (A_MINOR, C, {"place": 1}),
    "nothing moves": (C, C, {}),
    "a guide finger on the second string": (A, D, {"slide": 1, "place": 2, "refinger": 1}),
    "the same shape one string higher": (E, A_MINOR, {"place": 3, "refinger": 1}),
    "a barre shape goes up": (F, G_BARRE, {"slide": 4}),
    "the first finger is laid flat where it is": (A_MINOR, F, {"barre": 1, "place": 3, "refinger": 1}),
    "and lifted to its tip again": (F, C, {"barre": 1, "place": 1}),
    "a flat finger takes one string of its own fret": (B_MINOR, D, {"barre": 1, "place": 3, "refinger": 2}),
    "all fingers go elsewhere": (D7, G7, {"place": 3}),
    "all fingers are lifted": (C, OPEN, {}),
    "a barre is lifted": (F, OPEN, {"barre": 1}),
    "a barre shape from nowhere": (OPEN, F, {"barre": 1, "place": 4}),
    "the pivot under another finger": (
        held("x 0 2 2 2 0", "x 0 2 3 4 0"),
        held("0 2 2 1 0 0", "0 2 3 1 0 0"),
        {"refinger": 1, "place": 3},
    ),
    "the same shape, other fingers": (
        held("0 2 2 0 0 0", "0 1 2 0 0 0"),
        held("0 2 2 0 0 0", "0 2 3 0 0 0"),
        {"refinger": 2, "place": 2},
    ),
    "a flat finger grows": (
        held("x 5 7 x x x", "x 1 3 x x x"),
        held("x 5 7 5 x x", "x 1 3 1 x x"),
        {"barre": 1},
    ),
    "a flat finger slides on one of its strings": (
        held("x x 5 5 x x", "x x 1 1 x x"),
        held("x 7 7 x x x", "x 1 1 x x x"),
        {"slide": 1},
    ),
}  # fmt: skip


@pytest.mark.parametrize("name", CHANGES)
def test_fingers_that_stay_slide_and_jump(name: str) -> None:
    """Each price is paid as often as counted, alone and together with the others."""
    before, after, counted = CHANGES[name]
    for price in WORK:
        assert cost(before, after, Weights(**{price: 2.5})) == 2.5 * counted.get(price, 0)
    together = Weights(refinger=1.0, slide=10.0, place=100.0, barre=1000.0)
    digits = [counted.get(price, 0) for price in reversed(WORK)]
    assert cost(before, after, together) == int("".join(map(str, digits)))
    assert finger_work(before.fingering, after.fingering) == {price: counted.get(price, 0) for price in WORK}


@pytest.mark.parametrize(
    ("before", "after", "frets"),
    [
        (C, A_MINOR, 0),
        (F, G_BARRE, 2),
        (C, held("x 0 2 0 2 0", "x 0 2 0 3 0"), 0),  # the second finger at fret 2: the first would be at fret 1
        (C, held("x 0 2 0 2 0", "x 0 1 0 2 0"), 1),
        (A, D, 0),
        (F, held("x 0 2 2 2 0", "x 0 2 3 4 0"), 0),
        (held("x x x x x 1", "x x x x x 3"), held("x x x x x 5", "x x x x x 1"), 6),  # from behind the nut, so to say
        (C, OPEN, 0),
        (OPEN, G_BARRE, 0),
    ],
)
def test_the_position_is_where_the_first_finger_would_be(before: Spot, after: Spot, frets: int) -> None:
    """A shift is counted in frets of the position; open strings are in none."""
    assert cost(before, after, Weights(shift=0.5)) == cost(after, before, Weights(shift=0.5)) == 0.5 * frets


@pytest.mark.parametrize(("before", "after"), [(F, G_BARRE), (C, F), (A, B_MINOR), (C, OPEN), (OPEN, F)])
def test_travel_is_the_way_of_the_middle_of_the_hand(before: Spot, after: Spot) -> None:
    """In millimetres, from the middle between the outer fingers to the next; nothing to or from open strings."""
    here, there = ([GUITAR.finger_mm(f) for f in one.fingering.frets if f] for one in (before, after))
    way = abs((max(here) + min(here)) / 2 - (max(there) + min(there)) / 2) if here and there else 0.0
    assert cost(before, after, Weights(travel=0.25)) == pytest.approx(0.25 * way, abs=1e-5)


def test_leaps_are_of_all_voices() -> None:
    """Bottom and top go the same way, further than a fourth; contrary motion and a held top are none."""
    here = held("3 x 0 x x x", "1 x 0 x x x")  # G2 D3
    for frets, semitones in (
        ("x x 5 x 3 x", 7),  # G3 D4, an octave up: 12 less 5
        ("x x x 0 0 x", 4),  # G3 B3: the top goes 9 semitones, the bottom 12
        ("x 3 x 0 x x", 0),  # C3 G3: a fourth is still a step for all
        ("0 x x x x 12", 0),  # apart
        ("3 x x x x 12", 0),  # the bottom stays
    ):
        fingers = " ".join("x" if fret == "x" else "0" if fret == "0" else "1" for fret in frets.split())
        there = held(frets, fingers)
        assert leap(here.fingering, there.fingering) == semitones
        assert cost(here, there, Weights(leap=2.0)) == cost(there, here, Weights(leap=2.0)) == 2.0 * semitones


@settings(max_examples=examples(300), deadline=None)
@given(before=spots, after=spots, prices=weights)
def test_any_change_as_counted_finger_by_finger(before: Spot, after: Spot, prices: Weights) -> None:
    """Made-up shapes, any prices; and a change back asks as much as a change there, but for setting fingers down."""
    alone = best_route([[after]], prices).cost
    there, back = (
        change_cost(before.fingering, after.fingering, prices),
        hand_cost(after.fingering, before.fingering, prices),
    )
    assert cost(before, after, prices) - alone == pytest.approx(there, abs=1e-5)
    lifted = (
        finger_work(before.fingering, after.fingering)["place"]
        - finger_work(after.fingering, before.fingering)["place"]
    )
    assert hand_cost(before.fingering, after.fingering, prices) - back == pytest.approx(prices.place * lifted)


@settings(max_examples=examples(150), deadline=None)
@given(before=spots, after=spots, prices=weights)
def test_no_change_costs_more_than_the_most(before: Spot, after: Spot, prices: Weights) -> None:
    """The bound that leaves room for comfort where movement comes first."""
    reach_mm = max(one.fingering.centre_mm or 0.0 for one in (before, after))
    notes = max(len(one.fingering.pitches) for one in (before, after))
    comfort = hand_cost(before.fingering, after.fingering, prices)
    comfort += prices.leap * leap(before.fingering, after.fingering)
    assert comfort <= most_of_change(prices, reach_mm, notes)


@pytest.mark.parametrize(
    "prices",
    [
        pytest.param(manner(VOICE_LEADING), id="usual", marks=pytest.mark.slow),
        pytest.param(Weights(**{name: 0.7 for name in PRICES}), id="all"),
    ],
)
def test_real_shapes_as_counted_finger_by_finger(prices: Weights) -> None:
    """Every change between the shapes of some chords, barres, doublings and crossings among them; the plain search
    counts the same in arrays."""
    chance = Random(7)
    chords = ("F", "Bm7", "G7", "Dm9", "C/E")
    layers = [candidates(Wish(parse_chord(chord), ("full", "any"), frets=(0, 9)), GUITAR, HAND) for chord in chords]
    for before, after in pairwise(layers):
        found = network([before, after], prices).changes(1, slice(None))
        assert np.abs(found - plain_changes(before, after, prices)).max() <= 1
        for _ in range(examples(400)):
            row, column = chance.randrange(len(before)), chance.randrange(len(after))
            counted = change_cost(before[row].fingering, after[column].fingering, prices)
            assert found[row, column] / UNITS == pytest.approx(counted, abs=2e-5)


def test_the_plain_position() -> None:
    """The referee itself: one finger for each fret, counted back to the first."""
    assert [position(one.fingering) for one in (C, A, D, F, G_BARRE, B_MINOR)] == [1, 2, 2, 1, 3, 2]
    assert position(held("x 0 2 0 2 0", "x 0 2 0 3 0").fingering) == 1
