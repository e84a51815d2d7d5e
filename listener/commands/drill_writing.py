"""Writing a new drill file: the whole of it or nothing, and never over another unless that is asked for."""

from __future__ import annotations

import os
import tempfile
from pathlib import Path

from listener.errors import SourceError


def is_there(path: Path) -> str:
    """What is said of a file that a new one would replace."""
    return f"{path} is there already; choose another --name or --out, or replace it with --force"


def write_new(path: Path, text: str, *, force: bool) -> None:
    """Write the text to a new file, or with ``force`` in place of an old one.

    Raises :class:`SourceError` when the file is there already or its folder cannot be written to.
    """
    try:
        if force:
            _replace(path, text)
        else:
            _make(path, text)
    except FileExistsError:
        raise SourceError(is_there(path)) from None
    except OSError as error:
        raise SourceError(
            f"{path} cannot be written: {error.strerror or error}; name another place with --out"
        ) from None


def _make(path: Path, text: str) -> None:
    with path.open("x", encoding="utf-8", newline="\n") as file:
        try:
            file.write(text)
            file.flush()
        except BaseException:
            path.unlink(missing_ok=True)
            raise


def _replace(path: Path, text: str) -> None:
    """The old file stays whole until the new one is."""
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="\n") as file:
            file.write(text)
        if path.exists():
            os.chmod(name, path.stat().st_mode & 0o777)
        else:
            os.chmod(name, 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise
