"""Manners of playing: a table that is whole, and the manner that each step of a drill has."""

from __future__ import annotations

from dataclasses import astuple, fields, replace

import pytest
from plain_costs import lowest_clear, manners

from listener.drill.drill import Drill, Wish
from listener.drill.drill_file import read_drill
from listener.drill.manners import (
    CHORD_MELODY,
    COMPING,
    EVERYDAY,
    PRICES,
    VOICE_LEADING,
    Weights,
    manner,
    manner_names,
)
from listener.drill.reading.minding import HIGHEST_PRICE, Minding, natural_manner
from listener.errors import DrillError
from listener.music.chord import parse_chord
from listener.music.voicing import KINDS

MANNERS = (EVERYDAY, COMPING, CHORD_MELODY, VOICE_LEADING)
HEAD = 'title = "A test"\nkey = "C major"\n'


def drill(text: str) -> Drill:
    return read_drill(HEAD + text, "test")


def chord(symbol: str, *kinds: str, **parts: object) -> Wish:
    return Wish(parse_chord(symbol), kinds, **parts)  # type: ignore[arg-type]


def test_the_manners_are_those_of_the_table() -> None:
    """Each says what it is for, and between which frets the hand likes to be."""
    assert manner_names() == MANNERS == tuple(manners()["manner"])
    for entry in manners()["manner"].values():
        assert set(entry) == {"about", "frets"}
        assert str(entry["about"]).strip()
        assert isinstance(entry["frets"], list)
        assert len(entry["frets"]) == 2
        assert all(0 <= fret <= 24 for fret in entry["frets"])


def test_prices_are_the_rows_of_the_table() -> None:
    """The same names in the same order; nothing but the two frets stands beside them."""
    assert tuple(manners()["price"]) == PRICES
    assert {field.name for field in fields(Weights)} == {*PRICES, "low_fret", "high_fret"}


@pytest.mark.parametrize("price", PRICES)
def test_every_price_says_what_it_counts_and_why(price: str) -> None:
    """And it has a number for each manner, no less than nothing and no more than a drill may ask for."""
    row = manners()["price"][price]
    assert set(row) == {"counts", "why", *MANNERS}
    assert str(row["counts"]).strip()
    assert str(row["why"]).strip()
    for name in MANNERS:
        number = row[name]
        assert isinstance(number, float)
        assert 0 <= number <= HIGHEST_PRICE
        assert getattr(manner(name), price) == number


@pytest.mark.parametrize("name", MANNERS)
def test_a_manner_likes_some_frets(name: str) -> None:
    """Those of the table."""
    assert [manner(name).low_fret, manner(name).high_fret] == manners()["manner"][name]["frets"]


def test_weights_mind_nothing_by_themselves() -> None:
    """Whoever wants a price has to name it."""
    assert all(getattr(Weights(), price) == 0.0 for price in PRICES)
    assert len({astuple(manner(name)) for name in MANNERS}) == len(MANNERS)


def test_an_unknown_manner_is_the_callers_mistake() -> None:
    """Files are looked at before."""
    with pytest.raises(KeyError):
        manner("jazz")


def test_limits_of_intervals_are_in_order() -> None:
    """Each interval once, from the smallest up, its limit within the low half of a guitar."""
    semitones = list(lowest_clear())
    assert semitones == sorted(semitones)
    assert len(semitones) == len(manners()["low_interval_limits"])
    assert 12 not in semitones  # an octave is clear wherever it lies
    assert all(28 <= limit <= 60 for limit in lowest_clear().values())


@pytest.mark.parametrize(
    ("kinds", "name"),
    [
        (("full",), EVERYDAY),
        (("shell",), COMPING),
        (("drop 2",), COMPING),
        (("drop 3", "drop 2 & 4", "shell"), COMPING),
        (("close",), VOICE_LEADING),
        (("spread",), VOICE_LEADING),
        (("any",), VOICE_LEADING),
        (("full", "any"), VOICE_LEADING),
        (("drop 2", "close"), VOICE_LEADING),
        (("full", "shell"), VOICE_LEADING),
    ],
)
def test_every_kind_has_its_natural_manner(kinds: tuple[str, ...], name: str) -> None:
    """Strummed shapes are everyday ones, shells and drop voicings comp, all else leads voices."""
    assert natural_manner(chord("C7", *kinds), melody=False) == name


