"""Where a player sits: the dashboard or plain lines, and threads that take short turns while MIDI comes in."""

from __future__ import annotations

import shutil
import sys
import textwrap
from argparse import Namespace
from collections.abc import Iterator
from contextlib import contextmanager
from typing import TextIO

from rich.console import Console

from listener.planning.plan import Plan
from listener.screen.keys import Keyboard
from listener.screen.practice.live import LiveScreen
from listener.screen.practice.plain import PlainScreen
from listener.screen.theme import theme_for

#: Longest turn of a thread in seconds. Measured with a screen being drawn: stamps late by 1.2 ms at the median instead
#: of 3.9 at Python's own 5 ms.
_SWITCH_S = 0.0005


@contextmanager
def quick_turns() -> Iterator[None]:
    """The MIDI callback waits for the interpreter while the screen is drawn; a short turn makes its stamps true."""
    before = sys.getswitchinterval()
    sys.setswitchinterval(_SWITCH_S)
    try:
        yield
    finally:
        sys.setswitchinterval(before)


def broken(text: str, file: TextIO) -> str:
    """A sentence broken between words where it goes to a terminal; elsewhere as it is. Its indent stays."""
    if not file.isatty():
        return text
    width = max(20, shutil.get_terminal_size().columns - 1)
    indent = " " * (len(text) - len(text.lstrip()))
    return textwrap.fill(text, width, subsequent_indent=indent, break_long_words=False, break_on_hyphens=False)


def say(line: str) -> None:
    """A line for the player beside what a command prints."""
    print(broken(line, sys.stderr), file=sys.stderr, flush=True)


class TurningKeys:
    """The keys, but for those that are about the screen alone: they are for it."""

    def __init__(self, keys: Keyboard, screen: LiveScreen | PlainScreen) -> None:
        self._keys = keys
        self._screen = screen

    def read(self) -> list[str]:
        """The words for the take."""
        return [word for word in self._keys.read() if not self._screen.turn(word)]


def screen_of(arguments: Namespace, plan: Plan) -> LiveScreen | PlainScreen:
    """The dashboard on a terminal; plain lines when asked for, when piped, or beside a JSON report."""
    if arguments.json:
        return PlainScreen(sys.stderr)
    if arguments.plain or not sys.stdout.isatty():
        return PlainScreen(sys.stdout)
    console = Console()
    theme = theme_for(console.encoding, left_handed=plan.left_handed, colours=console.color_system)
    return LiveScreen(console, theme=theme)
