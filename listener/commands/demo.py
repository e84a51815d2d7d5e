"""``widehand demo``: the main job with nothing plugged in. A simulated player with a simulated pickup plays a drill."""

from __future__ import annotations

from argparse import Namespace
from contextlib import ExitStack
from pathlib import Path

from listener.commands.setup import plan_of
from listener.commands.sitting import Sitting, sit
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.port import open_output
from listener.planning.plan import Plan
from listener.session.clock import Clock, JumpingClock, RealClock
from listener.session.practice import Practice, Settings
from listener.session.run import Source
from listener.session.simulated_player import NAME, SimulatedPlayer

DRILL = "mill-verse"
PICKUP = "per-string"


def main(arguments: Namespace) -> int:
    """Plan, let the simulated player play, judge, keep."""
    plan = plan_of(arguments, arguments.drill or DRILL)
    settings = settings_of(arguments, plan)
    if arguments.picture:
        from listener.commands.picture import write_picture

        return write_picture(Path(arguments.picture), plan, settings, arguments.seed, PICKUP)
    pickup = make_pickup(PICKUP)
    clock: Clock = JumpingClock() if arguments.fast else RealClock()

    def source_for(practice: Practice, start_s: float) -> Source:
        return SimulatedPlayer(practice, pickup, seed=arguments.seed, clock=clock, start_s=start_s)

    with ExitStack() as stack:
        click = None
        if arguments.click:
            click = open_output(arguments.click)
            stack.callback(click.close)
        return sit(Sitting(plan, pickup, settings, source_for, clock, arguments.seed), arguments, click=click)


def settings_of(arguments: Namespace, plan: Plan) -> Settings:
    """With the click at the drill's tempo, unless the options say otherwise."""
    tempo = None if arguments.own_pace else arguments.tempo or plan.drill.tempo
    return Settings(tempo=tempo, count_in_bars=arguments.count_in, source=NAME)