@pytest.mark.parametrize("kind", KINDS)
def test_a_tune_on_top_makes_a_chord_melody(kind: str) -> None:
    """Whatever the chords under it are."""
    assert natural_manner(chord("C7", kind), melody=True) == CHORD_MELODY
    assert natural_manner(chord("C7", kind, added_top=True), melody=False) == CHORD_MELODY


def test_a_named_manner_and_single_prices_come_first() -> None:
    """A passage may name a manner and change single prices of it."""
    wish = chord("C", "full")
    assert Minding().weights(wish, melody=False, end=False) == manner(EVERYDAY)
    assert Minding(COMPING).weights(wish, melody=False, end=False) == manner(COMPING)
    changed = Minding(COMPING, (("travel", 3.0), ("bass", 0.25))).weights(wish, melody=True, end=False)
    assert changed == replace(manner(COMPING), travel=3.0, bass=0.25)


def test_the_bass_weighs_more_at_both_ends() -> None:
    """The first and the last chord of a passage want their own bass, but never less than the others."""
    wish = chord("C", "close")
    usual = manner(VOICE_LEADING)
    assert usual.ending > usual.bass
    assert Minding().weights(wish, melody=False, end=True) == replace(usual, bass=usual.ending)
    asked = Minding(None, (("ending", 1.0), ("bass", 7.0)))
    assert asked.weights(wish, melody=False, end=True).bass == asked.weights(wish, melody=False, end=False).bass == 7.0


def test_voices_need_not_lead_everywhere() -> None:
    """A chord to which nothing leads is chosen for itself, over its own bass; what the drill prices stays."""
    wish, usual = chord("C", "close"), manner(VOICE_LEADING)
    alone = Minding().weights(wish, melody=False, end=False, led=False)
    assert alone == replace(usual, movement=0.0, leap=0.0, bass=usual.ending)
    asked = Minding(None, (("movement", 2.0), ("bass", 0.5))).weights(wish, melody=False, end=False, led=False)
    assert (asked.movement, asked.leap, asked.bass) == (2.0, 0.0, 0.5)


def test_a_drill_has_the_manner_of_its_chords() -> None:
    """Each passage its own, when nobody names one."""
    found = drill(
        '[[passage]]\nchords = "C | F | G"\nkind = "full"\n'
        '[[passage]]\nchords = "C7 | F7 | G7"\nkind = "shell"\n'
        '[[passage]]\nchords = "C7 | F7 | G7"\nkind = ["full", "shell", "spread"]\n'
    )
    middle = [found.steps[index].weights for index in (1, 4)]
    assert middle == [manner(EVERYDAY), manner(COMPING)]
    # No voices lead out of a strummed shape: the shell after it is taken for itself.
    alone = replace(manner(COMPING), movement=0.0, leap=0.0, bass=manner(COMPING).ending)
    assert [step.weights for step in found.steps[7:9]] == [
        alone,
        replace(manner(VOICE_LEADING), bass=manner(VOICE_LEADING).ending),
    ]

    assert found.weights == tuple(step.weights for step in found.steps)
    ends = [found.steps[index].weights for index in (0, 2, 3, 5)]
    assert [one.bass for one in ends] == [one.ending for one in ends]
    assert found.steps[6].weights.ending == manner(EVERYDAY).ending
    assert found.steps[8].weights.movement == manner(VOICE_LEADING).movement


def test_nothing_leads_into_a_passage() -> None:
    """Its first chord is taken for itself; from one key of it to the next the voices go on."""
    found = drill('[[passage]]\nchords = "C | F"\n[[passage]]\nchords = "C | F"\nkeys = ["C major", "D major"]\n')
    assert [step.weights.movement for step in found.steps] == [0.0, 1.0, 0.0, 1.0, 1.0, 1.0]


