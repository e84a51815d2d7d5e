"""What several commands do first: the drill, the guitar, the hand and the plan."""

from __future__ import annotations

from argparse import Namespace
from pathlib import Path

from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.take_file import TakeHeader
from listener.planning.drill_file import load_drill
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill


def plan_of(arguments: Namespace, drill: str, header: TakeHeader | None = None) -> Plan:
    """The plan of a drill (by name or path) for the guitar and hand of the options.

    What the options leave open comes from the header of a take, so that it is judged against what was played.
    """
    tuning = arguments.tuning or (header.tuning if header else "standard")
    capo = arguments.capo if arguments.capo is not None else header.capo if header else 0
    hand = make_hand(arguments.hand or (header.hand if header else "medium"))
    instrument = make_instrument(tuning, capo=capo, left_handed=arguments.left_handed)
    return plan_drill(load_drill(drill), instrument, hand)


def store_path(arguments: Namespace) -> Path | None:
    """``--store``, or None for the usual place."""
    return Path(arguments.store) if arguments.store else None
