"""How long the notes of strokes ring."""

from __future__ import annotations

from math import inf

import pytest

from listener.hearing.ears import Ears
from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.ringing import with_ends


def ends(pickup: str, *rows: tuple[float, int, int, int]) -> list[list[tuple[int, float]]]:
    """Rows of (time, status, pitch, velocity): pitch and end of every note, stroke by stroke."""
    profile = make_pickup(pickup)
    ears = Ears(profile, keep_notes=True)
    strokes = [stroke for row in rows for stroke in ears.feed(Message(row[0], row[1:]))] + ears.flush()
    return [[(note.pitch, note.off_s) for note in stroke] for stroke in with_ends(strokes, ears.notes(), profile)]


@pytest.mark.parametrize("pickup", ["single", "per-string"])
def test_every_note_has_its_own_end(pickup: str) -> None:
    """Two notes, then the higher one again; the last still sounds."""
    found = ends(
        pickup, (1.0, 0x90, 64, 80), (1.0, 0x91, 59, 80), (1.8, 0x80, 64, 0), (1.8, 0x90, 64, 80), (2.5, 0x81, 59, 0)
    )
    assert sorted(found[0]) == [(59, 2.5), (64, 1.8)]
    assert found[1] == [(64, inf)]


def test_a_double_trigger_ends_with_its_second_half() -> None:
    """The pickup sent the note twice while the string was plucked once."""
    rows = [(1.0, 0x90, 64, 80), (1.03, 0x80, 64, 0), (1.04, 0x90, 64, 50), (2.0, 0x80, 64, 0)]
    assert ends("per-string", *rows) == [[(64, 2.0)]]


def test_a_string_that_changes_its_pitch_ends_its_old_note() -> None:
    """One channel, one string, one note at a time."""
    rows = [(1.0, 0x90, 64, 80), (2.0, 0x90, 67, 80), (3.0, 0x80, 67, 0)]
    assert ends("per-string", *rows) == [[(64, 2.0)], [(67, 3.0)]]
