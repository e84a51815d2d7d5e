"""Names for files that nobody named: after the drill, in this folder, and never that of a file that is there."""

from __future__ import annotations

from argparse import Namespace
from collections.abc import Iterator, Sequence
from itertools import islice
from pathlib import Path
from typing import Final

from listener.commands.files import is_there
from listener.errors import UsageError
from listener.places import numbered

#: What an option for a file holds when it was given without a name.
UNNAMED: Final = True
#: Instead of a file: standard output.
STDOUT: Final = "-"


def free_name(stem: str, suffix: str, pages: int = 1) -> str:
    """STEM.suffix, or with a number behind the stem where that is taken; so are all of so many pages."""
    names = (f"{one}{suffix}" for one in numbered(stem))
    return next(name for name in names if not any(is_there(Path(page)) for page in page_names(name, pages)))


def page_names(name: str, pages: int) -> Iterator[str]:
    """A file for each page: the first under its own name, then NAME-2.svg and so on."""
    path = Path(name)
    yield name
    for stem in islice(numbered(path.stem), 1, pages):
        yield str(path.with_name(f"{stem}{path.suffix}"))


def check_twice(names: Sequence[str]) -> None:
    """:class:`UsageError` when two files would have one name."""
    twice = next((name for index, name in enumerate(names) if name in names[:index]), None)
    if twice is not None:
        raise UsageError(f"{twice} is asked for twice; give each file its own name")


def find_drill(arguments: Namespace, options: Sequence[str]) -> None:
    """Sort out ``--pdf mill-verse``, where the command line took the drill for the name of the file.

    When no drill was named and only one file has a name that is none for a file, that is the drill.
    :class:`UsageError` when there is no drill either way.
    """
    if arguments.drill is not None:
        return
    meant = [option for option in options if _may_be_drill(getattr(arguments, option))]
    if len(meant) != 1:
        raise UsageError(f"which drill? Such as: widehand {arguments.command} mill-verse")
    arguments.drill = getattr(arguments, meant[0])
    setattr(arguments, meant[0], UNNAMED)


def _may_be_drill(value: object) -> bool:
    return isinstance(value, str) and value not in ("", "-") and Path(value).suffix in ("", ".toml")
