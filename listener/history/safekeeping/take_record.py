"""What the history knows about a take, as it travels in the take's own file: with it a lost history is made again.

It is a JSON object: ``record`` (the number of this format), ``owner`` (the token of the program that played it, which
with the moment of its start tells the take from all others), ``plan``, and ``about``: what a bundle says of a take
(docs/bundle.md), its verdicts among it. After it, parted by a zero byte, comes the drill's text. Whoever reads a record
believes nothing of it that is not checked.
"""

from __future__ import annotations

from dataclasses import dataclass
from datetime import datetime
from typing import Final

from listener import __version__
from listener.errors import SourceError, WidehandError
from listener.hearing.take_file import Take, read_take
from listener.history.exchange.bundle import BundledTake
from listener.history.exchange.describing import take_from, take_row
from listener.history.exchange.strict import Fields, read_json
from listener.history.exchange.unpacking import checked_midi, drill_text_from
from listener.history.safekeeping.plan_check import check_plan
from listener.history.store.rows import TakeInfo, compact
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Verdict
from listener.records import whole

_RECORD: Final = 1
_PARTED: Final = b"\0"
#: Characters of a program's token.
_LONGEST_OWNER: Final = 80


@dataclass(frozen=True)
class KeptFile:
    """A take's file that says everything about itself. ``raw`` is what was played."""

    take: BundledTake
    raw: Take
    owner: str


def record_of(
    info: TakeInfo,
    verdicts: tuple[Verdict, ...],
    *,
    owner: str,
    sitting: datetime,
    finished_at: datetime,
    recovered: bool = False,
    judged_by: str = __version__,
    touch: TouchAccount | None = None,
) -> bytes:
    """The record of a take that is over, or (then ``recovered``) of as much of it as there is."""
    take = BundledTake(info, sitting, finished_at, recovered, judged_by, b"", verdicts, touch)
    row = {"record": _RECORD, "owner": owner, "plan": info.plan, "about": take_row(take)}
    return compact(row).encode() + _PARTED + info.drill_text.encode()


def kept_file(data: bytes, name: str) -> KeptFile | None:
    """A take's file with everything in it checked; None for a file without a record, as older programs wrote them.

    :class:`SourceError` when it is no MIDI file, or when what it says of itself makes no sense. ``name`` is for errors.
    """
    header = checked_midi(data, name)
    raw = read_take(data, name)
    if not raw.record:
        return None
    table, _, text = raw.record.partition(_PARTED)
    row = Fields(read_json(table, name), name)
    number = row.need("record", whole(1, 2**31))
    if number > _RECORD:
        raise SourceError(f"{name} was written by a newer Widehand; update this one")
    plan = row.values.get("plan")
    if not isinstance(plan, dict):
        raise SourceError(f"{name} does not say what was planned; its record is damaged")
    check_plan(Fields(plan, name))
    about = Fields(row.values.get("about"), name)
    try:
        take = take_from(about, data, header, drill_text_from(text, name), plan)
        return KeptFile(take, raw, row.text("owner", _LONGEST_OWNER))
    except SourceError:
        raise
    except WidehandError as error:
        raise SourceError(f"{name}: {' '.join(str(error).split())}") from None
