"""What hand and ear mind about a shape by itself: tables made by hand, and real candidates counted one by one."""

from __future__ import annotations

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from plain_costs import amounts, lowest_clear, of_the_ear, of_the_hand, of_the_strings
from plain_costs import own_cost as plain_own_cost
from spots import Spot, spots, weights

from listener.drill.drill import NoteWish, Wish
from listener.drill.manners import EVERYDAY, PRICES, Weights, manner, manner_names
from listener.guitar.fingering import Fingering
from listener.guitar.grip import grip
from listener.guitar.hand import hand_names, make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import parse_pitch
from listener.planning.routes.facts import facts_of, own_cost
from listener.planning.shapes.candidates import candidates

GUITAR = make_instrument()


def shape(frets: str) -> Fingering:
    """A shape as it is written on the board, from the lowest string up, ``x`` muted."""
    placed = [(6 - i, int(fret)) for i, fret in enumerate(frets.split()) if fret != "x"]
    held = grip(GUITAR, make_hand("large"), placed)
    assert held is not None
    return held


def sounding(*notes: str) -> Fingering:
    """Some notes, on whatever strings."""
    pitches = tuple(parse_pitch(note).midi for note in notes)
    strings = tuple(range(6, 6 - len(pitches), -1))
    return Fingering(pitches, strings, (0,) * len(pitches), (0,) * len(pitches), None, 0.0, 0.0, None)


@pytest.mark.parametrize(
    ("price", "frets", "amount"),
    [
        ("open_gap", "x 3 2 0 1 0", 0),
        ("open_gap", "0 2 2 0 0 0", 1),
        ("open_gap", "x 0 7 6 5 0", 4),
        ("open_gap", "x x 7 6 5 5", 0),
        ("open_gap", "0 0 0 0 0 0", 0),
        ("high_open", "x x 0 2 3 2", 0),
        ("high_open", "x 0 6 6 5 0", 1),
        ("high_open", "x 0 7 6 4 0", 0),
        ("high_open", "0 7 9 9 8 0", 3),
        ("open_inside", "x 3 2 0 1 0", 1),
        ("open_inside", "3 2 0 0 0 3", 1),
        ("open_inside", "0 2 2 1 0 0", 0),
        ("open_inside", "3 0 2 0 1 0", 2),
        ("open_inside", "3 x 0 0 x 3", 1),
        ("open_inside", "x 2 1 2 0 2", 1),
        ("crossing", "x 3 2 0 1 0", 0),
        ("crossing", "x x x x 7 0", 1),
        ("crossing", "x x x x 5 0", 0),
        ("crossing", "x x x 12 0 0", 2),
        ("crossing", "x x 12 0 0 0", 2),
        ("crossing", "x x x 12 8 0", 2),
        ("muted", "x 3 2 0 1 0", 0),
        ("muted", "x 3 x 0 1 0", 1),
        ("muted", "3 x x 4 x 3", 3),
        ("muted", "x x x x x 3", 0),
        ("unused", "0 2 2 1 0 0", 0),
        ("unused", "x x 0 2 3 2", 2),
        ("unused", "3 x 3 4 3 x", 2),
        ("unused", "x x x x x 3", 5),
    ],
)  # fmt: skip
def test_what_the_hand_minds(price: str, frets: str, amount: float) -> None:
    """Counted by hand; the plain count is the same."""
    assert own_cost(shape(frets), Weights(**{price: 2.0})) == 2.0 * amount
    assert of_the_hand(shape(frets))[price] == amount


@pytest.mark.parametrize(
    ("tuning", "placed", "amount"),
    [
        ("ukulele", [(4, 0), (3, 0), (2, 0), (1, 3)], 0),  # the fourth string of a ukulele is a high one
        ("ukulele", [(4, 0), (3, 5), (2, 3), (1, 2)], 0),
        ("ukulele", [(4, 0), (3, 9), (2, 0), (1, 0)], 2),
        ("E4 B3 G3 D3", [(4, 0), (3, 0), (2, 0), (1, 0)], 0),
        ("E4 B3 G3 D3", [(3, 0), (2, 7)], 1),
    ],
)
def test_strings_cross_where_they_do_not_sound_in_order(
    tuning: str, placed: list[tuple[int, int]], amount: int
) -> None:
    """A string is the higher one when it sounds higher, wherever it lies."""
    held = grip(make_instrument(tuning), make_hand("large"), placed)
    assert held is not None
    assert own_cost(held, Weights(crossing=2.0)) == 2.0 * amount
    assert of_the_hand(held)["crossing"] == amount


