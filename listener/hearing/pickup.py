"""How a guitar's pickup speaks: which MIDI channel carries which string.

Channels count from 1 to 16 and strings from 1 (the highest), as players count both. The profiles are data, in
``shared/pickups.toml``.
"""

from __future__ import annotations

from dataclasses import dataclass
from functools import cache

from listener.data import shared_table
from listener.errors import SourceError


@dataclass(frozen=True)
class Pickup:
    """One profile. ``channels`` are those of string 1, string 2 and so on; see the table for every field.

    ``bend_range_semitones`` is what a pitch bend spans until RPN 0 says otherwise; ``delay_periods`` is how many
    periods of its string a note arrives late.
    """

    name: str
    about: str
    channels: tuple[int, ...]
    tells_strings: bool
    bend_range_semitones: int = 2
    velocity_floor: int = 1
    delay_periods: float = 2.0

    def string_on(self, channel: int) -> int | None:
        """The string that this channel carries; None when the profile does not say."""
        if not self.tells_strings or channel not in self.channels:
            return None
        return self.channels.index(channel) + 1

    def channel_of(self, string: int) -> int:
        """The channel that a string is sent on; :class:`SourceError` for a string that the profile lacks."""
        if not self.tells_strings:
            return self.channels[0]
        if not 1 <= string <= len(self.channels):
            raise SourceError(
                f"the pickup profile '{self.name}' has {len(self.channels)} strings, so none for string {string}; "
                "try the profile 'single'"
            )
        return self.channels[string - 1]


@cache
def _profiles() -> dict[str, Pickup]:
    rows = shared_table("pickups")["pickup"]
    return {row["name"]: Pickup(**{**row, "channels": tuple(row["channels"])}) for row in rows}


def pickup_names() -> tuple[str, ...]:
    """All profiles, in the table's order."""
    return tuple(_profiles())


def make_pickup(name: str) -> Pickup:
    """The profile of that name, upper or lower case alike; :class:`SourceError` lists what there is.

    >>> make_pickup("per-string low first").string_on(1)
    6
    """
    wanted = " ".join(name.lower().split())
    profile = _profiles().get(wanted)
    if profile is None:
        known = ", ".join(f"'{known}'" for known in pickup_names())
        raise SourceError(f"there is no pickup profile '{name}'; there are {known}")
    return profile
