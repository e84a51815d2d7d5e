"""``widehand demo``: the main job with nothing plugged in. A simulated player with a simulated pickup plays a drill."""

from __future__ import annotations

from argparse import Namespace
from contextlib import ExitStack
from itertools import count

from listener.commands.playing.practising import Outputs, check_options
from listener.commands.playing.sitting import Sitting, sit
from listener.commands.setup import plan_of
from listener.hearing.pickup import make_pickup
from listener.history.skills.reviews import SIMULATED
from listener.planning.plan import Plan
from listener.session.take.clock import UNWATCHED_S, Clock, JumpingClock, RealClock
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.run import Source
from listener.session.take.simulated_player import SimulatedPlayer
from listener.simulation.converter import Converter, make_converter

DRILL = "mill-verse"
PICKUP = "per-string"


def main(arguments: Namespace) -> int:
    """Plan, let the simulated player play, judge, keep."""
    plan = plan_of(arguments, arguments.drill or DRILL)
    settings = settings_of(arguments, plan)
    check_options(arguments, settings.tempo)
    if arguments.picture:
        from listener.commands.playing.picture import write_picture

        return write_picture(arguments.picture, plan, settings, arguments.seed, PICKUP)
    pickup, errors = make_pickup(PICKUP), _converter(arguments.pickup_errors)
    clock: Clock = JumpingClock(UNWATCHED_S) if arguments.fast else RealClock()

    # Another performance for each take.
    seeds = count(arguments.seed)

    def source_for(practice: Practice, start_s: float) -> Source:
        return SimulatedPlayer(practice, pickup, seed=next(seeds), clock=clock, start_s=start_s, converter=errors)

    with ExitStack() as stack:
        outputs = Outputs(arguments, arguments.click, stack)
        sitting = Sitting(plan, pickup, settings, source_for, clock, arguments.seed)
        return sit(sitting, arguments, make_sounds=outputs.sounds)


def _converter(errors: str) -> Converter | None:
    """What the simulated pickup gets wrong; without errors of its own it only has its delays."""
    return None if errors == "none" else make_converter(errors)


def settings_of(arguments: Namespace, plan: Plan) -> TakeSettings:
    """With the click at the drill's tempo, unless the options say otherwise."""
    tempo = None if arguments.own_pace else arguments.tempo or plan.drill.tempo
    return TakeSettings(tempo=tempo, count_in_bars=arguments.count_in, source=SIMULATED)
