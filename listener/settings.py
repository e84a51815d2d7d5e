"""The player's own settings: the guitar, the hand and the MIDI ports, so that they need not be typed every time.

They stand in a TOML file, ``settings.toml`` in the platform's folder for settings, or wherever the variable
WIDEHAND_SETTINGS says. Without a file everything has its default. ``shared/settings.toml`` is a file with every field,
each explained and at its default.
"""

from __future__ import annotations

import os
import re
import tomllib
from collections.abc import Iterable
from dataclasses import dataclass
from difflib import get_close_matches
from pathlib import Path
from typing import Any, Final

from listener.data import data_folder, shared_table
from listener.errors import PlaceError, Problem, WidehandError
from listener.places import given, kept_folder, read_file, settings_folder
from listener.safe_text import echo
from listener.toml_lines import TomlLines, syntax_words, toml_lines

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


class SettingsError(WidehandError):
    """A settings file that cannot be read, or with faults: all of them, in file order."""

    def __init__(self, path: Path, problems: Iterable[Problem]) -> None:
        self.problems = tuple(sorted(problems, key=lambda problem: problem.line))
        if len(self.problems) == 1:
            super().__init__(f"{path}: {self.problems[0]}")
        else:
            lines = [f"{path}: {len(self.problems)} problems", *(f"  {problem}" for problem in self.problems)]
            super().__init__("\n".join(lines))


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
        raise SettingsError(place, [Problem(0, "there is no such settings file")]) from None
    except OSError as error:
        raise SettingsError(place, [Problem(0, f"cannot be read: {error.strerror or error}")]) from None
    return read_settings(data, place)


def read_settings(data: bytes, path: Path) -> Settings:
    """Read the content of a settings file; ``path`` is what errors call it."""
    if len(data) > _MOST_BYTES:
        raise SettingsError(path, [Problem(0, "is too long for a settings file")])
    try:
        text = data.decode("utf-8-sig")
        document = tomllib.loads(text)
    except UnicodeDecodeError as error:
        line = data[: error.start].count(b"\n") + 1
        raise SettingsError(path, [Problem(line, "is not UTF-8 text; save the file as UTF-8")]) from None
    except (ValueError, RecursionError) as error:  # tomllib's own errors, and numbers of thousands of digits
        raise SettingsError(path, [_syntax_problem(error)]) from None
    reader = _Reader(document, toml_lines(text))
    settings = reader.settings(path)
    if reader.problems:
        raise SettingsError(path, reader.problems)
    return settings


def _syntax_problem(error: Exception) -> Problem:
    text = "it is nested too deeply" if isinstance(error, RecursionError) else str(error)
    found = re.fullmatch(r"(.*) \(at line (\d+), column \d+\)", text)
    reason = found[1] if found else text.removesuffix(" (at end of document)")
    return Problem(int(found[2]) if found else 0, f"cannot be read: {syntax_words(reason)}")


