"""What a take in progress writes about itself beside its messages, so that it can be judged again."""

from __future__ import annotations

from typing import Any

from listener import __version__
from listener.following.pace import Timetable
from listener.hearing.take_file import TakeHeader
from listener.planning.plan import Plan


def header_of(plan: Plan, pickup: str, tempo: float | None, timetable: Timetable | None) -> TakeHeader:
    """The header of a take with the click at ``tempo`` beats a minute, None at the player's own pace."""
    return TakeHeader(
        drill=plan.drill.name,
        pace="own pace" if tempo is None else "click",
        tempo=tempo or plan.drill.tempo,
        first_beat_s=timetable.due_s[0] if timetable is not None else None,
        pickup=pickup,
        tuning=" ".join(plan.tuning),
        capo=plan.capo,
        hand=plan.hand,
        **_guitar(plan),
        register=plan.drill.taste.register,
        high_open=plan.drill.taste.high_open,
        made_by=f"widehand {__version__}",
        meter="/".join(map(str, plan.drill.meter)) if plan.steps or tempo is not None else "",
    )


def _guitar(plan: Plan) -> dict[str, Any]:
    guitar = plan.instrument
    if guitar is None:
        return {}
    return {"frets": guitar.fret_count, "scale_mm": guitar.scale_mm, "left_handed": guitar.left_handed}
