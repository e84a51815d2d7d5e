"""The zip around a bundle: opened with every bound checked before a byte is unpacked, written the same every time.

Nothing is ever unpacked into a folder: entries become bytes in memory, and their names are compared with those that
the layout has. Source of the fields: the .ZIP File Format Specification 6.3 (APPNOTE).
"""

from __future__ import annotations

import io
import re
import stat
import zipfile
import zlib
from collections.abc import Mapping, Sequence
from typing import Final

from listener.errors import SourceError
from listener.history.exchange.bundle import (
    INDEX,
    MOST_BYTES,
    MOST_ENTRIES,
    MOST_FILE_BYTES,
    MOST_RATIO,
    MOST_TOTAL_BYTES,
    SMALL_BYTES,
)
from listener.safe_text import clean

#: What entries may be called: folder, a plain name, the ending of that folder.
_ENTRY: Final = re.compile(r"(drills|routes|takes)/([0-9]{1,6}-)?[a-z0-9][a-z0-9-]{0,70}\.(toml|json|mid)")
_ENDINGS: Final = {"drills": ("toml",), "routes": ("json",), "takes": ("json", "mid")}
_CENTRAL: Final = b"PK\x01\x02"
_LOCKED: Final = 0x1
_UNIX: Final = 3
#: The earliest time that a zip can say: the same for every entry, so that the same content gives the same file.
_NO_TIME: Final = (1980, 1, 1, 0, 0, 0)
_SHOWN: Final = 60


def read_archive(data: bytes, name: str) -> dict[str, bytes]:
    """The entries with their content; :class:`SourceError` in one line for anything that no bundle has."""
    if len(data) > MOST_FILE_BYTES:
        raise SourceError(
            f"{name} is larger than {MOST_FILE_BYTES >> 20} MB, which no bundle is; is it the right file?"
        )
    if not data.startswith(b"PK\x03\x04"):
        raise SourceError(f"{name} is not a bundle (it is not a zip file); make one with: widehand export")
    # Counted before the list is read: the list itself can be the bomb.
    if data.count(_CENTRAL) > 2 * MOST_ENTRIES:
        raise SourceError(f"{name} has more than {MOST_ENTRIES:,} entries; have it made again")
    try:
        with zipfile.ZipFile(io.BytesIO(data)) as archive:
            entries = _checked(archive.infolist(), name)
            return {entry.filename: _content(archive, entry, name) for entry in entries}
    except (zipfile.BadZipFile, zlib.error, EOFError, OSError, ValueError, OverflowError, LookupError):
        raise SourceError(f"{name} is damaged or cut off; have it made or copied again") from None
    except (NotImplementedError, RuntimeError):
        raise SourceError(f"{name} is packed in a way that bundles are not; have it made again") from None


def _checked(found: Sequence[zipfile.ZipInfo], name: str) -> list[zipfile.ZipInfo]:
    """The entries that hold something; refused unless all of them can belong to a bundle."""
    if len(found) > MOST_ENTRIES:
        raise SourceError(f"{name} has more than {MOST_ENTRIES:,} entries; have it made again")
    seen: set[str] = set()
    for entry in found:
        trouble = _trouble(entry)
        if trouble:
            raise SourceError(f"{name}: the entry '{_shown(entry)}' {trouble}; have it made again")
        if entry.filename in seen:
            raise SourceError(f"{name} has two entries called '{_shown(entry)}'; have it made again")
        seen.add(entry.filename)
    if sum(entry.file_size for entry in found) > MOST_TOTAL_BYTES:
        raise SourceError(f"{name} unpacks to more than {MOST_TOTAL_BYTES >> 20} MB; have it made again")
    return [entry for entry in found if not entry.is_dir()]


def _trouble(entry: zipfile.ZipInfo) -> str:
    """What is wrong with an entry, empty when nothing is."""
    path = entry.orig_filename
    if path.startswith(("/", "\\")) or re.match(r"[A-Za-z]:", path) or ".." in re.split(r"[/\\]", path):
        return "leads out of the bundle"
    if entry.create_system == _UNIX and stat.S_IFMT(entry.external_attr >> 16) not in (0, stat.S_IFREG, stat.S_IFDIR):
        return "is a link or a device and not a file"
    if entry.flag_bits & _LOCKED:
        return "is locked with a password"
    if entry.is_dir():
        known = entry.filename.rstrip("/") in _ENDINGS and not entry.file_size
        return "" if known else "is a folder that no bundle has"
    if not is_entry(path) or path != entry.filename:
        return "is none that a bundle has"
    if entry.compress_type not in (zipfile.ZIP_STORED, zipfile.ZIP_DEFLATED):
        return "is packed in a way that bundles are not"
    most = MOST_BYTES[path.rsplit(".", 1)[1]]
    if entry.file_size > most:
        return f"unpacks to more than {most / 1e6:g} MB"
    if entry.file_size > SMALL_BYTES and entry.file_size > MOST_RATIO * max(1, entry.compress_size):
        return f"unpacks to more than {MOST_RATIO} times its size"
    return ""


def is_entry(path: str) -> bool:
    """Whether a bundle can have an entry of this name."""
    match = _ENTRY.fullmatch(path)
    return path == INDEX or (match is not None and match[3] in _ENDINGS[match[1]])


def _shown(entry: zipfile.ZipInfo) -> str:
    return clean(entry.orig_filename)[:_SHOWN]


def _content(archive: zipfile.ZipFile, entry: zipfile.ZipInfo, name: str) -> bytes:
    """What it holds, and no byte more than it said it would."""
    with archive.open(entry) as member:
        content = member.read(entry.file_size + 1)
    if len(content) != entry.file_size:
        raise SourceError(f"{name}: the entry '{_shown(entry)}' holds more or less than it says; have it made again")
    return content


def archive_bytes(entries: Mapping[str, bytes]) -> bytes:
    """The zip with these entries, the index first, the others by the alphabet; the same entries give the same bytes.

    (With the same compression library: another may pack the same content tighter.)
    """
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w", zipfile.ZIP_DEFLATED, compresslevel=9) as archive:
        for name in sorted(entries, key=lambda name: (name != INDEX, name)):
            info = zipfile.ZipInfo(name, _NO_TIME)
            info.create_system = _UNIX  # on every system, or the file would differ
            info.external_attr = (stat.S_IFREG | 0o644) << 16
            info.compress_type = zipfile.ZIP_DEFLATED
            archive.writestr(info, entries[name])
    return out.getvalue()
