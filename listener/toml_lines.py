"""A TOML text read, and on which line of it each key, table and array element stands.

``tomllib`` tells lines for syntax errors only. The scanner reads a text that ``tomllib`` has *already accepted*
(TOML 1.0, https://toml.io/en/v1.0.0) and maps every path to its line, counted from 1. A path is made of keys and, for
the entries of arrays and of arrays of tables, of indices from 0: ``("passage", 0, "chords")``. It skips values
without reading them; only multi-line strings are followed closely, so that a fault inside one has its own line.
"""

from __future__ import annotations

import re
import tomllib
from bisect import bisect_right
from collections.abc import Mapping
from dataclasses import dataclass, field
from typing import Any, Final

Path = tuple[str | int, ...]

#: tomllib's complaints in the words of whoever writes a drill or settings; the rarer ones are passed on as they are.
_SYNTAX_WORDS: Final = {
    "Cannot overwrite a value": "this field was already written further up",
    "Invalid value": "a value is missing or cannot be read; a text needs quotes",
    "Invalid statement": "this is neither a field (name = value) nor a heading in brackets",
    "Expected '=' after a key in a key/value pair": "a field is written name = value",
    "Expected newline or end of document after a statement": "after a value a new line begins; a text needs quotes",
    "Expected ']' at the end of a table declaration": "a heading is not closed with ]",
    "Expected ']]' at the end of an array declaration": "a heading is not closed with ]]",
    "Illegal character '\\n'": "a text is not closed with a quote",
    "Unterminated string": "a text is not closed with a quote",
    "Unescaped '\\' in a string": "a backslash in a text is written twice",
    "Unclosed array": "a list is not closed with ]",
    "Unclosed inline table": "a table is not closed with }",
}

_SYNTAX_PLACE: Final = re.compile(r" \(at (?:line (\d+), column (\d+)|end of document)\)$")
_BLANK: Final = re.compile(r"(?:[ \t\n]|#[^\n]*)*")
_SPACES: Final = re.compile(r"[ \t]*")
_BARE_KEY: Final = re.compile(r"[A-Za-z0-9_-]+")
_PLAIN_VALUE: Final = re.compile(r"[^,\]}#\n]+")
_ESCAPE: Final = re.compile(r"\\(?:u([0-9A-Fa-f]{4})|U([0-9A-Fa-f]{8})|(.))")
_CONTINUED: Final = re.compile(r"\\[ \t]*\n[ \t\n]*")
_SHORT_ESCAPES: Final = {"b": "\b", "t": "\t", "n": "\n", "f": "\f", "r": "\r", '"': '"', "\\": "\\"}


class NotToml(Exception):
    """What is no TOML, and why. ``line`` counts from 1; it is 0 where the text as a whole is meant."""

    def __init__(self, why: str, line: int = 0) -> None:
        super().__init__(why)
        self.line = line


def utf8_text(data: bytes) -> str:
    """The text of a file; :class:`NotToml` when it is none."""
    try:
        return data.decode("utf-8-sig")
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise NotToml("is not UTF-8 text; save the file as UTF-8", line) from None


def toml_values(text: str) -> dict[str, Any]:
    """The values of the text; :class:`NotToml` when it has a fault."""
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError as error:
        place = _SYNTAX_PLACE.search(str(error))
        complaint = _SYNTAX_PLACE.sub("", str(error))
        line, where = text.count("\n") + 1, "at the end of the file"
        if place is not None and place[1]:
            line, where = int(place[1]), f"character {place[2]}"
        raise NotToml(f"cannot be read: {_SYNTAX_WORDS.get(complaint, complaint)} ({where})", line) from None
    except RecursionError:
        raise NotToml("cannot be read: it has lists inside lists without end") from None
    except ValueError:  # Python reads no number that has thousands of digits
        raise NotToml("cannot be read: it has a number far longer than anybody needs") from None


@dataclass(frozen=True)
class TomlLines:
    """Lines by path; ``inside`` holds, for each multi-line string, where in its value a new line of the file begins,
    as (index in the value, line) pairs in order."""

    lines: Mapping[Path, int]
    inside: Mapping[Path, tuple[tuple[int, int], ...]] = field(default_factory=dict)

    def line_of(self, *path: str | int) -> int:
        """The line of a path; for one that is not written, that of the nearest table around it (1 for the file)."""
        while path and path not in self.lines:
            path = path[:-1]
        return self.lines.get(path, 1)

    def line_in(self, path: Path, index: int) -> int:
        """The line on which character ``index`` of a string value stands."""
        starts = self.inside.get(path)
        if not starts:
            return self.line_of(*path)
        return starts[max(0, bisect_right(starts, index, key=lambda start: start[0]) - 1)][1]


def toml_lines(text: str) -> TomlLines:
    """Scan a text that ``tomllib.loads`` accepts; on other texts the result means nothing.

    >>> lines = toml_lines('title = "A"\\n[[passage]]\\nname = "B"\\ntop = [\\n  "3",\\n  "5",\\n]')
    >>> lines.line_of("passage", 0), lines.line_of("passage", 0, "top", 1)
    (2, 6)
    """
    scanner = _Scanner(text.replace("\r\n", "\n"))
    scanner.document()
    return TomlLines(scanner.lines, scanner.inside)


