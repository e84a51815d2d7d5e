"""Which port is meant: by the name that a player types, and when it comes back with another number."""

from __future__ import annotations

import re
import sys
from typing import Final

from listener.errors import SourceError

#: The name that this program gives itself among MIDI programs.
CLIENT: Final = "widehand"
#: Names of ports that nobody means when none is named: the system's own plumbing, and our own.
_PLUMBING: Final = ("midi through", f"{CLIENT}:")
#: What a system may append to a port's name that changes when it is plugged in again: ALSA the numbers of client and
#: port, Windows the number in the list (both as rtmidi names them; Windows from memory).
_NUMBERS: Final = re.compile(r"\s+\d+\Z" if sys.platform.startswith("win") else r"\s+\d+:\d+\Z")


def match_port(wanted: str | None, names: list[str], what: str = "input", *, option: str = "--port") -> str:
    """The port that is meant: that very name, else that name but for the numbers that systems append, else the only one
    that contains it, upper and lower case alike.

    None means the only port there is, the system's through port and our own aside. :class:`SourceError` otherwise, with
    the names there are and the ``option`` that says which.
    """
    listed = ", ".join(f"'{name}'" for name in dict.fromkeys(names))
    if not names:
        raise SourceError(f"there is no MIDI {what} port; connect one and switch it on, then try: widehand ports")
    if wanted is None:
        found = instruments(names) or names
        problem = f"there are several MIDI {what} ports; say which with {option}"
    elif wanted in names:
        return wanted
    else:
        low = wanted.lower()
        found = (
            [name for name in names if name.lower() == low]
            or [name for name in names if port_stem(name).lower() == low]
            or [name for name in names if low in name.lower()]
        )
        problem = f"'{wanted}' fits several MIDI {what} ports; write more of the name"
    if not found:
        raise SourceError(f"there is no MIDI {what} port '{wanted}'; there are {listed}")
    if len(set(found)) > 1:
        raise SourceError(f"{problem}: {', '.join(repr(name) for name in dict.fromkeys(found))}")
    return found[0]


def instruments(names: list[str]) -> list[str]:
    """The ports that somebody may mean who names none, each once: without the system's through port and our own."""
    return [name for name in dict.fromkeys(names) if not name.lower().startswith(_PLUMBING)]


def same_port(name: str, names: list[str]) -> str | None:
    """The port of that name, else the only one whose name differs in nothing but the numbers that systems append."""
    if name in names:
        return name
    stem = port_stem(name)
    found = {other for other in names if port_stem(other) == stem}
    return found.pop() if len(found) == 1 else None


def lasting_name(name: str, names: list[str]) -> str:
    """What to call one of these ports so that it is found when it is plugged in again and its numbers have changed."""
    stem = port_stem(name)
    return stem if {other for other in names if port_stem(other) == stem} == {name} else name


def port_stem(name: str) -> str:
    """The name without the numbers that systems append."""
    return _NUMBERS.sub("", name)
