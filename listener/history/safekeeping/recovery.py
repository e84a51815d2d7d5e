"""A take that was cut off, put together again from the raw MIDI that was kept with its strokes."""

from __future__ import annotations

from datetime import datetime, timedelta

from listener.hearing.events import Message
from listener.hearing.take_file import Mark, Take, TakeHeader
from listener.history.store.rows import KeptTake
from listener.judging.verdict import Verdict


def rebuilt_take(kept: KeptTake, messages: tuple[Message, ...], marks: tuple[Mark, ...]) -> Take:
    """The take as it would have been written. Without a kept header, one is made from the take's description."""
    info = kept.info
    header = info.header or TakeHeader(
        drill=info.drill,
        pace=info.pace,
        tempo=info.tempo or float(info.plan.get("tempo", 0.0)),
        first_beat_s=info.first_beat_s,
        pickup=info.pickup,
        tuning=" ".join(info.tuning),
        capo=info.capo,
        hand=info.hand,
        made_by=f"widehand {info.program_version}",
        started=info.started_at.isoformat(),
    )
    return Take(messages, marks, header)


def ended_at(kept: KeptTake, messages: tuple[Message, ...], verdicts: tuple[Verdict, ...]) -> datetime:
    """When the last thing happened that was kept."""
    moments = [message.time_s for message in messages] + [verdict.onset_s for verdict in verdicts]
    return kept.info.started_at + timedelta(seconds=max(moments, default=0.0))