class _Scanner:
    """One pass from left to right. ``line`` is kept beside ``at`` by :meth:`advance`."""

    def __init__(self, text: str) -> None:
        self.text = text
        self.at = 0
        self.line = 1
        self.lines: dict[Path, int] = {}
        self.inside: dict[Path, tuple[tuple[int, int], ...]] = {}
        self.entries: dict[Path, int] = {}  # arrays of tables: how many entries so far

    def advance(self, to: int) -> str:
        passed = self.text[self.at : to]
        self.line += passed.count("\n")
        self.at = to
        return passed

    def skip(self, pattern: re.Pattern[str]) -> str:
        match = pattern.match(self.text, self.at)
        return self.advance(match.end()) if match else ""

    def next_is(self, token: str) -> bool:
        return self.text.startswith(token, self.at)

    def document(self) -> None:
        table: Path = ()
        self.skip(_BLANK)
        while self.at < len(self.text):
            if self.next_is("["):
                table = self.header()
            else:
                self.pair(table)
            self.skip(_BLANK)

    def header(self) -> Path:
        """``[a.b]`` or ``[[a.b]]``; gives the path of the table that the following pairs belong to."""
        line = self.line
        is_entry = self.next_is("[[")
        self.advance(self.at + (2 if is_entry else 1))
        *parents, last = self.dotted_key()
        self.advance(self.at + (2 if is_entry else 1))
        path: Path = ()
        for key in parents:
            path = self.newest((*path, key), line)
        path = (*path, last)
        if is_entry:
            index = self.entries.get(path, 0)
            self.entries[path] = index + 1
            self.lines.setdefault(path, line)
            path = (*path, index)
        self.lines[path] = line
        return path

    def newest(self, path: Path, line: int) -> Path:
        """A key inside a header: a table, or the newest entry of an array of tables."""
        self.lines.setdefault(path, line)
        return (*path, self.entries[path] - 1) if path in self.entries else path

    def pair(self, table: Path) -> None:
        line = self.line
        path = table
        for key in self.dotted_key():
            path = (*path, key)
            self.lines.setdefault(path, line)
        self.advance(self.at + 1)  # the equals sign
        self.skip(_SPACES)
        self.value(path)

    def dotted_key(self) -> list[str]:
        keys = []
        while True:
            self.skip(_SPACES)
            keys.append(self.string(()) if self.text[self.at] in "\"'" else self.skip(_BARE_KEY))
            self.skip(_SPACES)
            if not self.next_is("."):
                return keys
            self.advance(self.at + 1)

    def value(self, path: Path) -> None:
        first = self.text[self.at]
        if first in "\"'":
            self.string(path)
        elif first == "[":
            self.array(path)
        elif first == "{":
            self.inline_table(path)
        else:
            self.skip(_PLAIN_VALUE)

    def array(self, path: Path) -> None:
        self.advance(self.at + 1)
        self.skip(_BLANK)
        index = 0
        while not self.next_is("]"):
            self.lines[(*path, index)] = self.line
            self.value((*path, index))
            self.skip(_BLANK)
            if self.next_is(","):
                self.advance(self.at + 1)
                self.skip(_BLANK)
            index += 1
        self.advance(self.at + 1)

    def inline_table(self, path: Path) -> None:
        self.advance(self.at + 1)
        self.skip(_BLANK)
        while not self.next_is("}"):
            self.pair(path)
            self.skip(_BLANK)
            if self.next_is(","):
                self.advance(self.at + 1)
                self.skip(_BLANK)
        self.advance(self.at + 1)

    def string(self, path: Path) -> str:
        """Any of the four kinds of string; gives its value, and notes the lines inside a multi-line one."""
        quote = self.text[self.at]
        if self.next_is(quote * 3):
            return self.long_string(path, quote)
        end = self.at + 1
        while self.text[end] != quote:
            end += 2 if quote == '"' and self.text[end] == "\\" else 1
        raw = self.text[self.at + 1 : end]
        self.advance(end + 1)
        return _ESCAPE.sub(_unescape, raw) if quote == '"' else raw

    def long_string(self, path: Path, quote: str) -> str:
        self.advance(self.at + 3)
        if self.next_is("\n"):
            self.advance(self.at + 1)
        pieces: list[str] = []
        length = 0
        starts = [(0, self.line)]
        while True:
            line = self.line
            piece = self.long_piece(quote)
            if piece is None:
                break
            pieces.append(piece)
            length += len(piece)
            if self.line != line:
                starts.append((length, self.line))
        self.inside[path] = tuple(starts)
        return "".join(pieces)

    def long_piece(self, quote: str) -> str | None:
        """The next stretch of a multi-line string's value; None once its closing quotes are passed."""
        if self.next_is(quote * 3):
            closing = re.compile(f"{quote}{{3,5}}").match(self.text, self.at)
            assert closing is not None
            self.advance(closing.end())  # up to two quotes more belong to the value, at its very end
            return None
        if self.next_is("\\") and quote == '"':
            if self.skip(_CONTINUED):
                return ""
            return _ESCAPE.sub(_unescape, self.skip(_ESCAPE))
        end = self.at + 1
        if self.text[self.at] not in "\n'\"":
            end = _LONG_PLAIN[quote].match(self.text, self.at).end()  # type: ignore[union-attr]
        return self.advance(end)


_LONG_PLAIN: Final = {'"': re.compile(r'[^"\\\n]+'), "'": re.compile(r"[^'\n]+")}


def _unescape(match: re.Match[str]) -> str:
    code = match[1] or match[2]
    return chr(int(code, 16)) if code else _SHORT_ESCAPES[match[3]]
