"""``widehand setup --check``: line by line, what works on this computer, what does not, and what to do about it."""

from __future__ import annotations

import os
import platform
import shutil
import sys
import tempfile
from collections.abc import Callable, Iterator
from dataclasses import asdict, dataclass
from importlib.util import find_spec
from pathlib import Path
from typing import Final

from listener.commands.files import is_there, nearest_folder
from listener.commands.json_out import print_json
from listener.commands.playing.at_the_screen import broken
from listener.commands.setup import NOTHING_ASKED, guitar_of, hand_of
from listener.errors import SourceError, WidehandError
from listener.hearing.pickup import make_pickup
from listener.hearing.sources.port import input_ports, output_ports
from listener.hearing.sources.port_names import instruments, match_port
from listener.history.store.folders import store_place, studio_address
from listener.history.store.store import Store
from listener.places import is_nowhere
from listener.screen.theme import theme_for
from listener.session.sound.loudspeaker import player_here
from listener.settings import SETTINGS_VARIABLE, Settings, load_settings, own_drills_place, settings_place

#: It works; it does not, and has to; it does not, and only some things need it.
WORKS, FAILS, MISSING = "works", "fails", "missing"
_MARKS: Final = {WORKS: "yes", FAILS: "NO", MISSING: "-"}
#: The smallest screen on which everything fits.
_COLUMNS, _ROWS = 80, 24
#: A take is some kilobytes; with less room than this the next evening may not fit (bytes).
_LEAST_FREE: Final = 20_000_000
#: What comes with each extra, and what it is for.
_EXTRAS: Final = {
    "sheets": (("typst", "verovio"), "printed sheets, sheet --pdf and --svg"),
    "report": (("matplotlib",), "the page of progress --html"),
    "studio": (("psycopg", "sqlalchemy"), "a history on a server"),
}
#: Libraries that reach live MIDI ports; one of them is enough.
_MIDI_LIBRARIES: Final = ("rtmidi", "supriya_midi")
#: The first Python that will do.
_OLDEST: Final = (3, 11)


@dataclass(frozen=True)
class Check:
    """One thing looked at: what was found, and what to do if it does not work."""

    name: str
    state: str
    found: str
    do: str = ""


def check(*, as_json: bool) -> int:
    """Say it all; 0 when everything that playing needs is there, else 1."""
    checks = list(all_checks())
    works = all(one.state != FAILS for one in checks)
    if as_json:
        print_json("setup-check", {"works": works, "checks": [asdict(one) for one in checks]})
        return 0 if works else 1
    width = max(len(one.name) for one in checks)
    for one in checks:
        _print(f"{_MARKS[one.state]:<4}{one.name:<{width}}  {one.found}", width + 6)
        if one.do:
            _print(f"{'':{width + 6}}{one.do}", width + 6)
    _print("All that playing needs is there." if works else "Mend what says NO, then you can play.", 0)
    return 0 if works else 1


def _print(line: str, indent: int) -> None:
    head, rest = line[:indent], line[indent:]
    for number, part in enumerate(broken(f"{'':{indent}}{rest}", sys.stdout).splitlines()):
        print(head + part[indent:] if number == 0 else part)


def all_checks() -> Iterator[Check]:
    """Everything, in the order in which it matters. None of it raises, writes for good, or makes a sound."""
    yield _python()
    yield _library()
    settings, found = _settings()
    yield from _ports(settings)
    yield found
    for name, look in (("history", _history), ("own drills", _own_drills)):
        yield _tried(name, look)
    yield from _extras()
    yield from _terminal()
    yield _player()


def _tried(name: str, look: Callable[[], Check]) -> Check:
    try:
        return look()
    except WidehandError as error:
        return Check(name, FAILS, *_parted(error))


def _parted(error: WidehandError) -> tuple[str, str]:
    """What an error says is wrong, and what it says to try."""
    found, _, do = " ".join(str(error).split()).partition("; ")
    return found, do


def _python() -> Check:
    version = platform.python_version()
    where = f"{version} ({platform.system()} {platform.machine()})"
    if sys.version_info < _OLDEST:
        return Check("Python", FAILS, where, "install Python 3.11 or newer")
    return Check("Python", WORKS, where)


def _library() -> Check:
    there = [name for name in _MIDI_LIBRARIES if find_spec(name) is not None]
    if there:
        return Check("MIDI library", WORKS, ", ".join(there))
    return Check(
        "MIDI library",
        FAILS,
        "none is installed; only files and the demo can be heard",
        "install Widehand with Python 3.11 to 3.14, 64 bit",
    )


