"""Reading the tables of a drill file field by field, keeping every fault instead of stopping at the first.

A getter gives None (or the default) for a field that is missing or wrong; what was wrong is in the :class:`Report`.
"""

from __future__ import annotations

import math
from collections.abc import Collection, Iterable, Mapping
from difflib import get_close_matches
from typing import Any, Final

from listener.errors import Problem
from listener.safe_text import escaped
from listener.toml_lines import Path, TomlLines

#: How alike two words must be for "did you mean" (difflib's ratio; our own choice).
_ALIKE: Final = 0.6
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


class TooManyProblems(Exception):
    """Reading stops: the report is full."""


class Report:
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


class Table:
    """One table of the file: its values, its path for line numbers, and where to complain."""

    def __init__(
        self, values: dict[str, Any], path: Path, report: Report, places: Mapping[str, Path] | None = None
    ) -> None:
        self.values = values
        self.path = path
        self.report = report
        self._places = places or {}

    def has(self, name: str) -> bool:
        return name in self.values

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

    def wrong(self, name: str, text: str) -> None:
        """Complain about a field; ``text`` goes on after the field's name."""
        self.report.add(self.place(name), f"'{name}' {text}")

    def missing(self, name: str, example: str) -> None:
        """Complain that a field is not there."""
        self.report.add(self.path, f"'{name}' is missing; write for example {name} = {example}")

    def check_names(self, allowed: Collection[str], owner: str) -> None:
        """Complain about every field that is not among ``allowed``."""
        for name in self.values:
            if name not in allowed:
                hint = did_you_mean(name, allowed) or f"{owner} has: {', '.join(allowed)}"
                self.report.add(self.place(name), f"unknown field '{name}'; {hint}")

    def text(self, name: str, default: str = "", *, needed_like: str | None = None) -> str:
        """A text; runs of white space become one space, so long texts may be broken anywhere.

        ``needed_like`` makes the field a must and is the example that the complaint shows.
        """
        value = self.values.get(name)
        if value is None:
            if needed_like is not None:
                self.missing(name, needed_like)
            return default
        if not isinstance(value, str):
            self.wrong(name, f"must be a text in quotes, not {shown(value)}")
            return default
        plain = " ".join(value.split())
        if not plain.isprintable():
            self.wrong(name, "holds a control character; write plain text")
            return default
        if not plain and (needed_like is not None or name in NEVER_EMPTY):
            self.wrong(name, f"is empty; write for example {needed_like or NEVER_EMPTY[name]}")
        return plain

    def number(self, name: str, low: float, high: float, unit: str = "") -> float | None:
        """A finite number from ``low`` to ``high``."""
        value = self.values.get(name)
        if value is None:
            return None
        good = isinstance(value, int | float) and not isinstance(value, bool) and math.isfinite(value)
        if not good or not low <= value <= high:
            self.wrong(name, f"must be a number from {low:g} to {high:g}{unit and ' ' + unit}, not {shown(value)}")
            return None
        return float(value)

    def whole(self, name: str, low: int, high: int) -> int | None:
        """A whole number from ``low`` to ``high``."""
        value = self.values.get(name)
        if value is None:
            return None
        if not is_whole(value) or not low <= value <= high:
            self.wrong(name, f"must be a whole number from {low} to {high}, not {shown(value)}")
            return None
        return int(value)

    def word(self, name: str, allowed: Iterable[str]) -> str | None:
        """One of the allowed words."""
        value = self.values.get(name)
        if value is None:
            return None
        words = tuple(allowed)
        if value not in words:
            self.wrong(name, f"must be {one_of(words)}, not {shown(value)}")
            return None
        return str(value)

    def flag(self, name: str, default: bool) -> bool:
        """true or false."""
        value = self.values.get(name, default)
        if not isinstance(value, bool):
            self.wrong(name, f"must be true or false, not {shown(value)}")
            return default
        return value

    def whole_list(self, name: str, low: int, high: int, example: str) -> tuple[int, ...] | None:
        """A list of whole numbers, each from ``low`` to ``high``, at least one."""
        value = self.values.get(name)
        if value is None:
            return None
        if not isinstance(value, list) or not value:
            self.wrong(name, f"must be a list of whole numbers such as {example}, not {shown(value)}")
            return None
        bad = [index for index, entry in enumerate(value) if not is_whole(entry) or not low <= entry <= high]
        for index in bad:
            self.report.add(
                (*self.place(name), index),
                f"'{name}' holds {shown(value[index])}; its entries are whole numbers from {low} to {high}",
            )
        return None if bad else tuple(value)


def is_whole(value: object) -> bool:
    """A TOML integer; TOML's true and false are none."""
    return isinstance(value, int) and not isinstance(value, bool)


def shown(value: object) -> str:
    """A value as the complaint quotes it: short, and never with odd characters."""
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return f"{value!r}" if len(value) <= 40 else f"{value[:37]!r}..."
    if isinstance(value, list):
        return "a list" if value else "an empty list"
    if isinstance(value, dict):
        return "a table"
    return str(value) if len(str(value)) <= 40 else "a very long number"


def one_of(words: Collection[str]) -> str:
    """The allowed words as a phrase."""
    return "one of " + ", ".join(f"'{word}'" for word in words)


def did_you_mean(word: str, allowed: Iterable[str]) -> str:
    """``did you mean 'tempo'?``, or nothing when no allowed word is like it."""
    near = get_close_matches(word.lower(), list(allowed), n=1, cutoff=_ALIKE)
    return f"did you mean '{near[0]}'?" if near else ""
