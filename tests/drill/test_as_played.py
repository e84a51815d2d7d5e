"""What was heard as a chord, put before the hand."""

from __future__ import annotations

from listener.drill.making.as_played import as_playable
from listener.drill.making.played import PlayedChord, PlayedNote
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument

GUITAR = make_instrument()


def heard(*places: tuple[int, int]) -> PlayedChord:
    """A chord of these strings and frets."""
    notes = (PlayedNote(GUITAR.pitch(string, fret), string) for string, fret in places)
    return PlayedChord(tuple(sorted(notes, key=lambda note: note.pitch)), (0.0,), 1.0)


def test_an_octave_is_put_right_where_only_one_string_can_have_been_high() -> None:
    """C E G with the G sent an octave high lies out of reach: it is played as it must have been."""
    (chord,), (unclear,) = as_playable([heard((5, 3), (4, 2), (3, 12))], GUITAR, make_hand())
    assert chord.pitches == (48, 52, 55)
    assert unclear.text.startswith("G4 on string 3 is taken an octave lower")


def test_nobody_guesses_which_of_two_strings_was_an_octave_high() -> None:
    """At frets 12 and 20 no hand holds two strings, and with either of them an octave lower it would: both notes stay
    as they were heard, wherever they can be played, and that is said."""
    played = heard((5, 12), (4, 20))
    (chord,), (unclear,) = as_playable([played], GUITAR, make_hand())
    assert chord.pitches == played.pitches
    assert all(note.string is None for note in chord.notes)
    assert "the planner looks for other strings" in unclear.text
