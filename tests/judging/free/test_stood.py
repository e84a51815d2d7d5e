"""Chords that stand in free playing: once for as long as they stand, however they are strummed or picked."""

from __future__ import annotations

from collections.abc import Sequence

import pytest
from free_playing import A_FIRST, C_FULL, C_SPREAD, F_SPREAD, G_FULL, Shape, strummed
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.events import NoteOn, Stroke
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark, Take
from listener.judging.free.free import stood_in
from listener.judging.free.stood import StandingChord, Stood

PER_STRING = make_pickup("per-string")
SHAPES = (C_FULL, G_FULL, C_SPREAD, F_SPREAD, A_FIRST)
#: A stroke: pitches that are struck, and pitches that ring on.
Played = tuple[Sequence[int], Sequence[int]]


def stood(played: Sequence[Played]) -> list[str]:
    """The chords of strokes half a second apart, each with its kind."""
    standing, found = StandingChord(), []
    for number, (struck, held) in enumerate(played):
        notes = tuple(NoteOn(number / 2, pitch, 80) for pitch in struck)
        rung = tuple(NoteOn(0.0, pitch, 80) for pitch in held)
        found.append(standing.feed(Stroke(notes, rung, True, number / 2 + 0.1)))
    found.append(standing.end())
    return [f"{one.voicing.chord} {one.voicing.kind}" for one in found if one is not None]


C, F, AM7 = (48, 55, 64), (53, 60, 69), (45, 55, 60, 64)


@pytest.mark.parametrize(
    ("played", "chords"),
    [
        ([], []),
        ([(C, ())], ["C spread"]),
        ([(C, ())] * 8, ["C spread"]),
        ([(C, ()), (F, ()), (C, ())], ["C spread", "F spread", "C spread"]),
        ([((48,), ()), ((55,), (48,)), ((64,), (48, 55))], ["C spread"]),
        ([((45,), ()), ((55,), (45,)), ((60,), (45, 55)), ((64,), (45, 55, 60))], ["Am7 drop 3"]),
        # A bar of picking, twice round.
        ([((48,), ()), ((55,), (48,)), ((64,), (48, 55)), ((55,), (48, 64)), ((48,), (55, 64))], ["C spread"]),
        # Once a string has come again the chord is whole: what comes on top is a tune.
        ([((48,), ()), ((55,), (48,)), ((64,), (48, 55)), ((48,), (55, 64)), ((69,), (48, 55, 64))], ["C spread"]),
        # A tune over a chord that was struck, and the bass by itself.
        ([(C, ()), ((67,), C), ((69,), C), ((48,), (55, 64)), (C, ())], ["C spread"]),
        # Parts of a chord are that chord; single notes and fifths are none.
        ([(C, ()), ((55, 64), (48,)), ((60,), ()), ((48, 55), ())], ["C spread"]),
        ([((48, 60, 72), ()), ((60,), ()), ((48, 55), ())], []),
        # The next chord picked, with a tone or a bass in common with the one before.
        ([(C, ()), ((52,), ()), ((59,), (52,)), ((67,), (52, 59))], ["C spread", "Em spread"]),
        ([(AM7, ()), ((48,), (55, 60, 64)), ((55,), (48, 60, 64)), ((60,), (48, 55, 64))], ["Am7 drop 3"]),
        ([(C, ()), ((45,), (55, 64)), ((55,), (45, 64)), ((60,), (45, 55, 64))], ["C spread", "Am7 drop 3"]),
        ([((60, 61, 62, 63), ())], []),
    ],
)  # fmt: skip
def test_what_stands(played: Sequence[Played], chords: list[str]) -> None:
    """Strums, picking, tunes and basses as a teacher would count them."""
    assert stood(played) == chords


@given(st.lists(st.tuples(st.sampled_from([C, F, AM7]), st.integers(1, 5)), max_size=12))
def test_a_chord_counts_once_until_another_comes(line: list[tuple[tuple[int, ...], int]]) -> None:
    """However often each is strummed, what stands is the line with neighbours of a kind taken together."""
    played = [(chord, ()) for chord, times in line for _ in range(times)]
    changes = [chord for place, (chord, _) in enumerate(line) if not place or line[place - 1][0] != chord]
    names = {C: "C spread", F: "F spread", AM7: "Am7 drop 3"}
    assert stood(played) == [names[chord] for chord in changes]


def heard(shapes: Sequence[Shape], times: int, marks: Sequence[Mark] = (), *, single: bool = False) -> list[Stood]:
    pickup = make_pickup("single") if single else PER_STRING
    return list(stood_in(Take(tuple(strummed(shapes, times, single=single)), tuple(marks)), pickup))


def test_a_take() -> None:
    """From MIDI: the chord, its inversion, and the strings from the lowest note up."""
    found = heard([C_FULL, C_SPREAD, A_FIRST, G_FULL], 3)
    assert [(str(one.voicing.chord), one.voicing.kind, one.voicing.inversion, one.strings) for one in found] == [
        ("C", "full", 0, (5, 4, 3, 2, 1)),
        ("C", "spread", 0, (5, 4, 2)),
        ("A", "spread", 1, (6, 4, 3)),
        ("G", "full", 0, (6, 5, 4, 3, 2, 1)),
    ]


def test_a_string_that_was_hammered() -> None:
    """Its last note is the chord's: a suspended fourth that falls to the third within the strum is a C, each string
    once."""
    standing = StandingChord()
    line = [(48, 5), (53, 4), (55, 3), (60, 2), (52, 4)]
    notes = tuple(NoteOn(0.01 * place, pitch, 80, string) for place, (pitch, string) in enumerate(line))
    stroke = Stroke(notes, (), True, 0.2)
    assert standing.feed(stroke) is None
    chord = standing.end()
    assert chord is not None
    assert (str(chord.voicing.chord), chord.strings) == ("C", (5, 4, 3, 2))


def test_strings_that_nobody_told_apart() -> None:
    """On one channel the chord is known and its strings are not."""
    assert [(str(one.voicing.chord), one.strings) for one in heard([C_SPREAD], 2, single=True)] == [("C", ())]


def test_a_pause() -> None:
    """What is played in a pause does not count, and after it the same chord stands anew."""
    marks = [Mark(2.4, "pause"), Mark(3.9, "step 0")]
    found = heard([C_SPREAD] * 3 + [F_SPREAD] * 3 + [C_SPREAD] * 3, 1, marks)
    assert [str(one.voicing.chord) for one in found] == ["C", "C"]
    assert [str(one.voicing.chord) for one in heard([C_SPREAD] * 3 + [F_SPREAD] * 3, 1)] == ["C", "F"]


@given(st.lists(st.sampled_from(SHAPES), max_size=8), st.integers(1, 3))
def test_every_change_is_counted(shapes: list[Shape], times: int) -> None:
    """From MIDI to chords none is lost and none made up."""
    changes = [shape for place, shape in enumerate(shapes) if not place or shapes[place - 1] != shape]
    assert [one.strings for one in heard(shapes, times)] == [tuple(string for string, _ in one) for one in changes]
