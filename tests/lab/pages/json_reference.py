"""Makes ``docs/json.md``: every JSON document with its fields, from the schemas.

Run as ``PYTHONPATH=tests python -m lab.pages.json_reference > docs/json.md``.
"""

from __future__ import annotations

from collections.abc import Collection, Iterator, Mapping
from typing import Any, Final

from listener.schemas import schema_names, whole_schema

_INTRODUCTION: Final = """\
# JSON for other programs

Made by `PYTHONPATH=tests python -m lab.pages.json_reference > docs/json.md`; tests say whether this page is current,
and hold what the program really prints and writes against the schemas.

Every command that reports has `--json`: one document on standard output, nothing else; what there is to say besides
goes to standard error. Each document says in `format` what it is and of which version. Fields may be added without a
new version, never renamed or taken away; pass over those that you do not know.

The JSON Schema of each (draft 2020-12) comes with the program: `widehand docs --schema plan` prints that of a plan.
Notes are MIDI numbers (60 is C4); lists of notes, strings and frets go from the lowest note to the highest, string 1
is the highest. Names end in their unit where they have one (`_s` for seconds, `_ms`, `_mm`). Times are ISO 8601.

"""
_SHARED: Final = """\
## What several of them hold

"""


def main() -> None:
    """Print the page."""
    print(page(), end="")


def page() -> str:
    """The whole page as Markdown."""
    schemas = {name: whole_schema(name) for name in schema_names()}
    parts = {name: part for schema in schemas.values() for name, part in schema.get("$defs", {}).items()}
    blocks = [_section("##", name, schema) for name, schema in schemas.items()]
    shared = [_section("###", name, parts[name]) for name in sorted(parts)]
    return _INTRODUCTION + "\n\n".join(blocks) + "\n\n" + _SHARED + "\n\n".join(shared) + "\n"


def _section(level: str, name: str, schema: Mapping[str, Any]) -> str:
    said = schema["format"] if "format" in schema else schema.get("properties", {}).get("format", {}).get("const", "")
    about = f'{schema["title"]}. {schema["description"]} `"format": "{said}"`' if said else schema["description"]
    rows = list(_rows(schema.get("properties", {}), schema.get("required", ())))
    table = ["", "| field | is | |", "| --- | --- | --- |", *rows] if rows else []
    return "\n".join([f"{level} {name}", "", about, *table])


def _rows(properties: Mapping[str, Any], needed: Collection[str], before: str = "") -> Iterator[str]:
    for name, field in properties.items():
        if not before and name == "format":
            continue
        kind = _kind(field) + ("" if name in needed else "; may be missing")
        about = field.get("description", "")
        yield f"| `{before}{name}` | {kind} | {about} |"
        inner = _inner(field)
        yield from _rows(inner.get("properties", {}), inner.get("required", ()), f"{before}{name}.")


def _inner(field: Mapping[str, Any]) -> Mapping[str, Any]:
    """The table in a field, a list, or what may be null."""
    if "anyOf" in field:
        return _inner(next(one for one in field["anyOf"] if one.get("type") != "null"))
    return _inner(field["items"]) if "items" in field else field


def _kind(field: Mapping[str, Any]) -> str:
    if "$ref" in field:
        name = field["$ref"].rsplit("/", 1)[1]
        return f"[{name}](#{name})"
    if "const" in field:
        return f"`{field['const']}`".replace("True", "true")
    if "anyOf" in field:
        return " or ".join(map(_kind, field["anyOf"]))
    if "enum" in field:
        return " or ".join(f"`{word}`" for word in field["enum"])
    kinds = field["type"] if isinstance(field["type"], list) else [field["type"]]
    return " or ".join(_word(kind, field) for kind in kinds)


def _word(kind: str, field: Mapping[str, Any]) -> str:
    if kind == "array":
        return f"list: {_kind(field['items'])}" if "items" in field else "pair"
    if kind == "object":
        return f"by name: {_kind(field['additionalProperties'])}" if "additionalProperties" in field else "table"
    if kind == "string":
        return {"date": "date", "date-time": "time"}.get(field.get("format", ""), "text")
    return {"integer": "whole number", "number": "number", "boolean": "true or false"}.get(kind, kind)


if __name__ == "__main__":
    main()
