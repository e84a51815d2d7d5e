"""``widehand help``: what ``--help`` says, for those who ask in words."""

from __future__ import annotations

from argparse import Namespace

from listener.options.whole import build_parser, parsers_of


def main(arguments: Namespace) -> int:
    """All commands, or the options of one."""
    parser = build_parser(asked=arguments.about or "")
    (parsers_of(parser)[arguments.about] if arguments.about else parser).print_help()
    return 0
