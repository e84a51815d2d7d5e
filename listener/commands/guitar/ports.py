"""``widehand ports``: what is connected, and what arrives from it."""

from __future__ import annotations

from argparse import Namespace

from listener.commands.json_out import print_json
from listener.errors import UsageError
from listener.hearing.sources.port import input_ports, output_ports


def main(arguments: Namespace) -> int:
    """List the MIDI ports, or watch one."""
    if arguments.watch is not None:
        from listener.commands.guitar.watching import watch

        return watch(arguments)
    if arguments.seconds is not None or arguments.pickup is not None:
        raise UsageError("--seconds and --pickup belong to --watch; try: widehand ports --watch --seconds 30")
    inputs, outputs = input_ports(), output_ports()
    if arguments.json:
        print_json("ports", {"inputs": inputs, "outputs": outputs})
        return 0
    _print("inputs (for --port)", inputs, "none: plug the pickup in and switch it on, then look again")
    _print("outputs (for --click)", outputs, "none: the click will only be seen")
    return 0


def _print(title: str, names: list[str], none: str) -> None:
    print(title)
    for name in names or [none]:
        print(f"  {name}")
