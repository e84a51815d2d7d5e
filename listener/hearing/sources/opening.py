"""What somebody played, from a file: opened, and heard with the right pickup."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import replace
from pathlib import Path
from typing import Final

from listener.errors import SourceError
from listener.hearing.pickup import Pickup, make_pickup
from listener.hearing.take_file import LARGEST_BYTES, AnyTake, TakeStream, open_take
from listener.places import read_file

_REASONS: Final[Mapping[type[Exception], str]] = {
    FileNotFoundError: "there is no such file",
    IsADirectoryError: "that is a folder",
}


def load_take(path: Path) -> TakeStream:
    """Open a file, with one clear line (:class:`SourceError`) when it cannot be read."""
    try:
        data = read_file(path, LARGEST_BYTES)
    except (OSError, ValueError) as error:
        reason = _REASONS.get(type(error)) or getattr(error, "strerror", None) or "it cannot be read"
        raise SourceError(f"{path}: {reason}; give a Standard MIDI File (.mid)") from None
    return take_in(data, str(path))


def take_in(data: bytes, name: str) -> TakeStream:
    """The take that a file's bytes hold; ``name`` is for errors (:class:`SourceError`)."""
    if len(data) > LARGEST_BYTES:
        raise SourceError(f"{name} is larger than {LARGEST_BYTES >> 20} MB, which no playing is; give a shorter one")
    take = open_take(data, name)
    # The markers of a foreign file are rehearsal letters or chord names; only our own takes speak to the judge.
    return take if take.header is not None else take.without_marks()


def pickup_of(take: AnyTake, asked: str | None) -> Pickup:
    """The pickup that was asked for, or the one that the take says, or one that does not tell strings apart."""
    pickup = make_pickup(asked or (take.header.pickup if take.header else "single"))
    # Written, not converted from a sounding string: its notes begin when the file says.
    return pickup if take.header else replace(pickup, delay_periods=0.0, lag_ms=0.0)
