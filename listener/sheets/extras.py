"""Libraries that only printed sheets need; they come with ``pip install 'widehand[sheets]'``."""

from __future__ import annotations

from importlib import import_module
from typing import Any

from listener.errors import WidehandError


class MissingExtra(WidehandError):
    """A library that is not part of the small installation is not there."""


def extra(name: str, what_for: str) -> Any:
    """The module of this name; :class:`MissingExtra` says how to get it."""
    try:
        return import_module(name)
    except (ImportError, OSError) as error:  # cairo itself missing from the system is an OSError
        lost = getattr(error, "name", None) or name
        raise MissingExtra(
            f"{what_for} needs {lost}, which is not installed; get it with: pip install 'widehand[sheets]'"
        ) from None
