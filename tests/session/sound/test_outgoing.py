"""Notes that the program plays: whatever begins also ends."""

from __future__ import annotations

from collections import Counter

from hypothesis import given
from hypothesis import strategies as st

from listener.session.sound.outgoing import Note, Outgoing

notes = st.builds(
    lambda channel, pitch, on_s, length_s: Note(channel, pitch, 80, on_s, on_s + length_s),
    st.integers(1, 3), st.integers(40, 43), st.floats(0, 10), st.floats(-1, 5),
)  # fmt: skip
deeds = st.lists(st.one_of(notes, st.floats(0, 12), st.just("silence")), max_size=40)


def sounding(sent: list[bytes]) -> dict[tuple[int, int], bool]:
    """What a synthesizer would still sound, by channel and pitch: the last message decides."""
    state: dict[tuple[int, int], bool] = {}
    for data in sent:
        state[data[0] & 0x0F, data[1]] = data[0] & 0xF0 == 0x90
    return {key: on for key, on in state.items() if on}


@given(deeds)
def test_what_begins_ends(todo: list[Note | float | str]) -> None:
    """After any adding, waiting and silencing, the ends of all that sounds are sent: nothing hangs."""
    outgoing, sent, now_s = Outgoing(), list[bytes](), 0.0
    for deed in todo:
        if isinstance(deed, Note):
            outgoing.add([deed])
        elif isinstance(deed, float):
            now_s = max(now_s, deed)
            sent += outgoing.due(now_s)
        else:
            sent += outgoing.silence()
            assert not sounding(sent)
    assert not sounding(sent + outgoing.silence())
    assert outgoing.next_s is None


@given(st.lists(notes, max_size=20))
def test_left_alone_all_is_played(played: list[Note]) -> None:
    """Without a silence every note begins once, nothing hangs, and nothing is left waiting."""
    outgoing = Outgoing()
    outgoing.add(played)
    sent = outgoing.due(100.0)
    begun = Counter((data[0] & 0x0F, data[1]) for data in sent if data[0] & 0xF0 == 0x90)
    assert begun == Counter((note.channel - 1, note.pitch) for note in played)
    assert not sounding(sent)
    assert outgoing.next_s is None


def test_in_order_of_time_and_ends_first() -> None:
    """A note struck again at the moment of its end is ended before it begins."""
    outgoing = Outgoing()
    outgoing.add([Note(1, 60, 80, 1.0, 2.0), Note(1, 60, 80, 0.0, 1.0)])
    assert outgoing.due(0.5) == [bytes((0x90, 60, 80))]
    assert outgoing.next_s == 1.0
    assert outgoing.due(1.5) == [bytes((0x80, 60, 0)), bytes((0x90, 60, 80))]
    assert outgoing.due(3.0) == [bytes((0x80, 60, 0))]
