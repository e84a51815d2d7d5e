"""Files that commands read and write at the player's wish; one clear line when that cannot be."""

from __future__ import annotations

import contextlib
import os
import tempfile
from pathlib import Path
from typing import Final

from listener import places
from listener.errors import SourceError
from listener.places import given

#: How every file of SQLite begins (sqlite.org/fileformat.html, 1.3).
_DATABASE: Final = b"SQLite format 3\0"


def read_file(name: str, most_bytes: int) -> bytes:
    """Its content. :class:`SourceError` when it is not there, or larger than ``most_bytes``."""
    try:
        data = places.read_file(given(name), most_bytes)
    except FileNotFoundError:
        raise SourceError(f"{name}: there is no such file") from None
    except IsADirectoryError:
        raise SourceError(f"{name} is a folder; name a file") from None
    except (OSError, ValueError) as error:
        raise SourceError(f"{name} cannot be read: {_reason(error)}") from None
    if len(data) > most_bytes:
        raise SourceError(f"{name} is larger than {most_bytes >> 20} MB, which no bundle is; is it the right file?")
    return data


def write_file(name: str | Path, data: bytes) -> None:
    """Write it, whole or not at all. :class:`SourceError` when it cannot be written."""
    path = given(name)
    if places.is_nowhere(path):
        return
    if is_folder(path):
        raise SourceError(f"{name} is a folder; name a file in it")
    if _is_database(path):
        raise SourceError(f"{name} is a database, perhaps your history; name another file")
    part = path.with_name(f".{path.name[:100]}.{os.getpid()}.part")
    try:
        places.refuse_special(path)
        part.write_bytes(data)
        os.replace(part, path)
    except (OSError, ValueError) as error:
        with contextlib.suppress(OSError, ValueError):
            part.unlink(missing_ok=True)
        raise SourceError(f"{name} cannot be written: {_reason(error)}; name another file") from None


def replace_text(path: Path, text: str) -> None:
    """Write UTF-8 text in place of what was there, which stays whole until the new text is, and keeps its rights.

    OSError when it cannot be written, or when a pipe or a device is there.
    """
    places.refuse_special(path)
    handle, name = tempfile.mkstemp(dir=path.parent, prefix=f".{path.stem}-", suffix=path.suffix)
    try:
        with os.fdopen(handle, "w", encoding="utf-8", newline="") as file:
            file.write(text)
        os.chmod(name, path.stat().st_mode & 0o777 if path.exists() else 0o644)
        os.replace(name, path)
    except BaseException:
        Path(name).unlink(missing_ok=True)
        raise


def _is_database(path: Path) -> bool:
    try:
        return places.read_file(path, len(_DATABASE)).startswith(_DATABASE)
    except (OSError, ValueError):
        return False  # not there, or not ours to read: writing says what is the matter


def is_folder(path: Path) -> bool:
    """Whether there is a folder; what cannot be a file's name at all (too long, a null character) is none."""
    try:
        return path.is_dir()
    except (OSError, ValueError):
        return False


def is_there(path: Path) -> bool:
    """Whether there is such a file or folder; nothing is, under a name that no file can have."""
    try:
        return path.exists()
    except (OSError, ValueError):
        return False


def nearest_folder(folder: Path) -> Path:
    """The folder, or the nearest above it that is there: what decides whether it can be made."""
    while not is_there(folder) and folder != folder.parent:
        folder = folder.parent
    return folder


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()
