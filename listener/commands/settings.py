"""``widehand settings``: where the player's own settings are, what they say, and an example to begin with."""

from __future__ import annotations

import json
from argparse import Namespace
from dataclasses import asdict

from listener.settings import Settings, example_settings, load_settings, settings_place


def main(arguments: Namespace) -> int:
    """Show the settings, or an example file."""
    if arguments.example:
        print(example_settings(), end="")
        return 0
    settings = load_settings()
    if arguments.json:
        print(json.dumps({"file": str(settings_place()), "found": settings.path is not None, **_facts(settings)}))
        return 0
    found = "" if settings.path is not None else " (not there yet: everything is as usual)"
    print(f"settings file: {settings_place()}{found}")
    for name, value in _facts(settings).items():
        print(f"  {name.replace('_', ' ')}: {'' if value is None else value}")
    if settings.path is None:
        print("To begin one: widehand settings --example > FILE, and put it there.")
    return 0


def _facts(settings: Settings) -> dict[str, object]:
    return {name: value for name, value in asdict(settings).items() if name != "path"}
