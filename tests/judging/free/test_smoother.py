"""Suggestions after a change: the same chord, playable, with less movement, and never otherwise."""

from __future__ import annotations

from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.drill.drill import Wish
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.judging.free.smoother import smoother
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.voicing import voicing_of
from listener.planning.shapes.candidates import candidates

GUITAR, HAND = make_instrument(), make_hand()
SYMBOLS = ("C", "F", "G7", "Am7", "Dm7", "Ebmaj7", "F#m7b5", "Bbm", "E7/G#")


def test_by_hand() -> None:
    """From C3 G3 E4 to F3 C4 A4 (15 semitones); C3 A3 F4 moves 0 + 2 + 1 = 3, and nothing with an F, an A and a C less:
    C is kept, and neither G nor E belongs to the chord of F."""
    found = smoother((48, 55, 64), voicing_of(parse_chord("F"), (53, 60, 69)), GUITAR, HAND)
    assert found is not None
    assert found.voicing.midi == (48, 57, 65)
    assert found.movement.semitones == 3
    assert found.voicing.inversion == 2


def test_nothing_smoother_nothing_said() -> None:
    """The smoothest way there, or standing still, gets no suggestion."""
    assert smoother((48, 55, 64), voicing_of(parse_chord("F"), (48, 57, 65)), GUITAR, HAND) is None
    assert smoother((48, 55, 64), voicing_of(parse_chord("C"), (48, 55, 64)), GUITAR, HAND) is None


def shapes(symbol: str) -> st.SearchStrategy[tuple[str, tuple[int, ...]]]:
    found = candidates(Wish(parse_chord(symbol), ("any", "full")), GUITAR, HAND)
    return st.sampled_from(sorted({(symbol, candidate.fingering.pitches) for candidate in found}))


chords = st.sampled_from(SYMBOLS).flatmap(shapes)


@settings(max_examples=examples(80), deadline=None)
@given(chords, chords)
def test_always_playable_the_same_chord_and_less(
    before: tuple[str, tuple[int, ...]], after: tuple[str, tuple[int, ...]]
) -> None:
    """Any change between playable shapes: a suggestion is a candidate of the chord and moves less than what was played,
    with the price of voices that come and go and by the semitones that are shown; no such candidate moves less than it,
    and without a suggestion there is none."""
    symbol, played = after
    chord = parse_chord(symbol)
    found = smoother(before[1], voicing_of(chord, played), GUITAR, HAND)
    options = {candidate.fingering.pitches for candidate in candidates(Wish(chord, ("any", "full")), GUITAR, HAND)}
    was = movement(before[1], played)
    moves = [movement(before[1], pitches) for pitches in options]
    less = [one.cost for one in moves if one.cost < was.cost and one.semitones < was.semitones]
    if found is None:
        assert not less
        return
    assert found.voicing.chord == chord
    assert found.voicing.midi in options
    assert found.movement.cost == min(less)
    assert found.movement.semitones < was.semitones
    sounded = tuple(GUITAR.pitch(string, fret) for string, fret in zip(found.strings, found.frets, strict=True))
    assert sounded == found.voicing.midi
