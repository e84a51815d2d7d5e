"""What a new drill is called, and where its file goes."""

from __future__ import annotations

import re
import shlex
import sys
import unicodedata
from argparse import Namespace
from pathlib import Path
from typing import Final

from listener.commands.files import is_folder
from listener.drill.drill_file import is_bundled
from listener.errors import PlaceError, UsageError
from listener.places import given
from listener.plain_words import capital
from listener.settings import own_drills_place

SUFFIX: Final = ".toml"
#: What the command line can do about a name that is taken; who is asked for a title gives another one.
ANOTHER_NAME: Final = "choose another --name"


def title_from(*names: str | None) -> str:
    """A title from a name such as my-verse."""
    words = next((name for name in names if name), "")
    plain = " ".join(re.sub(r"[-_]+", " ", Path(words).name.removesuffix(SUFFIX)).split())
    return capital(plain) if plain else "My drill"


def name_for(arguments: Namespace, title: str) -> str:
    """The drill's name: as it was given, else made from the title."""
    given: str | None = arguments.name or (arguments.drill if arguments.action == "new" else None)
    if given is not None:
        plain = given.removesuffix(SUFFIX)
        if not plain or plain != Path(plain).name or plain.startswith((".", "-")) or not plain.isprintable():
            raise UsageError(
                f"'{given}' will not do as a drill's name; give a word such as my-verse, or a whole path with --out"
            )
        return plain
    ascii_only = unicodedata.normalize("NFKD", title).encode("ascii", "ignore").decode()
    words = re.findall(r"[a-z0-9]+", ascii_only.lower())
    return "-".join(words)[:60].strip("-") or "my-drill"


def place_for(arguments: Namespace, name: str) -> Path:
    """Where the file goes: ``--out``, else NAME.toml among the player's own drills, where its name alone finds it.

    :class:`UsageError` for a name of the course: that drill would be played instead, and takes of both be mixed.
    """
    out = own_drills_place() if arguments.out is None else given(arguments.out)
    if arguments.out is None or is_folder(out):
        if is_bundled(name):
            raise UsageError(f"{name} is a drill of the course, whose takes would be mixed with yours; {ANOTHER_NAME}")
        return out / f"{name}{SUFFIX}"
    if out.suffix != SUFFIX:
        raise UsageError(f"'{arguments.out}' is not a drill file; its name ends in .toml")
    return out


def called(path: Path) -> str:
    """What to type for a drill: its name where that is enough, else its path."""
    return path.stem if is_among_own(path) and not is_bundled(path.stem) else str(path)


def how_to_list(path: Path) -> str:
    """What to type so that a drill file is found by its name; empty where it is already, or never can be.

    A drill can lie anywhere, but only those in the folder of one's own drills are known by their names, and there only
    those that are not called as one of the course.
    """
    try:
        folder = own_drills_place()
    except PlaceError:
        return ""
    if is_among_own(path) or is_bundled(path.stem):
        return ""
    if sys.platform.startswith("win"):
        return f"put it into {folder}"
    make = "" if folder.is_dir() else f"mkdir -p {shlex.quote(str(folder))} && "
    return f"{make}mv {shlex.quote(str(path))} {shlex.quote(str(folder))}"


def is_among_own(path: Path) -> bool:
    """Whether the file lies, or would lie, in the folder of the player's own drills."""
    try:
        return path.resolve().parent == own_drills_place().resolve()
    except PlaceError:
        return False
