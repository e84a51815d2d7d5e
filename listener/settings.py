"""The player's own settings: the guitar, the hand and the MIDI ports, so that they need not be typed every time.

They stand in a TOML file, ``settings.toml`` in the platform's folder for settings, or wherever the variable
WIDEHAND_SETTINGS says. Without a file everything has its default. ``shared/settings.toml`` is a file with every field,
each explained and at its default.
"""

from __future__ import annotations

import os
import re
from collections.abc import Collection
from dataclasses import dataclass
from pathlib import Path
from typing import Any, Final

from listener.data import data_folder, shared_table
from listener.errors import FaultyFile, PlaceError, Problem
from listener.places import given, kept_folder, read_file, settings_folder
from listener.records import Written, did_you_mean, fits, flag, number, real, shown, text, whole
from listener.safe_text import escaped
from listener.toml_lines import NotToml, TomlLines, toml_lines, toml_values, utf8_text
from listener.toml_lines import Path as Place

SETTINGS_VARIABLE: Final = "WIDEHAND_SETTINGS"
DRILLS_VARIABLE: Final = "WIDEHAND_DRILLS"
_FILE_NAME: Final = "settings.toml"
#: No settings file is longer; what is longer is some other file.
_MOST_BYTES: Final = 64 * 1024
_PITCH: Final = re.compile(r"[A-Ga-g][#♯b♭x]*-?\d{1,2}")
_FINGER_PAIRS: Final = "1-2, 1-3, 1-4, 2-3, 2-4 and 3-4"
_MOST_STRINGS: Final = 12


@dataclass(frozen=True)
class Settings:
    """What the file says, defaults where it says nothing.

    ``hand`` is a size, or six measured lengths in mm as :func:`listener.guitar.hand.make_hand` reads them; ``register``
    says by how many frets chords should lie higher than usual, ``high_open`` whether open strings may sound under a
    hand at the fifth fret or above; ``port`` and
    ``click_port`` are (parts of) names of a MIDI input and output port, None when none is set. ``name`` is the player's
    own, for what is handed to a teacher; empty when none is set. ``path`` is the file, None when there is none.
    """

    tuning: str = "standard"
    capo: int = 0
    fret_count: int = 22
    scale_mm: float = 648.0
    left_handed: bool = False
    hand: str = "medium"
    register: int = 0
    high_open: bool = True
    pickup: str = "single"
    port: str | None = None
    click_port: str | None = None
    name: str = ""
    path: Path | None = None


class SettingsError(FaultyFile):
    """A settings file that cannot be read, or with faults."""


def settings_place() -> Path:
    """Where the settings are looked for: what WIDEHAND_SETTINGS says, else the platform's folder for settings."""
    named = os.environ.get(SETTINGS_VARIABLE, "").strip()
    if named:
        return given(named)
    return settings_folder() / _FILE_NAME


def own_drills_place() -> Path:
    """The folder of the player's own drills: what WIDEHAND_DRILLS says, else one in the platform's folder for data."""
    named = os.environ.get(DRILLS_VARIABLE, "").strip()
    if named:
        return given(named)
    return kept_folder() / "drills"


def example_settings() -> str:
    """A settings file with every field, each explained and at its default."""
    return (data_folder("shared") / _FILE_NAME).read_text(encoding="utf-8")


def load_settings(path: Path | None = None) -> Settings:
    """The settings in a file, or in the usual place, where no file means that everything has its default.

    Raises :class:`SettingsError`, with the line of every fault, and when a file that was named is not there.
    """
    named = path is not None or bool(os.environ.get(SETTINGS_VARIABLE, "").strip())
    try:
        place = path if path is not None else settings_place()
    except PlaceError:
        if named:
            raise
        return Settings()  # no home, no settings
    try:
        data = read_file(place, _MOST_BYTES)
    except FileNotFoundError:
        if not named:
            return Settings()
        raise SettingsError(str(place), [Problem(0, "there is no such settings file")]) from None
    except OSError as error:
        raise SettingsError(str(place), [Problem(0, f"cannot be read: {error.strerror or error}")]) from None
    return read_settings(data, place)


def read_settings(data: bytes, path: Path) -> Settings:
    """Read the content of a settings file; ``path`` is what errors call it."""
    if len(data) > _MOST_BYTES:
        raise SettingsError(str(path), [Problem(0, "is too long for a settings file")])
    try:
        content = utf8_text(data)
        document = toml_values(content)
    except NotToml as error:
        raise SettingsError(str(path), [Problem(error.line, str(error))]) from None
    reader = _Reader(document, toml_lines(content))
    settings = reader.settings(path)
    if reader.problems:
        raise SettingsError(str(path), reader.problems)
    return settings


