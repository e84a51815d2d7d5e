"""Records that somebody else wrote (drill files, settings, bundles, headers of takes), read field by field.

A *kind* says what a value may be: it is a function that gives the value back, or raises :class:`Misfit` with what the
value must be. What a number, a text or a list is stands here and nowhere else: true and false are no numbers, what is
not finite lies in no bounds, and whoever reads a text or a list from strangers says how long it may be.

A :class:`Record` reads its fields as such kinds, be it a table of TOML or an object of JSON. What comes of a fault
hangs on who wrote it. What people write is :class:`Written`: every fault is kept with its line, and reading goes on.
What programs write is :class:`Strict`: the first fault ends it, for the file is damaged or a trap. Fields that nobody
asks for are passed over, unless the reader looks for the :meth:`Record.unknown` ones.
"""

from __future__ import annotations

from abc import ABC, abstractmethod
from collections.abc import Callable, Collection, Iterable, Mapping
from difflib import get_close_matches
from typing import Any, Final, NoReturn, Protocol, TypeGuard, TypeVar

from listener.safe_text import CUT, LONGEST_ECHO
from listener.toml_lines import Path

Made = TypeVar("Made")
Usual = TypeVar("Usual")
#: Reads a value as what it must be; :class:`Misfit` when it is something else.
Kind = Callable[[Any], Made]

#: How alike two words must be for "did you mean" (difflib's ratio; our own choice).
_ALIKE: Final = 0.6
_MISSING: Final = object()
#: Bits of a whole number that is still quoted (our own choice).
_LONGEST_NUMBER: Final = 128


class Misfit(Exception):
    """A value is not of its kind. The text says what it must be: "a whole number from 0 to 36"."""


def is_whole(value: object) -> TypeGuard[int]:
    """A whole number as it is written; true and false are none, nor is 1.0."""
    return isinstance(value, int) and not isinstance(value, bool)


def whole(low: int, high: int) -> Kind[int]:
    """A whole number, both bounds included."""

    def read(value: Any) -> int:
        if is_whole(value) and low <= value <= high:
            return value
        raise Misfit(f"a whole number from {low} to {high}")

    return read


def number(low: float, high: float, unit: str = "") -> Kind[float]:
    """A number, both bounds included; whole ones stay as they are written. ``unit`` is for the words alone."""

    def read(value: Any) -> float:
        # Compared as it is: a whole number may be too long for a float, and what is not a number is in no bounds.
        if isinstance(value, int | float) and not isinstance(value, bool) and low <= value <= high:
            return value
        raise Misfit(f"a number from {low:g} to {high:g}{unit and ' ' + unit}")

    return read


def real(low: float, high: float, unit: str = "") -> Kind[float]:
    """The same as a float."""
    as_written = number(low, high, unit)
    return lambda value: float(as_written(value))


def flag(value: Any) -> bool:
    """True or false; 0 and 1 are neither."""
    if isinstance(value, bool):
        return value
    raise Misfit("true or false")


def text(longest: int | None = None, shortest: int = 0) -> Kind[str]:
    """A text of so many characters; of any number where the file itself has a bound."""

    def read(value: Any) -> str:
        if isinstance(value, str) and shortest <= len(value) and (longest is None or len(value) <= longest):
            return value
        raise Misfit("a text in quotes" if longest is None else f"a text of {shortest} to {longest} characters")

    return read


def _plain_words(words: Collection[str]) -> str:
    """``one of click, own pace``."""
    return f"one of {', '.join(words)}"


def choice(words: Collection[str], phrase: Callable[[Collection[str]], str] = _plain_words) -> Kind[str]:
    """One of the words; ``phrase`` says so where another is given."""

    def read(value: Any) -> str:
        if isinstance(value, str) and value in words:
            return value
        raise Misfit(phrase(words))

    return read


def listed(kind: Kind[Made], most: int) -> Kind[tuple[Made, ...]]:
    """A list of so many entries at most, each of the same kind."""
    entries = any_list(most)
    return lambda value: tuple(map(kind, entries(value)))


def any_list(most: int, least: int = 0) -> Kind[list[Any]]:
    """A list of so many entries, whatever they are. Where there must be some, the words are the reader's to choose."""

    def read(value: Any) -> list[Any]:
        if isinstance(value, list) and least <= len(value) <= most:
            return value
        raise Misfit(f"a list of up to {most:,} entries")

    return read


