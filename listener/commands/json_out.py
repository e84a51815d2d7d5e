"""``--json``: one document on standard output, which says what it is."""

from __future__ import annotations

import json
from collections.abc import Mapping
from typing import IO, Any

from listener.formats import headed


def print_json(name: str, fields: Mapping[str, Any], *, indent: int | None = None, file: IO[str] | None = None) -> None:
    """Print the document of that name (:mod:`listener.formats`)."""
    print(json.dumps(headed(name, fields), indent=indent), file=file)
