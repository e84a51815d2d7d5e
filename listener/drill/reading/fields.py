"""Reading the tables of a drill file field by field, keeping every fault instead of stopping at the first.

A getter gives None (or the default) for a field that is missing or wrong; what was wrong is in the :class:`Problems`.
"""

from __future__ import annotations

from collections.abc import Collection, Iterable, Mapping
from functools import lru_cache
from typing import Any, Final

from listener.errors import Problem
from listener.records import (
    Written,
    any_list,
    any_table,
    choice,
    did_you_mean,
    fits,
    flag,
    real,
    said,
    shown,
    text,
    whole,
)
from listener.safe_text import escaped
from listener.toml_lines import Path, TomlLines

#: Characters of a complaint; only a file with absurdly long words gets there.
_LONGEST: Final = 500


#: Fields that may be left away but not left empty, with an example.
NEVER_EMPTY: Final = {
    "key": '"G major"',
    "scale": '"G major"',
    "start": '"E4"',
    "meter": '"4/4"',
    "name": '"first part"',
}


#: With so many faults a file is no drill, and reading stops.
MOST_PROBLEMS: Final = 2_000
#: Entries of a list or a text that is one; only a hostile file has more.
MOST_ENTRIES: Final = 10_000

# Every passage asks for the same kinds again, and making one takes as long as reading a value.
_choice: Final = lru_cache(maxsize=64)(choice)
_real: Final = lru_cache(maxsize=64)(real)
_whole: Final = lru_cache(maxsize=64)(whole)


class TooManyProblems(Exception):
    """Reading stops: the report is full."""


class Problems:
    """The problems found so far. The same thing said twice about the same line is kept once.

    ``notes`` are what a player should know although nothing is wrong, such as what an exercise left out.
    """

    def __init__(self, lines: TomlLines) -> None:
        self.lines = lines
        self.notes: dict[str, None] = {}
        self._problems: dict[Problem, None] = {}

    @property
    def problems(self) -> tuple[Problem, ...]:
        return tuple(self._problems)

    def add(self, path: Path, text: str) -> None:
        """Something is wrong with the field (or table) at ``path``."""
        self.add_at(self.lines.line_of(*path), text)

    def add_at(self, line: int, text: str) -> None:
        """Something is wrong on this line. What the file has brought into the text is made fit to print."""
        plain = escaped(text[:_LONGEST])
        self._problems[Problem(line, plain if len(text) <= _LONGEST else f"{plain}...")] = None
        if len(self._problems) >= MOST_PROBLEMS:
            raise TooManyProblems


class Table(Written):
    """One table of the file: its values, its path for line numbers, and where to complain."""

    def __init__(
        self, values: dict[str, Any], path: Path, report: Problems, places: Mapping[str, Path] | None = None
    ) -> None:
        super().__init__(values, path, report)
        self.report = report
        self._places = places or {}

    def place(self, name: str) -> Path:
        """Where a field stands in the file."""
        return self._places.get(name, (*self.path, name))

    def line(self, name: str) -> int:
        return self.report.lines.line_of(*self.place(name))

    def with_inner(self, name: str, without: Collection[str]) -> Table:
        """This table with the fields of one of its own tables laid over it, and ``without`` some of its fields."""
        inner = self.values.get(name)
        inner = inner if isinstance(inner, dict) else {}
        outer = {field: value for field, value in self.values.items() if field not in without}
        places = {field: (*self.place(name), field) for field in inner}
        return Table(outer | inner, self.path, self.report, places)

    def with_values(self, values: Mapping[str, Any]) -> Table:
        """This table with these values in place of its own, or beside them."""
        return Table({**self.values, **values}, self.path, self.report, self._places)

    def missing(self, name: str, example: str) -> None:
        """Complain that a field is not there."""
        self.report.add(self.path, f"'{name}' is missing; write for example {name} = {example}")

    def check_names(self, allowed: Collection[str], owner: str) -> None:
        """Complain about every field that is not among ``allowed``."""
        for name in self.unknown(allowed):
            hint = did_you_mean(name, allowed) or f"{owner} has: {', '.join(allowed)}"
            self.report.add(self.place(name), f"unknown field '{name}'; {hint}")

    def text(self, name: str, default: str = "", *, needed_like: str | None = None) -> str:
        """A text; runs of white space become one space, so long texts may be broken anywhere.

        ``needed_like`` makes the field a must and is the example that the complaint shows.
        """
        if needed_like is not None and not self.has(name):
            self.missing(name, needed_like)
        written = self.read(name, text(), None)
        if written is None:
            return default
        plain = " ".join(written.split())
        if not plain.isprintable():
            self.wrong(name, "holds a control character; write plain text")
            return default
        if not plain and (needed_like is not None or name in NEVER_EMPTY):
            self.wrong(name, f"is empty; write for example {needed_like or NEVER_EMPTY[name]}")
        return plain

    def number(self, name: str, low: float, high: float, unit: str = "") -> float | None:
        """A finite number from ``low`` to ``high``."""
        return self.read(name, _real(low, high, unit), None)

    def whole(self, name: str, low: int, high: int) -> int | None:
        """A whole number from ``low`` to ``high``."""
        return self.read(name, _whole(low, high), None)

    def word(self, name: str, allowed: Iterable[str]) -> str | None:
        """One of the allowed words."""
        return self.read(name, _choice(tuple(allowed), one_of), None)

    def flag(self, name: str, default: bool) -> bool:
        """true or false."""
        return self.read(name, flag, default)

    def filled_list(self, name: str, wanted: str, most: int = MOST_ENTRIES) -> list[Any] | None:
        """A list of at least one entry, whatever it is; ``wanted`` says what the field must be."""
        return self.read(name, said(any_list(most, least=1), wanted), None)

    def inner(self, name: str, wanted: str) -> Table | None:
        """A table of its own; ``wanted`` says what the field must be."""
        values = self.read(name, said(any_table, wanted), None)
        return None if values is None else Table(values, self.place(name), self.report)

    def whole_list(self, name: str, low: int, high: int, example: str) -> tuple[int, ...] | None:
        """A list of whole numbers, each from ``low`` to ``high``, at least one."""
        value = self.filled_list(name, f"a list of whole numbers such as {example}")
        if value is None:
            return None
        bad = [index for index, entry in enumerate(value) if not fits(_whole(low, high), entry)]
        for index in bad:
            self.report.add(
                (*self.place(name), index),
                f"'{name}' holds {shown(value[index])}; its entries are whole numbers from {low} to {high}",
            )
        return None if bad else tuple(value)


def one_of(words: Collection[str]) -> str:
    """The allowed words as a phrase."""
    return "one of " + ", ".join(f"'{word}'" for word in words)
