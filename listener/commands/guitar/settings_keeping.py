"""Keeping what the program found out or was told in the player's settings file.

The file is the player's: only the values that change are written anew, everything else in it, comments too, stays as it
is. What the new text says is read back before it is kept.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterator, Mapping
from copy import deepcopy
from pathlib import Path
from typing import Any, Final

from listener.commands.files import is_there, nearest_folder, replace_text
from listener.errors import Problem, SourceError
from listener.hearing.pickup import make_pickup
from listener.history.store.kept_settings import pickup_named
from listener.places import is_nowhere, read_file
from listener.safe_text import toml_text
from listener.settings import Settings, SettingsError, example_settings, load_settings, read_settings, settings_place
from listener.toml_lines import toml_lines

#: Section and name of a field, and its new value; None takes the field out.
Changes = Mapping[tuple[str, str], str | bool | int | None]

#: A field on a line of its own: what comes before its comment, and the comment.
_FIELD: Final = re.compile(r"""(\s*[\w"'-]+\s*=\s*(?:"(?:[^"\\]|\\.)*"|'[^']*'|[^"'#\[{]+?))(\s*)(#.*)?""")
#: No field of the settings is longer (lines).
_MOST_LINES: Final = 20


def keep_settings(changes: Changes) -> Path:
    """Write the changes into the settings file, a new one with every field explained when there is none; its path.

    :class:`SettingsError` when the file has faults, or holds a field in a way that cannot be changed here;
    :class:`SourceError` when it cannot be written.
    """
    place = _place()
    before = _text(place)
    after = changed(before, changes, place)
    read_settings(after.encode(), place)
    target = place.resolve()  # what a link leads to is written, not put in place of the link
    try:
        target.parent.mkdir(parents=True, exist_ok=True)
        replace_text(target, after)
    except OSError as error:
        raise SourceError(f"{place} cannot be written: {error.strerror or error}") from None
    return place


def keep_pickup(port: str, profile: str, saved: Settings) -> Path:
    """Keep where the guitar is and how it sends. What the player has written of the same channels, such as a bend range
    or a delay, says more and stays."""
    changes: dict[tuple[str, str], str] = {("midi", "port"): port}
    written = pickup_named(saved.pickup) if saved.path is not None and saved.pickup != Settings.pickup else None
    if written is None or not written.sends_like(make_pickup(profile)):
        changes["midi", "pickup"] = profile
    return keep_settings(changes)


def kept_settings() -> Settings:
    """The settings; without a file, also one that was named, everything is as usual. SettingsError for its faults."""
    return load_settings() if is_there(settings_place()) else Settings()


def check_keeping() -> Path:
    """Where settings are kept, if they can be; nobody shall answer questions for nothing.

    :class:`SourceError` when it cannot be written, :class:`SettingsError` when it has faults.
    """
    place = _place()
    kept_settings()
    folder = nearest_folder(place.resolve().parent)
    if not folder.is_dir() or not os.access(folder, os.W_OK):
        raise SourceError(f"{place} cannot be written; name another file with WIDEHAND_SETTINGS")
    return place


def _place() -> Path:
    """Where the settings are; :class:`SourceError` when that is no place for a file."""
    place = settings_place()
    if is_nowhere(place):
        raise SourceError(f"WIDEHAND_SETTINGS is {place}, where nothing is kept; name a file, or unset it")
    return place


def _text(place: Path) -> str:
    """The file as it is, or the one with every field explained; settings that cannot be read are told as always."""
    if not is_there(place):
        return example_settings()
    kept_settings()
    return read_file(place, 1 << 20).decode("utf-8-sig")


def changed(text: str, changes: Changes, path: Path) -> str:
    """The text of a settings file with these fields set; ``path`` is what errors call it.

    >>> print(changed('[midi]\\nport = "a"  # mine\\n', {("midi", "port"): "b"}, Path("s")))
    [midi]
    port = "b"  # mine
    <BLANKLINE>
    """
    ends = "\r\n" if "\r\n" in text else "\n"
    plain = text.replace("\r\n", "\n")
    for (section, name), value in changes.items():
        plain = _changed(plain, section, name, value, path)
    return plain.replace("\n", ends)


def _changed(text: str, section: str, name: str, value: str | bool | int | None, path: Path) -> str:
    document = tomllib.loads(text)
    wanted = deepcopy(document)
    if value is not None:
        wanted.setdefault(section, {})[name] = value
    elif name in wanted.get(section, {}):
        del wanted[section][name]
    if wanted == document:
        return text
    for candidate in _candidates(text, section, name, value):
        if _read(candidate) == wanted:
            return candidate
    line = toml_lines(text).line_of(section, name)
    fault = f"'{name}' cannot be changed here; write it under [{section}] yourself"
    raise SettingsError(str(path), [Problem(line, fault)])


def _read(text: str) -> dict[str, Any] | None:
    try:
        return tomllib.loads(text)
    except tomllib.TOMLDecodeError:
        return None


def _candidates(text: str, section: str, name: str, value: str | bool | int | None) -> Iterator[str]:
    """Texts that may say it; the first that does is taken."""
    lines, found = text.split("\n"), toml_lines(text).lines
    fields = [] if value is None else [f"{name} = {_toml(value)}", f"{section}.{name} = {_toml(value)}"]
    if (section, name) in found:
        at = found[section, name] - 1
        for count in range(1, _MOST_LINES + 1):
            old = lines[at : at + count]
            for new in [[_with_comment(field, old[0])] for field in fields] or [[f"# {line}" for line in old]]:
                yield "\n".join([*lines[:at], *new, *lines[at + count :]])
    elif (section,) in found:
        at = found[section,]
        yield "\n".join([*lines[:at], fields[0], *lines[at:]])
        yield "\n".join([fields[1], *lines])
    else:
        gap = "" if not text or text.endswith("\n\n") else "\n" if text.endswith("\n") else "\n\n"
        yield f"{text}{gap}[{section}]\n{fields[0]}\n"


def _with_comment(field: str, old: str) -> str:
    """The new field with the comment of the line that it replaces, in the same column if there is room."""
    match = _FIELD.fullmatch(old)
    if match is None or match[3] is None:
        return field
    return f"{field.ljust(match.end(2) - 2)}  {match[3]}"


def _toml(value: str | bool | int) -> str:
    return toml_text(value) if isinstance(value, str) else str(value).lower()
