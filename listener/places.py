"""Where files lie: names that the player gave, with ``~`` for a home folder, and the platform's folders for data and
settings. One place says what happens where there is no home folder."""

from __future__ import annotations

import errno
import os
import stat
from collections.abc import Callable, Iterator
from contextlib import suppress
from itertools import count
from pathlib import Path
from typing import Final

from listener.errors import PlaceError
from listener.safe_text import echo

_APPLICATION: Final = "widehand"


def given(name: str | Path) -> Path:
    """The path that the player wrote, ``~`` and ``~somebody`` followed. PlaceError when there is no such home."""
    try:
        return Path(name).expanduser()
    except RuntimeError:
        raise PlaceError(f"{echo(str(name), 60)}: there is no home folder of that name; write the whole path") from None


def numbered(stem: str) -> Iterator[str]:
    """Names to try until one is free: ``mill-verse``, ``mill-verse-2``, ``mill-verse-3`` and so on."""
    yield stem
    for number in count(2):
        yield f"{stem}-{number}"


def kept_folder() -> Path:
    """The platform's folder for what this program keeps. PlaceError when there is no home folder for it."""
    import platformdirs

    return _at_home("XDG_DATA_HOME", lambda: platformdirs.user_data_path(_APPLICATION, appauthor=False))


def settings_folder() -> Path:
    """The platform's folder for this program's settings. PlaceError when there is no home folder for it."""
    import platformdirs

    return _at_home("XDG_CONFIG_HOME", lambda: platformdirs.user_config_path(_APPLICATION, appauthor=False))


def temporary_folder() -> Path:
    """The folder for what is temporary. Python's own search for one writes into it, which a full disk refuses."""
    named = next((os.environ[name] for name in ("TMPDIR", "TEMP", "TMP") if os.environ.get(name)), None)
    return Path(named or os.sep + "tmp")


def _at_home(variable: str, folder: Callable[[], Path]) -> Path:
    """A home that is relative would be another one wherever the program is started, so it is none."""
    home = os.environ.get("HOME")
    lost = os.name != "nt" and home is not None and not os.path.isabs(home)
    found = None
    with suppress(RuntimeError):  # some versions of the library find out by themselves, others give a relative path
        found = None if lost and not os.path.isabs(os.environ.get(variable, "")) else folder()
    if found is None or not found.is_absolute():
        says = "there is none" if home is None else f"HOME is '{echo(home)}', which is not a whole path"
        raise PlaceError(
            f"no home folder to keep things in ({says}); set HOME, "
            "or say where with WIDEHAND_STORE, WIDEHAND_DRILLS and WIDEHAND_SETTINGS"
        )
    return found


def read_file(path: Path, most_bytes: int) -> bytes:
    """The first ``most_bytes`` + 1 of a file: who gets so many knows that it is too large.

    OSError when it cannot be read, or when it is none: a pipe might keep us waiting, a device might never end.
    """
    if is_nowhere(path):
        return b""
    if stat.S_ISDIR(path.stat().st_mode):
        raise IsADirectoryError(errno.EISDIR, os.strerror(errno.EISDIR), str(path))
    refuse_special(path)
    with path.open("rb") as file:
        return file.read(most_bytes + 1)


def is_nowhere(path: Path) -> bool:
    """The one device that is as good as a file: empty, and what is written there is gone (``/dev/null``)."""
    return str(path) == os.devnull


def refuse_special(path: Path) -> None:
    """OSError when something is there that is neither a file nor a folder."""
    try:
        kind = path.stat().st_mode
    except (FileNotFoundError, NotADirectoryError):
        return
    if not stat.S_ISREG(kind) and not stat.S_ISDIR(kind):
        raise OSError(errno.EINVAL, "it is a pipe or a device")
