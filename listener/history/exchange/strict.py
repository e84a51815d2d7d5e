"""JSON from strangers: read whole or refused, every value of the type and within the bounds that its reader names.

Refused are: bytes that are not UTF-8, numbers that are not finite or longer than any computer needs, the same field
twice, and nesting without end. Characters that steer a terminal or turn the direction of writing are taken out of every
text. Errors are :class:`listener.errors.SourceError`; ``where`` names file and entry in them.
"""

from __future__ import annotations

import json
import math
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from typing import Any, Final, NoReturn, Self, TypeVar

from listener.errors import SourceError
from listener.records import Kind, Misfit, Strict, any_list, any_table, listed, said, text
from listener.safe_text import clean
from listener.toml_lines import Path

#: Lists and tables inside each other; a bundle needs six.
_DEEPEST: Final = 12
#: Characters of a text where its reader names no other bound.
LONGEST: Final = 2_000
_LONGEST_NUMBER: Final = 40  # characters

_Made = TypeVar("_Made")


def read_json(data: bytes, where: str) -> dict[str, Any]:
    """The table that the bytes hold, its texts cleaned."""
    try:
        text = data.decode("utf-8-sig")
    except UnicodeDecodeError:
        raise SourceError(f"{where} is not UTF-8 text; is the file damaged?") from None
    try:
        value = json.loads(
            text,
            parse_constant=lambda name: _refuse(f"{name} is not a number"),
            parse_float=_real,
            parse_int=_whole,
            object_pairs_hook=_table,
        )
    except json.JSONDecodeError as error:
        raise SourceError(
            f"{where} is not JSON (line {error.lineno}: {error.msg.lower()}); is the file damaged?"
        ) from None
    except RecursionError:
        raise SourceError(f"{where} is nested without end; is the file damaged?") from None
    except _Refused as error:
        raise SourceError(f"{where}: {error}; is the file damaged?") from None
    if not isinstance(value, dict):
        raise SourceError(f"{where} must hold a table, written {{...}}; is the file damaged?")
    found: dict[str, Any] = _cleaned(value, where, 0)
    return found


class _Refused(ValueError):
    """Becomes a SourceError with its place."""


def _refuse(why: str) -> NoReturn:
    raise _Refused(why)


def _real(text: str) -> float:
    value = float(text)
    if not math.isfinite(value):
        _refuse(f"the number {text[:20]} is beyond all bounds")
    return value


def _whole(text: str) -> int:
    if len(text) > _LONGEST_NUMBER:
        _refuse(f"the number {text[:20]}... has {len(text)} digits")
    return int(text)


def _table(pairs: list[tuple[str, Any]]) -> dict[str, Any]:
    found = dict(pairs)
    if len(found) != len(pairs):
        _refuse("the same field stands there twice")
    return found


def _cleaned(value: Any, where: str, depth: int) -> Any:
    if isinstance(value, str):
        return clean(value)
    if not isinstance(value, dict | list):
        return value
    if depth > _DEEPEST:
        raise SourceError(f"{where} is nested deeper than {_DEEPEST} levels; is the file damaged?")
    if isinstance(value, list):
        return [_cleaned(one, where, depth + 1) for one in value]
    return {clean(name): _cleaned(one, where, depth + 1) for name, one in value.items()}


class Fields(Strict):
    """Reads a table field by field, to the first fault. ``where`` says whose fields they are."""

    #: Of dates, both included. A clock that was never set begins in 1970, and in the year before it west of Greenwich.
    YEARS = (1969, 2999)

    def __init__(self, row: object, where: str, path: Path = ()) -> None:
        self._file = where
        try:
            super().__init__(any_table(row), path)
        except Misfit as misfit:
            raise SourceError(f"{where}{_in_words(path)} must be {misfit}; is the file damaged?") from None

    @property
    def where(self) -> str:
        """The file and the place in it, in words."""
        return f"{self._file}{_in_words(self.path)}"

    def refusal(self, name: str, wanted: str) -> SourceError:
        """One line that says where, and what it must be."""
        return SourceError(f"{self.where}: '{name}' must be {wanted}; is the file damaged?")

    def text(self, name: str, longest: int = LONGEST, *, needed: bool = False) -> str:
        """A text, empty when it is not there."""
        if needed:
            return self.need(name, text(longest, 1))
        return self.read(name, text(longest), "")

    def moment(self, name: str) -> datetime:
        """A date and time with its zone, in UTC."""
        return self.need(name, _moment(*self.YEARS))

    def rows(self, name: str, most: int) -> Iterator[Self]:
        """A list of tables."""
        for index, row in enumerate(self.entries(name, most)):
            yield type(self)(row, self._file, (*self.path, name, index))

    def part(self, name: str, make: Callable[[Self], _Made]) -> _Made | None:
        """A table of its own, or null."""
        row = self.values.get(name)
        return None if row is None else make(type(self)(row, self._file, self.place(name)))

    def entries(self, name: str, most: int) -> list[Any]:
        """A list of anything; empty when it is not there."""
        return self.read(name, any_list(most), [])


def texts(longest: int, most: int) -> Kind[tuple[str, ...]]:
    """A list of so many texts at most."""
    return listed(said(text(longest), f"a list of texts of up to {longest} characters"), most)


def _moment(first: int, last: int) -> Kind[datetime]:
    """A date and time with its zone, of these years, in UTC."""

    def read(value: Any) -> datetime:
        try:
            moment = datetime.fromisoformat(value)
        except (TypeError, ValueError, OverflowError):
            moment = None
        if moment is None or moment.tzinfo is None or not first <= moment.year <= last:
            raise Misfit("a date and time with its zone, such as 2031-05-06T07:08:09+00:00")
        return moment.astimezone(UTC)

    return read


def _in_words(path: Path) -> str:
    """A place as people count: ``, takes 3, faults 1``."""
    return "".join(f" {step + 1}" if isinstance(step, int) else f", {step}" for step in path)
