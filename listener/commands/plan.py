"""``widehand plan``: show the route through a drill."""

from __future__ import annotations

import json
import sys
from argparse import Namespace
from pathlib import Path
from typing import Final

from rich.console import Console

from listener.commands.setup import plan_of
from listener.errors import SourceError
from listener.planning.plan import Plan
from listener.screen.plan_view import plan_view
from listener.screen.theme import theme_for

#: Width when the output is not a terminal, so that a file looks the same wherever it was made.
PIPED_WIDTH: Final = 100


def run(plan: Plan, *, as_json: bool, console: Console | None = None, left_handed: bool = False) -> int:
    """Print a plan for people, or as the one JSON document of the ``plan`` contract; the exit code is 0."""
    if as_json:
        print(json.dumps(plan.as_json(), indent=2), file=console.file if console is not None else sys.stdout)
        return 0
    shown_on = console if console is not None else Console()
    width = shown_on.width if shown_on.is_terminal else PIPED_WIDTH
    theme = theme_for(shown_on.encoding, left_handed=left_handed)
    picture = plan_view(plan, width=width, theme=theme)
    shown_on.print(picture, crop=False, soft_wrap=True)
    return 0


def main(arguments: Namespace) -> int:
    """The command line's way in: plan, show, and write the MIDI file that was asked for."""
    plan = plan_of(arguments, arguments.drill)
    if arguments.midi:
        _write_midi(Path(arguments.midi), plan)
    return run(plan, as_json=arguments.json, left_handed=arguments.left_handed)


def _write_midi(path: Path, plan: Plan) -> None:
    from listener.sheets.midi_file import plan_midi

    try:
        path.write_bytes(plan_midi(plan))
    except OSError as error:
        reason = error.strerror or str(error)
        raise SourceError(f"the MIDI file cannot be written to {path}: {reason}; name another file") from None
    print(f"written: {path}", file=sys.stderr)
