"""What passes between the stages."""

from __future__ import annotations

from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.events import Message, NoteOff, NoteOn, on_grid, seconds, ticks

numbers = st.none() | st.integers(0, 127) | st.floats(0, 100)
ENDS = st.builds(NoteOff, numbers, numbers, numbers)


@given(ENDS, st.builds(NoteOn, numbers, numbers, numbers, *[numbers] * 4), st.builds(Message, numbers, numbers))
def test_kinds_are_never_taken_for_one_another(end: NoteOff, note: NoteOn, message: Message) -> None:
    """Whatever is in them, an end is no beginning, and no message: they are tuples of different lengths."""
    assert len({end, note, message}) == 3
    assert end not in (note, message)
    assert note != message


@given(st.integers(0, 10**10))
def test_ticks_and_seconds_are_the_same_times(tick: int) -> None:
    """For more than a hundred hours."""
    assert ticks(seconds(tick)) == tick
    assert on_grid(seconds(tick)) == seconds(tick)
