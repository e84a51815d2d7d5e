"""Where the course and the reference tables lie: inside an installed package, or beside it in a checkout."""

from __future__ import annotations

import tomllib
from functools import cache
from pathlib import Path
from typing import Any

_HERE = Path(__file__).parent


def data_folder(name: str) -> Path:
    """The folder ``drills``, ``shared`` or ``docs``, the same content however the program was installed."""
    packed = _HERE / "_data" / name
    return packed if packed.is_dir() else _HERE.parent / name


@cache
def shared_table(name: str) -> dict[str, Any]:
    """One of the tables in ``shared/``, by its name without ``.toml``; read once."""
    with (data_folder("shared") / f"{name}.toml").open("rb") as file:
        return tomllib.load(file)
