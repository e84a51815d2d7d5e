"""The JSON documents that others may rely on: the name and version that each of them says in ``format``.

Fields may be added to a document without a new version, never renamed or taken away. What is in each is said by a JSON
Schema of the same name in ``shared/schemas`` (``widehand docs --schema NAME`` prints it).
"""

from __future__ import annotations

from collections.abc import Mapping
from typing import Any, Final

#: The newest version of each, which is the one that is written.
VERSIONS: Final[Mapping[str, int]] = {
    # what is heard and judged
    "verdicts": 1,
    "chords": 1,
    "name": 1,
    # what is planned
    "plan": 1,
    "sheet": 1,
    "listen": 1,
    "drills": 1,
    "drill": 1,
    "drill-check": 1,
    "new-drill": 1,
    # the guitar and the computer
    "ports": 1,
    "watch": 1,
    "delay": 1,
    "settings": 1,
    "setup-check": 1,
    # what is kept
    "progress": 1,
    "today": 1,
    "rejudge": 1,
    "rebuild": 1,
    # what is handed on
    "export": 1,
    "import": 1,
    "students": 1,
    # files
    "delays": 1,
    "bundle-take": 1,
}
_FIELD: Final = "format"


def format_of(name: str) -> str:
    """What a document of this name says of itself.

    >>> format_of("plan")
    'widehand plan 1'
    """
    return f"widehand {name} {VERSIONS[name]}"


def headed(name: str, fields: Mapping[str, Any]) -> dict[str, Any]:
    """The document: what it is, then its fields."""
    return {_FIELD: format_of(name), **fields}


def version_in(document: Mapping[str, Any], name: str) -> int:
    """The version that a document of this name says; older ones say it as a plain number.

    ``KeyError``, ``TypeError`` or ``ValueError`` when it is no such document.

    >>> version_in({"format": "widehand plan 3"}, "plan"), version_in({"format": 1}, "plan")
    (3, 1)
    """
    said = document[_FIELD]
    if isinstance(said, str):
        return int(said.removeprefix(f"widehand {name} "))
    if not isinstance(said, int):
        raise TypeError(said)
    return said


def unheaded(document: Mapping[str, Any]) -> dict[str, Any]:
    """The fields alone."""
    return {name: value for name, value in document.items() if name != _FIELD}
