"""``widehand completion``: a script for the shell, made from the program's own command line."""

from __future__ import annotations

import argparse
import sys
from argparse import Namespace
from collections.abc import Iterator
from typing import Any, Final

import shtab

from listener.hearing.pickup import pickup_names
from listener.options.whole import build_parser
from listener.planning.drill_file import bundled_drills

#: How each shell offers the names of the course and, beside them, drill files and folders. ``{}`` takes the names.
_DRILL_FUNCTIONS: Final = {
    "bash": "_widehand_drills() {{ "
    'compgen -W \'{}\' -- "$1"; compgen -f -X \'!*.toml\' -- "$1"; compgen -d -S / -- "$1"; }}',
    "zsh": "_widehand_drills() {{ compadd {}; _files -g '*.toml'; }}",
    "fish": "function _widehand_drills; printf '%s\\n' {}; __fish_complete_suffix .toml; end",
}
_DRILL: Final[dict[str, str]] = {
    "bash": "_widehand_drills",
    "zsh": "_widehand_drills",
    "fish": "(_widehand_drills)",
    "powershell": str(shtab.FILE["powershell"]),
}
#: Where to put the script: the usual place of each shell.
_PLACES: Final = {
    "bash": "widehand completion bash > ~/.local/share/bash-completion/completions/widehand",
    "zsh": "widehand completion zsh > ~/.zfunc/_widehand, and in ~/.zshrc, before compinit: fpath+=~/.zfunc",
    "fish": "widehand completion fish > ~/.config/fish/completions/widehand.fish",
    "powershell": "widehand completion powershell >> $PROFILE",
}
_HANDS: Final = ("small", "medium", "large")


def main(arguments: Namespace) -> int:
    """Print the script; where it belongs is said beside it, not in it."""
    parser = build_parser()
    for action in _actions(parser):
        _teach(action)
    function = _DRILL_FUNCTIONS.get(arguments.shell, "").format(" ".join(bundled_drills()))
    preamble: Any = {arguments.shell: function}  # shtab's own annotation knows only the text for one shell
    print(shtab.complete(parser, shell=arguments.shell, preamble=preamble))
    if sys.stdout.isatty():
        print(f"To keep it: {_PLACES[arguments.shell]}", file=sys.stderr)
    return 0


def _actions(parser: argparse.ArgumentParser) -> Iterator[argparse.Action]:
    for action in parser._actions:  # argparse has no public way to walk a parser; shtab does the same
        if isinstance(action, argparse._SubParsersAction):
            for inner in action.choices.values():
                yield from _actions(inner)
        else:
            yield action


def _teach(action: Any) -> None:
    """What can stand for this option, told from the word that the help shows for it."""
    shown = action.metavar if isinstance(action.metavar, str) else ""
    if shown.startswith("DRILL") or action.dest == "drill":
        action.complete = _DRILL
    elif shown.startswith("FILE"):
        action.complete = shtab.FILE
    elif shown == "FOLDER":
        action.complete = shtab.DIRECTORY
    elif shown == "PROFILE":
        # A name of several words would be offered word by word; what most pickups are has one.
        action.choices = [name for name in pickup_names() if " " not in name]
    elif action.dest == "hand":
        action.choices = _HANDS
