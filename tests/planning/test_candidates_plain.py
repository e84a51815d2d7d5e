"""The quick search for candidates against trying every fret on every string."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import groupby

import pytest
from how_many import examples
from hypothesis import assume, given, settings
from hypothesis import strategies as st
from plain_neck import Shape, plain_candidates

from listener.drill.drill import NoteWish, Wish
from listener.errors import MusicError
from listener.guitar.hand import hand_names, make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import spell
from listener.music.voicing import ANY, KINDS
from listener.planning.shapes.candidates import Candidate, candidates

CHORDS = ("C", "F#m", "Bdim", "Caug", "Gsus4", "E5", "Am7", "G7", "Cmaj7", "F#m7b5", "Bb6", "A9", "Fadd9", "E7#9")
LARGE_CHORDS = ("Dm11", "C13", "Bbmaj9", "G13b9", "C7#5#9")
SLASHES = ("C/E", "C/D", "Am7/G", "F#m7/B", "G/A", "C7/Bb")
INSTRUMENTS = ("standard", "dadgad", "ukulele", "E3 E3 E3 E3", "E4 B3 G3 D3", "C2 C4 E4", "seven string")


def shapes(found: Sequence[Candidate]) -> list[Shape]:
    """What is found, each shape once; its ways to be held have to follow each other."""
    placed = [
        tuple(sorted(zip(f.strings, f.frets, strict=True), reverse=True)) for f in (one.fingering for one in found)
    ]
    return [shape for shape, _ in groupby(placed)]


def lines(pitched: bool) -> st.SearchStrategy[NoteWish]:
    degrees = st.sampled_from([None, None, "1", "3", "b3", "5", "b7", "9"]).map(lambda degree: NoteWish(degree=degree))
    return st.one_of(degrees, st.integers(52, 76).map(lambda midi: NoteWish(pitch=spell(midi)))) if pitched else degrees


#: What a wish may ask for beside chord, kind and frets; each wish of the test below asks for at most two of them.
PARTS: dict[str, st.SearchStrategy[object]] = {
    "top": lines(True),
    "bottom": lines(False),
    "inversion": st.sampled_from([0, 1, 2, 5]),
    "without": st.sampled_from([("1",), ("5",)]),
    "size": st.sampled_from([3, 4, 5]),
    "strings": st.sampled_from([(3, 2, 1), (4, 3, 1), (4, 3, 2, 1)]),
    "open_strings": st.just(False),
}


@st.composite
def wishes(draw: st.DrawFn) -> Wish:
    """Wishes of every sort within a few frets, where trying everything is quick."""
    low = draw(st.sampled_from([0, 0, 1, 3, 5, 9]))
    chord = parse_chord(draw(st.sampled_from(CHORDS + LARGE_CHORDS + SLASHES)))
    asked = draw(st.lists(st.sampled_from(sorted(PARTS)), max_size=2, unique=True))
    parts = {part: draw(PARTS[part]) for part in asked}
    if "without" in parts:
        parts["without"] = tuple(one for one in parts["without"] if one in chord.quality.degrees)
    if draw(st.booleans()):
        parts.update(added_top=True, top=NoteWish(pitch=spell(draw(st.integers(57, 74)))))
    kinds = draw(st.lists(st.sampled_from((ANY, *KINDS)), min_size=1, max_size=2, unique=True))
    return Wish(chord, tuple(kinds), frets=(low, low + draw(st.integers(2, 4))), **parts)


@settings(max_examples=examples(400), deadline=None)
@given(
    wish=wishes(),
    tuning=st.sampled_from(INSTRUMENTS),
    hand=st.sampled_from(hand_names()),
    capo=st.sampled_from([0, 0, 3]),
)
def test_the_set_found_equals_brute_force(wish: Wish, tuning: str, hand: str, capo: int) -> None:
    """Exactly the shapes that fulfil the wish, each once, whatever the chord, kind, tuning, capo and hand."""
    guitar = make_instrument(tuning, capo=capo)
    strings = None if wish.strings is None else tuple(one for one in wish.strings if one <= guitar.string_count)
    wish = Wish(**{**vars(wish), "strings": strings})
    try:
        found = shapes(candidates(wish, guitar, make_hand(hand)))
    except MusicError:  # a wish that contradicts itself
        assume(False)
    expected = plain_candidates(wish, guitar, make_hand(hand))
    assert len(found) == len(set(found))
    assert set(found) == expected


@pytest.mark.parametrize("chord", ["C", "G7", "C/G", "Am7/G", "Dm11"])
@pytest.mark.parametrize("kind", ["full", "any"])
def test_the_first_frets_equal_brute_force(chord: str, kind: str) -> None:
    """All open-position shapes of a chord are found, and no other; there are many."""
    wish = Wish(parse_chord(chord), (kind,), frets=(0, 4))
    guitar, hand = make_instrument(), make_hand("large")
    expected = plain_candidates(wish, guitar, hand)
    assert set(shapes(candidates(wish, guitar, hand))) == expected
    assert len(expected) >= 5


@pytest.mark.parametrize("kind", ["close", "drop 2", "spread", "shell", "full", "any"])
@pytest.mark.parametrize("midi", [62, 66, 69, 73])
def test_added_melody_notes_equal_brute_force(kind: str, midi: int) -> None:
    """A melody note outside the chord lies above a voicing of the kind; everything that does so is found."""
    wish = Wish(parse_chord("C6"), (kind,), top=NoteWish(pitch=spell(midi)), frets=(0, 5), added_top=True)
    guitar, hand = make_instrument(), make_hand()
    assert set(shapes(candidates(wish, guitar, hand))) == plain_candidates(wish, guitar, hand)


def test_full_shapes_of_a_size_may_have_a_muted_string() -> None:
    """x-5-3-x-3-5 sounds four strings with one muted inside: a strummed shape of four notes."""
    found = shapes(candidates(Wish(parse_chord("Dm"), ("full",), size=4), make_instrument(), make_hand()))
    assert ((5, 5), (4, 3), (2, 3), (1, 5)) in found