@pytest.mark.parametrize(("strain", "amount"), [(0.0, 0.0), (0.3, 0.0), (0.5, 0.0), (0.75, 0.5), (1.0, 1.0)])
def test_strain_costs_only_beyond_half_of_the_reach(strain: float, amount: float) -> None:
    """Half of the reach is no effort to speak of; then it costs in proportion."""
    held = Fingering((60, 64), (3, 2), (5, 5), (1, 2), None, 0.0, strain, 100.0)
    assert own_cost(held, Weights(strain=2.0)) == pytest.approx(2.0 * amount)


def test_stretch_and_effort_cost_by_their_amount() -> None:
    """Millimetres and units of effort, as the fingering has them."""
    held = shape("x 3 2 0 1 0")
    assert held.stretch_mm == pytest.approx(GUITAR.finger_mm(3) - GUITAR.finger_mm(1))
    assert own_cost(held, Weights(stretch=0.5)) == pytest.approx(0.5 * held.stretch_mm)
    assert own_cost(held, Weights(effort=0.5)) == pytest.approx(0.5 * held.effort)
    assert held.effort > 0


@pytest.mark.parametrize(
    ("frets", "position", "beyond"),
    [
        ("x 3 5 5 5 3", 0, 0),
        ("1 3 3 2 1 1", 2, 0),
        ("x x 7 9 10 9", 4, 1),
        ("x x 9 9 9 12", 6, 3),
        ("x 0 x 11 10 0", 7, 2),
        ("0 0 0 0 0 0", 0, 0),
    ],
)
def test_where_the_hand_likes_to_be(frets: str, position: int, beyond: int) -> None:
    """Frets between the lowest finger and its place, and beyond the highest fret; open strings lie nowhere."""
    assert own_cost(shape(frets), Weights(position=2.0, low_fret=3.0)) == 2.0 * position
    assert own_cost(shape(frets), Weights(fret=0.5, high_fret=9.0)) == 0.5 * beyond


def ear(price: str, wish: Wish, *notes: str) -> float:
    """How much of it the ear minds, twice counted."""
    heard = sounding(*notes)
    found = own_cost(heard, Weights(**{price: 2.0}), wish) / 2.0
    assert of_the_ear(heard.pitches, wish)[price] == found
    return found


@pytest.mark.parametrize(
    ("chord", "notes", "amount"),
    [
        ("C", "C3 E3 G3", 0),
        ("C", "E3 G3 C4", 1),
        ("C/E", "E3 G3 C4", 0),
        ("C/D", "D3 G3 C4 E4", 0),
        ("Am7", "C3 E3 G3 A3", 1),
    ],
)
def test_another_bass(chord: str, notes: str, amount: int) -> None:
    """The root, or what stands after the slash, belongs at the bottom ..."""
    assert ear("bass", Wish(parse_chord(chord), ("any",)), *notes.split()) == amount


@pytest.mark.parametrize(
    "asked",
    [
        {"inversion": 1},
        {"bottom": NoteWish(degree="3")},
        {"bottom": NoteWish(pitch=parse_pitch("E3"))},
        {"exact": (52, 55, 60)},
    ],
    ids=["inversion", "degree", "pitch", "exact"],
)
def test_another_bass_that_was_asked_for(asked: dict[str, object]) -> None:
    """... unless the wish says what shall lie there; a wish for the top says nothing about it."""
    assert ear("bass", Wish(parse_chord("C"), ("any",), **asked), "E3", "G3", "C4") == 0  # type: ignore[arg-type]
    assert ear("bass", Wish(parse_chord("C"), ("any",), top=NoteWish(degree="1")), "E3", "G3", "C4") == 1


