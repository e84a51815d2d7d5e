"""What a command prints, and whether a document is what its schema says."""

from __future__ import annotations

import json
from typing import Any

import pytest
from jsonschema import Draft202012Validator, FormatChecker

from listener.cli import main
from listener.schemas import whole_schema


def run(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str, str]:
    """``widehand WORDS...``: exit code, standard output, standard error."""
    try:
        code = main(words)
    except SystemExit as end:
        code = int(end.code or 0)
    out, err = capsys.readouterr()
    return code, out, err


def document(capsys: pytest.CaptureFixture[str], *words: str, code: int = 0) -> Any:
    """What ``widehand WORDS... --json`` prints, with this exit code."""
    got, out, err = run(capsys, *words, "--json")
    assert got == code, err
    return json.loads(out)


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
