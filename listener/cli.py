"""The command line: parse, call one function, print what went wrong. No music in it.

Every command's module is imported only when it runs, so that ``--help`` and error lines come at once.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from listener.options import keeping, looking, playing, setting_up, way_in
from listener.options.shared import Commands


def build_parser() -> argparse.ArgumentParser:
    """The whole command line, the commands in the order in which a new player meets them."""
    commands = Commands()
    for add in (playing.demo, playing.play, playing.hear, looking.plan, looking.sheet, looking.name, looking.drills):
        add(commands)
    for add in (setting_up.ports, setting_up.calibrate, setting_up.settings, keeping.rejudge, keeping.progress):
        add(commands)
    way_in.completion(commands)
    return commands.parser


def _call(arguments: argparse.Namespace) -> int:
    from importlib import import_module

    return int(import_module(f"listener.commands.{arguments.command}").main(arguments))


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0 done, 1 could not, 2 wrong usage, 130 interrupted with everything saved."""
    parser = build_parser()
    arguments = parser.parse_args(argv)
    if arguments.command is None:
        parser.print_help()
        return 0
    try:
        return _call(arguments)
    except KeyboardInterrupt:
        print("widehand: interrupted", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output has gone, as in `widehand drills | head -1`; nobody is left to be told.
        sys.stderr.close()
        return 0
    except Exception as error:
        from listener.errors import WidehandError

        if not isinstance(error, WidehandError):
            raise
        print(f"widehand: {error}", file=sys.stderr)
        return error.exit_code
