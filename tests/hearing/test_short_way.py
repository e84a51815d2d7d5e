"""Plain notes by the short way, all others by the long one: nobody could tell from what is heard."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.hearing.cleaning import cleaning_rules
from listener.hearing.ears import Ears
from listener.hearing.events import Message, Stroke, new_message, ticks
from listener.hearing.pickup import make_pickup, pickup_names
from listener.hearing.take_file import Take, open_take, take_bytes

#: A tick of the grid and the bytes of a message.
Row = tuple[int, tuple[int, ...]]
SECOND = ticks(1.0)

#: Ticks to the next message: none, wires, glitches, double triggers, strokes, and a note that rings over.
WAITS = [0, 10, 60, 200, 500, 1000, 1130, 1400, 1600, 2000, 4200, 5000, SECOND, 21 * SECOND]
#: Few pitches, so that they meet: neighbours, octaves and twelfths.
PITCHES = [48, 49, 55, 60, 61, 67, 72, 0, 127]


def rows_of(draws: Sequence[tuple[int, int, int, int, int]]) -> list[Row]:
    """Messages from whole numbers: wait, kind, channel, pitch and velocity (or value)."""
    found, tick = [], 0
    for wait, kind, channel, pitch, value in draws:
        tick += WAITS[wait % len(WAITS)]
        note = PITCHES[pitch % len(PITCHES)]
        # Notes, some of them soft, are most of it; then bends, the pedal, parameters, and what silences.
        data = {
            20: (0xE0 | channel, 0, value),
            21: (0xE0 | channel, 0, 64),
            22: (0xB0 | channel, 64, value),
            23: (0xB0 | channel, (120, 121, 123)[value % 3], 0),
            24: (0xB0 | channel, (100, 101, 6, 38)[pitch % 4], value % 13),
            25: (0xC0 | channel, value),
        }.get(kind, (0x90 | channel, note, value) if kind < 11 else (0x80 | channel, note, 0))
        found.append((tick, data))
        if kind in (9, 10) and value:
            # The pickup corrects itself: the same pitch, or a neighbour, right after an end.
            again = min(127, note + kind - 9)
            found += [(tick + 500, (0x80 | channel, note, 0)), (tick + 560, (0x90 | channel, again, value))]
            tick += 560
    return found


#: Runs of messages; channels are few or many.
streams = st.sampled_from([1, 6, 16]).flatmap(
    lambda channels: st.lists(
        st.tuples(
            st.integers(0, len(WAITS) - 1),
            st.integers(0, 25),
            st.integers(0, channels - 1),
            st.integers(0, len(PITCHES) - 1),
            st.sampled_from([0, 12, 30, 35, 36, 64, 80, 100, 127]),
        ),
        max_size=60,
    )
)


def state(ears: Ears) -> tuple[object, ...]:
    """Everything that is remembered."""
    tracker, cleaner, gatherer = ears._tracker, ears.cleaner, ears._gatherer
    channels = [(c.voices, c.waiting, c.pedal, c.bend, c.shift.semitones, c.shift.onset_s) for c in tracker._channels]
    return (
        channels,
        tracker._loose,
        tracker.due_s,
        (cleaner._ringing, cleaner._ended, cleaner._doubtful, cleaner._loudness, cleaner._believed, cleaner._short),
        (cleaner._due, cleaner.certain_tick, cleaner._short_until, cleaner.counts),
        (gatherer._ringing, gatherer._ended, gatherer._onsets, gatherer._open, gatherer.certain_tick),
        gatherer._due if gatherer._open is not None else None,
    )


def message(row: Row) -> Message:
    """As it goes the long way."""
    return new_message(row[0] * 40 / 1_000_000, row[1])


def check(name: str, rows: Sequence[Row], size: int) -> None:
    """Both ways, in blocks of so many."""
    long, short = Ears(make_pickup(name)), Ears(make_pickup(name))
    for start in range(0, len(rows), size):
        block = rows[start : start + size]
        expected = [stroke for row in block for stroke in long.feed(message(row))]
        assert short.feed_block([tick for tick, _ in block], [data for _, data in block]) == expected
        assert state(short) == state(long)
    assert short.flush() == long.flush()


@pytest.mark.parametrize("name", pickup_names())
@settings(max_examples=120)
@given(draws=streams, size=st.integers(1, 60))
def test_the_short_way_hears_what_the_long_way_hears(
    name: str, draws: list[tuple[int, int, int, int, int]], size: int
) -> None:
    """The same strokes, and the same memory after every block: with every profile, whatever comes."""
    check(name, rows_of(draws), size)


@pytest.mark.parametrize("channels", [1, 6, 16])
@pytest.mark.parametrize("name", pickup_names())
def test_the_short_way_hears_long_takes_alike(name: str, channels: int) -> None:
    """A thousand messages in a row, so that states come about that few messages do not bring about."""
    random = Random(f"{name} {channels}")
    draws = []
    for _ in range(1000):
        kind = random.randrange(26) if random.random() < 0.2 else random.randrange(20)
        value = random.choice((12, 30, 36, 64, 80, 100))
        draws.append((random.randrange(len(WAITS) - 1), kind, random.randrange(channels), random.randrange(7), value))
    check(name, rows_of(draws), 300)


@pytest.mark.parametrize("name", ["single", "per-string", "zone"])
def test_plain_notes_go_the_short_way(name: str, monkeypatch: pytest.MonkeyPatch) -> None:
    """A hundred chords that are let go before the next ones, one a second: now and then a message is asked whether
    something rang over, all others go the short way."""
    taken: list[Message] = []
    long_way = Ears.feed

    def watched(ears: Ears, message: Message) -> list[Stroke]:
        taken.append(message)
        return long_way(ears, message)

    monkeypatch.setattr(Ears, "feed", watched)
    ears = Ears(make_pickup(name))
    rows: list[Row] = []
    for chord in range(100):
        for string, pitch in enumerate((50, 57, 62, 66)):
            rows.append((chord * SECOND + 10 * string, (0x91 + string, pitch + chord % 5, 80)))
        for string, pitch in enumerate((50, 57, 62, 66)):
            rows.append(((chord + 1) * SECOND - 2000 + string, (0x81 + string, pitch + chord % 5, 0)))
    strokes: list[Stroke] = ears.feed_block([tick for tick, _ in rows], [data for _, data in rows])
    assert len(strokes) == 100
    assert len(taken) <= 100 / cleaning_rules(make_pickup(name)).longest_ring_s + 1


def test_blocks_of_a_file_are_its_messages() -> None:
    """The same bytes at the same times, whichever way they are asked for."""
    messages = tuple(Message(40 * n * n / 1_000_000, (0x90 | n % 16, 40 + n % 40, n % 128)) for n in range(1, 20_000))
    stream = open_take(take_bytes(Take(messages)), "x.mid")
    rows = [row for grid_ticks, block in stream.blocks for row in zip(grid_ticks, block, strict=True)]
    assert tuple(message(row) for row in rows) == messages
    assert tuple(stream.messages) == messages
    ((grid_ticks, block),) = Take(messages).blocks
    assert list(zip(grid_ticks, block, strict=True)) == rows
