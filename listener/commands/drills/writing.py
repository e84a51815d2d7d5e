"""Writing a new drill file: the whole of it or nothing, and never over another unless that is asked for."""

from __future__ import annotations

from pathlib import Path

from listener.commands.drills.naming import is_among_own
from listener.commands.files import replace_text
from listener.errors import SourceError


def is_there(path: Path) -> str:
    """What is said of a file that a new one would replace."""
    return f"{path} is there already; choose another --name or --out, or replace it with --force"


def write_new(path: Path, text: str, *, force: bool) -> None:
    """Write the text to a new file, or with ``force`` in place of an old one.

    The folder of the player's own drills is made when the first one goes into it. Raises :class:`SourceError` when the
    file is there already or its folder cannot be written to.
    """
    if is_among_own(path):
        _make_folder(path.parent)
    try:
        if force:
            replace_text(path, text)
        else:
            _make(path, text)
    except FileExistsError:
        raise SourceError(is_there(path)) from None
    except OSError as error:
        raise SourceError(
            f"{path} cannot be written: {error.strerror or error}; name another place with --out"
        ) from None


def _make_folder(folder: Path) -> None:
    try:
        folder.mkdir(parents=True, exist_ok=True)
    except OSError as error:
        raise SourceError(
            f"{folder}, the folder of your own drills, cannot be made: {error.strerror or error}; "
            "name another place with --out or WIDEHAND_DRILLS"
        ) from None


def _make(path: Path, text: str) -> None:
    with path.open("x", encoding="utf-8", newline="\n") as file:
        try:
            file.write(text)
            file.flush()
        except BaseException:
            path.unlink(missing_ok=True)
            raise
