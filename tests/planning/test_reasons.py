"""Why nothing can be played, and what is offered instead: for melody notes, fixed notes and odd instruments too."""

from __future__ import annotations

import pytest
from how_many import examples, some
from hypothesis import assume, given, settings
from hypothesis import strategies as st

from listener.drill.drill import NoteWish, Wish
from listener.errors import MusicError, WidehandError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import parse_pitch, parse_tone, spell
from listener.music.voicing import ANY, KINDS
from listener.planning.shapes.candidates import candidates, why_none
from listener.planning.wish_words import wish_words

GUITAR, HAND = make_instrument(), make_hand()


def wish(chord: str, *kinds: str, top: str | None = None, melody: str | None = None, **parts: object) -> Wish:
    line = NoteWish(pitch=parse_pitch(melody or top or "")) if melody or top else NoteWish()
    asked = {"top": line, "added_top": melody is not None, **parts}
    return Wish(parse_chord(chord), kinds or (ANY,), **asked)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    ("asked", "sentence"),
    [
        (
            wish("C", "close", melody="Bb2"),
            "the melody note is in the way; with E3 on top it can be played at frets 2 to 3",
        ),
        (
            wish("C", "drop 2", melody="F#4"),
            "there is no drop 2 voicing of C; as a close voicing it can be played at frets 1 to 2",
        ),
        (
            wish("Cmaj7", "drop 2", melody="F#8"),
            "F#8 on top lies outside the instrument's range; with E5 on top it can be played at frets 10 to 12",
        ),
        (
            wish("C", exact=(36, 40, 43)),
            "C2 lies outside the instrument's range; an octave higher it can be played at frets 2 to 3",
        ),
        (
            wish("C", exact=(48, 49, 50, 51)),
            "the choice of notes is in the way; as C3 E3 G3 it can be played at frets 2 to 3",
        ),
        (
            wish("C", exact=tuple(range(50, 58))),
            "8 notes are more than the 6 strings there are; as C3 E3 G3 it can be played at frets 2 to 3",
        ),
        (
            wish("C", "close", exact=(60, 64, 67), top="E4"),
            "the fixed notes have G4 on top, not E4; with G4 on top it can be played at frets 8 to 10",
        ),
        (
            wish("C", exact=(60, 64, 67), strings=(6, 5, 4), frets=(0, 15)),
            "the choice of strings is in the way; on strings 5 4 3 it can be played at frets 12 to 15",
        ),
        (
            wish("C", exact=(52, 55, 60), frets=(12, 22), open_strings=False),
            "the range of frets is in the way; elsewhere on the neck it can be played at frets 10 to 12",
        ),
        (wish("C", exact=()), "no notes are asked for; as G3 C4 E4 it can be played at fret 1"),
        (
            wish("C", "spread", size=4),
            "there is no spread voicing of C of 4 notes; with 3 notes it can be played at fret 3",
        ),
    ],
)
def test_why_none(asked: Wish, sentence: str) -> None:
    """The sentence names what is to blame and the nearest thing that works."""
    assert candidates(asked, GUITAR, HAND) == ()
    assert why_none(asked, GUITAR, HAND) == sentence


@pytest.mark.parametrize(
    ("asked", "words"),
    [
        (wish("C", "spread", melody="D5"), "C spread, the melody note D5 on top"),
        (wish("Am7", exact=(57, 60, 67)), "Am7 as A3 C4 G4"),
        (wish("C", exact=(60, 66), spelling=(parse_tone("Gb"),)), "C as C4 Gb4"),
        (wish("C", exact=(200,)), "C as 200"),
        (wish("C", "full", size=5, frets=(0, 4)), "C full, 5 notes, frets 0 to 4"),
    ],
)
def test_wish_words(asked: Wish, words: str) -> None:
    """A wish is said as a player would say it."""
    assert wish_words(asked) == words


