"""``widehand play``: listen to a port and judge live, or without a drill name every chord that is heard."""

from __future__ import annotations

from argparse import Namespace
from contextlib import ExitStack

from listener.commands.drills.keeping import PassageKeeper
from listener.commands.guitar.setting_up import first_time
from listener.commands.meters import meter_of
from listener.commands.playing.practising import Outputs, check_free, check_options, given
from listener.commands.playing.sitting import Sitting, sit
from listener.commands.setup import guitar_of, hand_of, midi_of, plan_of
from listener.drill.drill import Drill
from listener.errors import UsageError
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.port import open_input
from listener.history.calibration import with_known_delay
from listener.judging.free.smoother import suggester
from listener.planning.plan import Plan
from listener.session.take.clock import RealClock
from listener.session.take.practice import TakeSettings
from listener.settings import load_settings

#: What takes of free listening are kept as.
FREE = "free"


def main(arguments: Namespace) -> int:
    """Plan the drill, open the port, listen; before all that, the first time, get to know the guitar."""
    if arguments.drill is None:
        check_free(arguments)
    if arguments.meter is not None and (arguments.drill is not None or arguments.tempo is None):
        raise UsageError("--meter is for playing freely with the click: add --tempo 90, and leave the drill out")
    check_options(arguments, arguments.tempo)
    first_time(arguments)
    saved = load_settings()
    suggest = None
    guitar, hand = guitar_of(arguments, saved), hand_of(arguments, saved)
    if arguments.drill is None:
        plan = free_plan(arguments)
        suggest = suggester(guitar, hand)
    else:
        plan = plan_of(arguments, arguments.drill)
    midi = midi_of(arguments, saved)
    pickup = make_pickup(midi.pickup)
    with ExitStack() as stack:
        source = open_input(midi.port)
        stack.callback(source.close)
        pickup = with_known_delay(pickup, source.name, click=midi.click_port is not None)
        outputs = Outputs(arguments, midi.click_port if suggest is None or arguments.tempo is not None else None, stack)
        settings = TakeSettings(
            tempo=arguments.tempo,
            count_in_bars=arguments.count_in,
            source=source.name,
            until_right=arguments.until_right,
            on_strum=arguments.on_strum,
        )
        keep = PassageKeeper(pickup, guitar, hand) if suggest is not None else None
        sitting = Sitting(
            plan, pickup, settings, lambda _practice, _start_s: source, RealClock(), suggest=suggest, keep=keep
        )  # fmt: skip
        return sit(sitting, arguments, make_sounds=outputs.sounds)


def free_plan(arguments: Namespace) -> Plan:
    """A plan without steps: nothing is asked for, everything is named."""
    saved = load_settings()
    instrument = guitar_of(arguments, saved)
    meter = meter_of(arguments) or (4, 4)
    drill = Drill(FREE, "Free listening", "", given(arguments, "tempo") or 60.0, meter, ())
    return Plan(
        drill=drill,
        steps=(),
        tuning=instrument.tuning_names,
        string_count=instrument.string_count,
        capo=instrument.capo,
        hand=hand_of(arguments, saved).name,
        cost=0.0,
        instrument=instrument,
    )
