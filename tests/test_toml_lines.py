"""Every key of a valid TOML text gets its line."""

from __future__ import annotations

import re
import tomllib
from collections.abc import Iterator
from pathlib import Path as FilePath
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.toml_lines import NotToml, Path, toml_lines, toml_values, utf8_text

# Documents are generated so that every number in them is the number of the line it stands on. Whoever reads the value
# with tomllib then knows the right line of its path, without any scanner.


class _Writer:
    """Writes a document and knows on which line it is."""

    def __init__(self, draw: Any) -> None:
        self.draw = draw
        self.text = ""
        self.names = 0

    @property
    def line(self) -> int:
        return self.text.count("\n") + 1

    def put(self, piece: str) -> None:
        self.text += piece

    def pick(self, *choices: str) -> str:
        return str(self.draw(st.sampled_from(choices)))

    def number(self, most: int) -> int:
        return int(self.draw(st.integers(0, most)))

    def key(self) -> str:
        self.names += 1
        name = self.pick("a", "b-c", "x_9", "7")
        return self.pick(
            f"{name}{self.names}",
            f'"{name} {self.names}"',
            f"'{name}.{self.names}'",
            f'"{name}\\"[#]\\u00e9 {self.names}"',
            f"'\\{self.names}'",
        )

    def dotted(self) -> str:
        dot = self.pick(".", " . ", ".\t")
        return dot.join(self.key() for _ in range(1 + self.number(2)))

    def gap(self) -> None:
        for _ in range(self.number(2)):
            self.put(self.pick(" ", "\n", "# [no] = {header}\n", ' # it\'s "fine"\n', "\r\n", "\t"))

    def string(self, *, one_line: bool) -> None:
        plain = self.pick('"[a]#b"', "'c\\'", '"d\\"e"', '""', "''", '"\\\\"', "'''f'''", '"""g""h"""', '"""i"""""')
        long = self.pick(
            '"""\na = 1\n[b]\n"""',
            "'''x\n\\\n''y'''",
            '"""k \\\n   \n  l \\""" m\n"""',
            '"""\r\nn\\\\\r\n"""',
            "'''\n[[z]]'''''",
        )
        self.put(plain if one_line or self.number(1) else long)

    def value(self, depth: int, *, one_line: bool = False) -> None:
        kind = self.pick("line", "line", "text", "other", *(["array", "inline"] if depth else []))
        if kind == "line":
            self.put(str(self.line))
        elif kind == "text":
            self.string(one_line=one_line)
        elif kind == "other":
            self.put(self.pick("true", "-1.5e3", "1979-05-27 07:32:00Z", "07:32:00", "inf"))
        elif kind == "array":
            self.array(depth, one_line=one_line)
        else:
            self.inline(depth)

    def array(self, depth: int, *, one_line: bool) -> None:
        self.put("[")
        count = self.number(3)
        for index in range(count):
            if not one_line:
                self.gap()
            self.value(depth - 1, one_line=one_line)
            if not one_line:
                self.gap()
            if index < count - 1 or self.number(1):
                self.put(",")
        if not one_line:
            self.gap()
        self.put("]")

    def inline(self, depth: int) -> None:
        self.put("{ ")
        for index in range(self.number(2)):
            self.put(", " if index else "")
            self.put(self.dotted() + self.pick("=", " = "))
            self.value(depth - 1, one_line=True)
        self.put(" }")

    def pairs(self) -> None:
        for _ in range(self.number(3)):
            self.put(self.pick("", "  ", "\t") + self.dotted() + self.pick("=", " = ", "\t="))
            self.value(2)
            self.put(self.pick("\n", " # end\n", "\r\n", "\n\n"))
            if self.number(3) == 0:
                self.put("# a = 1\n")


@st.composite
def documents(draw: Any) -> str:
    """A valid TOML text in which every number is its own line."""
    writer = _Writer(draw)
    writer.pairs()
    entries: list[str] = []
    for _ in range(writer.number(4)):
        kind = writer.pick("table", "entry", "again", "below")
        if kind == "table" or (kind != "entry" and not entries):
            writer.put(f"[{writer.dotted()}]\n")
        elif kind == "entry":
            entries.append(writer.dotted())
            writer.put(f"[[{entries[-1]}]] # one\n")
        elif kind == "again":
            writer.put(f"  [[ {draw(st.sampled_from(entries))} ]]\n")
        else:
            writer.put(f"[{draw(st.sampled_from(entries))}.{writer.dotted()}]\n")
        writer.pairs()
    return writer.text


def _paths(value: Any, path: Path = ()) -> Iterator[tuple[Path, Any]]:
    """Every path of a value that tomllib read, with what stands there."""
    if path:
        yield path, value
    if isinstance(value, dict):
        for key, inner in value.items():
            yield from _paths(inner, (*path, key))
    elif isinstance(value, list):
        for index, inner in enumerate(value):
            yield from _paths(inner, (*path, index))


@given(documents())
def test_every_path_that_tomllib_reads_has_its_line(text: str) -> None:
    """The scanner finds exactly tomllib's paths, and every number (being its own line) stands on its path's line."""
    found = dict(_paths(tomllib.loads(text)))
    lines = toml_lines(text)
    assert set(lines.lines) == set(found)
    for path, value in found.items():
        if isinstance(value, int) and not isinstance(value, bool):
            assert lines.line_of(*path) == value