@pytest.mark.parametrize(
    ("price", "chord", "notes", "amount"),
    [
        ("minor_ninth", "Cmaj7", "B2 C4 E4 G4", 1),
        ("minor_ninth", "Cmaj7", "B2 C4 E4 G4 C5", 2),
        ("minor_ninth", "Cmaj7", "C3 B3 E4 G4", 0),
        ("minor_ninth", "C7b9", "C3 E3 Bb3 Db4", 0),
        ("minor_ninth", "C7b9", "E3 Bb3 Db4 F4", 1),
        ("minor_ninth", "C/B", "B2 C4 E4 G4", 0),
        ("minor_ninth", "Em7b5", "Bb2 E3 G3 D4", 0),
        ("semitone", "Cmaj7", "E3 G3 B3 C4", 1),
        ("semitone", "Cmaj7", "C3 E3 G3 B3", 0),
        ("semitone", "C7#9", "E3 Bb3 D#4 E4", 1),
        ("low_interval", "E", "E2 G#2 B3", 2),
        ("low_interval", "F#", "F#2 A#2 C#4", 1),
        ("low_interval", "G", "G2 B2 D3", 0),
        ("low_interval", "Gm", "G2 Bb2 D3", 2),
        ("low_interval", "E5", "E2 B2 E3", 0),
        ("low_interval", "E5", "E2 E3", 0),
        ("low_interval", "C", "E2 C3 G3", 2),
        ("low_interval", "C/E", "E2 C3 G3", 0),
        ("low_interval", "C", "C3", 0),
        ("doubled_third", "C", "E3 G3 C4 E4", 1),
        ("doubled_third", "C", "E3 C4 E4 E5", 2),
        ("doubled_third", "Cm", "C3 Eb3 G3 C4 Eb4", 1),
        ("doubled_third", "Csus4", "C3 F3 G3 C4 F4", 0),
        ("doubled_third", "C", "C3 E3 G3 C4 G4", 0),
        ("doubled_third", "C/E", "E2 C3 E3 G3 C4", 0),
        ("doubled_third", "C/E", "E2 C3 E3 G3 E4", 1),
        ("doubled_color", "C7/Bb", "Bb2 E3 G3 C4 Bb4", 0),
        ("doubled_color", "C7", "C3 Bb3 E4 Bb4", 1),
        ("doubled_color", "C6", "C3 A3 E4 A4", 1),
        ("doubled_color", "C9", "C3 E3 Bb3 D4 D5 Bb5", 2),
        ("doubled_color", "Csus4", "C3 F3 G3 C4 F4", 0),
        ("doubled_color", "Cm7b5", "C3 Gb3 Bb3 Eb4 Gb4", 0),
    ],
)  # fmt: skip
def test_what_the_ear_minds(price: str, chord: str, notes: str, amount: int) -> None:
    """Rubs, mud and doubled tones, counted by hand; the plain count is the same."""
    assert ear(price, Wish(parse_chord(chord), ("any",)), *notes.split()) == amount


@pytest.mark.parametrize(
    ("price", "chord", "frets", "amount"),
    [
        ("cut_top", "G/B", "x 2 0 0 0 3", 0),
        ("cut_top", "G/B", "x 2 0 0 x x", 2),
        ("cut_top", "G", "3 2 0 0 x x", 0),
        ("high_bass", "C/E", "0 3 2 0 1 0", 0),
        ("high_bass", "C/E", "x x 2 0 1 0", 2),
        ("high_bass", "C", "x x x 0 1 0", 0),
    ],
)
def test_strings_left_out_over_an_asked_bass(price: str, chord: str, frets: str, amount: int) -> None:
    """Only a chord with a slash pays for them: it is a known shape, with another bass under it."""
    wish, held = Wish(parse_chord(chord), ("any",)), shape(frets)
    assert own_cost(held, Weights(**{price: 2.0}), wish) == 2.0 * amount
    assert of_the_strings(held, wish)[price] == amount
    assert own_cost(held, Weights(**{price: 2.0})) == 0


