"""``widehand play``: listen to a port and judge live."""

from __future__ import annotations

from argparse import Namespace
from contextlib import ExitStack

from listener.commands.setup import midi_of, plan_of
from listener.commands.sitting import Sitting, sit
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.port import open_input, open_output
from listener.session.clock import RealClock
from listener.session.practice import Settings
from listener.settings import load_settings


def main(arguments: Namespace) -> int:
    """Plan the drill, open the port, listen."""
    plan = plan_of(arguments, arguments.drill)
    midi = midi_of(arguments, load_settings())
    pickup = make_pickup(midi.pickup)
    with ExitStack() as stack:
        source = open_input(midi.port)
        stack.callback(source.close)
        click = None
        if midi.click_port:
            click = open_output(midi.click_port)
            stack.callback(click.close)
        settings = Settings(tempo=arguments.tempo, count_in_bars=arguments.count_in, source=source.name)
        sitting = Sitting(plan, pickup, settings, lambda _practice, _start_s: source, RealClock())
        return sit(sitting, arguments, click=click)
