"""``widehand completion``: a script for the shell, made from the program's own command line."""

from __future__ import annotations

import argparse
import os
import shlex
import sys
from argparse import Namespace
from collections.abc import Iterator
from typing import Any, Final

import shtab

from listener.drill.drill_file import bundled_drills
from listener.errors import PlaceError
from listener.hearing.pickup import pickup_names
from listener.options.whole import build_parser
from listener.settings import own_drills_place

#: How each shell offers the names of the course, those of the player's own drills as they are when Tab is pressed, and
#: drill files and folders. ``{course}`` takes the names, ``{own}`` the folder; both are quoted.
_DRILL_FUNCTIONS: Final = {
    "bash": '_widehand_drills() {{ local own=$WIDEHAND_DRILLS; [ -n "$own" ] || own={own}; '
    "compgen -W '{course}' -- \"$1\"; "
    "(cd -- \"$own\" 2>/dev/null && compgen -f -X '!*.toml' -- \"$1\" | sed 's/[.]toml$//'); "
    'compgen -f -X \'!*.toml\' -- "$1"; compgen -d -S / -- "$1"; }}',
    "zsh": '_widehand_drills() {{ local own=$WIDEHAND_DRILLS; [ -n "$own" ] || own={own}; '
    "local -a drills; drills=($own/*.toml(N:t:r)); compadd {course}; compadd -a drills; _files -g '*.toml'; }}",
    "fish": "function _widehand_drills; set -l own {own}; "
    "test -n \"$WIDEHAND_DRILLS\"; and set own $WIDEHAND_DRILLS; printf '%s\\n' {course}; "
    "for file in $own/*.toml; string replace -r '.*/(.*)[.]toml$' '$1' -- $file; end; "
    "__fish_complete_suffix .toml; end",
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
    function = _DRILL_FUNCTIONS.get(arguments.shell, "").format(course=" ".join(bundled_drills()), own=_own_folder())
    preamble: Any = {arguments.shell: function}  # shtab's own annotation knows only the text for one shell
    print(shtab.complete(parser, shell=arguments.shell, preamble=preamble))
    if sys.stdout.isatty():
        print(f"To keep it: {_PLACES[arguments.shell]}", file=sys.stderr)
    return 0


def _own_folder() -> str:
    """Quoted for the shell; nowhere without a home."""
    try:
        return shlex.quote(str(own_drills_place()))
    except PlaceError:
        return shlex.quote(os.devnull)


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
