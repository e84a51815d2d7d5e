"""Whatever a verdict or a message holds, it comes back equal."""

from __future__ import annotations

import sqlite3
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.hearing.events import Message
from listener.history.store.rows import pack_messages, unpack_messages, verdict_from, verdict_row
from listener.judging.verdict import GRADES, Fault, Verdict
from listener.music.movement import movement

_SECONDS = st.floats(0, 1e6)
_NOTES = st.lists(st.integers(0, 127), max_size=8, unique=True).map(lambda notes: tuple(sorted(notes)))
_MAYBE_MS = st.none() | st.floats(-1e4, 1e4)
_FAULTS = st.builds(
    Fault, st.text(), st.text(), st.none() | st.integers(0, 127), st.none() | st.integers(0, 127), _MAYBE_MS
)
_VERDICTS = st.builds(
    Verdict,
    step=st.integers(0, 10_000),
    attempt=st.integers(0, 10_000),
    grade=st.sampled_from(GRADES),
    faults=st.lists(_FAULTS, max_size=4).map(tuple),
    heard=_NOTES,
    held=_NOTES,
    onset_s=_SECONDS,
    spread_ms=_SECONDS,
    offset_ms=_MAYBE_MS,
    movement=st.none() | st.builds(movement, _NOTES, _NOTES),
    least=st.none() | st.integers(0, 500),
    movement_score=st.none() | st.floats(0, 100),
    own_offset_ms=_MAYBE_MS,
)
_MESSAGES = st.lists(st.builds(Message, _SECONDS, st.lists(st.integers(0, 255), max_size=300).map(tuple)))


@given(_VERDICTS)
def test_verdicts_come_back_equal_through_sqlite(verdict: Verdict) -> None:
    """Row and back, through real SQLite columns, is the same verdict, movement and types included."""
    db = sqlite3.connect(":memory:")
    row = verdict_row(verdict)
    found = db.execute(f"SELECT {', '.join('?' * len(row))}", row).fetchone()
    db.close()
    back = verdict_from(found)
    assert back == verdict
    assert repr(back) == repr(verdict)  # also tells 0 from 0.0, a list from a tuple


@given(_MESSAGES)
def test_messages_come_back_equal(messages: list[Message]) -> None:
    """Packed and unpacked, times to the last bit and system exclusives of any length."""
    assert unpack_messages(pack_messages(messages)) == tuple(messages)


@given(_MESSAGES.filter(bool), st.data())
def test_cut_messages_are_noticed(messages: list[Message], data: Any) -> None:
    """A packed value that lost its end is either refused or ends with a whole message."""
    packed = pack_messages(messages)
    cut = data.draw(st.integers(0, len(packed) - 1))
    try:
        found = unpack_messages(packed[:cut])
    except ValueError:
        return
    assert found == tuple(messages[: len(found)])
    assert pack_messages(found) == packed[:cut]


def test_not_a_number_is_refused() -> None:
    """JSON has no NaN; keeping one would make a row that others cannot read."""
    fault = Fault("late", "late", ms=float("nan"))
    with pytest.raises(ValueError, match="JSON"):
        verdict_row(Verdict(0, 0, "miss", (fault,), (), (), 0.0, 0.0))
