"""Instrument, hand and pickup as JSON, whole, so that a take is judged again against what was really played on.

Names alone would not do: what "medium" means may be measured better one day, and a take of today must not change its
numbers for that. What was read is remembered: thousands of takes were played on the same guitar.
"""

from __future__ import annotations

import json
from dataclasses import asdict, fields
from functools import lru_cache
from typing import Any

from listener.errors import WidehandError
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import Instrument
from listener.hearing.pickup import Pickup, make_pickup
from listener.music.pitch import parse_pitch


def instrument_text(instrument: Instrument | None) -> str | None:
    """Name, strings from the lowest up, frets, capo, length of the strings in mm, and which way round."""
    if instrument is None:
        return None
    row = {field.name: getattr(instrument, field.name) for field in fields(Instrument)}
    return _text({**row, "open_pitches": instrument.tuning_names})


@lru_cache(maxsize=256)
def instrument_from(text: str | None) -> Instrument | None:
    """What :func:`instrument_text` wrote; InstrumentError or MusicError when it cannot be."""
    row = _known(text, Instrument)
    if row is None:
        return None
    return Instrument(**{**row, "open_pitches": tuple(map(parse_pitch, row["open_pitches"]))})


def hand_text(hand: Hand | None) -> str | None:
    """Name and reaches in mm."""
    return None if hand is None else _text(asdict(hand))


@lru_cache(maxsize=256)
def hand_from(text: str | None) -> Hand | None:
    """What :func:`hand_text` wrote."""
    row = _known(text, Hand)
    return None if row is None else Hand(**row)


def pickup_text(pickup: Pickup | None) -> str | None:
    """The whole profile."""
    return None if pickup is None else _text(asdict(pickup))


@lru_cache(maxsize=256)
def pickup_from(text: str | None) -> Pickup | None:
    """What :func:`pickup_text` wrote."""
    row = _known(text, Pickup)
    return None if row is None else Pickup(**row)


def hand_named(name: str) -> Hand | None:
    """The hand of that name as it is now; None for a name that says nothing here."""
    try:
        return make_hand(name)
    except WidehandError:
        return None


def pickup_named(name: str) -> Pickup | None:
    """The pickup profile of that name as it is now; None for a name that says nothing here."""
    try:
        return make_pickup(name)
    except WidehandError:
        return None


def _text(row: dict[str, Any]) -> str:
    return json.dumps(row, separators=(",", ":"), allow_nan=False)


def _known(text: str | None, kind: type) -> dict[str, Any] | None:
    """The fields that this program knows; those of other versions are left out. Lists become tuples, as they were."""
    if text is None:
        return None
    names = {field.name for field in fields(kind)}
    return {name: _tupled(value) for name, value in json.loads(text).items() if name in names}


def _tupled(value: Any) -> Any:
    return tuple(map(_tupled, value)) if isinstance(value, list) else value
