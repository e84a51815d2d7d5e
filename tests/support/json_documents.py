"""Whether a document is what its schema says, and whether the schema knows all that is in it."""

from __future__ import annotations

from typing import Any

from jsonschema import Draft202012Validator, FormatChecker

from listener.schemas import whole_schema


def checked(document: Any) -> Any:
    """The document, which its own ``format`` names. Fields that the schema does not know fail, too: a program may add
    some, but not without a word in the schema."""
    name = document["format"].removeprefix("widehand ").split()[0]
    Draft202012Validator(closed(whole_schema(name)), format_checker=FormatChecker()).validate(document)
    return document


def closed(node: Any) -> Any:
    """The schema with nothing let through that it does not name."""
    if isinstance(node, dict):
        found = {key: closed(value) for key, value in node.items()}
        return (
            {"additionalProperties": False, **found} if "properties" in node and node.get("type") == "object" else found
        )
    return [closed(value) for value in node] if isinstance(node, list) else node
