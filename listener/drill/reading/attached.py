"""Files that travel inside a drill's text, so that the text alone is the whole drill.

A melody lies beside a drill file. What is kept in the history, or handed to somebody else, is the text only; so the
files that were read are written behind it as a last table, in base64 (RFC 4648)::

    [attached]
    "tune.mid" = "TVRoZAAAAAYAAQ..."
"""

from __future__ import annotations

import binascii
from base64 import b64decode, b64encode
from collections.abc import Mapping
from typing import Any, Final

from listener.drill.exercises.spots import Beside
from listener.drill.reading.fields import Problems
from listener.safe_text import toml_text

FIELD: Final = "attached"
#: Larger files stay where they are: the text of a drill must remain one that is quick to read.
MOST_BYTES: Final = 400_000


class RememberingReader:
    """Reads files beside a drill and remembers what was read."""

    def __init__(self, beside: Beside) -> None:
        self._beside = beside
        self.files: dict[str, bytes] = {}

    def __call__(self, name: str) -> bytes:
        data = self._beside(name)
        self.files[name] = data
        return data


def with_attached(text: str, files: Mapping[str, bytes]) -> str:
    """The text with the files behind it; unchanged when there are none or they are too large to travel."""
    if not files or sum(map(len, files.values())) > MOST_BYTES:
        return text
    rows = [f'{toml_text(name)} = "{b64encode(data).decode()}"' for name, data in sorted(files.items())]
    return "\n".join([text.rstrip("\n"), "", f"[{FIELD}]", *rows, ""])


def take_attached(values: dict[str, Any], report: Problems, beside: Beside | None) -> Beside | None:
    """Remove the table from the drill's values; what gives its files, and others as ``beside`` does.

    Entries that are no base64 text are reported.
    """
    table = values.pop(FIELD, None)
    if table is None:
        return beside
    if not isinstance(table, dict):
        report.add((FIELD,), f"'{FIELD}' must be a table of files, as the program writes it")
        return beside
    files: dict[str, bytes] = {}
    for name, text in table.items():
        try:
            files[name] = b64decode(text, validate=True)
        except (TypeError, ValueError, binascii.Error):
            report.add((FIELD, name), f"the attached file '{name}' is damaged: its text is not base64")

    def read(name: str) -> bytes:
        if name in files:
            return files[name]
        if beside is None:
            raise OSError(0, "there is no such file in this drill")
        return beside(name)

    return read
