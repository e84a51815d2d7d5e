"""What passes between the stages, made in two ways."""

from __future__ import annotations

import pickle
from copy import copy
from dataclasses import FrozenInstanceError, replace

import pytest

from listener.hearing.events import (
    Message,
    NoteOff,
    NoteOn,
    Stroke,
    new_end,
    new_message,
    new_note,
    new_stroke,
)

NOTE = NoteOn(1.5, 60, 80, 3)
#: Made by calling its class, and made the quick way.
PAIRS = [
    (Message(1.5, (0x90, 60, 80)), new_message(1.5, (0x90, 60, 80))),
    (NOTE, new_note(1.5, 60, 80, 3)),
    (NoteOn(1.5, 60, 80, arrived_s=1.25), new_note(1.5, 60, 80, None, None, None, 1.25)),
    (NoteOff(2.5, 60, 3), new_end(2.5, 60, 3)),
    (Stroke((NOTE,), (), settled=True, closed_s=1.75), new_stroke((NOTE,), (), True, 1.75)),
]
KINDS = ["message", "note", "slid note", "end", "stroke"]
by_kind = pytest.mark.parametrize(("called", "made"), PAIRS, ids=KINDS)


@by_kind
def test_what_is_made_quickly_is_the_same(called: object, made: object) -> None:
    """Its class, all of its fields, its hash and how it is written."""
    assert type(made) is type(called)
    assert made == called
    assert hash(made) == hash(called)
    assert repr(made) == repr(called)


@by_kind
def test_what_is_made_quickly_can_be_copied_and_kept(called: object, made: object) -> None:
    """As dataclasses can."""
    assert copy(made) == called
    assert pickle.loads(pickle.dumps(made)) == called
    assert replace(made) == called  # type: ignore[type-var]


@by_kind
def test_what_is_made_quickly_is_frozen(called: object, made: object) -> None:
    """No field can be set or taken away any more, and there are no others."""
    for field in type(called).__slots__:  # type: ignore[attr-defined]
        with pytest.raises(FrozenInstanceError):
            setattr(made, field, 0)
        with pytest.raises(FrozenInstanceError):
            delattr(made, field)
    assert made == called
    assert not hasattr(made, "__dict__")
