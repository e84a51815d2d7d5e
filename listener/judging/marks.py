"""What the player did with the keys during a take, as the words of its marks, and the order of marks and messages."""

from __future__ import annotations

from collections.abc import Iterator

from listener.following.pace import Anchor, parse_anchor
from listener.hearing.events import Message
from listener.hearing.take_file import AnyTake, Mark

PAUSE = "pause"
END = "end"
#: Nobody goes on before a chord is right.
UNTIL_RIGHT = "until right"


def click_of(mark: Mark) -> Anchor | None:
    """The anchor of the click that starts with this mark; None for any other mark."""
    return parse_anchor(mark.word) if mark.word.startswith("click ") else None


def goes_on(mark: Mark) -> bool:
    """Whether playing goes on after it, at a step or with the click: it ends a pause."""
    return mark.word.startswith(("click ", "step "))


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