def any_table(value: Any) -> dict[str, Any]:
    """A table of any fields."""
    if isinstance(value, dict):
        return value
    raise Misfit("a table, written {...}")


def or_null(kind: Kind[Made]) -> Kind[Made | None]:
    """The same, or null, which JSON has where there is nothing to say."""
    return lambda value: None if value is None else kind(value)


def said(kind: Kind[Made], words: str) -> Kind[Made]:
    """The same kind; what it must be is said in these words."""

    def read(value: Any) -> Made:
        try:
            return kind(value)
        except Misfit:
            raise Misfit(words) from None

    return read


def fits(kind: Kind[Made], value: object) -> bool:
    """Whether the value is of the kind."""
    try:
        kind(value)
    except Misfit:
        return False
    return True


class Record(ABC):
    """One table or object: its ``values``, and the ``path`` of names and indices that leads to it in its file."""

    def __init__(self, values: Mapping[str, Any], path: Path = ()) -> None:
        self.values = values
        self.path = path

    @abstractmethod
    def misfit(self, name: str, wanted: str) -> None:
        """The field is not what it must be."""

    def has(self, name: str) -> bool:
        """Whether the field is there, right or wrong."""
        return name in self.values

    def place(self, name: str) -> Path:
        """Where a field stands in the file."""
        return (*self.path, name)

    def read(self, name: str, kind: Kind[Made], usual: Usual) -> Made | Usual:
        """The field, read as its kind; ``usual`` when it is missing, or wrong and the fault is kept."""
        value = self.values.get(name, _MISSING)
        if value is _MISSING:
            return usual
        try:
            return kind(value)
        except Misfit as misfit:
            self.misfit(name, str(misfit))
        return usual

    def unknown(self, known: Collection[str]) -> list[str]:
        """The fields that are none of the known ones, in the order of the file."""
        return [name for name in self.values if name not in known]


class Strict(Record):
    """A record of a program, read to its first fault."""

    @abstractmethod
    def refusal(self, name: str, wanted: str) -> Exception:
        """What is raised for a field that is not what it must be."""

    def misfit(self, name: str, wanted: str) -> NoReturn:
        """Refuse the field."""
        raise self.refusal(name, wanted) from None

    def need(self, name: str, kind: Kind[Made]) -> Made:
        """The field, read as its kind; one that is missing is read as null."""
        try:
            return kind(self.values.get(name))
        except Misfit as misfit:
            raise self.refusal(name, str(misfit)) from None


class Faults(Protocol):
    """Keeps faults with their places."""

    def add(self, path: Path, text: str) -> None:
        """Something is wrong with the field (or table) at ``path``."""
        ...


class Written(Record):
    """A table that somebody wrote. Every fault goes to ``faults``, and reading goes on."""

    def __init__(self, values: Mapping[str, Any], path: Path, faults: Faults) -> None:
        super().__init__(values, path)
        self.faults = faults

    def wrong(self, name: str, text: str) -> None:
        """Complain about a field; ``text`` goes on after the field's name."""
        self.faults.add(self.place(name), f"'{name}' {text}")

    def misfit(self, name: str, wanted: str) -> None:
        """Complain that a field is not what it must be, and quote what it is."""
        self.wrong(name, f"must be {wanted}, not {shown(self.values[name])}")


def shown(value: object) -> str:
    """A value as a complaint quotes it: short, and never with odd characters.

    >>> print(shown("many"), shown(True), shown([1, 2]))
    'many' true a list
    """
    if isinstance(value, bool):
        return "true" if value else "false"
    if isinstance(value, str):
        return repr(value) if len(value) <= LONGEST_ECHO else f"{value[: LONGEST_ECHO - len(CUT)]!r}{CUT}"
    if isinstance(value, list):
        return "a list" if value else "an empty list"
    if isinstance(value, dict):
        return "a table"
    if is_whole(value) and value.bit_length() > _LONGEST_NUMBER:
        return "a very long number"
    return str(value)


def did_you_mean(word: str, allowed: Iterable[str]) -> str:
    """``did you mean 'tempo'?``, or nothing when no allowed word is like it."""
    near = get_close_matches(word.lower(), list(allowed), n=1, cutoff=_ALIKE)
    return f"did you mean '{near[0]}'?" if near else ""
