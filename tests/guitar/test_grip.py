"""Fingers on frets: the rules, the choice among what they allow, and the limits of the hand."""

from __future__ import annotations

from itertools import combinations, pairwise, product

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_grip import plain_grip, plain_grips, plain_sensible_grips

from listener.errors import InstrumentError
from listener.guitar.fingering import Barre, Fingering
from listener.guitar.grip import grip, grips, sensible_grips, which_held
from listener.guitar.hand import Hand, effort, hand_names, make_hand
from listener.guitar.instrument import Instrument, make_instrument

GUITAR = make_instrument()
Placed = list[tuple[int, int]]


def placed(frets: str) -> Placed:
    """(string, fret) pairs of a shape written from the lowest string up, ``x`` muted."""
    words = frets.split()
    return [(len(words) - index, int(word)) for index, word in enumerate(words) if word != "x"]


def shapes(highest: int = 9) -> st.SearchStrategy[Placed]:
    """Shapes in a window of five frets, some strings open or muted; about a third of them cannot be held."""
    string = st.sampled_from([None, 0, 1, 1, 2, 2, 3, 3, 4, 5])
    return (
        st.tuples(st.lists(string, min_size=6, max_size=6), st.integers(1, highest))
        .map(lambda pair: [(6 - i, f and f + pair[1] - 1) for i, f in enumerate(pair[0]) if f is not None])
        .filter(bool)
    )


def broken_rules(instrument: Instrument, hand: Hand, notes: Placed, fingers: list[int]) -> list[str]:
    """The rules of the hand, written down a second time, as plainly as can be."""
    broken = []
    pressed = {string: (fret, finger) for (string, fret), finger in zip(notes, fingers, strict=True) if fret}
    for finger in (1, 2, 3, 4):
        strings = [string for string in pressed if pressed[string][1] == finger]
        if len({pressed[string][0] for string in strings}) > 1:
            broken.append("one finger, two frets")
        if len(strings) > 1:
            fret = pressed[strings[0]][0]
            if max(strings) - min(strings) + 1 > hand.barre_strings[finger - 1]:
                broken.append("barre too wide")
            if any(min(strings) < string < max(strings) and at < fret for string, at in notes):
                broken.append("barre over a lower note")
    for (string, (fret, finger)), (next_string, (other_fret, other)) in combinations(pressed.items(), 2):
        if fret == other_fret and finger != other and (finger - other) * (next_string - string) < 0:
            broken.append("at one fret the lower finger takes the lower string")
        if finger != other and (finger - other) * (fret - other_fret) < 0:
            broken.append("fingers out of order")
        if finger != other and fret != other_fret:
            apart = abs(instrument.finger_mm(fret) - instrument.finger_mm(other_fret))
            if apart > hand.reach(finger, other):
                broken.append("too far apart")
    return broken


def possible(instrument: Instrument, hand: Hand, notes: Placed) -> bool:
    """Whether any choice of fingers at all keeps the rules."""
    choices = [(0,) if fret == 0 else (1, 2, 3, 4) for _, fret in notes]
    return any(not broken_rules(instrument, hand, notes, list(fingers)) for fingers in product(*choices))


@settings(max_examples=examples(150), deadline=None)
@given(notes=shapes(), name=st.sampled_from(hand_names()), capo=st.integers(0, 5), data=st.data())
def test_one_shape_is_held_as_the_plain_search_holds_it(
    notes: Placed, name: str, capo: int, data: st.DataObject
) -> None:
    """Every field of every way, whatever the order in which the strings are named."""
    guitar, hand = make_instrument(capo=capo), make_hand(name)
    named = data.draw(st.permutations(notes))
    assert grips(guitar, hand, named) == plain_grips(guitar, hand, notes)
    assert sensible_grips(guitar, hand, named) == plain_sensible_grips(guitar, hand, notes)
    assert grip(guitar, hand, named) == plain_grip(guitar, hand, notes)


@settings(max_examples=examples(50), deadline=None)
@given(several=st.lists(shapes(), max_size=8), name=st.sampled_from(hand_names()))
def test_several_shapes_are_each_held_or_not(several: list[Placed], name: str) -> None:
    """The same shape may come twice, and none at all is none."""
    hand = make_hand(name)
    again = several + several[:1]
    assert which_held(GUITAR, hand, again) == [plain_grip(GUITAR, hand, notes) is not None for notes in again]


@settings(max_examples=examples(150), deadline=None)
@given(notes=shapes(), name=st.sampled_from(hand_names()))
def test_holds_exactly_what_the_rules_allow(notes: Placed, name: str) -> None:
    """A shape has a grip if and only if trying all fingers on all notes finds one."""
    hand = make_hand(name)
    assert (grip(GUITAR, hand, notes) is not None) == possible(GUITAR, hand, notes)


