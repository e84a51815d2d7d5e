"""Tables for a spreadsheet: CSV as RFC 4180 has it, with nothing in it that a spreadsheet would run."""

from __future__ import annotations

import csv
from collections.abc import Iterable, Sequence
from io import StringIO
from typing import Final

#: Spreadsheets take a text that begins so for a formula; a drill's name can come from somebody else.
_FORMULA: Final = ("=", "+", "-", "@", "\t", "\r")


def csv_table(head: Sequence[str], rows: Iterable[Sequence[object]]) -> str:
    """The table; text that begins like a formula gets an apostrophe in front."""
    text = StringIO(newline="")
    writer = csv.writer(text)  # commas, quotes where needed, CR LF
    writer.writerow(head)
    writer.writerows([safe_cell(cell) for cell in row] for row in rows)
    return text.getvalue()


def safe_cell(cell: object) -> object:
    """A text that no spreadsheet runs; anything else as it is."""
    return f"'{cell}" if isinstance(cell, str) and cell.startswith(_FORMULA) else cell