class _Section(Written):
    """One section of the file."""

    def filled(self, name: str) -> str | None:
        """A text that is not blank; None when it is blank or not there."""
        return self.read(name, text(), "").strip() or None


class _Reader:
    """Reads the sections one by one and keeps everything that is wrong."""

    FIELDS: Final = {
        "guitar": ("tuning", "capo", "frets", "scale_mm", "left_handed"),
        "hand": ("size", "reach_mm", "register", "high_open"),
        "midi": ("port", "click", "pickup"),
        "player": ("name",),
    }

    def __init__(self, document: dict[str, Any], lines: TomlLines) -> None:
        self.document = document
        self.lines = lines
        self.problems: list[Problem] = []

    def add(self, path: Place, text: str) -> None:
        """Something is wrong with the field (or section) at ``path``."""
        self.problems.append(Problem(self.lines.line_of(*path), escaped(text)))

    def settings(self, path: Path) -> Settings:
        """All fields; a wrong one has its default, and a problem."""
        self._check_names()
        usual = Settings()
        guitar, hand, midi, player = map(self._section, self.FIELDS)
        frets = guitar.read("frets", whole(1, 36), usual.fret_count)
        capo = guitar.read("capo", whole(0, 35), usual.capo)
        if capo >= frets:
            guitar.wrong("capo", f"is {capo}, but there are only {frets} frets")
        return Settings(
            tuning=_tuning(guitar),
            capo=capo,
            fret_count=frets,
            scale_mm=guitar.read("scale_mm", real(250, 1200), usual.scale_mm),
            left_handed=guitar.read("left_handed", flag, usual.left_handed),
            hand=_hand(hand),
            register=hand.read("register", whole(-12, 12), usual.register),
            high_open=hand.read("high_open", flag, usual.high_open),
            pickup=midi.filled("pickup") or usual.pickup,
            port=midi.filled("port"),
            click_port=midi.filled("click"),
            name=player.filled("name") or "",
            path=path,
        )

    def _section(self, name: str) -> _Section:
        table = self.document.get(name)
        return _Section(table if isinstance(table, dict) else {}, (name,), self)

    def _check_names(self) -> None:
        """Sections and fields that do not exist, with the name that may have been meant."""
        for section, table in self.document.items():
            if section not in self.FIELDS:
                self.add((section,), f"there is no section '{section}'; {_hint(section, self.FIELDS)}")
            elif not isinstance(table, dict):
                self.add((section,), f"'{section}' is a section: write [{section}] and its fields under it")
            else:
                known = self.FIELDS[section]
                for name in self._section(section).unknown(known):
                    self.add((section, name), f"[{section}] has no field '{name}'; {_hint(name, known)}")


def _hint(word: str, known: Collection[str]) -> str:
    return did_you_mean(word, known) or f"there are {', '.join(known)}"


def _tuning(guitar: _Section) -> str:
    written = guitar.filled("tuning")
    if written is None:
        return Settings.tuning
    name = " ".join(written.split()).lower()
    strings = written.replace(",", " ").split()
    if name in shared_table("tunings"):
        return name
    if len(strings) > _MOST_STRINGS or not all(map(_PITCH.fullmatch, strings)):
        hint = did_you_mean(name, shared_table("tunings"))
        fault = "must be a name such as standard or drop d, or up to 12 strings from the lowest up, such as "
        guitar.wrong("tuning", f'{fault}"D2 A2 D3 G3 B3 E4", not {shown(written)}{hint and "; " + hint}')
    return written


def _hand(hand: _Section) -> str:
    size, reach = hand.filled("size"), hand.values.get(_REACH)
    if size is not None and reach is not None:
        hand.faults.add(hand.place(_REACH), f"'size' and '{_REACH}' are both given; a measured hand needs no size")
    names = tuple(shared_table("hands")["hand"])
    if size is not None and size.lower() not in names:
        hand.wrong("size", f"must be {', '.join(names)}, not {shown(size)}")
    if reach is None:
        return size.lower() if size is not None else Settings.hand
    if not isinstance(reach, list) or len(reach) != 6:
        example = "such as [60, 85, 90, 60, 75, 60]"
        hand.wrong(_REACH, f"must be six lengths in mm, {example}, for the fingers {_FINGER_PAIRS}")
        return Settings.hand
    wrong = [index for index, mm in enumerate(reach) if not fits(_LENGTH_MM, mm)]
    for index in wrong:
        hand.faults.add((*hand.place(_REACH), index), f"'{_REACH}' has {shown(reach[index])}; give 20 to 200 mm")
    return Settings.hand if wrong else " ".join(f"{mm:g}" for mm in reach)


_REACH: Final = "reach_mm"
_LENGTH_MM: Final = number(20, 200)
