"""Libraries that only some of what the program makes needs; they come with an extra (``widehand[sheets]``)."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from listener.errors import WidehandError


class MissingExtra(WidehandError):
    """A library that is not part of the small installation is not there."""


def extra(name: str, what_for: str, group: str = "sheets") -> Any:
    """The module of this name; :class:`MissingExtra` says how to get it with the extra ``group``."""
    try:
        return import_module(name)
    except ImportError as error:
        raise MissingExtra(
            f"{what_for} needs {error.name or name}, which is not installed; "
            f"get it with: pip install 'widehand[{group}]'"
        ) from None
