"""``widehand demo``: the main job with nothing plugged in. A simulated player with a simulated pickup plays a drill."""

from __future__ import annotations

from argparse import Namespace
from contextlib import ExitStack
from pathlib import Path

from listener.commands.setup import plan_of
from listener.commands.sitting import Sitting, sit
from listener.errors import ScreenError
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.port import open_output
from listener.hearing.sources.simulated import SimulatedSource, simulate
from listener.planning.plan import Plan
from listener.session.clock import Clock, JumpingClock, RealClock
from listener.session.practice import LEAD_S, Settings
from listener.session.run import Source

_DRILL = "thirds-on-top"
_PICKUP = "per-string"
_SOURCE = "simulated guitar"


def main(arguments: Namespace) -> int:
    """Plan, let the simulated player play, judge, keep."""
    plan = plan_of(arguments, arguments.drill or _DRILL)
    pickup = make_pickup(_PICKUP)
    tempo = None if arguments.own_pace else arguments.tempo or plan.drill.tempo
    settings = Settings(tempo=tempo, count_in_bars=arguments.count_in, source=_SOURCE)
    clock: Clock = JumpingClock() if arguments.fast else RealClock()
    if arguments.picture:
        write_picture(Path(arguments.picture), plan, settings, arguments.seed)
        return 0

    def source_for(now: Settings, start_s: float) -> Source:
        first_beat_s = first_beat(plan, now)
        messages = simulate(plan, seed=arguments.seed, pickup=pickup, tempo=now.tempo, first_beat_s=first_beat_s)
        return SimulatedSource(messages, clock.now, start_s=start_s)

    with ExitStack() as stack:
        click = None
        if arguments.click:
            click = open_output(arguments.click)
            stack.callback(click.close)
        return sit(Sitting(plan, pickup, settings, source_for, clock, arguments.seed), arguments, click=click)


def first_beat(plan: Plan, settings: Settings) -> float:
    """When the first step of the take is due: after the lead and the count-in."""
    if settings.tempo is None:
        return LEAD_S
    return LEAD_S + settings.count_in_bars * plan.drill.meter[0] * 60.0 / settings.tempo
