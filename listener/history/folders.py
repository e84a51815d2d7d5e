"""Where the history lies, and how the files beside it are written so that they are whole or not there."""

from __future__ import annotations

import os
import re
import uuid
from pathlib import Path
from typing import Final

STORE_VARIABLE: Final = "WIDEHAND_STORE"
_FILE_NAME: Final = "history.sqlite3"
_TAKES: Final = "takes"


def store_place(path: Path | None = None) -> Path:
    """The history's file: ``path``, else what WIDEHAND_STORE says, else the platform's folder for user data."""
    if path is not None:
        return path.expanduser()
    named = os.environ.get(STORE_VARIABLE, "").strip()
    if named:
        return Path(named).expanduser()
    import platformdirs

    return platformdirs.user_data_path("widehand", appauthor=False) / _FILE_NAME


def take_name(take: int, drill: str) -> str:
    """The name of a take's file without ending: ``0007-circle-of-fifths``, safe on every file system."""
    stem = Path(drill.replace("\\", "/")).name.removesuffix(".toml")
    plain = re.sub(r"[^a-z0-9]+", "-", stem.lower()).strip("-")[:60].strip("-")
    return f"{take:04d}-{plain or 'take'}"


def write_take_file(store: Path, name: str, data: bytes) -> str:
    """Write ``takes/NAME.mid`` beside the store and return that relative name.

    The file appears under its name only when it is whole and on the disk. A different file of that name is never
    overwritten (a history may have been started anew in an old folder): the new one gets a number. OSError when the
    folder cannot be written.
    """
    folder = store.parent / _TAKES
    folder.mkdir(parents=True, exist_ok=True)
    target = _free_name(folder, name, data)
    temporary = folder / f".{name}-{uuid.uuid4().hex[:8]}.part"
    try:
        with temporary.open("xb") as file:  # with the usual rights of a new file, unlike those that tempfile gives
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, target)
    except BaseException:
        temporary.unlink(missing_ok=True)
        raise
    _sync_folder(folder)
    return f"{_TAKES}/{target.name}"


def _free_name(folder: Path, name: str, data: bytes) -> Path:
    number = 1
    while True:
        target = folder / (f"{name}.mid" if number == 1 else f"{name}-{number}.mid")
        if not target.exists() or target.read_bytes() == data:
            return target
        number += 1


def _sync_folder(folder: Path) -> None:
    """Make the new name itself durable; Windows has no such call and needs none."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