def test_a_passage_that_is_repeated_ends_once() -> None:
    """Its first chord begins and its last chord ends; where it begins again nothing does."""
    found = drill('[[passage]]\nchords = "C | F"\nkind = "spread"\ntimes = 3\n')
    usual = manner(VOICE_LEADING)
    assert [step.weights.bass for step in found.steps] == [usual.ending, *[usual.bass] * 4, usual.ending]


def test_a_drill_names_a_manner_and_a_passage_another() -> None:
    """The passage's word counts where it has one; single prices of the drill hold everywhere."""
    found = drill(
        'manner = "comping"\n[weights]\ntravel = 0.5\nhigh_open = 0\n'
        '[[passage]]\nchords = "C | F | G"\nkind = "full"\n'
        '[[passage]]\nchords = "C | F | G"\nkind = "full"\nmanner = "voice leading"\n'
    )
    own = {"travel": 0.5, "high_open": 0.0}
    assert found.steps[1].weights == replace(manner(COMPING), **own)
    assert found.steps[4].weights == replace(manner(VOICE_LEADING), **own)


@pytest.mark.parametrize("price", PRICES)
def test_every_price_can_be_written(price: str) -> None:
    """``[weights]`` takes each by its name."""
    found = drill(f'[weights]\n{price} = 12.5\n[[passage]]\nchords = "C | F | G"\n')
    assert getattr(found.steps[1].weights, price) == 12.5
    changed = [name for name in PRICES if getattr(found.steps[1].weights, name) != getattr(manner(VOICE_LEADING), name)]
    assert changed == [price]


KNOWN = "'everyday', 'comping', 'chord melody', 'voice leading'"


@pytest.mark.parametrize(
    ("text", "problem"),
    [
        ('manner = "jazz"\n{C}\n{C}', f"line 3: 'manner' must be one of {KNOWN}, not 'jazz'"),
        ('{C}\nmanner = "comp"', f"line 5: 'manner' must be one of {KNOWN}, not 'comp'"),
        ("manner = 3\n{C}", f"line 3: 'manner' must be one of {KNOWN}, not 3"),
        ('manner = ""\n{C}', f"line 3: 'manner' must be one of {KNOWN}, not ''"),
        ('manner = "jazz"\n{C}\nmanner = "comping"', f"line 3: 'manner' must be one of {KNOWN}, not 'jazz'"),
        ("[weights]\nleap = -1\n{C}\n{C}", "line 4: 'leap' must be a number from 0 to 1000, not -1"),
        ("[weights]\nleap = 1001\n{C}", "line 4: 'leap' must be a number from 0 to 1000, not 1001"),
        ('[weights]\nbass = "much"\n{C}', "line 4: 'bass' must be a number from 0 to 1000, not 'much'"),
        ("[weights]\nbass = nan\n{C}", "line 4: 'bass' must be a number from 0 to 1000, not nan"),
        ("[weights]\nbass = true\n{C}", "line 4: 'bass' must be a number from 0 to 1000, not true"),
        ("[weights]\nmovemnt = 1\n{C}\n{C}", "line 4: unknown field 'movemnt'; did you mean 'movement'?"),
        ("weights = 3\n{C}", "line 3: 'weights' must be a table, written [weights], not 3"),
        ("weights = [1]\n{C}", "line 3: 'weights' must be a table, written [weights], not a list"),
    ],
)
def test_what_is_wrong_is_one_line(text: str, problem: str) -> None:
    """Said once, with its line, however many passages there are."""
    with pytest.raises(DrillError) as caught:
        drill(text.replace("{C}", '[[passage]]\nchords = "C"'))
    assert [str(one) for one in caught.value.problems] == [problem]


@pytest.mark.parametrize("field", ["low_fret", "speed"])
def test_what_is_no_price_is_told(field: str) -> None:
    """The two frets belong to the manner; a name that is near no price gets the list of those there are."""
    with pytest.raises(DrillError) as caught:
        drill(f'[weights]\n{field} = 2\n[[passage]]\nchords = "C"')
    (problem,) = map(str, caught.value.problems)
    assert problem.startswith(f"line 4: unknown field '{field}'; ")
    assert problem.endswith("did you mean 'fret'?" if field == "low_fret" else f"[weights] has: {', '.join(PRICES)}")