class _Reader:
    """Reads the fields one by one and notes everything that is wrong."""

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

    def settings(self, path: Path) -> Settings:
        """All fields; a wrong one has its default, and a problem."""
        self._check_names()
        usual = Settings()
        frets = self._number("guitar", "frets", 1, 36, usual.fret_count, whole=True)
        capo = self._number("guitar", "capo", 0, 35, usual.capo, whole=True)
        if capo >= frets:
            self._wrong(f"'capo' is {capo:g}, but there are only {frets:g} frets", "guitar", "capo")
        return Settings(
            tuning=self._tuning(),
            capo=int(capo),
            fret_count=int(frets),
            scale_mm=float(self._number("guitar", "scale_mm", 250, 1200, usual.scale_mm, whole=False)),
            left_handed=self._flag("guitar", "left_handed"),
            hand=self._hand(),
            register=int(self._number("hand", "register", -12, 12, usual.register, whole=True)),
            high_open=self._flag("hand", "high_open", usual.high_open),
            pickup=self._text("midi", "pickup") or usual.pickup,
            port=self._text("midi", "port"),
            click_port=self._text("midi", "click"),
            name=self._text("player", "name") or "",
            path=path,
        )

    def _wrong(self, text: str, *path: str | int) -> None:
        self.problems.append(Problem(self.lines.line_of(*path), text))

    def _check_names(self) -> None:
        """Sections and fields that do not exist, with the name that may have been meant."""
        for section, table in self.document.items():
            if section not in self.FIELDS:
                self._unknown(f"there is no section '{section}'", section, self.FIELDS, section)
            elif not isinstance(table, dict):
                self._wrong(f"'{section}' is a section: write [{section}] and its fields under it", section)
            else:
                for name in table:
                    if name not in self.FIELDS[section]:
                        self._unknown(f"[{section}] has no field '{name}'", name, self.FIELDS[section], section, name)

    def _unknown(self, text: str, word: str, known: Iterable[str], *path: str) -> None:
        close = get_close_matches(word, list(known), n=1)
        hint = f"; did you mean '{close[0]}'?" if close else f"; there are {', '.join(known)}"
        self._wrong(text + hint, *path)

    def _value(self, section: str, name: str) -> Any:
        table = self.document.get(section)
        return table.get(name) if isinstance(table, dict) else None

    def _number(self, section: str, name: str, low: int, high: int, usual: float, *, whole: bool) -> float:
        value = self._value(section, name)
        if value is None:
            return usual
        right = isinstance(value, int if whole else int | float) and not isinstance(value, bool)
        if not right or not low <= value <= high:
            kind = "a whole number" if whole else "a number"
            self._wrong(f"'{name}' must be {kind} from {low} to {high}, not {_shown(value)}", section, name)
            return usual
        return float(value)

    def _flag(self, section: str, name: str, usual: bool = False) -> bool:
        value = self._value(section, name)
        if value is not None and not isinstance(value, bool):
            self._wrong(f"'{name}' must be true or false, not {_shown(value)}", section, name)
        return value if isinstance(value, bool) else usual

    def _text(self, section: str, name: str) -> str | None:
        """A text that is not blank; None when it is blank or not there."""
        value = self._value(section, name)
        if value is not None and not isinstance(value, str):
            self._wrong(f"'{name}' must be a text in quotes, not {_shown(value)}", section, name)
        return value.strip() or None if isinstance(value, str) else None

    def _tuning(self) -> str:
        text = self._text("guitar", "tuning")
        if text is None:
            return Settings.tuning
        name = " ".join(text.split()).lower()
        strings = text.replace(",", " ").split()
        if name in shared_table("tunings"):
            return name
        if len(strings) > _MOST_STRINGS or not all(map(_PITCH.fullmatch, strings)):
            close = get_close_matches(name, list(shared_table("tunings")), n=1)
            hint = f"; did you mean '{close[0]}'?" if close else ""
            fault = (
                "'tuning' must be a name such as standard or drop d, or up to 12 strings from the lowest up, such as "
            )
            self._wrong(f'{fault}"D2 A2 D3 G3 B3 E4", not {_shown(text)}{hint}', "guitar", "tuning")
        return text

    def _hand(self) -> str:
        size, reach = self._text("hand", "size"), self._value("hand", "reach_mm")
        if size is not None and reach is not None:
            self._wrong("'size' and 'reach_mm' are both given; a measured hand needs no size", *_REACH)
        names = tuple(shared_table("hands")["hand"])
        if size is not None and size.lower() not in names:
            self._wrong(f"'size' must be {', '.join(names)}, not {_shown(size)}", "hand", "size")
        if reach is None:
            return size.lower() if size is not None else Settings.hand
        if not isinstance(reach, list) or len(reach) != 6:
            example = "such as [60, 85, 90, 60, 75, 60]"
            self._wrong(f"'reach_mm' must be six lengths in mm, {example}, for the fingers {_FINGER_PAIRS}", *_REACH)
            return Settings.hand
        wrong = [index for index, mm in enumerate(reach) if not _is_length(mm)]
        for index in wrong:
            self._wrong(f"'reach_mm' has {_shown(reach[index])}; give 20 to 200 mm", *_REACH, index)
        if wrong:
            return Settings.hand
        return " ".join(f"{mm:g}" for mm in reach)


_REACH: Final = ("hand", "reach_mm")


def _is_length(mm: object) -> bool:
    return isinstance(mm, int | float) and not isinstance(mm, bool) and 20 <= mm <= 200


def _shown(value: object) -> str:
    """A value as it stands in the file, shortened."""
    if isinstance(value, str):
        return f'"{echo(value)}"'
    return str(value).lower() if isinstance(value, bool) else echo(str(value))
