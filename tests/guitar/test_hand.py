"""The hand's limits."""

from __future__ import annotations

from itertools import pairwise

import pytest

from listener.errors import InstrumentError
from listener.guitar.hand import PAIRS, Hand, hand_names, make_hand
from listener.guitar.instrument import make_instrument


def test_sizes_are_ordered() -> None:
    """Every pair of fingers reaches further in a larger hand."""
    assert hand_names() == ("large", "medium", "small")
    for larger, smaller in pairwise(make_hand(name) for name in hand_names()):
        assert all(more > less for more, less in zip(larger.reach_mm, smaller.reach_mm, strict=True))


@pytest.mark.parametrize(("name", "fret"), [("large", 1), ("medium", 3), ("small", 5)])
def test_four_frets_from_where_the_table_says(name: str, fret: int) -> None:
    """The first and fourth finger cover four frets from this fret on, and not one fret lower (hands.toml)."""
    guitar, reach = make_instrument(), make_hand(name).reach(1, 4)
    assert guitar.finger_mm(fret + 3) - guitar.finger_mm(fret) <= reach
    if fret > 1:
        assert guitar.finger_mm(fret + 2) - guitar.finger_mm(fret - 1) > reach


@pytest.mark.parametrize("name", hand_names())
def test_wider_pairs_reach_further(name: str) -> None:
    """No pair reaches further than a pair that encloses it."""
    hand = make_hand(name)
    for inner in PAIRS:
        for outer in PAIRS:
            if outer[0] <= inner[0] and inner[1] <= outer[1]:
                assert hand.reach(*inner) <= hand.reach(*outer)
    assert hand.reach(4, 1) == hand.reach(1, 4)


def test_a_measured_hand() -> None:
    """Six lengths make a hand, and its name makes it again."""
    hand = make_hand("60, 85 90 60 75.5 60")
    assert hand == Hand("60 85 90 60 75.5 60", (60.0, 85.0, 90.0, 60.0, 75.5, 60.0))
    assert make_hand(hand.name) == hand
    assert (hand.size, make_hand("small").size) == ("measured", "small")


@pytest.mark.parametrize(
    ("name", "words"),
    [
        ("huge", "there is no hand 'huge'; name one of large, medium, small"),
        ("", "there is no hand ''"),
        ("60 85", "six|6 lengths"),
        ("60 85 90 60 75 0", "a reach of 0 mm between fingers 3 and 4"),
        ("60 85 90 60 75 nan", "a reach of nan mm"),
        ("60 85 9000 60 75 60", "a reach of 9000 mm between fingers 1 and 4"),
    ],
)
def test_hands_that_cannot_be(name: str, words: str) -> None:
    """An unknown size or an impossible length is one clear line."""
    with pytest.raises(InstrumentError, match=words):
        make_hand(name)
