"""Everyday shapes against published ones: ``tables/guitar_chord_shapes.csv`` (npm @tombatossals/chords-db, MIT).

Within a chord the table lists the shape that is taught first, first. The everyday prices were found with the help of
half of the table (``shared/manners.toml`` says how); what is counted here is the other half, which nobody looked at,
and the plain chords that everybody needs. Below stand the frets of beginners' progressions as a teacher writes them on
the board (common practice).
"""

from __future__ import annotations

import csv
import random
from functools import cache
from itertools import chain
from pathlib import Path

import pytest
from how_many import some

from listener.drill.drill import Drill, Step, Wish
from listener.drill.manners import EVERYDAY, manner
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.voicing import FULL
from listener.planning.planner import plan_drill
from listener.planning.yardsticks import everyday_shape

HANDS = ("small", "medium", "large")
#: The chords of a first guitar book, open and barred.
FIRST_BOOK = [
    "C",
    "D",
    "E",
    "F",
    "G",
    "A",
    "Am",
    "Dm",
    "Em",
    "Fm",
    "Bb",
    "Bbm",
    "F#",
    "F#m",
    "C7",
    "G7",
    "A7",
    "E7",
    "B7",
    "Am7",
]
#: Words of the table that are written otherwise here. Left out are "alt", which says no single chord, and "7sg".
WRITTEN = {
    "major": "",
    "minor": "m",
    "69": "6/9",
    "aug7": "7#5",
    "aug9": "9#5",
    "m69": "m6/9",
    "mmaj7": "mMaj7",
    "mmaj7b5": "mMaj7b5",
    "mmaj9": "mMaj9",
    "mmaj11": "mMaj11",
}
UNREAD = ("alt", "7sg")
#: What each of the twelve roots needs.
PLAIN = ("", "m", "7", "m7", "maj7")
Frets = tuple[int | None, ...]


def frets_of(written: str) -> Frets:
    """From the lowest string up; None for a muted one."""
    return tuple(None if mark == "x" else int(mark) for mark in written.split())


@cache
def published() -> dict[str, list[Frets]]:
    """The shapes of every chord that is read, by our name for it."""
    found: dict[str, list[Frets]] = {}
    path = Path(__file__).parents[1] / "tables" / "guitar_chord_shapes.csv"
    with path.open(newline="", encoding="utf-8") as file:
        for row in csv.DictReader(file):
            if row["suffix"] not in UNREAD:
                name = row["key"] + WRITTEN.get(row["suffix"], row["suffix"])
                found.setdefault(name, []).append(frets_of(row["frets_6to1"]))
    return found


def suffix_of(name: str) -> str:
    return name.lstrip("ABCDEFG#b")


@cache
def ours(chord: str, hand: str) -> Frets:
    shape = everyday_shape(parse_chord(chord), make_instrument(), make_hand(hand))
    assert shape is not None, chord
    frets = dict(zip(shape.strings, shape.frets, strict=True))
    return tuple(frets.get(string) for string in range(6, 0, -1))


def with_outer_strings_muted(shape: Frets) -> set[Frets]:
    """The shape, and what is left of it when some of its lowest and highest strings are muted."""
    sounding = [string for string, fret in enumerate(shape) if fret is not None]
    ends = [(low, high) for low in sounding for high in sounding if low <= high]
    return {tuple(fret if low <= i <= high else None for i, fret in enumerate(shape)) for low, high in ends}


def is_published(chord: str, hand: str) -> bool:
    """Whether our shape is one of the table's, but for outer strings that one of the two mutes."""
    shape = ours(chord, hand)
    return any(
        shape in with_outer_strings_muted(other) or other in with_outer_strings_muted(shape)
        for other in published()[chord]
    )


@pytest.mark.parametrize(
    ("one", "other", "same"),
    [
        ("x 3 2 0 1 0", "x 3 2 0 1 x", True),
        ("x 3 2 0 1 0", "0 3 2 0 1 0", True),
        ("x 3 2 0 1 0", "x 3 2 0 1 1", False),
        ("x 3 2 0 1 0", "x 3 x 0 1 0", False),
        ("x x x 0 1 0", "x 3 2 0 x x", False),
    ],
)
def test_what_counts_as_the_same_shape(one: str, other: str, same: bool) -> None:
    """Muting outer strings, and nothing else."""
    here, there = frets_of(one), frets_of(other)
    assert (here in with_outer_strings_muted(there) or there in with_outer_strings_muted(here)) == same


@pytest.mark.parametrize("hand", HANDS)
@pytest.mark.parametrize("chord", FIRST_BOOK)
def test_first_book(chord: str, hand: str) -> None:
    """The chords of a first book are the first shape in the table, for every hand."""
    assert ours(chord, hand) == published()[chord][0]


@pytest.mark.parametrize("hand", HANDS)
def test_all_plain_chords_are_published(hand: str) -> None:
    """Major, minor, seventh, minor seventh and major seventh on twelve roots: all sixty, none excepted."""
    plain = [name for name in published() if suffix_of(name) in PLAIN and "/" not in name]
    assert len(plain) == 60
    assert [name for name in plain if not is_published(name, hand)] == []


