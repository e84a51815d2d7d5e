"""Free playing made by hand: shapes strummed on a guitar with a pickup for each string, and kept as takes."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterable, Sequence
from dataclasses import replace
from datetime import datetime, timedelta

from listener.commands.playing.play import free_plan
from listener.hearing.events import Message, on_grid
from listener.hearing.take_file import Mark, Take, TakeHeader, take_bytes
from listener.history.safekeeping.take_record import record_of
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store

#: String (1 is the highest) and fret of each note.
Shape = Sequence[tuple[int, int]]
OPEN = {6: 40, 5: 45, 4: 50, 3: 55, 2: 59, 1: 64}
#: Everyday shapes and wide ones, by what they are.
C_FULL: Shape = ((5, 3), (4, 2), (3, 0), (2, 1), (1, 0))
G_FULL: Shape = ((6, 3), (5, 2), (4, 0), (3, 0), (2, 0), (1, 3))
C_SPREAD: Shape = ((5, 3), (4, 5), (2, 5))
F_SPREAD: Shape = ((5, 8), (4, 10), (2, 10))
A_FIRST: Shape = ((6, 9), (4, 7), (3, 9))
STRUM_S, APART_S, RINGS_S = 0.008, 0.5, 0.45


def strummed(shapes: Iterable[Shape], times: int = 1, *, start_s: float = 1.0, single: bool = False) -> list[Message]:
    """Each shape so many times from its lowest string, damped before the next strum; ``single``: on one channel."""
    found: list[Message] = []
    for shape in shapes:
        for _ in range(times):
            for place, (string, fret) in enumerate(shape):
                channel, pitch = 0 if single else string - 1, OPEN[string] + fret
                found.append(Message(on_grid(start_s + STRUM_S * place), (0x90 | channel, pitch, 80)))
                found.append(Message(on_grid(start_s + RINGS_S + 0.001 * place), (0x80 | channel, pitch, 0)))
            start_s += APART_S
    return sorted(found)


def keep_free(
    store: Store,
    messages: Sequence[Message],
    at: datetime,
    *,
    pickup: str = "per-string",
    marks: Sequence[Mark] = (),
    source: str = "a guitar",
) -> int:
    """A take of free listening, begun and ended as ``widehand play`` does it; gives its number."""
    plan = free_plan(Namespace(tuning=None, capo=None, hand=None, left_handed=False))
    header = TakeHeader(plan.drill.name, "own pace", 60.0, None, pickup, started=at.isoformat())
    info = TakeInfo.of(
        plan,
        session=store.begin_session(at),
        pickup=pickup,
        pace="own pace",
        source=source,
        started_at=at,
        header=header,
    )
    number = store.begin_take(info)
    ended = at + timedelta(seconds=max((one.time_s for one in messages), default=0.0))
    record = record_of(info, (), owner=store.backend.token, sitting=at, finished_at=ended)
    store.finish_take(number, take_bytes(replace(Take(tuple(messages), tuple(marks), header), record=record)), ended)
    return number
