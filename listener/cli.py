"""The command line: parse, call one function, print what went wrong. No music in it.

Every command's module is imported only when it runs, so that ``--help`` and error lines come at once.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from listener.options.whole import build_parser, option_names, parsers_of
from listener.streams import standard_streams

#: In which room each command's module lies.
_ROOMS = {
    "playing": ("demo", "play", "hear", "listen"),
    "looking": ("plan", "sheet", "name"),
    "drills": ("drills",),
    "guitar": ("setup", "ports", "calibrate", "settings"),
    "today": ("today",),
    "keeping": ("rejudge", "progress", "export", "import", "students"),
    "way_in": ("docs", "completion", "help"),
}
#: Commands whose module has another name: Python keeps the first for itself, several commands share the second.
_MODULES = {"import": "import_", "setup": "setting_up"}


def call(arguments: argparse.Namespace) -> int:
    """The command that was read, as it is; what goes wrong is raised."""
    from importlib import import_module

    module = _MODULES.get(arguments.command, arguments.command)
    room = next(room for room, commands in _ROOMS.items() if arguments.command in commands)
    return int(import_module(f"listener.commands.{room}.{module}").main(arguments))


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0 done, 1 could not, 2 wrong usage, 130 interrupted with everything saved.

    A reader that has seen enough (``widehand drills | head -1``) is no trouble: 0. Output that is closed or whose disk
    is full is: 1, however well the rest went.
    """
    with standard_streams() as output:
        try:
            try:
                code = _run(sys.argv[1:] if argv is None else argv)
            finally:
                output.flush()
        except KeyboardInterrupt:
            print("widehand: interrupted", file=sys.stderr)
            return 130
        except Exception as error:
            from listener.errors import WidehandError

            if not isinstance(error, WidehandError):
                raise
            if error is not output.lost:
                print(f"widehand: {error}", file=sys.stderr)
                return error.exit_code
            code = 0
        lost = output.lost
        if lost is not None and not lost.reader_gone:
            print(f"widehand: {lost}", file=sys.stderr)
        return code or (lost.exit_code if lost is not None else 0)


def _asked(words: Sequence[str]) -> str | None:
    """The command whose options are needed; empty where none is, None where only reading the line can tell."""
    if not words or words[0] in ("-h", "--help", "-V", "--version"):
        return ""
    return None if words[0].startswith("-") else words[0]


def _run(words: Sequence[str]) -> int:
    parser = build_parser(asked=_asked(words))
    arguments, left = parser.parse_known_args(words)
    if left:
        from listener.options.mistyped import left_over

        known = {name: option_names(one) for name, one in parsers_of(build_parser()).items()}
        parser.error(left_over(arguments.command, left, known))
    if arguments.command is None:
        parser.print_help()
        return 0
    return call(arguments)
