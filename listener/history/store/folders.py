"""Where the history lies, and how the files beside it are written so that they are whole or not there."""

from __future__ import annotations

import os
import re
import time
import uuid
from contextlib import suppress
from pathlib import Path
from typing import Final

from listener.history.store.address import is_studio, refuse_address
from listener.places import given, kept_folder, numbered

STORE_VARIABLE: Final = "WIDEHAND_STORE"
_FILE_NAME: Final = "history.sqlite3"
TAKES: Final = "takes"
#: How :func:`take_name` begins.
_OURS: Final = re.compile(r"\d{4,9}-")
_PART: Final = ".part"
#: Half-written files: takes and histories under way, and (with no dot before it) copies of older histories.
_LEFT_BEHIND: Final = re.compile(r"\..+-[0-9a-f]{8}\.part|.+-schema-\d+-[\d-]+\.sqlite3\.part")
#: Seconds after which one of them is nobody's any more.
_PART_S: Final = 600.0


def studio_address(place: Path | str | None = None) -> str | None:
    """The address of a studio's server, ``postgresql://...``, when that is what is meant; None for a file."""
    named = os.environ.get(STORE_VARIABLE, "") if place is None else place
    return named.strip() if isinstance(named, str) and is_studio(named.strip()) else None


def store_place(path: Path | str | None = None) -> Path:
    """The history's file: ``path``, else what WIDEHAND_STORE says, else the platform's folder for user data."""
    named = os.environ.get(STORE_VARIABLE, "").strip() if path is None else path
    if path is None and not named:
        return kept_folder() / _FILE_NAME
    refuse_address(str(named))
    return given(named)


def beside(store: Path | str | None = None) -> Path:
    """The folder for what lies beside the history; beside a server's nothing can, so it is that of usual ones."""
    return store_place(store).parent if studio_address(store) is None else kept_folder()


def todays_folder(store: Path | str | None) -> Path:
    """Where drills written for today lie."""
    return beside(store) / "today"


def take_name(take: int, drill: str) -> str:
    """The name of a take's file without ending: ``0007-circle-of-fifths``, safe on every file system."""
    return f"{take:04d}-{plain_name(drill)}"


def plain_name(drill: str) -> str:
    """A drill's name, or its file's, as part of a file's name on any system."""
    stem = Path(drill.replace("\\", "/")).name.removesuffix(".toml")
    plain = re.sub(r"[^a-z0-9]+", "-", stem.lower()).strip("-")[:60].strip("-")
    return plain or "take"


def take_files(store: Path) -> list[Path]:
    """The takes' files beside a history, by their names."""
    with suppress(OSError):
        folder = (store.parent / TAKES).iterdir()
        return sorted(file for file in folder if file.suffix == ".mid" and not file.name.startswith("."))
    return []


def has_takes(store: Path) -> bool:
    """Whether takes lie beside the history."""
    return any(_OURS.match(file.name) for file in take_files(store))


def write_take_file(store: Path, name: str, data: bytes) -> str:
    """Write ``takes/NAME.mid`` beside the store and return that relative name.

    The file appears under its name only when it is whole and on the disk. A different file of that name is never
    overwritten (a history may have been started anew in an old folder): the new one gets a number. OSError when the
    folder cannot be written.
    """
    folder = store.parent / TAKES
    folder.mkdir(parents=True, exist_ok=True)
    target = _free_name(folder, name, data)
    write_whole(target, data)
    return f"{TAKES}/{target.name}"


def write_whole(target: Path, data: bytes) -> None:
    """Write a file that appears under its name, in place of one that was there, only when it is whole and on the disk.

    OSError when it cannot be written; then nothing of it stays.
    """
    temporary = part_of(target)
    try:
        with temporary.open("xb") as file:  # with the usual rights of a new file, unlike those that tempfile gives
            file.write(data)
            file.flush()
            os.fsync(file.fileno())
        os.replace(temporary, target)
    except BaseException:
        with suppress(OSError):
            temporary.unlink(missing_ok=True)
        raise
    sync_folder(target.parent)


def part_of(target: Path) -> Path:
    """What a file is called while it is written; nobody else writes under that name."""
    return target.with_name(f".{target.name}-{uuid.uuid4().hex[:8]}{_PART}")


def clear_parts(*folders: Path) -> None:
    """Take away what programs that were killed have left half written in these folders.

    Nobody writes at one file for so long; should one, its program finds it gone and writes it again elsewhere.
    """
    for folder in folders:
        with suppress(OSError):
            for file in folder.iterdir():
                if _LEFT_BEHIND.fullmatch(file.name) and time.time() - file.stat().st_mtime > _PART_S:
                    for ending in ("", "-journal"):
                        file.with_name(file.name + ending).unlink(missing_ok=True)


def _free_name(folder: Path, name: str, data: bytes) -> Path:
    files = (folder / f"{one}.mid" for one in numbered(name))
    return next(file for file in files if not file.exists() or file.read_bytes() == data)


def free_path(wanted: Path) -> Path:
    """``wanted``, or the same name with a number where something of that name is there already."""
    paths = (wanted.with_name(f"{stem}{wanted.suffix}") for stem in numbered(wanted.stem))
    return next(path for path in paths if not path.exists())


def sync_file(path: Path) -> None:
    """Wait until the file's content is on the disk."""
    handle = os.open(path, os.O_RDWR)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_folder(folder: Path) -> None:
    """Make new names themselves durable; Windows has no such call and needs none."""
    if os.name == "nt":
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
