"""The JSON Schemas of the documents in :mod:`listener.formats` (draft 2020-12, json-schema.org).

They lie in ``shared/schemas``, a file for each document, and ``parts.json`` for what several of them hold.
"""

from __future__ import annotations

import json
from functools import cache
from pathlib import Path
from typing import Any, Final

from listener.data import data_folder

_PARTS: Final = "parts"
_POINTER: Final = "#/$defs/"


def schema_names() -> tuple[str, ...]:
    """Every document that has one, by the alphabet."""
    return tuple(sorted(path.stem for path in _folder().glob("*.json") if path.stem != _PARTS))


def whole_schema(name: str) -> dict[str, Any]:
    """The schema of one document, with all that it refers to in itself."""
    schema: dict[str, Any] = _inside(_read(name))
    parts: dict[str, Any] = _inside(_read(_PARTS))["$defs"]
    own = schema.setdefault("$defs", {})
    waiting = _referred(schema)
    while waiting:
        part = waiting.pop()
        if part not in own:
            own[part] = parts[part]
            waiting |= _referred(parts[part])
    if not own:
        del schema["$defs"]
    return schema


def _folder() -> Path:
    return data_folder("shared") / "schemas"


@cache
def _read(name: str) -> Any:
    return json.loads((_folder() / f"{name}.json").read_text(encoding="utf-8"))


def _inside(node: Any) -> Any:
    """A copy in which what lies in the parts lies in the same document."""
    if isinstance(node, dict):
        found = {key: _inside(value) for key, value in node.items()}
        if isinstance(found.get("$ref"), str):
            found["$ref"] = found["$ref"].removeprefix(f"{_PARTS}.json")
        return found
    return [_inside(value) for value in node] if isinstance(node, list) else node


def _referred(node: Any) -> set[str]:
    """The names of the definitions that a schema points to."""
    if isinstance(node, dict):
        here = {node["$ref"].removeprefix(_POINTER)} if isinstance(node.get("$ref"), str) else set()
        return here.union(*map(_referred, node.values()))
    return set().union(*map(_referred, node)) if isinstance(node, list) else set()
