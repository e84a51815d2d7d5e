"""The option ``--meter``: the meter that the player typed, or one line that says how to write it."""

from __future__ import annotations

from argparse import Namespace

from listener.errors import UsageError
from listener.music.meter import read_meter


def meter_of(arguments: Namespace) -> tuple[int, int] | None:
    """The meter that was asked for, None where none was; :class:`UsageError` when it cannot be."""
    asked = getattr(arguments, "meter", None)
    if asked is None:
        return None
    meter = read_meter(asked)
    if meter is None:
        raise UsageError(f"'{asked}' is not a meter; write 4/4, 3/4 or 6/8")
    return meter