@settings(max_examples=examples(80), deadline=None)
@given(
    chord=st.sampled_from(["C", "F#m", "G7", "Am7", "Bm7b5", "A9", "C/D"]),
    kind=st.sampled_from((*KINDS, ANY)),
    top=st.integers(50, 84),
    melody=st.booleans(),
    low=st.integers(0, 9),
    strings=st.sampled_from([None, (4, 3, 2, 1), (6, 4, 3)]),
    open_strings=st.booleans(),
)
def test_what_is_offered_is_no_odd_place(
    chord: str,
    kind: str,
    top: int,
    melody: bool,
    low: int,
    strings: tuple[int, ...] | None,
    open_strings: bool,
) -> None:
    """Every reason is one sentence; nothing is offered far up the neck beside an open string."""
    asked = Wish(
        parse_chord(chord),
        (kind,),
        top=NoteWish(pitch=spell(top)),
        added_top=melody,
        frets=(low, low + 4),
        strings=strings,
        open_strings=open_strings,
    )
    assume(not candidates(asked, GUITAR, HAND))
    reason = why_none(asked, GUITAR, HAND)
    assert "\n" not in reason
    assert reason.count("; ") == 1
    assert "can be played" in reason


def test_the_easier_of_two_offers() -> None:
    """Giving way on the strings is offered before a top note that only lies at fret 10 beside an open string."""
    asked = Wish(parse_chord("Cmaj7"), ("drop 2",), top=NoteWish(degree="1"), strings=(6, 4, 3, 2))
    assert why_none(asked, GUITAR, HAND) == (
        "the choice of strings is in the way; on strings 4 3 2 1 it can be played at frets 8 to 9"
    )


ODD = (
    make_instrument("E3 " * 6),
    make_instrument("E4 B3 G3 D3 A2 E2"),
    make_instrument("C0 C2 C4 C6"),
    make_instrument(fret_count=1),
    make_instrument(fret_count=36),
    make_instrument("ukulele", scale_mm=350.0),
    make_instrument("eight string"),
    make_instrument("E2"),
    make_instrument("E3 " * 12),
    make_instrument("eight string", scale_mm=250.0, fret_count=36),
    make_instrument(capo=21),
)


@pytest.mark.parametrize(
    ("kind", "instrument"),
    some(
        (
            pytest.param(kind, one, id=f"{kind}-{one.name} {one.fret_count} {one.scale_mm:g}")
            for one in ODD
            for kind in ("any", "full")
        ),
        each=3,
    ),
)
def test_odd_instruments(instrument: Instrument, kind: str) -> None:
    """Equal, falling and far strings, one fret and thirty-six: right shapes, or one line that says why not."""
    asked = wish("C", kind, frets=(0, 36))
    if kind == "full" and (instrument.scale_mm == 250.0 or instrument.string_count == 12):
        with pytest.raises(WidehandError, match="more than 100,000 shapes"):
            candidates(asked, instrument, HAND)
        return
    found = candidates(asked, instrument, HAND)
    for one in found[:500]:
        fingering = one.fingering
        assert fingering.pitches == tuple(map(instrument.pitch, fingering.strings, fingering.frets))
        assert {note % 12 for note in fingering.pitches} == {0, 4, 7}
        assert fingering.strain <= 1.0
    if not found:
        assert "can be played" in why_none(asked, instrument, HAND)


def test_too_many_shapes_is_one_line() -> None:
    """A huge hand on a tiny neck of twelve strings is refused at once, with what to ask for instead."""
    huge = make_hand("200 200 200 200 200 200")
    tiny = make_instrument("E2 E2 A2 A2 D3 D3 G3 G3 B3 B3 E4 E4", scale_mm=250.0, fret_count=36)
    with pytest.raises(WidehandError, match="more than 100,000 shapes would have to be looked at; ask for fewer"):
        candidates(wish("C13", "full", frets=(0, 36)), tiny, huge)
    assert candidates(wish("C13", strings=(6, 5, 4, 3), frets=(0, 12)), tiny, huge)


def test_notes_that_are_none() -> None:
    """A number outside MIDI is an error that names it."""
    with pytest.raises(MusicError, match="200 is not a MIDI note"):
        candidates(wish("C", exact=(200,)), GUITAR, HAND)
