"""How a guitar's pickup speaks: which MIDI channel carries which string.

Channels count from 1 to 16 and strings from 1 (the highest), as players count both. The profiles are data, in
``shared/pickups.toml``. A profile's name may go on with what differs for one guitar, in any order::

    per-string from 11             the lowest of its channels is 11
    per-string low first bend 12   a bend spans 12 semitones until RPN 0 says otherwise
    per-string strings 7           seven strings
    per-string delay 2.3 lag 4.1   measured: 2.3 periods of the note, and 4.1 ms for every note alike

so that a name kept with a take says everything that has to be known to judge it again.
"""

from __future__ import annotations

import re
from dataclasses import dataclass, replace
from functools import cache
from typing import Any, Final

from listener.data import shared_table
from listener.errors import SourceError

_CHANNELS: Final = range(1, 17)
#: What may follow a profile's name, in the order in which it is written back, with the least and the most.
_OPTIONS: Final = {
    "from": (1, 16),
    "strings": (1, 16),
    "bend": (0, 96),
    "delay": (0, 20),
    "lag": (-500, 500),
}
#: Options that are measured rather than chosen.
_MEASURED: Final = frozenset({"delay", "lag"})
_WHOLE: Final = frozenset({"from", "strings"})


@dataclass(frozen=True)
class Pickup:
    """One profile. ``channels`` are those of string 1, string 2 and so on; see the table for every field.

    ``manager`` is the channel whose bend and pedal are for all of ``channels`` (MPE zones), None elsewhere.
    ``bend_range_semitones`` is what a pitch bend spans until RPN 0 says otherwise; ``delay_periods`` is how many
    periods of its string a note arrives late, and ``lag_ms`` how late all notes arrive besides. ``cleaning`` are the
    rows of the profile's own table of that name.
    """

    name: str
    about: str
    channels: tuple[int, ...]
    tells_strings: bool
    manager: int | None = None
    bend_range_semitones: float = 2
    velocity_floor: int = 1
    delay_periods: float = 2.0
    lag_ms: float = 0.0
    cleaning: tuple[tuple[str, Any], ...] = ()

    def string_on(self, channel: int) -> int | None:
        """The string that this channel carries; None when the profile does not say."""
        if not self.tells_strings or channel not in self.channels:
            return None
        return self.channels.index(channel) + 1

    def channel_of(self, string: int) -> int:
        """The channel that a string is sent on; :class:`SourceError` for a string that the profile lacks.

        Where strings are not told apart any channel would do; neighbours get different ones if there are several.
        """
        if not self.tells_strings:
            return self.channels[(string - 1) % len(self.channels)]
        if not 1 <= string <= len(self.channels):
            raise SourceError(
                f"the pickup profile '{self.name}' has {len(self.channels)} strings, so none for string {string}; "
                "try the profile 'single'"
            )
        return self.channels[string - 1]

    def sends_like(self, other: Pickup) -> bool:
        """Whether the same strings come on the same channels; what else is said of either does not matter."""
        mine = (self.channels, self.tells_strings, self.manager)
        return mine == (other.channels, other.tells_strings, other.manager)

    def delay_s(self, frequency_hz: float) -> float:
        """How late a note of this frequency arrives: its periods, and what all notes have in common."""
        return self.delay_periods / frequency_hz + self.lag_ms / 1000


@cache
def _profiles() -> dict[str, Pickup]:
    rows = shared_table("pickups")["pickup"]
    return {
        row["name"]: Pickup(
            **{**row, "channels": tuple(row["channels"]), "cleaning": tuple(row.get("cleaning", {}).items())}
        )
        for row in rows
    }


def pickup_names() -> tuple[str, ...]:
    """All profiles, in the table's order."""
    return tuple(_profiles())


def make_pickup(name: str) -> Pickup:
    """The profile of that name, upper or lower case alike, with what its name adds; see the module's text.

    :class:`SourceError` lists what there is.

    >>> make_pickup("per-string low first").string_on(1)
    6
    >>> make_pickup("per-string from 11").string_on(12)
    2
    """
    wanted = " ".join(name.lower().split())
    base, options = _split(wanted)
    return _with_options(_profiles()[base], options)


