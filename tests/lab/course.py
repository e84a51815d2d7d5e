"""The drills of the course as they are planned in standard tuning: once in a process, whoever asks."""

from __future__ import annotations

from functools import cache

from listener.drill.drill_file import load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill


@cache
def planned(name: str, hand: str = "medium") -> Plan:
    """The plan of a bundled drill, which nobody can change."""
    return plan_drill(load_drill(name), make_instrument(), make_hand(hand))