@settings(max_examples=examples(200), deadline=None)
@given(notes=shapes(), name=st.sampled_from(hand_names()), capo=st.integers(0, 5))
def test_every_grip_keeps_the_rules(notes: Placed, name: str, capo: int) -> None:
    """No proposal exceeds the hand, and strain is the largest share of a pair's reach."""
    guitar, hand = make_instrument(capo=capo), make_hand(name)
    for held in grips(guitar, hand, notes):
        pairs = list(zip(held.strings, held.frets, strict=True))
        assert sorted(pairs) == sorted(notes)
        assert not broken_rules(guitar, hand, pairs, list(held.fingers))
        spots = {finger: guitar.finger_mm(fret) for finger, fret in zip(held.fingers, held.frets, strict=True) if fret}
        shares = [abs(spots[a] - spots[b]) / hand.reach(a, b) for a, b in combinations(spots, 2)]
        assert held.strain == pytest.approx(max(shares, default=0.0))
        assert held.strain <= 1.0
        assert held.stretch_mm == pytest.approx(max(spots.values(), default=0) - min(spots.values(), default=0))
        assert (held.centre_mm is None) == (not spots)


@settings(max_examples=examples(100), deadline=None)
@given(notes=shapes())
def test_notes_are_what_the_instrument_sounds(notes: Placed) -> None:
    """Pitches run low to high, each on its string and fret."""
    held = grip(GUITAR, make_hand("large"), notes)
    if held is not None:
        assert list(held.pitches) == sorted(held.pitches)
        assert held.pitches == tuple(map(GUITAR.pitch, held.strings, held.frets))


@settings(max_examples=examples(100), deadline=None)
@given(notes=shapes())
def test_one_fret_up_is_never_wider(notes: Placed) -> None:
    """A shape moved a fret up can still be held, with no more stretch."""
    hand = make_hand()
    here = grip(GUITAR, hand, notes)
    there = grip(GUITAR, hand, [(string, fret and fret + 1) for string, fret in notes])
    if here is not None:
        assert there is not None
        assert there.stretch_mm <= here.stretch_mm + 1e-9


@settings(max_examples=examples(60), deadline=None)
@given(notes=shapes(), capo=st.integers(1, 6))
def test_a_capo_is_a_shorter_neck(notes: Placed, capo: int) -> None:
    """With every string pressed or muted, fret f above the capo is held as fret f + capo without it."""
    pressed = [(string, fret) for string, fret in notes if fret]
    if pressed:
        above = grip(make_instrument(capo=capo), make_hand(), pressed)
        plain = grip(GUITAR, make_hand(), [(string, fret + capo) for string, fret in pressed])
        assert (above is None) == (plain is None)
        if above is not None and plain is not None:
            assert (above.pitches, above.fingers, above.strain) == (plain.pitches, plain.fingers, plain.strain)


@pytest.mark.parametrize(
    ("frets", "fingers"),
    [
        ("x 3 2 0 1 0", "3 2 0 1 0"),
        ("0 2 2 1 0 0", "0 2 3 1 0 0"),
        ("x 0 2 2 1 0", "0 2 3 1 0"),
        ("x 0 2 2 2 0", "0 1 2 3 0"),
        ("x x 0 2 3 2", "0 1 3 2"),
        ("1 3 3 2 1 1", "1 3 4 2 1 1"),
        ("x 2 1 2 0 2", "2 1 3 0 4"),
        ("x 3 5 5 4 3", "1 3 4 2 1"),
        ("5 7 5 6 5 5", "1 3 1 2 1 1"),
        ("x x 10 12 10 12", "1 3 1 4"),
    ],
)
def test_everyday_fingers(frets: str, fingers: str) -> None:
    """Open chords and barres get the fingers that are taught (common practice)."""
    held = grip(GUITAR, make_hand("large"), placed(frets))
    assert held is not None
    by_string = dict(zip(held.strings, held.fingers, strict=True))
    assert " ".join(str(by_string[string]) for string in sorted(by_string, reverse=True)) == fingers


def test_a_barre_is_described() -> None:
    """From its lowest string to its highest, with finger and fret."""
    held = grip(GUITAR, make_hand(), placed("5 7 7 6 5 5"))
    assert held is not None
    assert held.barre == Barre(finger=1, fret=5, from_string=6, to_string=1)


def test_an_open_string_breaks_a_barre() -> None:
    """An open string between two notes at fret 5 costs a fifth finger; muted, one finger lies over it."""
    assert grip(GUITAR, make_hand("large"), placed("5 6 0 5 7 8")) is None
    assert grip(GUITAR, make_hand("large"), placed("5 6 x 5 7 8")) is not None


def test_open_strings_alone() -> None:
    """Nothing pressed: no stretch, no strain, and the hand may be anywhere."""
    held = grip(GUITAR, make_hand(), placed("0 0 0 0 0 0"))
    assert held == Fingering((40, 45, 50, 55, 59, 64), (6, 5, 4, 3, 2, 1), (0,) * 6, (0,) * 6, None, 0.0, 0.0, None)


