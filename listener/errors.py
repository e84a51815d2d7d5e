"""What can go wrong, by who can put it right.

Every error that a player or a drill author can cause is a :class:`WidehandError`. The command line prints its
text as one line and ends with ``exit_code``; anything else that escapes is a plain bug and may crash loudly. Whatever
of a file or a command line stands in the text, it is fit to be printed and does not hide the rest.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass

from listener.safe_text import fitted


class WidehandError(Exception):
    """Root of all errors with a message for people: one line that says what, where, and what to try."""

    exit_code = 1

    def __init__(self, message: str = "") -> None:
        super().__init__(fitted(message))


class UsageError(WidehandError):
    """The command line, or a script, asks for something that makes no sense; exit code 2."""

    exit_code = 2


class MusicError(WidehandError):
    """A pitch, chord, key, scale or numeral that cannot be read.

    ``text`` is what was written and ``position`` the index in it (from 0) where reading stopped.
    """

    def __init__(self, message: str, *, text: str = "", position: int = 0) -> None:
        super().__init__(message)
        self.text = text
        self.position = position


class InstrumentError(WidehandError):
    """A tuning, capo, neck or hand that cannot be."""


class PlanError(WidehandError):
    """A wish that no fingering meets. ``step`` counts from 1, as players do."""

    def __init__(self, message: str, *, step: int | None = None) -> None:
        super().__init__(message)
        self.step = step


class SourceError(WidehandError):
    """No MIDI system, no such port, or a file that is not what it should be."""


class StoreError(WidehandError):
    """The history cannot be opened, read or written."""


class PlaceError(WidehandError):
    """There is no home folder to keep things in, or none of the name that was given."""


class ScreenError(WidehandError):
    """The terminal cannot show what was asked for."""


class OutputLost(WidehandError):
    """Standard output takes no more. With ``reader_gone`` it is not even worth a word: somebody has seen enough."""

    def __init__(self, reason: str, *, reader_gone: bool = False) -> None:
        super().__init__(f"the rest cannot be shown ({reason}); send it to a terminal or to another file")
        self.reader_gone = reader_gone
        self.exit_code = 0 if reader_gone else 1


@dataclass(frozen=True, slots=True)
class Problem:
    """One fault of a file that somebody wrote: ``line`` counts from 1, 0 when the file as a whole is meant."""

    line: int
    text: str

    def __str__(self) -> str:
        return f"line {self.line}: {self.text}" if self.line else self.text


class FaultyFile(WidehandError):
    """A file that somebody wrote, with its faults: all of them, in file order. ``name`` is what the file is called."""

    def __init__(self, name: str, problems: Iterable[Problem]) -> None:
        self.name = name
        self.problems = tuple(sorted(problems, key=lambda problem: problem.line))
        count = len(self.problems)
        if count == 1:
            super().__init__(f"{name}: {self.problems[0]}")
            return
        super().__init__("\n".join([f"{name}: {count} problems", *(f"  {problem}" for problem in self.problems)]))


class DrillError(FaultyFile):
    """A drill file with faults."""
