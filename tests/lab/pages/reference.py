"""Makes ``docs/commands.md``: every command with its options and examples, from the program's own command line.

Run as ``PYTHONPATH=tests python -m lab.pages.reference > docs/commands.md``.
"""

from __future__ import annotations

import argparse
from collections.abc import Iterator
from typing import Final

from lab.pages.examples import EXAMPLES
from listener.options.whole import build_parser, parsers_of

_INTRODUCTION: Final = """\
# The commands

Made by `PYTHONPATH=tests python -m lab.pages.reference > docs/commands.md`; tests say whether this page is current, run
every example, and see that every option has one. `widehand help COMMAND` says the same in the terminal; a mistyped
command or option is answered with what was probably meant.

Results go to standard output and talk to standard error. The exit code is 0 when it is done, 1 when it could not be
done (one line says why and what to try), 2 when the command line is wrong, 130 when you ended it: all is kept. It is 1
too when standard output is closed or its disk is full, however well the rest went, and 0 when its reader has seen
enough, as in `widehand drills | head -1`; a take that is being played goes on and is kept. Colours go away with
`NO_COLOR`. With `--json` a command prints [one document](json.md). Nothing uses the network, unless you keep your
history on [a server](studio.md).
"""


def main() -> None:
    """Print the page."""
    print(page(), end="")


def page() -> str:
    """The whole page as Markdown."""
    return "\n".join([_INTRODUCTION, *(line for name, parser in commands() for line in _section(name, parser))]) + "\n"


def commands() -> Iterator[tuple[str, argparse.ArgumentParser]]:
    """Every command with its parser."""
    yield from parsers_of(build_parser()).items()


def option_names(parser: argparse.ArgumentParser) -> list[str]:
    """The long names of all options but ``--help``."""
    return [action.option_strings[-1] for action in parser._actions if action.option_strings and action.dest != "help"]


def _section(name: str, parser: argparse.ArgumentParser) -> Iterator[str]:
    yield f"\n## {name}\n"
    yield f"{parser.description}\n"
    rows = [action for action in parser._actions if action.dest != "help"]
    if rows:
        yield "| | |\n| --- | --- |"
        yield from (f"| {_words(action)} | {_plain(action.help or '')} |" for action in rows)
        yield ""
    width = max(len(example.line) for example in EXAMPLES[name])
    yield "```console"
    yield from (f"{example.line:{width}}  # {example.what}" for example in EXAMPLES[name])
    yield "```"


def _words(action: argparse.Action) -> str:
    shown = action.metavar if isinstance(action.metavar, str) else None
    if not action.option_strings:
        return f"`{shown or '|'.join(map(str, action.choices or [action.dest.upper()]))}`".replace("|", "\\|")
    if action.nargs == 0:
        return f"`{action.option_strings[-1]}`"
    value = shown or ("|".join(map(str, action.choices)) if action.choices else action.dest.upper())
    value = f"[{value}]" if action.nargs == "?" else value
    return f"`{action.option_strings[-1]} {value}`".replace("|", "\\|")


def _plain(text: str) -> str:
    return text.replace("%%", "%").replace("|", "\\|")


if __name__ == "__main__":
    main()
