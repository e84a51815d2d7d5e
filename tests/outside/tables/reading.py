"""Tables of other people's facts; SOURCES.md beside this says where each comes from."""

from __future__ import annotations

import csv
from pathlib import Path

TABLES = Path(__file__).parent


def table_rows(name: str) -> list[dict[str, str]]:
    """The rows of a table, by the names of its columns."""
    with (TABLES / name).open(encoding="utf-8", newline="") as file:
        rows = list(csv.DictReader(file))
    assert rows
    return rows