def other_half() -> list[str]:
    """The chords by which no price was chosen."""
    names = sorted(published())
    assert len(names) == 514
    random.Random(1129).shuffle(names)
    return names[len(names) // 2 :]


@pytest.mark.parametrize("hand", [pytest.param(hand, marks=pytest.mark.slow) for hand in HANDS])
def test_most_chords_of_the_other_half_are_published(hand: str) -> None:
    """At least four in five, of all and of those that are not plain: ninths, altered chords, chords over a bass."""
    right = {name: is_published(name, hand) for name in other_half()}
    rare = [found for name, found in right.items() if suffix_of(name) not in PLAIN]
    assert (len(right), len(rare)) == (257, 225)
    wrong = [name for name, found in right.items() if not found]
    assert sum(right.values()) / len(right) >= 0.8, wrong
    assert sum(rare) / len(rare) >= 0.8, wrong


#: Chords as they stand on the board when the key allows it.
BOARD = {
    "C": ["x 3 2 0 1 0"],
    "D": ["x x 0 2 3 2"],
    "E": ["0 2 2 1 0 0"],
    "F": ["1 3 3 2 1 1"],
    "G": ["3 2 0 0 0 3"],
    "A": ["x 0 2 2 2 0"],
    "Bb": ["x 1 3 3 3 1", "x 1 3 3 3 x"],
    "Am": ["x 0 2 2 1 0"],
    "Bm": ["x 2 4 4 3 2"],
    "Dm": ["x x 0 2 3 1"],
    "Em": ["0 2 2 0 0 0"],
    "F#m": ["2 4 4 2 2 2"],
    "Gm": ["3 5 5 3 3 3"],
    "A7": ["x 0 2 0 2 0"],
    "B7": ["x 2 1 2 0 2"],
    "C7": ["x 3 2 3 1 0"],
    "D7": ["x x 0 2 1 2"],
    "E7": ["0 2 0 1 0 0"],
    "F#7": ["2 4 2 3 2 2"],
    "G7": ["3 2 0 0 0 1"],
    "Am7": ["x 0 2 0 1 0"],
    "Dm7": ["x x 0 2 1 1"],
    "Cmaj7": ["x 3 2 0 0 0"],
    "C/E": ["0 3 2 0 1 0"],
    "C/G": ["3 3 2 0 1 0"],
    "C/B": ["x 2 2 0 1 0"],
    "D/A": ["x 0 0 2 3 2"],
    "D/F#": ["2 0 0 2 3 2"],
    "E/B": ["x 2 2 1 0 0"],
    "F/A": ["x 0 3 2 1 1"],
    "F/C": ["x 3 3 2 1 1"],
    "F/G": ["3 0 3 2 1 1", "3 x 3 2 1 1", "3 3 3 2 1 1"],
    "G/B": ["x 2 0 0 0 3", "x 2 0 0 3 3"],
    "A/C#": ["x 4 2 2 2 0"],
    "A/E": ["0 0 2 2 2 0"],
    "Am/E": ["0 0 2 2 1 0"],
    "Am/G": ["3 0 2 2 1 0", "3 x 2 2 1 0"],
    "Dm/A": ["x 0 0 2 3 1"],
    "Dm/C": ["x 3 0 2 3 1"],
    "Em/B": ["x 2 2 0 0 0"],
    "Em/D": ["x x 0 0 0 0"],
}
PROGRESSIONS = [
    "C F G C",
    "C Am F G",
    "C Am Dm G7",
    "C D7 G7 C",
    "G C D G",
    "G Em C D7",
    "G B7 C D7",
    "D G A D",
    "D A Bm G",
    "A D E A",
    "A F#m D E7",
    "A7 D7 A7 E7",
    "E A B7 E",
    "F Bb C7 F",
    "F C Dm Bb",
    "Am Dm E7 Am",
    "Am G F E7",
    "Em Am B7 Em",
    "Em D C B7",
    "Dm Gm A7 Dm",
    "Bm Em F#7 Bm",
    "Cmaj7 Am7 Dm7 G7",
    "C G/B Am Am/G F C/E D7 G",
    "C C/B Am C/G F F/G C C",
    "D A/C# Bm D/A G D/F# Em A7",
    "Am Am/E F/C F/A Dm Dm/C E/B E7",
    "Em Em/D C Em/B Am B7 Em Em",
    "A A/E D Dm/A A E A A",
]


@pytest.mark.parametrize(
    ("progression", "hand"),
    [(one, hand) for number, hand in enumerate(HANDS) for one in some(PROGRESSIONS, first=number)],
)
def test_beginners_progressions_are_played_as_taught(progression: str, hand: str) -> None:
    """Strummed one after the other, each chord has the frets that stand on the board, whatever the hand."""
    chords = progression.split()
    weights = manner(EVERYDAY)
    steps = tuple(
        Step(i, "p", i + 1, 1.0, 4.0 * i, 4.0, Wish(parse_chord(chord), (FULL,)), weights=weights)
        for i, chord in enumerate(chords)
    )
    plan = plan_drill(Drill("d", "D", "C major", 80.0, (4, 4), steps), make_instrument(), make_hand(hand))
    for chord, step in zip(chords, plan.steps, strict=True):
        on = dict(zip(step.fingering.strings, step.fingering.frets, strict=True))
        taken = " ".join(str(on.get(string, "x")) for string in range(6, 0, -1))
        assert taken in BOARD[chord], f"{chord} in {progression}"


def test_the_progressions_are_in_many_keys() -> None:
    """Every chord of the board is needed somewhere."""
    assert set(chain.from_iterable(map(str.split, PROGRESSIONS))) == set(BOARD)
