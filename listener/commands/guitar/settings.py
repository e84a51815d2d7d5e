"""``widehand settings``: where the player's own settings are, what they say, and a file to begin with."""

from __future__ import annotations

from argparse import Namespace
from dataclasses import asdict

from listener.commands.json_out import print_json
from listener.errors import SourceError
from listener.settings import Settings, example_settings, load_settings, settings_place


def main(arguments: Namespace) -> int:
    """Show the settings, or an example file, or put that where the settings are looked for."""
    if arguments.example:
        print(example_settings(), end="")
        return 0
    if arguments.begin:
        return _begin()
    settings = load_settings()
    if arguments.json:
        print_json("settings", {"file": str(settings_place()), "found": settings.path is not None, **_facts(settings)})
        return 0
    found = "" if settings.path is not None else " (not there yet: everything is as usual)"
    print(f"settings file: {settings_place()}{found}")
    for name, value in _shown(settings).items():
        print(f"  {name:<12} {value}")
    if settings.path is None:
        print("To make one: widehand setup asks for it; widehand settings --begin writes one to fill in")
    return 0


def _begin() -> int:
    """Write the example to its place; :class:`SourceError` when a file is there, or none can be written."""
    place = settings_place()
    try:
        place.parent.mkdir(parents=True, exist_ok=True)
        with place.open("x", encoding="utf-8", newline="\n") as file:
            file.write(example_settings())
    except FileExistsError:
        raise SourceError(f"{place} is there already; open it with any text editor and change what you like") from None
    except OSError as error:
        raise SourceError(f"{place} cannot be written: {error.strerror or error}") from None
    print(f"written: {place}")
    print("Open it with any text editor; every line says what it is for. See what holds: widehand settings")
    return 0


def _facts(settings: Settings) -> dict[str, object]:
    return {name: value for name, value in asdict(settings).items() if name != "path"}


def _shown(settings: Settings) -> dict[str, object]:
    """The same for people."""
    return {
        "tuning": settings.tuning,
        "capo": f"fret {settings.capo}" if settings.capo else "none",
        "frets": settings.fret_count,
        "scale": f"{settings.scale_mm:g} mm",
        "left-handed": "yes" if settings.left_handed else "no",
        "hand": settings.hand,
        "register": f"{settings.register:+d} frets" if settings.register else "as usual",
        "high open": "may sound" if settings.high_open else "kept out where it can be",
        "pickup": settings.pickup,
        "port": settings.port or "none named: the only one there is",
        "click": settings.click_port or "none named: it is only shown",
        "name": settings.name or "none",
    }
