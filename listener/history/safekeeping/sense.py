"""Does a row of the history make sense? Asked of rows without a seal, which programs of older versions wrote.

The rules are those for bundles (:mod:`listener.history.exchange.describing`), only that a text may be of any length and
a date of any year: what somebody kept is not thrown out because others could not read it.
"""

from __future__ import annotations

import json
from collections.abc import Callable, Mapping
from typing import Any, Final

from listener.errors import WidehandError
from listener.hearing.header_fields import checked_fields
from listener.hearing.take_file import CLICK, OWN_PACE
from listener.history.exchange.bundle import MOST_STEPS
from listener.history.exchange.describing import info_from, verdict_of
from listener.history.exchange.strict import LONGEST, Fields, texts
from listener.history.safekeeping.plan_check import INVERSION, PITCH, STEP, STRINGS, check_plan
from listener.history.store.rows import unpack_messages
from listener.records import listed, or_null, whole

Row = Mapping[str, Any]

#: What a row raises that makes no sense.
_SENSELESS: Final = (
    *(WidehandError, ArithmeticError, AttributeError, LookupError, TypeError, ValueError, RecursionError),
)
_LONGEST: Final = 10_000_000
_MOST: Final = 2**31
_DAY_S: Final = 1e6


class KeptRow(Fields):
    """A row as it was kept."""

    YEARS = (1, 9000)

    def text(self, name: str, longest: int = LONGEST, *, needed: bool = False) -> str:
        """A text of any length."""
        return super().text(name, _LONGEST, needed=needed)


def trouble(table: str, row: Row) -> str:
    """What is wrong with a row of this table, in a few words; empty when nothing is."""
    try:
        _CHECKS[table](row)
    except _SENSELESS as error:
        return " ".join(str(error).split()) or type(error).__name__
    return ""


def sound_plan(text: str) -> dict[str, Any]:
    """A kept plan; an empty one when it makes no sense."""
    try:
        plan = json.loads(text)
        check_plan(KeptRow(plan, "plan"), complete=False)
    except _SENSELESS:
        return {}
    found: dict[str, Any] = plan
    return found


def _session(row: Row) -> None:
    KeptRow(row, "session").moment("started_at")


def _route(row: Row) -> None:
    plan = KeptRow(json.loads(row["plan"]), "plan")
    check_plan(plan, complete=False)
    fields = KeptRow(row, "route")
    fields.text("drill_text")
    if fields.need("step_count", STEP) != len(plan.entries("steps", MOST_STEPS)):
        fields.misfit("step_count", "the number of its steps")


def _target(row: Row) -> None:
    fields = KeptRow({**row, "strings": json.loads(row["strings"]), "pitches": json.loads(row["pitches"])}, "target")
    fields.need("step", STEP)
    for name in ("chord", "kind"):
        fields.text(name, needed=True)
    fields.need("inversion", INVERSION)
    fields.need("top", or_null(PITCH))
    fields.read("strings", listed(whole(1, STRINGS), STRINGS), ())
    fields.read("pitches", listed(PITCH, STRINGS), ())
    for name in ("quality", "skill"):
        if row[name] is not None:
            fields.text(name)


def _take(row: Row) -> None:
    opened = {name: json.loads(row[name] or "null") for name in ("instrument", "hand_model", "pickup_profile")}
    fields = KeptRow({**row, **opened, "tuning": json.loads(row["tuning"])}, "take")
    info_from(fields, None, "", {})
    header = json.loads(row["header"])
    if header is not None:
        checked_fields(header, "its header", (CLICK, OWN_PACE))
    if row["finished_at"] is not None:
        fields.moment("finished_at")
    fields.need("recovered", whole(0, 1))
    for name in ("session", "route"):
        fields.need(name, whole(0, 2**63))
    for name in ("file", "file_sha256", "judged_by"):
        if row[name] is not None:
            fields.text(name)
    owner = fields.text("owner")
    if "/" in owner or not owner.isprintable():  # part of a file's name
        fields.misfit("owner", "the sign of a program")


def _stroke(row: Row) -> None:
    rest = json.loads(row["rest"])
    fields = KeptRow({**row, **rest, "fault_codes": json.loads(row["fault_codes"])}, "stroke")
    fields.need("number", whole(1, _MOST))
    verdict_of(fields, MOST_STEPS)
    fields.need("top", or_null(PITCH))
    fields.need("movement_semitones", or_null(whole(-_MOST, _MOST)))
    fields.read("fault_codes", texts(60, 64), ())


def _chunk(row: Row) -> None:
    for message in unpack_messages(bytes(row["messages"])):
        if not abs(message.time_s) < _DAY_S:
            raise ValueError("a message beyond all time")
    for time_s, word in json.loads(row["marks"]):
        if not abs(time_s) < _DAY_S or not isinstance(word, str):
            raise ValueError("a mark that is none")


def _judgement(row: Row) -> None:
    fields = KeptRow(row, "judgement")
    fields.text("program_version")
    fields.moment("replaced_at")


_CHECKS: Final[Mapping[str, Callable[[Row], None]]] = {
    "session": _session,
    "route": _route,
    "target": _target,
    "take": _take,
    "stroke": _stroke,
    "former_stroke": _stroke,
    "chunk": _chunk,
    "judgement": _judgement,
}
