"""Files that commands read and write at the player's wish; one clear line when that cannot be."""

from __future__ import annotations

import contextlib
import os
from pathlib import Path

from listener.errors import SourceError


def read_file(name: str, most_bytes: int) -> bytes:
    """Its content. :class:`SourceError` when it is not there, or larger than ``most_bytes``."""
    try:
        with Path(name).expanduser().open("rb") as file:
            data = file.read(most_bytes + 1)
    except FileNotFoundError:
        raise SourceError(f"{name}: there is no such file") from None
    except IsADirectoryError:
        raise SourceError(f"{name} is a folder; name a file") from None
    except (OSError, ValueError) as error:
        raise SourceError(f"{name} cannot be read: {_reason(error)}") from None
    if len(data) > most_bytes:
        raise SourceError(f"{name} is larger than {most_bytes >> 20} MB, which no bundle is; it is refused")
    return data


def write_file(name: str | Path, data: bytes) -> None:
    """Write it, whole or not at all. :class:`SourceError` when it cannot be written."""
    path = Path(name).expanduser()
    if is_folder(path):
        raise SourceError(f"{name} is a folder; name a file in it")
    part = path.with_name(f".{path.name[:100]}.{os.getpid()}.part")
    try:
        part.write_bytes(data)
        os.replace(part, path)
    except (OSError, ValueError) as error:
        with contextlib.suppress(OSError, ValueError):
            part.unlink(missing_ok=True)
        raise SourceError(f"{name} cannot be written: {_reason(error)}; name another file") from None


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


def _reason(error: Exception) -> str:
    return (getattr(error, "strerror", None) or str(error)).lower()
