"""What ``widehand calibrate`` measured, kept for each port and pickup profile in ``calibration.json`` beside the
history."""

from __future__ import annotations

import json
from dataclasses import asdict, dataclass, fields, replace
from pathlib import Path
from typing import Any, Final

from listener.errors import PlaceError, StoreError
from listener.formats import VERSIONS, headed, version_in
from listener.hearing.pickup import Pickup, calibrated, plain_name
from listener.hearing.sources.port_names import port_stem
from listener.history.store.folders import beside, write_whole
from listener.places import read_file

_FILE: Final = "calibration.json"
_FORMAT: Final = "delays"
#: Some thousands of measurements; a file that goes on is none of ours.
_MOST_BYTES: Final = 1_000_000


@dataclass(frozen=True)
class KnownDelay:
    """One port with one profile. ``delay_periods`` as in :class:`Pickup`, with its 95 % interval; ``round_trip_ms``
    from the output to the input and its jitter. None for what was not measured. ``measured`` is an ISO 8601 date and
    time."""

    port: str
    profile: str
    delay_periods: float | None = None
    periods_low: float | None = None
    periods_high: float | None = None
    round_trip_ms: float | None = None
    jitter_ms: float | None = None
    measured: str = ""


def calibration_place() -> Path:
    """The file, beside the history that WIDEHAND_STORE names, or the usual one."""
    return beside() / _FILE


def known_delay(port: str, profile: str, place: Path | None = None) -> KnownDelay | None:
    """What is known of this port with this profile; None when nothing is. The numbers that systems append to a port's
    name do not matter. :class:`StoreError` when the file cannot be read."""
    key = _key(port, profile)
    try:
        place = place or calibration_place()
    except PlaceError:
        return None  # no home, nothing kept
    return next((known for known in _read(place) if _key(known.port, known.profile) == key), None)


def keep_delay(delay: KnownDelay, place: Path | None = None) -> Path:
    """Keep a measurement; what an earlier one measured and this one did not stays. The file is whole at all times."""
    path = place or calibration_place()
    rows = _read(path)
    key = _key(delay.port, delay.profile)
    before = next((row for row in rows if _key(row.port, row.profile) == key), None)
    if before is not None:
        new = {name: value for name, value in asdict(delay).items() if value is not None}
        delay = replace(before, **new)
    delay = replace(delay, profile=key[1])
    rows = [row for row in rows if _key(row.port, row.profile) != key] + [delay]
    text = json.dumps(headed(_FORMAT, {"delays": [asdict(row) for row in rows]}), indent=1)
    try:
        path.parent.mkdir(parents=True, exist_ok=True)
        write_whole(path, text.encode())
    except OSError as error:
        raise StoreError(f"what was measured cannot be kept in {path}: {error.strerror or error}") from None
    return path


def with_known_delay(pickup: Pickup, port: str, *, click: bool, place: Path | None = None) -> Pickup:
    """The profile with what was measured for it on this port, its name included; as it is when nothing was.

    A delay that the profile's name already states is left alone. ``click``: the click goes out by MIDI, so the player
    hears it late too and the whole round trip counts; otherwise half of it, the way in.
    """
    known = known_delay(port, pickup.name, place)
    if known is None or plain_name(pickup.name) != pickup.name:
        return pickup
    lag_ms = None
    if known.round_trip_ms is not None:
        lag_ms = known.round_trip_ms if click else known.round_trip_ms / 2
    return calibrated(pickup, delay_periods=known.delay_periods, lag_ms=lag_ms)


def _key(port: str, profile: str) -> tuple[str, str]:
    return port_stem(port), plain_name(profile)


def _read(path: Path) -> list[KnownDelay]:
    damaged = f"{path} is damaged; delete it and run widehand calibrate again"
    try:
        text = read_file(path, _MOST_BYTES)[:_MOST_BYTES].decode()
    except FileNotFoundError:
        return []
    except OSError as error:
        raise StoreError(f"{path} cannot be read: {error.strerror or error}") from None
    except ValueError:
        raise StoreError(damaged) from None
    try:
        held: dict[str, Any] = json.loads(text)
        if version_in(held, _FORMAT) > VERSIONS[_FORMAT]:
            raise StoreError(f"{path} was written by a newer version of this program; update it")
        names = {field.name for field in fields(KnownDelay)}
        return [_checked(KnownDelay(**{key: row[key] for key in row if key in names})) for row in held["delays"]]
    except (ValueError, TypeError, KeyError, AttributeError):
        raise StoreError(damaged) from None


def _checked(row: KnownDelay) -> KnownDelay:
    numbers = (row.delay_periods, row.periods_low, row.periods_high, row.round_trip_ms, row.jitter_ms)
    if not all(isinstance(text, str) for text in (row.port, row.profile, row.measured)):
        raise TypeError
    if not all(number is None or isinstance(number, (int, float)) for number in numbers):
        raise TypeError
    return row
