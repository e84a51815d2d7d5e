"""A bundle's file read and checked, whole: what comes out can be kept and shown without further care."""

from __future__ import annotations

import hashlib
from collections.abc import Iterator
from typing import Any, Final

from listener.drill.drill_file import read_drill
from listener.errors import DrillError, SourceError, WidehandError
from listener.formats import unheaded
from listener.hearing.take_file import TakeHeader, read_take
from listener.history.exchange.archive import is_entry, read_archive
from listener.history.exchange.bundle import (
    FORMAT,
    INDEX,
    LONGEST_NAME,
    LONGEST_TAKE_S,
    MOST_DRILLS,
    MOST_TAKES,
    VERSION,
    Bundle,
    BundledDrill,
)
from listener.history.exchange.describing import check_header, take_from
from listener.history.exchange.strict import Fields, read_json
from listener.history.safekeeping.plan_check import check_plan
from listener.records import flag, whole
from listener.safe_text import echo, has_hidden
from listener.toml_lines import NotToml, toml_values

_DIGEST: Final = 64
_LONGEST_MARK: Final = 200
#: Characters that lay out a TOML text and are no danger there.
_LAYOUT: Final = "\n\t\r"


def unpack(data: bytes, name: str) -> Bundle:
    """What the file holds; ``name`` is what errors call it. :class:`SourceError`, one line, when it is refused."""
    reader = _Reader(read_archive(data, name), name)
    try:
        bundle = reader.bundle()
    except SourceError:
        raise
    except DrillError as error:
        raise SourceError(f"{error.name}: {error.problems[0]}; have it made again") from None
    except WidehandError as error:
        raise SourceError(f"{name}: {' '.join(str(error).split())}; have it made again") from None
    return bundle


class _Reader:
    """Entries by name; each is read once, and all of them must be read."""

    def __init__(self, entries: dict[str, bytes], name: str) -> None:
        self.entries = entries
        self.name = name
        self.left = set(entries)

    def bundle(self) -> Bundle:
        """Everything, in the order in which one thing needs another."""
        index = Fields(read_json(self._entry(INDEX), f"{self.name}, {INDEX}"), f"{self.name}, {INDEX}")
        if index.values.get("format") != FORMAT:
            index.misfit("format", f"'{FORMAT}'")
        version = index.need("version", whole(1, 2**31))
        if version > VERSION:
            raise SourceError(
                f"{self.name} is a bundle of version {version}, this program reads up to {VERSION}; update Widehand"
            )
        texts = dict(self._drills(index))
        routes = dict(self._routes(index, {file: drill.text for file, drill in texts.items()}))
        bundle = Bundle(
            student=index.text("student", LONGEST_NAME),
            made_by=index.text("made_by", 60),
            drills=tuple(texts.values()),
            takes=tuple(self._take(row, routes) for row in index.rows("takes", MOST_TAKES)),
        )
        if self.left:
            raise SourceError(f"{self.name}: the entry '{min(self.left)}' is not in the index; have it made again")
        if len({take.identity for take in bundle.takes}) != len(bundle.takes):
            raise SourceError(f"{self.name} has the same take twice; have it made again")
        return bundle

    def _entry(self, file: str) -> bytes:
        if file not in self.left:
            known = "is named twice" if file in self.entries else "is not there"
            raise SourceError(f"{self.name}: the entry '{echo(file, 60)}' {known}; have it made again")
        self.left.remove(file)
        return self.entries[file]

    def _named(self, row: Fields, field: str, folder: str, ending: str) -> str:
        file = row.text(field, 120)
        if not (is_entry(file) and file.startswith(folder) and file.endswith(ending)):
            row.misfit(field, f"an entry such as {folder}/mill-verse{ending}")
        return file

    def _drills(self, index: Fields) -> Iterator[tuple[str, BundledDrill]]:
        for row in index.rows("drills", MOST_DRILLS):
            file = self._named(row, "file", "drills", ".toml")
            data = self._entry(file)
            self._check_digest(row, file, data)
            drill = BundledDrill(
                row.text("name", LONGEST_NAME, needed=True),
                drill_text_from(data, f"{self.name}, {file}"),
                row.read("to_practise", flag, False),
            )
            if drill.to_practise:
                read_drill(drill.text, f"{self.name}, {file}")
            yield file, drill

    def _routes(self, index: Fields, texts: dict[str, str]) -> Iterator[tuple[str, tuple[str, dict[str, Any]]]]:
        for row in index.rows("routes", MOST_TAKES):
            file = self._named(row, "plan", "routes", ".json")
            drill = row.text("drill", 120) if row.values.get("drill") is not None else None
            if drill is not None and drill not in texts:
                row.misfit("drill", "one of the bundle's drills, or null")
            plan = unheaded(read_json(self._entry(file), f"{self.name}, {file}"))
            check_plan(Fields(plan, f"{self.name}, {file}"))
            yield file, (texts[drill] if drill is not None else "", plan)

    def _take(self, row: Fields, routes: dict[str, tuple[str, dict[str, Any]]]) -> Any:
        file = self._named(row, "midi", "takes", ".mid")
        about = self._named(row, "about", "takes", ".json")
        route = row.text("route", 120)
        if route not in routes:
            row.misfit("route", "one of the bundle's routes")
        midi = self._entry(file)
        self._check_digest(row, file, midi)
        header = checked_midi(midi, f"{self.name}, {file}")
        where = f"{self.name}, {about}"
        return take_from(Fields(read_json(self._entry(about), where), where), midi, header, *routes[route])

    def _check_digest(self, row: Fields, file: str, data: bytes) -> None:
        if row.text("sha256", _DIGEST) != hashlib.sha256(data).hexdigest():
            raise SourceError(f"{self.name}: the entry '{file}' is not what the index says; have it made again")


def checked_midi(data: bytes, where: str) -> TakeHeader | None:
    """The header of a raw take, when it has one; everything in it read, and within bounds."""
    try:
        take = read_take(data, where)
    except (ArithmeticError, LookupError, TypeError, ValueError, RecursionError):
        raise SourceError(f"{where} is a take, but its header is damaged; have it made again") from None
    moments = [*(message.time_s for message in take.messages), *(mark.time_s for mark in take.marks)]
    if max(moments, default=0.0) > LONGEST_TAKE_S:
        raise SourceError(f"{where} lasts longer than a day, which no take does; have it made again")
    for mark in take.marks:
        if len(mark.word) > _LONGEST_MARK or has_hidden(mark.word):
            raise SourceError(f"{where} has a marker that no take has; have it made again")
    return None if take.header is None else check_header(take.header, where)


def drill_text_from(data: bytes, where: str) -> str:
    """A drill's text that shows what it says: no characters in it that steer a terminal, written out or escaped."""
    try:
        text = data.decode()
    except UnicodeDecodeError:
        raise SourceError(f"{where} is not UTF-8 text; have it made again") from None
    try:
        values = toml_values(text)
    except NotToml:
        raise SourceError(f"{where} is not TOML; have it made again") from None
    if any(has_hidden(one, _LAYOUT) for one in (text, *_texts(values))):
        raise SourceError(f"{where} has control characters in a text; have it made again")
    return text


def _texts(values: dict[str, Any]) -> Iterator[str]:
    """Every name and text in the values, however deep."""
    waiting: list[Any] = [values]
    while waiting:
        one = waiting.pop()
        if isinstance(one, str):
            yield one
        elif isinstance(one, dict):
            waiting += [*one.keys(), *one.values()]
        elif isinstance(one, list):
            waiting += one
