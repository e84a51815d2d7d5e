"""What the player did with the keys during a take, as the words of its marks, and the order of marks and messages."""

from __future__ import annotations

from collections.abc import Iterator

from listener.hearing.events import Message
from listener.hearing.take_file import AnyTake, Mark

PAUSE = "pause"
END = "end"
#: Nobody goes on before a chord is right.
UNTIL_RIGHT = "until right"


def in_order(take: AnyTake) -> Iterator[Message | Mark]:
    """Messages and marks by time; a mark comes before the messages of its own moment."""
    marks = list(take.marks)
    position = 0
    for message in take.messages:
        while position < len(marks) and marks[position].time_s <= message.time_s:
            yield marks[position]
            position += 1
        yield message
    yield from marks[position:]