def test_low_intervals_have_their_limits() -> None:
    """For each interval of the table: at the limit it is clear, lower it costs one and two, never more."""
    assert len(lowest_clear()) >= 10
    wish = Wish(parse_chord("C"), ("any",))
    for semitones, limit in lowest_clear().items():
        for below, amount in ((0, 0), (1, 1), (2, 2), (5, 2)):
            pair = Fingering((limit - below, limit - below + semitones), (6, 5), (0, 0), (0, 0), None, 0.0, 0.0, None)
            assert own_cost(pair, Weights(low_interval=1.0), wish) == amount
    assert ear("low_interval", wish, "E2", "C4") == 0


def test_without_a_wish_the_ear_says_nothing() -> None:
    """What a note means is known only by the chord it belongs to."""
    muddy = sounding("E2", "F2", "F3", "F4")
    assert own_cost(muddy, Weights(**dict.fromkeys(set(PRICES) - {"unused"}, 5.0))) == 0.0


@pytest.mark.parametrize("name", [*manner_names(), "everything"])
@settings(max_examples=examples(300), deadline=None)
@given(taken=spots, some=weights)
def test_made_up_shapes_cost_what_is_counted(name: str, taken: Spot, some: Weights) -> None:
    """All prices together, with the place on the neck."""
    prices = some if name == "everything" else manner(name)
    assert own_cost(taken.fingering, prices) == pytest.approx(plain_own_cost(taken.fingering, prices))


CHORDS = (
    "C",
    "F#m",
    "Bdim7",
    "Caug",
    "Gsus4",
    "Am7/G",
    "G7b9",
    "Cmaj7",
    "F#m7b5",
    "Bb6",
    "A9",
    "C/D",
    "Cmaj7/B",
    "Dm11",
    "E7#9",
)
INSTRUMENTS = ("standard", "dadgad", "ukulele", "E4 B3 G3 D3", "seven string")


@settings(max_examples=examples(150), deadline=None)
@given(
    chord=st.sampled_from(CHORDS),
    kind=st.sampled_from(("any", "full", "close", "drop 2", "shell")),
    tuning=st.sampled_from(INSTRUMENTS),
    hand=st.sampled_from(hand_names()),
    asked=st.sampled_from([{}, {"inversion": 1}, {"bottom": NoteWish(degree="5")}, {"top": NoteWish(degree="3")}]),
    low=st.integers(0, 7),
)
def test_candidates_in_arrays_as_counted_one_by_one(
    chord: str, kind: str, tuning: str, hand: str, asked: dict[str, object], low: int
) -> None:
    """Every trait of every candidate; and what has no table is counted to the same numbers."""
    wish = Wish(parse_chord(chord), (kind,), frets=(low, low + 4), **asked)  # type: ignore[arg-type]
    guitar = make_instrument(tuning)
    found = candidates(wish, guitar, make_hand(hand))
    facts = facts_of(found)
    for index, candidate in enumerate(found):
        counted = amounts(candidate.fingering, wish, guitar.string_count)
        assert {name: amount[index] for name, amount in facts.traits.items()} == pytest.approx(counted)
        prices = manner(EVERYDAY)
        assert facts.own(prices)[index] == pytest.approx(
            plain_own_cost(candidate.fingering, prices, wish, guitar.string_count)
        )
    for index in range(0, len(found), 7):
        # By itself a fingering does not know how many strings the instrument has.
        each = Weights(**dict.fromkeys(set(PRICES) - {"unused", "high_bass"}, 1.0))
        assert own_cost(found[index].fingering, each, wish) == pytest.approx(facts.own(each)[index])


def test_every_price_is_of_a_trait_a_place_or_a_change() -> None:
    """No price is without what it is paid for."""
    found = facts_of(candidates(Wish(parse_chord("C"), ("any",)), GUITAR, make_hand()))
    of_changes = {"movement", "leap", "travel", "shift", "refinger", "slide", "place", "barre"}
    assert {*found.traits, "position", "fret", "ending"} | of_changes == set(PRICES)
