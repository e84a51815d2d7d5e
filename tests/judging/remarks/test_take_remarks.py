"""Remarks on a whole take: which steps, which words; verdicts are not touched."""

from __future__ import annotations

import pytest

from listener.judging.remarks.take_remarks import remark_words, take_remarks
from listener.judging.verdict import HIT, Verdict
from listener.music.movement import movement


def played(*chords: tuple[int, ...]) -> list[Verdict]:
    """A verdict for each chord, each with the movement from the one before."""
    found: list[Verdict] = []
    for step, heard in enumerate(chords):
        moved = movement(found[-1].heard, heard) if found and found[-1].heard and heard else None
        found.append(Verdict(step, 1, HIT, (), heard, (), float(step), 0.0, movement=moved))
    return found


C, D, E_MINOR = (48, 55, 64), (50, 57, 66), (52, 59, 67)


def test_parallels_are_found_where_they_happen() -> None:
    """Three spread triads in root position one after another: fifths between the two lower voices at each change (Open
    Music Theory, "Voice leading": parallel perfect fifths)."""
    found = take_remarks(played(C, D, E_MINOR))
    assert [(one.step, one.remark.code, one.remark.voices) for one in found] == [
        (1, "parallel_fifths", (1, 2)),
        (2, "parallel_fifths", (1, 2)),
    ]
    assert remark_words(found) == "Remarks, no faults: parallel fifths (2 times, first at step 2)."


def test_nothing_moves_over_silence() -> None:
    """After a chord that was not heard nobody moved in parallel."""
    assert take_remarks(played(C, (), D)) == ()


def test_a_gap_is_remarked_at_the_first_chord_too() -> None:
    """More than an octave between the upper voices is there before anything moved."""
    found = take_remarks(played((40, 52, 67)))
    assert remark_words(found) == "Remarks, no faults: more than an octave between upper voices (once, at step 1)."


def test_unsettled_verdicts_do_not_count() -> None:
    """What may still change is not remarked."""
    first, second = played(C, D)
    unsettled = Verdict(**{**{name: getattr(second, name) for name in Verdict.__slots__}, "settled": False})
    assert take_remarks([first, unsettled]) == ()


@pytest.mark.parametrize("chords", [(), (C,), (C, (48, 57, 65))])
def test_nothing_to_remark_is_said_as_well(chords: tuple[tuple[int, ...], ...]) -> None:
    """Whoever asked gets an answer; C to F over a held bass has nothing to remark."""
    assert remark_words(take_remarks(played(*chords))) == "Remarks: none; no parallels, no crossing, no wide gaps."


def test_as_json() -> None:
    """One flat entry for each."""
    (one, _) = take_remarks(played(C, D, E_MINOR))
    assert one.as_json() == {
        "step": 1, "code": "parallel_fifths", "text": "parallel fifths between voices 1 and 2", "voices": [1, 2],
    }  # fmt: skip
