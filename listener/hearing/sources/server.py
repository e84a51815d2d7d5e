"""Whether the MIDI server that a client talks to is still there. Only JACK has one that can die under its clients.

The MIDI libraries say nothing when it dies: the list of ports is read from memory shared with the server and stays as
it was (seen with JACK 1.9). What does tell is the client's connection to the server, a local socket that hangs up. So
the process's own sockets are looked at when a port is opened, and whether any of them lives later.

JACK's library keeps one state for all clients of a process: a client of the dead server must be given back before a new
one is tried, or giving it back later takes the program down (seen).
"""

from __future__ import annotations

import ctypes
import os
import socket
import stat
import sys
from collections.abc import Iterator
from contextlib import contextmanager, suppress
from typing import Final

from listener.hearing.sources.client import Client, MidiSystem
from listener.hearing.sources.interfaces import try_client

#: The open files of this process, by number: there on Linux and macOS.
_FILES: Final = "/dev/fd"
_MAPS: Final = "/proc/self/maps"


class Server:
    """The server that this process is connected to now, for inputs or outputs as ``direction`` says."""

    def __init__(self, system: MidiSystem, direction: str) -> None:
        self._system = system
        self._direction = direction
        self._sockets = _connections()
        _hush()

    @classmethod
    def of(cls, client: Client, direction: str) -> Server | None:
        """The server of a client; None where there is none that can be watched."""
        if not client.system.is_jack:
            return None
        found = cls(client.system, direction)
        return found if found._sockets else None

    def gone(self) -> bool:
        """Every connection to it has been hung up or closed (microseconds; asks nobody)."""
        return not any(_lives(number, inode) for number, inode in self._sockets)

    def again(self) -> Client | None:
        """A client of the server that is there now (tens of milliseconds); None as long as there is none.

        Only after every client of the old one was given back.
        """
        client = try_client(self._system, self._direction)
        if client is not None:
            self.renew()
        return client

    def renew(self) -> None:
        """The program's clients are other ones now: so are its connections."""
        self._sockets = _connections()


def _connections() -> frozenset[tuple[int, int]]:
    """Number and inode of each socket of this process that is connected to a JACK server."""
    if sys.platform == "win32":
        return frozenset()
    found = set()
    with suppress(OSError):
        for name in os.listdir(_FILES):
            with suppress(OSError), _socket(int(name)) as one:
                if one.family == socket.AF_UNIX and "jack" in str(one.getpeername()):
                    found.add((int(name), os.fstat(int(name)).st_ino))
    return frozenset(found)


@contextmanager
def _socket(number: int) -> Iterator[socket.socket]:
    """The open file of that number, to be looked at as a socket; OSError where it is none.

    Asked first: what is made of a copy of anything else fails and leaves the copy open, and as long as there is a copy
    of a pipe's end the other end waits for more.
    """
    if not stat.S_ISSOCK(os.fstat(number).st_mode):
        raise OSError(f"{number} is no socket")
    copy = os.dup(number)
    try:
        one = socket.socket(fileno=copy)
    except BaseException:
        os.close(copy)
        raise
    with one:
        yield one


def _lives(number: int, inode: int) -> bool:
    """The same socket is still open, and nobody has hung up at its other end."""
    if sys.platform == "win32":
        return False
    try:
        if os.fstat(number).st_ino != inode:
            return False
        with _socket(number) as one:
            return one.recv(1, socket.MSG_PEEK | socket.MSG_DONTWAIT) != b""
    except BlockingIOError:
        return True
    except OSError:
        return False


def _hush() -> None:
    """What JACK's library writes on standard error when its server dies would land in the middle of the dashboard.

    It can be given another function to hand its messages to: C's ``strlen`` takes a text and does nothing with it, and
    unlike a function of Python's it may be called in any thread.
    """
    with suppress(OSError), open(_MAPS, encoding="utf-8") as maps:
        # A Python package may bring one of its own beside the system's.
        paths = {line.split(maxsplit=5)[-1].strip() for line in maps if "/libjack" in line}
        for path in paths:
            with suppress(OSError, AttributeError):
                nothing = ctypes.cast(ctypes.CDLL(None).strlen, ctypes.c_void_p)
                ctypes.CDLL(path).jack_set_error_function(nothing)
