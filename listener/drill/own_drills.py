"""The player's own drills, found by name: the TOML files in the folder that the settings name."""

from __future__ import annotations

from pathlib import Path

from listener.errors import PlaceError
from listener.settings import own_drills_place


def own_drill_files() -> dict[str, Path]:
    """Name and file of each, by the alphabet; none when there is no such folder or it may not be read."""
    try:
        return {path.stem: path for path in sorted(own_drills_place().glob("*.toml")) if path.is_file()}
    except (OSError, PlaceError):
        return {}