def test_least_effort_comes_first() -> None:
    """The best grip is the first of all grips."""
    notes = placed("3 3 5 4 3 3")
    every = grips(GUITAR, make_hand("large"), notes)
    assert len(every) > 1
    assert every[0] == grip(GUITAR, make_hand("large"), notes)


def plain_effort(held: Fingering) -> float:
    """What the fingers cost, added up from the words of ``shared/hands.toml``."""
    weights, total = effort(), 0.0
    notes = list(zip(held.strings, held.frets, strict=True))
    on: dict[int, list[tuple[int, int]]] = {}
    for (string, fret), finger in zip(notes, held.fingers, strict=True):
        if fret:
            on.setdefault(finger, []).append((string, fret))
    for finger, places in on.items():
        total += weights.finger
        if len(places) > 1:
            total += weights.first_barre if finger == 1 else weights.other_barre
            end, fret = min(places)
            total += weights.arched * any(string < end and at < fret for string, at in notes)
    for finger, other in pairwise(sorted(on)):
        total += weights.crowding * abs((on[other][0][1] - on[finger][0][1]) - (other - finger))
    total += weights.idle * (min(on) - 1) if on else 0.0
    return total + weights.strain * held.strain


@settings(max_examples=examples(150), deadline=None)
@given(notes=shapes(), name=st.sampled_from(hand_names()))
def test_effort_is_what_the_table_says(notes: Placed, name: str) -> None:
    """Strain, fingers, barres, arches, crowding and idle fingers; the ways come with the least effort first."""
    ways = grips(GUITAR, make_hand(name), notes)
    assert [way.effort for way in ways] == pytest.approx([plain_effort(way) for way in ways])
    assert [round(way.effort, 9) for way in ways] == sorted(round(way.effort, 9) for way in ways)


@settings(max_examples=examples(150), deadline=None)
@given(notes=shapes(), name=st.sampled_from(hand_names()))
def test_sensible_ways_ask_little_more_than_the_best(notes: Placed, name: str) -> None:
    """All those within the table's margin, in order, and no other; none where the hand holds nothing."""
    hand = make_hand(name)
    every, ways = grips(GUITAR, hand, notes), sensible_grips(GUITAR, hand, notes)
    assert every[: len(ways)] == ways
    assert bool(ways) == bool(every)
    if ways:
        best = every[0].effort
        assert all(way.effort <= best + effort().sensible + 1e-6 for way in ways)
        assert all(way.effort > best + effort().sensible - 1e-6 for way in every[len(ways) :])


@pytest.mark.parametrize(
    ("frets", "fingers"),
    [
        # Common practice: each is taught, the one for the change that comes next.
        ("x 0 2 2 2 0", ["0 1 2 3 0", "0 2 3 4 0"]),
        ("x x 0 2 3 1", ["0 2 3 1", "0 3 4 1"]),
        ("0 2 2 0 0 0", ["0 1 2 0 0 0", "0 2 3 0 0 0"]),
        ("3 2 0 0 0 3", ["2 1 0 0 0 3", "3 2 0 0 0 4"]),
        ("x 3 2 0 1 0", ["3 2 0 1 0"]),
        ("x 1 3 3 3 x", ["1 3 3 3", "1 2 3 4"]),
    ],
)
def test_taught_second_ways_are_sensible(frets: str, fingers: list[str]) -> None:
    """What a teacher shows for another change is among the ways that a plan may take."""
    ways = [
        dict(zip(way.strings, way.fingers, strict=True)) for way in sensible_grips(GUITAR, make_hand(), placed(frets))
    ]
    written = [" ".join(str(way[string]) for string in sorted(way, reverse=True)) for way in ways]
    assert set(fingers) <= set(written)
    assert written[0] == fingers[0]


def test_open_strings_have_one_way() -> None:
    """Nothing to hold can be held in one way only, at no effort."""
    (way,) = sensible_grips(GUITAR, make_hand(), placed("0 0 0 0 0 0"))
    assert way.effort == 0.0


@pytest.mark.parametrize(
    ("notes", "words"),
    [
        ([], "nothing to finger"),
        ([(7, 1)], "no string 7"),
        ([(0, 1)], "no string 0"),
        ([(1, 30)], "no fret 30"),
        ([(1, -2)], "no fret -2"),
        ([(2, 1), (2, 3)], "string 2 cannot sound at two frets"),
    ],
)
def test_shapes_that_cannot_be(notes: Placed, words: str) -> None:
    """What is no shape at all is an error, not a None."""
    with pytest.raises(InstrumentError, match=words):
        grip(GUITAR, make_hand(), notes)
    with pytest.raises(InstrumentError, match=words):
        which_held(GUITAR, make_hand(), [[(6, 3)], notes])
