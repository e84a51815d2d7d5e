"""What the history holds, as values, and how they become columns and come back the same.

Times of day are aware datetimes, kept as ISO 8601 in UTC; times within a take are seconds from its start.
"""

from __future__ import annotations

import json
import struct
from collections.abc import Iterable, Mapping, Sequence
from dataclasses import asdict, dataclass, fields
from datetime import UTC, datetime
from typing import Any, Final

from listener import __version__
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.hearing.events import Message
from listener.hearing.pickup import Pickup
from listener.hearing.take_file import TakeHeader
from listener.history.store.kept_settings import hand_named, pickup_named
from listener.judging.account import Account
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Fault, Verdict
from listener.music.movement import Movement
from listener.planning.plan import Plan


@dataclass(frozen=True)
class TakeInfo:
    """Everything that is known when a take begins, so that its verdicts can be recomputed at any time.

    ``plan`` is the plan's JSON contract. ``tempo`` is in beats per minute, None at the player's own pace;
    ``first_beat_s`` is the click's first beat after the count-in. ``source`` names the port, file or simulated player,
    ``seed`` is the simulated player's. ``header`` is that of the take's file, needed to rebuild it after a crash.
    ``instrument``, ``hand_model`` and ``pickup_profile`` are what the names mean at that time; None in takes of program
    versions that did not keep them, and for names that mean nothing to this one.
    """

    session: int
    drill: str
    drill_text: str
    plan: Mapping[str, Any]
    tuning: tuple[str, ...]
    capo: int
    hand: str
    pickup: str
    pace: str
    source: str
    started_at: datetime
    tempo: float | None = None
    first_beat_s: float | None = None
    seed: int | None = None
    header: TakeHeader | None = None
    program_version: str = __version__
    instrument: Instrument | None = None
    hand_model: Hand | None = None
    pickup_profile: Pickup | None = None

    @classmethod
    def of(
        cls,
        plan: Plan,
        *,
        session: int,
        pickup: str,
        pace: str,
        source: str,
        started_at: datetime,
        tempo: float | None = None,
        first_beat_s: float | None = None,
        seed: int | None = None,
        header: TakeHeader | None = None,
    ) -> TakeInfo:
        """The plan's own part filled in, with what its names mean now."""
        return cls(
            session=session,
            drill=plan.drill.name,
            drill_text=plan.drill.text,
            plan=plan.as_json(),
            tuning=plan.tuning,
            capo=plan.capo,
            hand=plan.hand,
            pickup=pickup,
            pace=pace,
            source=source,
            started_at=started_at,
            tempo=tempo,
            first_beat_s=first_beat_s,
            seed=seed,
            header=header,
            instrument=plan.instrument,
            hand_model=hand_named(plan.hand),
            pickup_profile=pickup_named(pickup),
        )


@dataclass(frozen=True)
class KeptTake:
    """One take as it lies in the history. ``finished_at`` is None while it is played (or after it was cut off, until
    the history is opened again); ``recovered`` says that its file was rebuilt then. ``file`` is relative to the store
    and ``sha256`` the digest of its content. ``route`` is the number of drill text and plan, the same for all takes
    with the same; ``judged_by`` the version of the program that gave its present verdicts, and ``account`` what they
    come to, None while it is played. ``touch`` is what its touch came to, None where nobody knows.
    """

    id: int
    info: TakeInfo
    step_count: int
    finished_at: datetime | None
    recovered: bool
    file: str | None
    sha256: str | None = None
    route: int = 0
    judged_by: str = ""
    account: Account | None = None
    touch: TouchAccount | None = None


@dataclass(frozen=True)
class FormerJudgement:
    """What a take's strokes were judged to be by an earlier version of the program, until ``replaced_at``."""

    program_version: str
    replaced_at: datetime
    verdicts: tuple[Verdict, ...]


