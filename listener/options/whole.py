"""The whole command line. A new command is added here."""

from __future__ import annotations

import argparse

from listener.options import exchange, keeping, looking, playing, reviews, setting_up, way_in
from listener.options.shared import Commands


def build_parser(asked: str | None = None) -> argparse.ArgumentParser:
    """The commands in the order in which a new player meets them.

    With ``asked``, the options of that command alone: enough to read a line that begins with it.
    """
    commands = Commands(asked)
    for add in (
        playing.demo,
        setting_up.setup,
        playing.play,
        playing.hear,
        looking.plan,
        looking.listen,
        looking.sheet,
        looking.name,
        looking.drills,
    ):
        add(commands)
    for add in (setting_up.ports, setting_up.calibrate, setting_up.settings, keeping.rejudge, keeping.progress):
        add(commands)
    reviews.today(commands)
    for add in (exchange.export, exchange.import_, exchange.students):
        add(commands)
    for add in (way_in.docs, way_in.completion, way_in.help_):
        add(commands)
    return commands.parser


def parsers_of(parser: argparse.ArgumentParser) -> dict[str, argparse.ArgumentParser]:
    """The commands of a whole parser by name, each with its own."""
    for action in parser._actions:  # argparse has no public way to walk a parser
        if isinstance(action, argparse._SubParsersAction):
            return dict(action.choices)
    return {}


def option_names(parser: argparse.ArgumentParser) -> list[str]:
    """Every way to write each of its options."""
    return [name for action in parser._actions for name in action.option_strings]
