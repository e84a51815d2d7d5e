"""How singable each voice is."""

from __future__ import annotations

from collections.abc import Callable

from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.events import Message
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Take
from listener.judging.singing import BOTTOM, TOP, chorale, singing, singing_of
from listener.judging.take import judge_take, step_mark
from listener.planning.plan import Plan


def test_each_voice_by_hand() -> None:
    """Four chords, counted by hand: the top holds, steps and leaps, the bass leaps twice and steps once."""
    sung = singing([[(48, 55, 64, 72), (41, 57, 65, 72), (43, 55, 62, 71), (48, 55, 64, 76)]])
    top, bottom = sung.voice(TOP), sung.voice(BOTTOM)
    assert top is not None
    assert bottom is not None
    assert (top.holds, top.steps, top.skips, top.leaps) == (1, 1, 0, 1)
    assert (top.largest, top.low, top.high, top.range_semitones) == (5, 71, 76, 5)
    assert (bottom.holds, bottom.steps, bottom.skips, bottom.leaps) == (0, 1, 0, 2)
    assert (bottom.semitones, bottom.largest) == (7 + 2 + 5, 7)
    assert [voice.name for voice in sung.voices] == [TOP, BOTTOM, "inner 1", "inner 2"]
    assert [voice.beside.voice for voice in sung.voices] == ["soprano", "bass", "alto", "tenor"]


def test_between_runs_nothing_moves() -> None:
    """The leap from the end of one run to the start of the next is nobody's."""
    sung = singing([[(48, 64), (50, 65)], [(60, 84), (60, 83)]]).voice(TOP)
    assert sung is not None
    assert (sung.moves, sung.largest) == (2, 1)


def test_inner_voices_only_where_the_size_stays() -> None:
    """From three notes to four the outer voices go on, the inner ones cannot be followed."""
    sung = singing([[(48, 55, 64), (48, 52, 57, 65)]])
    assert [voice.name for voice in sung.voices] == [TOP, BOTTOM]


def test_nothing_to_sing() -> None:
    """No chord, one chord, and single notes."""
    assert singing([]).voices == ()
    assert singing([[(48, 55)]]).voices == ()
    assert [voice.name for voice in singing([[(60,), (62,)]]).voices] == [TOP]
    assert singing([[(60,), (62,)]]).as_json()["voices"]


def test_of_a_take(make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]) -> None:
    """What was really played counts, wrong notes too."""
    chords = [("C", (48, 55, 64)), ("F", (48, 57, 65)), ("C", (48, 55, 64))]
    plan = make_plan(chords)
    played = make_messages([(1.0, (48, 55, 64)), (3.0, (48, 57, 69)), (5.0, (48, 55, 64))])
    top = singing_of(judge_take(plan, make_pickup("single"), Take(tuple(played), (), None))).voice(TOP)
    assert top is not None
    assert (top.leaps, top.largest, top.high) == (2, 5, 69)


def test_a_jump_in_a_take_is_no_leap(
    make_plan: Callable[..., Plan], make_messages: Callable[..., list[Message]]
) -> None:
    """Whoever goes back to the beginning puts the hand there: no voice sings that."""
    plan = make_plan([("C", (48, 55, 64)), ("F", (48, 57, 65)), ("C", (60, 67, 76))])
    times = zip((1.0, 3.0, 5.0, 9.0, 11.0), (0, 1, 2, 0, 1), strict=True)
    played = make_messages([(time_s, plan.steps[step].voicing.midi) for time_s, step in times])
    top = singing_of(judge_take(plan, make_pickup("single"), Take(tuple(played), (step_mark(7.0, 0),), None))).voice(
        TOP
    )
    assert top is not None
    assert (top.moves, top.steps, top.leaps, top.largest) == (3, 2, 1, 11)


def test_chorale_shares_add_up() -> None:
    """The yardstick's shares are a whole, and sopranos are smoother than basses."""
    for voice in ("soprano", "alto", "tenor", "bass"):
        row = chorale(voice)
        assert abs(row.hold + row.step + row.skip + row.leap - 1) < 0.001
    assert chorale("soprano").smooth > chorale("bass").smooth


chords = st.lists(st.sets(st.integers(40, 80), min_size=3, max_size=3), min_size=2, max_size=8)


@given(chords, st.integers(-12, 12))
def test_transposing_changes_only_the_range(run: list[set[int]], shift: int) -> None:
    """Counts and distances stay in another key."""
    here = singing([[tuple(chord) for chord in run]])
    there = singing([[tuple(note + shift for note in chord) for chord in run]])
    for one, other in zip(here.voices, there.voices, strict=True):
        assert (one.holds, one.steps, one.skips, one.leaps) == (other.holds, other.steps, other.skips, other.leaps)
        assert (one.largest, one.low + shift, one.high + shift) == (other.largest, other.low, other.high)
        assert one.moves == len(run) - 1
