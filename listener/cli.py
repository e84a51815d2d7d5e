"""The command line: parse, call one function, print what went wrong. No music in it.

Every command's module is imported only when it runs, so that ``--help`` and error lines come at once.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from listener.options.whole import build_parser

#: Commands whose module cannot have their name: Python keeps it for itself.
_MODULES = {"import": "import_"}


def _call(arguments: argparse.Namespace) -> int:
    from importlib import import_module

    module = _MODULES.get(arguments.command, arguments.command)
    return int(import_module(f"listener.commands.{module}").main(arguments))


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0 done, 1 could not, 2 wrong usage, 130 interrupted with everything saved."""
    words = sys.argv[1:] if argv is None else argv
    parser = build_parser(asked=words[0] if words else "")
    arguments = parser.parse_args(words)
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
