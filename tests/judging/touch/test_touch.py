"""How chords are touched: each rule by hand with its numbers worked out, and what must hold for every chord."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf
from statistics import mean, pstdev

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.drill.drill import Step, Wish
from listener.guitar.fingering import Fingering
from listener.hearing.rings import Ring
from listener.judging.touch.touch import (
    ALONE,
    HELD,
    LET_GO,
    MUTED,
    TOLERANCE_MS,
    UNKNOWN,
    StepTouch,
    Visited,
    step_touch,
)
from listener.music.chord import parse_chord
from listener.music.pattern import Pattern
from listener.music.pattern_text import read_strums
from listener.music.voicing import voicing_of
from listener.planning.plan import PlannedStep

#: A drop 2 of Cmaj7 without open strings: C3 on string 5, G3 E4 ... : root, fifth, seventh, third.
PITCHES = (48, 55, 59, 64)
STRINGS = (5, 4, 3, 2)
OPENS = (64, 59, 55, 50, 45, 40)


def planned(pattern: str = "", *, strings: Sequence[int] = STRINGS, frets: Sequence[int] = (3, 5, 4, 5)) -> PlannedStep:
    """The chord, four beats long."""
    chord = parse_chord("Cmaj7")
    made = Pattern(read_strums(pattern)) if pattern else None
    step = Step(0, "p", 1, 1.0, 0.0, 4.0, Wish(chord, ("any",)), pattern=made)
    fingering = Fingering(PITCHES, tuple(strings), tuple(frets), (1, 4, 2, 3), None, 0.0, 0.0, 20.0)
    return PlannedStep(step, voicing_of(chord, PITCHES), fingering, None)


def ring(rank: int, end_s: float, *, onset_s: float = 10.0, velocity: int = 80, told: bool = True) -> Ring:
    """A voice of the chord, which is there from 10 s on."""
    return Ring(PITCHES[rank], velocity, STRINGS[rank] if told else None, onset_s, end_s)


def touched(
    rings: Sequence[Ring],
    *,
    change_s: float | None = 11.0,
    over_s: float = inf,
    target: PlannedStep | None = None,
    heard: Sequence[int] = PITCHES,
    arpeggio: bool = False,
) -> StepTouch:
    """By default a chord of one second: a beat lasts a quarter of that."""
    ordered = sorted(rings, key=lambda one: one.onset_s)
    visited = Visited(10.0, change_s, 0.25, over_s)
    return step_touch(target or planned(), heard, ordered, visited, opens=OPENS, arpeggio=arpeggio)


def states(touch: StepTouch) -> list[str]:
    return [one.state for one in touch.voices]


def test_held_until_a_moment_before_the_change() -> None:
    """Detached by 150 ms at most is held (the next one at 11 s: 10.85 s), by 151 ms is not; degrees are named."""
    touch = touched([ring(0, inf), ring(1, 11.02), ring(2, 10.85), ring(3, 10.60)])
    assert states(touch) == [HELD, HELD, HELD, LET_GO]
    assert [one.early_ms for one in touch.voices] == [None, None, None, 400]
    assert [one.degree for one in touch.voices] == ["1", "5", "7", "3"]
    assert (touch.chord_ms, touch.beat_ms) == (1000, 250)
    assert TOLERANCE_MS == 150
    just = touched([ring(rank, 10.849) for rank in range(4)])
    assert [(one.state, one.early_ms) for one in just.voices] == [(LET_GO, 151)] * 4


def test_a_short_chord_has_less_room() -> None:
    """A chord of 400 ms may be left 100 ms before the change, a quarter of it, and no sooner."""
    rings = [ring(0, 10.30), ring(1, 10.29), ring(2, inf), ring(3, inf)]
    assert states(touched(rings, change_s=10.4)) == [HELD, LET_GO, HELD, HELD]


@pytest.mark.parametrize(
    ("ends", "change_s", "found"),
    [
        # One finger, soon: no string dies in half a second.
        ((inf, inf, inf, 10.5), 11.0, [HELD, HELD, HELD, LET_GO]),
        # One voice after 0.9 s, a tenth of the chord's time before the change: a finger, or the string.
        ((inf, inf, inf, 11.7), 12.0, [HELD, HELD, HELD, ALONE]),
        # One voice after 0.9 s, in the middle: strings die away like that.
        ((inf, inf, inf, 10.9), 12.0, [HELD, HELD, HELD, UNKNOWN]),
        # All of them within a tenth of a second: a hand, whenever that is.
        ((11.0, 11.05, 11.1, 11.02), 13.0, [LET_GO] * 4),
        # Three, where one had died before: a hand.
        ((10.9, 11.5, 11.55, 11.6), 13.0, [UNKNOWN, LET_GO, LET_GO, LET_GO]),
        # Two within a tenth of a second are chance, where others last.
        ((inf, inf, 11.0, 11.05), 13.0, [HELD, HELD, UNKNOWN, UNKNOWN]),
        # Three of them, and the fourth is still held: no hand that leaves.
        ((11.0, 11.05, 11.1, inf), 14.0, [UNKNOWN, UNKNOWN, UNKNOWN, HELD]),
        # Each by itself: strings that die.
        ((12.0, 11.7, 11.4, 11.1), 14.0, [UNKNOWN] * 4),
        # Stopped at once, all of them: muted.
        ((10.1, 10.12, 10.1, 10.09), 11.0, [MUTED] * 4),
        # One that is gone at once, while the others ring: dropped by the pickup, or muted by its neighbour.
        ((inf, inf, inf, 10.1), 11.0, [HELD, HELD, HELD, UNKNOWN]),
        # Longer than anybody holds a chord.
        ((12.0, 12.0, 12.0, 12.0), 30.0, [UNKNOWN] * 4),
    ],
)
def test_what_became_of_each_voice(ends: Sequence[float], change_s: float, found: list[str]) -> None:
    """By the time at which it ended, and by what the others did."""
    assert states(touched([ring(rank, end_s) for rank, end_s in enumerate(ends)], change_s=change_s)) == found


def test_two_voices_are_a_hand_near_the_change_only() -> None:
    """All that there are, within a tenth of a second: half a second before the change they were let go, three seconds
    before it two strings may as well have died."""
    for end_s, found in ((13.5, LET_GO), (11.0, UNKNOWN)):
        touch = touched([ring(0, end_s), ring(1, end_s + 0.05)], change_s=14.0, heard=PITCHES[:2])
        assert states(touch) == [found, found]


def test_an_open_string_is_no_finger() -> None:
    """It is held while it rings; when it ends early, nobody let it go, and the hand left without it."""
    target = planned(strings=(5, 4, 3, 1), frets=(3, 5, 4, 0))
    ends = (10.6, 10.6, 10.6, inf)
    rings = [Ring(PITCHES[rank], 80, string, 10.0, ends[rank]) for rank, string in enumerate((5, 4, 3, 1))]
    for told in (True, False):
        here = rings if told else [one._replace(string=None) for one in rings]
        touch = touched(here, target=target)
        assert states(touch) == [LET_GO, LET_GO, LET_GO, HELD]
        assert [one.open for one in touch.voices] == [False, False, False, True]
        assert len(touch.judged) == 3
        damped = touched([*here[:3], here[3]._replace(end_s=10.4)], target=target)
        assert states(damped)[3] == UNKNOWN


def test_a_string_that_goes_on_is_not_let_go() -> None:
    """The string of the top voice is used for a tune, and the voices after the first note of a fill end by that."""
    rest = [ring(0, inf), ring(1, inf), ring(2, inf)]
    tune = Ring(67, 80, 2, 10.5, 10.8)
    assert states(touched([*rest, ring(3, 10.5), tune]))[3] == UNKNOWN
    elsewhere = Ring(67, 80, 1, 10.5, 10.8)
    assert states(touched([*rest, ring(3, 10.5), elsewhere]))[3] == LET_GO
    assert states(touched([*rest, ring(3, 10.5), elsewhere], over_s=10.45))[3] == UNKNOWN
    assert states(touched([*rest, ring(3, 10.4), elsewhere], over_s=10.45))[3] == LET_GO


def test_struck_again_the_last_stroke_counts() -> None:
    """A strummed chord is held from its last stroke; a pattern that then stops the strings leaves nothing to say."""
    first = [ring(rank, 10.5) for rank in range(4)]
    again = [ring(rank, inf, onset_s=10.5) for rank in range(4)]
    assert states(touched([*first, *again], target=planned("d u"))) == [HELD] * 4
    stopped = [ring(rank, 10.7, onset_s=10.5) for rank in range(4)]
    assert states(touched([*first, *stopped], target=planned("d u"))) == [LET_GO] * 4
    assert states(touched([*first, *stopped], target=planned("d d - -"))) == [UNKNOWN] * 4
    assert states(touched([*first, *stopped], target=planned("d - d d"))) == [LET_GO] * 4


def test_a_tone_that_rings_on_from_before() -> None:
    """It is held like the others, its velocity belongs to the chord before; one that had ended is not there."""
    over = [ring(0, inf, onset_s=9.0), ring(1, 10.4, onset_s=9.8), ring(2, inf), ring(3, 9.9, onset_s=9.0)]
    touch = touched(over)
    assert states(touch) == [HELD, LET_GO, HELD, UNKNOWN]
    assert [one.velocity for one in touch.voices] == [None, None, 80, None]


def test_without_a_change_nothing_is_held() -> None:
    """The last chord of a take, or one after which somebody stopped."""
    touch = touched([ring(rank, 10.5) for rank in range(4)], change_s=None)
    assert (states(touch), touch.chord_ms) == ([UNKNOWN] * 4, None)
    assert touch.loudness == 80


def loud(*velocities: int | None) -> StepTouch:
    """A chord with these velocities, low to high; None rang on."""
    rings = [
        ring(rank, inf, velocity=velocity or 1, onset_s=9.0 if velocity is None else 10.0)
        for rank, velocity in enumerate(velocities)
    ]
    return touched(rings, heard=PITCHES[: len(velocities)])


@pytest.mark.parametrize(
    ("velocities", "top", "bottom"),
    [
        ((70, 60, 65, 90), 1, 1),
        ((70, 60, 65, 62), 0, 1),
        ((50, 60, 65, 59), -1, -1),
        # Level with the loudest inner voice, or with the softest, is between.
        ((65, 60, 65, 65), 0, 0),
        ((60, 60, 65, 60), 0, 0),
        # The bass is no inner voice.
        ((120, 60, 65, 90), 1, 1),
        # All alike: the pickup sends no velocities.
        ((80, 80, 80, 80), None, None),
        ((70, 80, 80, 80), None, -1),
        # What only rang on was not struck with it.
        ((70, 60, 65, None), None, 1),
        ((70, None, None, 90), None, None),
        ((70, None, 65, 90), 1, 1),
        # Three voices have one inside, two have each other.
        ((70, 60, 65), 1, 1),
        ((70, 65), -1, 1),
        ((70,), None, None),
    ],
)
def test_which_voice_stands_out(velocities: Sequence[int | None], top: int | None, bottom: int | None) -> None:
    """The top voice, and the bass, against the inner ones."""
    touch = loud(*velocities)
    assert touch.stands_out() == top
    assert touch.stands_out("bottom") == bottom


def test_of_many_strokes_the_median_counts() -> None:
    """Struck with 60, 90 and 100 it is 90, and of two the louder one."""
    strokes = [ring(3, inf, velocity=velocity, onset_s=10.0 + number) for number, velocity in enumerate((100, 60, 90))]
    assert touched(strokes, change_s=14.0).voices[3].velocity == 90
    assert touched(strokes[:2], change_s=14.0).voices[3].velocity == 100


def test_how_even_a_roll_is() -> None:
    """Waits of 100, 100 and 100 ms are even; of 50, 100 and 150 ms they stray by 0.408 of their mean: the standard
    deviation 40.82 over 100 (the definition, worked out with the standard library too)."""

    def rolled(waits_ms: Sequence[int], **more: bool) -> int | None:
        onsets_s = [10.0 + sum(waits_ms[:rank]) / 1000 for rank in range(4)]
        rings = [ring(rank, inf, onset_s=onset_s) for rank, onset_s in enumerate(onsets_s)]
        return touched(rings, change_s=13.0, **more).uneven

    assert rolled((100, 100, 100)) == 0
    waits_ms = (50, 100, 150)
    assert rolled(waits_ms) == 408
    assert rolled(waits_ms) == int(1000 * pstdev(waits_ms) / mean(waits_ms))
    # Too fast to be told, and too slow for a roll, unless it is an arpeggio.
    assert rolled((20, 40, 60)) is None
    assert rolled((500, 500, 300)) is None
    assert rolled((500, 500, 500), arpeggio=True) == 0
    assert touched([ring(rank, inf, onset_s=10.0 + rank / 10) for rank in range(3)]).uneven is None
    assert (
        touched([ring(rank, inf, onset_s=10.0 + rank / 10) for rank in range(4)], target=planned("d u")).uneven is None
    )


CHORDS = st.lists(
    st.tuples(st.integers(0, 3), st.floats(10.0, 12.0), st.floats(0.01, 3.0), st.integers(1, 127)), max_size=12
)


def made(notes: Sequence[tuple[int, float, float, int]]) -> list[Ring]:
    return [ring(rank, at_s + for_s, onset_s=at_s, velocity=velocity) for rank, at_s, for_s, velocity in notes]


@settings(max_examples=examples(400))
@given(CHORDS, st.floats(12.1, 16.0), st.sets(st.integers(1, 1000), min_size=127, max_size=127))
def test_only_the_order_of_velocities_counts(
    notes: Sequence[tuple[int, float, float, int]], change_s: float, curve: set[int]
) -> None:
    """Through any rising curve of a pickup, a constant added included, the same is said of every chord."""
    rising = sorted(curve)
    rings = made(notes)
    before = touched(rings, change_s=change_s)
    after = touched([one._replace(velocity=rising[one.velocity - 1]) for one in rings], change_s=change_s)
    assert [one._replace(velocity=None) for one in before.voices] == [
        one._replace(velocity=None) for one in after.voices
    ]
    for which in ("top", "bottom"):
        assert before.stands_out(which) == after.stands_out(which)
    mapped = None if before.loudness is None else rising[before.loudness - 1]
    assert (mapped, before.uneven) == (after.loudness, after.uneven)


@settings(max_examples=examples(400))
@given(CHORDS, st.floats(12.1, 16.0), st.integers(0, 3), st.floats(0.0, 5.0))
def test_who_holds_longer_is_not_blamed_for_it(
    notes: Sequence[tuple[int, float, float, int]], change_s: float, rank: int, longer_s: float
) -> None:
    """A voice that was held stays held when it rings longer still, and all are when all ring through."""
    rings = made(notes)
    before = touched(rings, change_s=change_s)
    held = [one._replace(end_s=one.end_s + longer_s) if one.pitch == PITCHES[rank] else one for one in rings]
    if before.voices[rank].state == HELD:
        assert touched(held, change_s=change_s).voices[rank].state == HELD
    through = touched([one._replace(end_s=inf) for one in rings], change_s=change_s)
    assert {one.state for one in through.voices} <= {HELD, UNKNOWN}
    assert all(one.state == HELD for one in through.voices if one.velocity is not None)


@settings(max_examples=examples(400))
@given(CHORDS, st.floats(12.1, 16.0), st.integers(-8, 100))
def test_when_it_was_played_does_not_matter(
    notes: Sequence[tuple[int, float, float, int]], change_s: float, later_s: int
) -> None:
    """The same chord at another time of the take is touched the same (moved by whole seconds, to the millisecond)."""
    rings = [one._replace(onset_s=round(one.onset_s, 3), end_s=round(one.end_s, 3)) for one in made(notes)]
    change_s = round(change_s, 3)
    moved = [one._replace(onset_s=one.onset_s + later_s, end_s=one.end_s + later_s) for one in rings]
    ordered = sorted(moved, key=lambda one: one.onset_s)
    there = Visited(10.0 + later_s, change_s + later_s, 0.25)
    found = step_touch(planned(), PITCHES, ordered, there, opens=OPENS)
    here = touched(rings, change_s=change_s)
    assert [one.velocity for one in found.voices] == [one.velocity for one in here.voices]
    assert [one.early_ms for one in found.voices] == pytest.approx([one.early_ms for one in here.voices], abs=1)


def test_it_is_told_as_it_is() -> None:
    """The row of the document: every voice, and the rank of the top."""
    touch = replace(loud(70, 60, 65, 90), uneven=408)
    row = touch.as_json()
    assert row["top"] == 1
    assert row["uneven"] == 0.408
    assert row["voices"] == [one.as_json() for one in touch.voices]
    assert touch.voices[3].as_json() == {
        "pitch": 64, "degree": "3", "velocity": 90, "state": HELD, "early_ms": None,
    }  # fmt: skip
