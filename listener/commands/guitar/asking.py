"""Questions on a terminal, one by one: each says its default, and an answer without sense is asked for again."""

from __future__ import annotations

import shutil
import sys
import textwrap
from collections.abc import Callable
from typing import TypeVar

from listener.errors import UsageError, WidehandError

Ask = Callable[[str], str]
Say = Callable[[str], None]
_Answer = TypeVar("_Answer")


def is_somebody_there() -> bool:
    """Whether questions can be asked: both ends are a terminal."""
    return sys.stdin is not None and sys.stdin.isatty() and sys.stderr.isatty()


def asked_until(words: str, usual: str, take: Callable[[str], _Answer], ask: Ask, say: Say) -> _Answer:
    """What ``take`` makes of the first answer that it does not refuse with a :class:`WidehandError`.

    Enter alone answers ``usual``. Every refusal is told, then the question comes again.
    """
    while True:
        answer = ask(f"{words}\n  [{usual}]: ").strip() or usual
        try:
            return take(answer)
        except WidehandError as error:
            say(indented(str(error)))


def yes_or_no(answer: str) -> bool:
    """Yes or no, or their first letters; :class:`UsageError` for anything else."""
    low = answer.lower()
    if low and ("yes".startswith(low) or "no".startswith(low)):
        return "yes".startswith(low)
    raise UsageError(f"'{answer}' is neither yes nor no; type y or n")


def indented(text: str) -> str:
    """Set off from the questions, broken between words; what is indented already (a marked place) stays as it is."""
    width = shutil.get_terminal_size().columns - 1
    return "\n".join(
        f"  {line}" if line.startswith(" ") else textwrap.fill(line, width, initial_indent="  ", subsequent_indent="  ")
        for line in text.splitlines()
    )


def ask_here(prompt: str) -> str:
    """Ask on this terminal. KeyboardInterrupt on Ctrl-C, and at the end of the input."""
    print(prompt, end="", file=sys.stderr, flush=True)
    try:
        return input()
    except EOFError:
        raise KeyboardInterrupt from None
    except UnicodeDecodeError:  # what was typed is no text in this terminal's encoding
        return "\N{REPLACEMENT CHARACTER}"


def say_here(text: str) -> None:
    """Say it on this terminal, beside the results."""
    print(text, file=sys.stderr, flush=True)