@given(st.lists(st.sampled_from(["a", "b |", "\\\n", "\\n", "\\u0041", "\n", '"', "  ", "\\\\", "é"]), max_size=12))
def test_characters_of_a_long_string_have_their_lines(pieces: list[str]) -> None:
    """Each unique marker inside a multi-line string is found on the line where it was written."""
    body = "".join(f"{piece}<{index}>" for index, piece in enumerate(pieces))
    text = f'# first\nkey = """\n{body}"""\n'
    value = tomllib.loads(text)["key"]
    lines = toml_lines(text)
    for index in range(len(pieces)):
        marker = f"<{index}>"
        written_on = text[: text.index(marker)].count("\n") + 1
        assert lines.line_in(("key",), value.index(marker)) == written_on


def test_a_drill_like_text() -> None:
    """Keys, passages and list entries of an ordinary drill, lines counted by hand."""
    text = """\
title = "Quiet harbour"   # line 1

[weights]
movement = 2.0

[[passage]]
name = "one"
top = [
  "3",   # nine
  "5", "1",
]
[[passage]]
name = 'two'
"""
    lines = toml_lines(text)
    expected: dict[Path, int] = {
        ("title",): 1,
        ("weights",): 3,
        ("weights", "movement"): 4,
        ("passage",): 6,
        ("passage", 0): 6,
        ("passage", 0, "name"): 7,
        ("passage", 0, "top"): 8,
        ("passage", 0, "top", 0): 9,
        ("passage", 0, "top", 1): 10,
        ("passage", 0, "top", 2): 10,
        ("passage", 1): 12,
        ("passage", 1, "name"): 13,
    }
    assert lines.lines == expected


def test_what_is_not_written_gets_the_line_of_its_table() -> None:
    """A missing field is reported where its table begins, in an empty file on line 1."""
    lines = toml_lines("\n\n[[passage]]\nname = 'x'\n")
    assert lines.line_of("passage", 0, "chords") == 3
    assert lines.line_of("title") == 1
    assert toml_lines("").line_of("title") == 1


def _published_documents() -> list[FilePath]:
    """The valid documents of CPython's own TOML tests, where the interpreter carries them."""
    package = pytest.importorskip("test.test_tomllib", reason="this Python was installed without its own tests")
    return sorted((FilePath(package.__file__).parent / "data" / "valid").rglob("*.toml"))


def test_published_valid_documents() -> None:
    """Source: the valid documents of CPython's Lib/test/test_tomllib: the scanner finds exactly tomllib's paths."""
    files = _published_documents()
    assert files
    for file in files:
        text = file.read_bytes().decode()
        assert set(toml_lines(text).lines) == {path for path, _ in _paths(tomllib.loads(text))}, file.name


@pytest.mark.parametrize(
    ("text", "why", "line"),
    [
        ("a = 1\nb", "a field is written name = value (at the end of the file)", 2),
        ('a = 1\nb = "x\n', "a text is not closed with a quote (character 7)", 2),
        ("a = [1", "a list is not closed with ] (at the end of the file)", 1),
        ("a = 1\na = 2\n", "this field was already written further up (character 6)", 2),
        ("a = 1 2", "after a value a new line begins; a text needs quotes (character 7)", 1),
        ("a = 1\nb = " + "[" * 5000 + "]" * 5000, "it has lists inside lists without end", 0),
        ("a = 1\nb = " + "9" * 5000, "it has a number far longer than anybody needs", 0),
    ],
)
def test_what_is_no_toml(text: str, why: str, line: int) -> None:
    """In words for whoever wrote it, with the place; 0 for the text as a whole."""
    with pytest.raises(NotToml) as caught:
        toml_values(text)
    assert (str(caught.value), caught.value.line) == (f"cannot be read: {why}", line)


@given(st.text(st.sampled_from("ab=[]{}'\"\\#.,1 \n\t"), max_size=30))
def test_the_same_texts_are_toml(text: str) -> None:
    """What tomllib takes is taken, with its values; what it does not take is told with a place inside the text."""
    try:
        values = tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        with pytest.raises(NotToml) as caught:
            toml_values(text)
        assert 1 <= caught.value.line <= text.count("\n") + 1
        assert re.fullmatch(r"cannot be read: .+ \((character [1-9]\d*|at the end of the file)\)", str(caught.value))
        assert "(at line" not in str(caught.value)
    else:
        assert toml_values(text) == values


@given(st.text(max_size=30), st.binary(max_size=5))
def test_bytes_that_are_a_text(text: str, more: bytes) -> None:
    """A text comes back, with or without a byte order mark; what is none is told with its line."""
    assert utf8_text(text.encode()) == text.removeprefix("\ufeff")
    assert utf8_text(text.encode("utf-8-sig")) == text
    lines = text.count("\n")
    with pytest.raises(NotToml, match="UTF-8") as caught:
        utf8_text(text.encode() + b"\xff" + more)
    assert caught.value.line == lines + 1
