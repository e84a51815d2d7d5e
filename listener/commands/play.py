"""``widehand play``: listen to a port and judge live."""

from __future__ import annotations

from argparse import Namespace
from contextlib import ExitStack

from listener.commands.setup import plan_of
from listener.commands.sitting import Sitting, sit
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.port import open_input, open_output
from listener.session.clock import RealClock
from listener.session.practice import Settings


def main(arguments: Namespace) -> int:
    """Plan the drill, open the port, listen."""
    plan = plan_of(arguments, arguments.drill)
    pickup = make_pickup(arguments.pickup or "single")
    with ExitStack() as stack:
        source = open_input(arguments.port)
        stack.callback(source.close)
        click = None
        if arguments.click:
            click = open_output(arguments.click)
            stack.callback(click.close)
        settings = Settings(tempo=arguments.tempo, count_in_bars=arguments.count_in, source=source.name)
        sitting = Sitting(plan, pickup, settings, lambda _practice, _start_s: source, RealClock())
        return sit(sitting, arguments, click=click)