def _settings() -> tuple[Settings, Check]:
    """The settings, and what is to be said of them; with a fault all is as usual meanwhile."""
    name = "settings"
    try:
        place = settings_place()
        if not is_nowhere(place) and not is_there(place):
            # A file that was named and is not there stops every command: it may be a slip of the pen.
            state = FAILS if os.environ.get(SETTINGS_VARIABLE, "").strip() else MISSING
            return Settings(), Check(name, state, f"none yet: {place}", "widehand setup makes them")
        settings = load_settings()
        make_pickup(settings.pickup)
        guitar_of(NOTHING_ASKED, settings)
        hand_of(NOTHING_ASKED, settings)
    except WidehandError as error:
        return Settings(), Check(name, FAILS, *_parted(error))
    return settings, Check(name, WORKS, str(place))


def _ports(settings: Settings) -> Iterator[Check]:
    try:
        names = input_ports()
        outputs = instruments(output_ports())
    except SourceError as error:
        yield Check("MIDI input", FAILS, *_parted(error))
        return
    found = instruments(names)
    if not found:
        yield Check("MIDI input", FAILS, "none", "plug the pickup in, switch it on, and look again")
    elif settings.port is not None:
        try:
            yield Check("MIDI input", WORKS, f"{match_port(settings.port, names)}, as your settings say")
        except SourceError as error:
            yield Check("MIDI input", FAILS, str(error), "plug it in, or choose another: widehand setup")
    else:
        more = "" if len(found) == 1 else "widehand setup keeps which of them is your guitar"
        yield Check("MIDI input", WORKS, ", ".join(found), more)
    yield (
        Check("MIDI output", WORKS, ", ".join(outputs))
        if outputs
        else Check("MIDI output", MISSING, "none: a click is only shown", "connect a synthesiser to hear it")
    )


def _history() -> Check:
    address = studio_address()
    place = address if address is not None else store_place()
    if address is not None or is_there(Path(place)):
        with Store.open(read_only=True) as store:
            shown, takes = store.backend.place, len(store.takes())
        found = f"{shown}, {takes} takes"
    else:
        found = f"{place}, none yet"
    if address is None:
        if is_there(Path(place)) and not os.access(place, os.W_OK):
            raise SourceError(f"{place} may only be read; name another with WIDEHAND_STORE")
        _refuse_folder(Path(place).parent, "WIDEHAND_STORE")
    return Check("history", WORKS, found)


def _own_drills() -> Check:
    place = own_drills_place()
    if is_nowhere(place):
        return Check(
            "own drills", MISSING, f"none: WIDEHAND_DRILLS is {place}", "name a folder to keep drills that you make"
        )
    _refuse_folder(place, "WIDEHAND_DRILLS")
    return Check("own drills", WORKS, str(place))


def _refuse_folder(folder: Path, variable: str) -> None:
    """SourceError when nothing can be written there, or the folder cannot be made."""
    there = nearest_folder(folder)
    try:
        with tempfile.TemporaryFile(dir=there):
            pass
        free = shutil.disk_usage(there).free
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise SourceError(
            f"{folder} cannot be written: {reason}; change its rights, or name another with {variable}"
        ) from None
    if free < _LEAST_FREE:
        raise SourceError(f"the disk of {folder} is full; make room, or name another with {variable}")


def _extras() -> Iterator[Check]:
    for extra, (libraries, purpose) in _EXTRAS.items():
        lacking = [name for name in libraries if find_spec(name) is None]
        if lacking:
            yield Check(extra, MISSING, f"not installed: {purpose}", f"if wanted: pip install 'widehand[{extra}]'")
        else:
            yield Check(extra, WORKS, purpose)


def _terminal() -> Iterator[Check]:
    if not sys.stdout.isatty():
        yield Check("terminal", MISSING, "none: plain lines are written", "run it in a terminal for the dashboard")
    else:
        columns, rows = shutil.get_terminal_size()
        fits = columns >= _COLUMNS and rows >= _ROWS
        yield Check(
            "terminal",
            WORKS if fits else MISSING,
            f"{columns} columns, {rows} rows",
            "" if fits else f"{_COLUMNS} and {_ROWS} show everything; or use --plain",
        )
        yield _colours()
    if theme_for(sys.stdout.encoding).ascii_only:
        yield Check("signs", MISSING, "plain characters only", "LANG should end in UTF-8, such as C.UTF-8")
    else:
        yield Check("signs", WORKS, "♭ ♯ ● ─")


def _colours() -> Check:
    from rich.console import Console

    console = Console()
    if console.no_color or console.color_system is None:
        why = "NO_COLOR is set" if console.no_color else "this terminal has none"
        return Check("colours", MISSING, f"none: {why}; nothing is told by colour alone")
    return Check("colours", WORKS, console.color_system)


def _player() -> Check:
    player = player_here()
    if player is None:
        return Check(
            "sound",
            MISSING,
            "nothing here plays sound: widehand listen writes a file",
            "install pipewire, alsa-utils or mpv",
        )
    return Check("sound", WORKS, f"{player}, for widehand listen")
