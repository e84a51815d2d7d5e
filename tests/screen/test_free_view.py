"""Free listening in words and on the screen."""

from __future__ import annotations

import io
from collections.abc import Callable
from dataclasses import replace

import pytest
from rich.cells import cell_len

from listener.judging.free import HeardChord
from listener.judging.smoother import Smoother
from listener.music.chord import parse_chord
from listener.music.movement import movement
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan
from listener.screen.dashboard import dashboard
from listener.screen.free_words import chord_line, free_summary
from listener.screen.plain import PlainScreen
from listener.screen.theme import Theme
from listener.session.state import FINISHED, Snapshot

FIRST = HeardChord(1.0, 8.0, (48, 55, 64), (), ("C3", "G3", "E4"), "C", "spread", 0, None)
SMOOTHER = Smoother(
    voicing_of(parse_chord("F"), (48, 57, 65)), (5, 3, 1), (3, 2, 1), movement((48, 55, 64), (48, 57, 65))
)
SECOND = HeardChord(
    3.0, 9.0, (53, 60, 69), (), ("F3", "C4", "A4"), "F", "spread", 0, movement((48, 55, 64), (53, 60, 69)), SMOOTHER
)
NAMELESS = HeardChord(4.0, 9.0, (50, 66), (), ("D3", "F#4"), None, None, None, movement((53, 60, 69), (50, 66)))
NOTE = HeardChord(5.0, 0.0, (70,), (), ("Bb4",), None, None, None, movement((53, 60, 69), (70,)))


def test_a_chord_in_one_line() -> None:
    """Name, kind and inversion, notes, top note, movement and the smoother voicing, worked out by hand."""
    assert chord_line(FIRST) == "C: spread, root position; C3 G3 E4, top E4."
    assert chord_line(SECOND) == (
        "F: spread, root position; F3 C4 A4, top A4; moved 15 semitones, 0 held, largest 5; "
        "smoother: spread, second inversion, C3 A3 F4 (strings 5 3 1, frets 3 2 1), moves 3 semitones."
    )
    assert chord_line(NOTE).startswith("Bb4: Bb4, top Bb4; moved")


@pytest.mark.parametrize("ascii_only", [False, True])
@pytest.mark.parametrize(("width", "height"), [(80, 24), (100, 30), (200, 60)])
def test_it_fills_exactly_its_cells(
    verse: Plan,
    moment: Callable[..., Snapshot],
    printed: Callable[..., list[str]],
    width: int,
    height: int,
    ascii_only: bool,
) -> None:
    """Before the first chord, with a few, with a single note, with hundreds: the frame is full and nothing is lost."""
    for chords in ((), (FIRST,), (FIRST, SECOND), (FIRST, SECOND, NOTE), (FIRST, SECOND) * 200):
        snapshot = moment(verse, chords=chords, tempo=None, verdict=None, verdicts=())
        lines = printed(dashboard(snapshot, width=width, height=height, theme=Theme(ascii_only=ascii_only)), width)
        assert len(lines) == height
        assert {cell_len(line) for line in lines} == {width}
        assert not ascii_only or "".join(lines).isascii()
        text = " ".join(" ".join(lines).split())
        assert "q quit" in text
        if chords and chords[-1] is SECOND:
            assert "F3 C4 A4" in text
            assert "moved 15 semitones" in text
            assert "smoother: spread, second inversion, C3 A3 F4" in text
            assert "C3 G3 E4" in text


def test_chords_before_are_whole_at_80(
    verse: Plan, moment: Callable[..., Snapshot], printed: Callable[..., list[str]]
) -> None:
    """Each earlier chord on one line that is not cut; one without a name stands apart from its notes."""
    snapshot = moment(verse, chords=(FIRST, SECOND, NAMELESS, NOTE), tempo=None, verdict=None, verdicts=())
    lines = printed(dashboard(snapshot, width=80, height=24, theme=Theme()), 80)
    before = lines[next(number for number, line in enumerate(lines) if "before" in line) + 1 :]
    assert before[0].split()[:5] == ["no", "chord", "name", "D3", "F♯4"]
    assert before[1].rstrip().endswith("moved 15, 0 held")
    assert "…" not in "".join(before)


def test_plain_lines(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """One line for each chord as it comes, and a summary at the end."""
    stream = io.StringIO()
    screen = PlainScreen(stream)
    start = moment(verse, chords=(), tempo=None, verdict=None, verdicts=())
    for chords in ((), (FIRST,), (FIRST,), (FIRST, SECOND)):
        screen.show(replace(start, chords=chords))
    screen.show(replace(start, chords=(FIRST, SECOND), phase=FINISHED))
    assert stream.getvalue().splitlines() == [
        "Free listening: every chord is named as you play it.",
        "Listening to MIDI port: pickup 1.",
        chord_line(FIRST),
        chord_line(SECOND),
        "End of the take.",
        "2 chords heard.",
        "Each change moved 15.0 semitones on the mean; 0 voices held.",
        "1 change could move less, the first of them to F.",
    ]
    assert free_summary(()) == ["Nothing was played."]
