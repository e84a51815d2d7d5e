"""Takes that a history cannot keep for now: written beside it or, where that cannot be, in another folder.

A rescued take is a take's file with its record (:mod:`listener.history.safekeeping.take_record`), whole from the first
note and written anew with every verdict. The history takes it in when it is opened next
(:mod:`listener.history.safekeeping.taking_in`).
"""

from __future__ import annotations

import hashlib
import os
import sqlite3
import stat
import sys
from collections.abc import Iterator
from contextlib import ExitStack, contextmanager, suppress
from datetime import datetime
from pathlib import Path
from typing import Final

from listener.errors import PlaceError
from listener.history.store.backend import Backend
from listener.history.store.folders import clear_parts, plain_name, write_whole
from listener.history.store.owner import Owner, if_gone, tokens
from listener.places import kept_folder, temporary_folder

_FOLDER: Final = "widehand-rescued"


def rescue_folders(backend: Backend) -> tuple[Path, ...]:
    """Where this history's takes may be rescued to, the best place first; none of them needs to be there.

    Those that are not beside it are shared by all histories, so each has a folder of its own in them.
    """
    mine = hashlib.sha256(_full(backend.place).encode()).hexdigest()[:12]
    found = [backend.beside]
    with suppress(PlaceError):  # nobody's home
        found.append(kept_folder() / _FOLDER / mine)
    with suppress(RuntimeError):
        found.append(Path.home() / _FOLDER / mine)
    found.append(temporary_folder() / f"{_FOLDER}-{mine}")
    return tuple(dict.fromkeys(found))


def _full(place: str) -> str:
    return place if "://" in place else os.path.abspath(place)


class Rescue:
    """One take's way out. ``file`` is where it lies now, None as long as nothing had to be written."""

    def __init__(self, backend: Backend, started_at: datetime, drill: str) -> None:
        self.file: Path | None = None
        self._folders = rescue_folders(backend)
        moment = f"{started_at:%Y-%m-%d-%H%M%S}-{started_at.microsecond // 1000:03}"
        self._name = f"{moment}-{plain_name(drill)}-{backend.token}.mid"
        self._token = backend.token
        self._sign: Owner | None = None

    def write(self, data: bytes) -> bool:
        """Put the take as it stands in place of what was written before; False when no folder takes it."""
        before = self.file
        places = [folder / self._name for folder in self._folders]
        for file in sorted(places, key=lambda place: place != before):  # where it lies already, if anywhere
            if self._put(file, data):
                break
        else:
            return False
        if before is not None and before != self.file:
            clear(before)
        return True

    def _put(self, file: Path, data: bytes) -> bool:
        try:
            file.parent.mkdir(parents=True, exist_ok=True, mode=0o700)
            if not _is_ours(file.parent):
                return False
            write_whole(file, data)
        except OSError:
            _leave(file.parent)  # made for nothing; one with something in it stays
            return False
        if file != self.file:
            self.leave()
            # Where even an empty file is too much it goes without: then nobody else may start while this one plays.
            with suppress(OSError, sqlite3.Error):
                self._sign = Owner(file, self._token)
        self.file = file
        return True

    def discard(self) -> None:
        """The history has it all."""
        self.leave()
        if self.file is not None:
            clear(self.file)
            self.file = None

    def leave(self) -> None:
        """The take is over, and what was written waits for the next start."""
        if self._sign is not None:
            self._sign.release()
            self._sign = None


@contextmanager
def waiting(backend: Backend) -> Iterator[tuple[Path, ...]]:
    """The rescued takes of programs that have ended; each is held meanwhile, so that only one program takes it in."""
    folders = rescue_folders(backend)
    clear_parts(*folders)
    with ExitStack() as stack:
        found = []
        for file in [file for folder in folders for file in _rescued(folder)]:
            with suppress(OSError, sqlite3.Error):
                gone = [stack.enter_context(if_gone(file, token)) for token in tokens(file)]
                if all(gone) and file.is_file():
                    found.append(file)
        yield tuple(found)
    for folder in folders:
        _leave(folder)


def _rescued(folder: Path) -> list[Path]:
    """The takes in a folder, and those of which only a sign is left."""
    with suppress(OSError):
        if _is_ours(folder):
            names = {name.partition("-playing-")[0] for name in os.listdir(folder)}
            return sorted(folder / name for name in names if name.endswith(".mid") and not name.startswith("."))
    return []


def clear(file: Path) -> None:
    """Away with a file whose take is in the history, or lies elsewhere now."""
    with suppress(OSError):
        file.unlink(missing_ok=True)
        _leave(file.parent)


def _leave(folder: Path) -> None:
    """Away with our folders that are empty."""
    with suppress(OSError):
        folder.rmdir()
        if folder.parent.name == _FOLDER:
            folder.parent.rmdir()


def _is_ours(folder: Path) -> bool:
    """In a folder that all may write to somebody else may have made one of our name."""
    if sys.platform == "win32" or folder.parent != temporary_folder():
        return True
    state = folder.lstat()
    return stat.S_ISDIR(state.st_mode) and state.st_uid == os.geteuid() and not state.st_mode & stat.S_IWOTH