def calibrated(pickup: Pickup, *, delay_periods: float | None = None, lag_ms: float | None = None) -> Pickup:
    """The profile with what was measured, which its name then says too (to hundredths of a period and tenths of a
    millisecond). None leaves a number as it is."""
    base, options = _split(pickup.name)
    if delay_periods is not None:
        options["delay"] = round(delay_periods, 2)
    if lag_ms is not None:
        options["lag"] = round(lag_ms, 1)
    return _with_options(_profiles()[base], options)


def plain_name(name: str) -> str:
    """The name without what was measured: the profile as a player chooses it.

    >>> plain_name("per-string from 3 delay 2.3 lag 4")
    'per-string from 3'
    """
    base, options = _split(" ".join(name.lower().split()))
    chosen = {word: value for word, value in options.items() if word not in _MEASURED}
    return _with_options(_profiles()[base], chosen).name


def _split(wanted: str) -> tuple[str, dict[str, float]]:
    """A known profile's name and its options."""
    known = _profiles()
    base, rest = wanted, ""
    while base not in known:
        found = re.fullmatch(rf"(.*)\s+((?:{'|'.join(_OPTIONS)})\s+\S+)", base)
        if found is None:
            names = ", ".join(f"'{each}'" for each in known)
            raise SourceError(f"there is no pickup profile '{wanted}'; there are {names}")
        base, rest = found[1], f"{found[2]} {rest}"
    options: dict[str, float] = {}
    words = rest.split()
    for word, text in zip(words[::2], words[1::2], strict=True):
        if word in options:
            raise SourceError(f"the pickup profile '{wanted}' says '{word}' twice")
        options[word] = _number(wanted, word, text)
    return base, options


def _number(wanted: str, word: str, text: str) -> float:
    low, high = _OPTIONS[word]
    try:
        value = float(text)
    except ValueError:
        value = float("nan")
    if not low <= value <= high or (word in _WHOLE and value != int(value)):
        kind = "a whole number" if word in _WHOLE else "a number"
        raise SourceError(f"in the pickup profile '{wanted}' '{word}' takes {kind} from {low} to {high}, not '{text}'")
    return value


def _with_options(pickup: Pickup, options: dict[str, float]) -> Pickup:
    if not options:
        return pickup
    words = " ".join(f"{word} {repr(float(options[word])).removesuffix('.0')}" for word in _OPTIONS if word in options)
    named = replace(
        pickup,
        name=f"{pickup.name} {words}",
        bend_range_semitones=options.get("bend", pickup.bend_range_semitones),
        delay_periods=options.get("delay", pickup.delay_periods),
        lag_ms=options.get("lag", pickup.lag_ms),
    )
    if "from" in options or "strings" in options:
        return replace(named, channels=_channels(pickup, named.name, options))
    return named


def _channels(pickup: Pickup, name: str, options: dict[str, float]) -> tuple[int, ...]:
    """As many neighbouring channels as asked for, in the profile's order, from where they are asked to begin."""
    if "from" in options and pickup.manager is not None:
        raise SourceError(f"the pickup profile '{name}' does not work: a zone's channels begin beside its manager's")
    if "strings" in options and not pickup.tells_strings:
        raise SourceError(
            f"the pickup profile '{name}' does not work: it cannot tell strings apart, so leave 'strings' out"
        )
    count = int(options.get("strings", len(pickup.channels)))
    if pickup.manager == _CHANNELS[-1]:
        low = max(pickup.channels) - count + 1
    else:
        low = int(options.get("from", min(pickup.channels)))
    row = range(low, low + count)
    if row[0] not in _CHANNELS or row[-1] not in _CHANNELS or pickup.manager in row:
        raise SourceError(
            f"the pickup profile '{name}' does not work: MIDI has channels 1 to 16, these are {_span(row)}"
        )
    falls = pickup.channels[0] > pickup.channels[-1]
    return tuple(reversed(row)) if falls else tuple(row)


def _span(row: range) -> str:
    return f"{row[0]} to {row[-1]}"
