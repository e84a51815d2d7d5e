"""Is it a file or a server that somebody names as the place of the history?

An address is never taken for a file (a folder called ``mysql:`` would appear), and none that is refused is quoted:
there may be a password anywhere in it.
"""

from __future__ import annotations

import re
from typing import Final

from listener.errors import StoreError

#: How an address is written, for messages.
EXAMPLE: Final = "postgresql://user@host/database"
_STUDIO: Final = re.compile(r"postgres(ql)?(\+\w+)?://", re.IGNORECASE)
#: A scheme of two letters or more (one is a drive of Windows) and a stroke (RFC 3986, 3.1).
_SCHEME: Final = re.compile(r"([A-Za-z][A-Za-z0-9+.-]+):[/\\]")
#: ``user:password@host`` without one; what begins like a path may have such a name.
_PASSWORD: Final = re.compile(r":?(//)?[^/\\.~][^/\\]*:.*@")
_DRIVE: Final = re.compile(r"[A-Za-z]:[/\\]")


def is_studio(text: str) -> bool:
    """Whether it is the address of a server that can keep a history."""
    return bool(_STUDIO.match(text))


def refuse_address(text: str) -> None:
    """StoreError when it is no file's name but some address."""
    scheme = _SCHEME.match(text)
    if scheme is None:
        if _PASSWORD.match(text) and not _DRIVE.match(text):
            raise StoreError(f"this seems to be the address of a server, not a file; write it as {EXAMPLE}")
    elif scheme[1].lower().startswith("postgres"):
        raise StoreError(f"this is the address of a server, not a file; write it as {EXAMPLE}")
    else:
        raise StoreError(f"no history can be kept at {scheme[1]}://...; name a file, or a PostgreSQL server: {EXAMPLE}")