def utc_text(moment: datetime) -> str:
    """ISO 8601 in UTC with milliseconds; sorts as text in order of time. ValueError without a time zone."""
    if moment.tzinfo is None:
        raise ValueError("a time of day needs its time zone; use datetime.now(UTC)")
    return moment.astimezone(UTC).isoformat(timespec="milliseconds")


def utc_moment(text: str) -> datetime:
    """The datetime that :func:`utc_text` wrote."""
    return datetime.fromisoformat(text)


def header_text(header: TakeHeader | None) -> str:
    """The header as JSON."""
    return compact(asdict(header) if header else None)


def header_from(text: str) -> TakeHeader | None:
    """The header that :func:`header_text` wrote; fields of other versions of the program are left out."""
    row = json.loads(text)
    known = {part.name for part in fields(TakeHeader)}
    return TakeHeader(**{name: value for name, value in row.items() if name in known}) if row else None


def compact(value: object) -> str:
    """JSON without spaces."""
    return json.dumps(value, separators=(",", ":"), allow_nan=False)


#: The columns of ``stroke`` after take and number, in order.
STROKE_COLUMNS: Final = (
    "step",
    "attempt",
    "grade",
    "onset_s",
    "spread_ms",
    "offset_ms",
    "top",
    "movement_semitones",
    "least",
    "movement_score",
    "fault_codes",
    "rest",
)


def verdict_row(verdict: Verdict) -> tuple[object, ...]:
    """The values for :data:`STROKE_COLUMNS`."""
    rest: dict[str, object] = {
        "faults": [fault.as_json() for fault in verdict.faults],
        "heard": verdict.heard,
        "held": verdict.held,
        "movement": verdict.movement.as_json() if verdict.movement else None,
    }
    if verdict.own_offset_ms is not None:
        rest["own_offset_ms"] = verdict.own_offset_ms
    return (
        verdict.step,
        verdict.attempt,
        verdict.grade,
        verdict.onset_s,
        verdict.spread_ms,
        verdict.offset_ms,
        verdict.top,
        verdict.movement_semitones,
        verdict.least,
        verdict.movement_score,
        compact(verdict.fault_codes),
        compact(rest),
    )


def verdict_from(row: Sequence[Any]) -> Verdict:
    """The verdict that :func:`verdict_row` took apart."""
    step, attempt, grade, onset_s, spread_ms, offset_ms, _, _, least, movement_score, _, rest = row
    more = json.loads(rest)
    return Verdict(
        step=step,
        attempt=attempt,
        grade=grade,
        faults=tuple(Fault(**fault) for fault in more["faults"]),
        heard=tuple(more["heard"]),
        held=tuple(more["held"]),
        onset_s=onset_s,
        spread_ms=spread_ms,
        offset_ms=offset_ms,
        movement=_movement_from(more["movement"]),
        least=least,
        movement_score=movement_score,
        own_offset_ms=more.get("own_offset_ms"),
    )


def _movement_from(fields: dict[str, Any] | None) -> Movement | None:
    return None if fields is None else Movement(**{**fields, "voices": tuple(fields["voices"])})


#: Each message: its time in seconds as a double, the number of its bytes, its bytes. Little endian.
_MESSAGE: Final = struct.Struct("<dI")


def pack_messages(messages: Iterable[Message]) -> bytes:
    """Raw MIDI as one value, times to the last bit."""
    return b"".join(_MESSAGE.pack(message.time_s, len(message.data)) + bytes(message.data) for message in messages)


def unpack_messages(packed: bytes) -> tuple[Message, ...]:
    """The messages that :func:`pack_messages` joined; ValueError when the value was cut short."""
    messages = []
    position = 0
    while position < len(packed):
        if position + _MESSAGE.size > len(packed):
            raise ValueError("kept MIDI messages end in the middle of a message")
        time_s, size = _MESSAGE.unpack_from(packed, position)
        position += _MESSAGE.size + size
        if position > len(packed):
            raise ValueError("kept MIDI messages end in the middle of a message")
        messages.append(Message(time_s, tuple(packed[position - size : position])))
    return tuple(messages)
