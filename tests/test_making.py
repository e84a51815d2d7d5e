"""Objects made quickly are what their class makes."""

from __future__ import annotations

import pickle
from dataclasses import FrozenInstanceError, dataclass, field

import pytest

from listener.making import maker


@dataclass(frozen=True, slots=True)
class Plain:
    """Two fields, one with a default."""

    first: int
    second: str = "two"


@dataclass(frozen=True, slots=True)
class Busy:
    """Does something when it is made."""

    first: int

    def __post_init__(self) -> None:
        pass


@dataclass(frozen=True, slots=True)
class Filled:
    """A field that is filled anew each time."""

    first: list[int] = field(default_factory=list)


@dataclass(frozen=True)
class Roomy:
    """No slots."""

    first: int


def test_what_is_made_is_of_the_class_itself() -> None:
    """Equal, of the same class, as frozen, as hashable, whichever way the arguments are given."""
    make = maker(Plain)
    for made, wanted in (
        (make(1, "a"), Plain(1, "a")),
        (make(1), Plain(1)),
        (make(second="b", first=2), Plain(2, "b")),
    ):
        assert type(made) is Plain
        assert (made, hash(made), repr(made)) == (wanted, hash(wanted), repr(wanted))
        assert pickle.loads(pickle.dumps(made)) == wanted
        with pytest.raises(FrozenInstanceError):
            made.first = 3  # type: ignore[misc]


@pytest.mark.parametrize("arguments", [(), (1, "a", 2)])
def test_arguments_are_counted(arguments: tuple[object, ...]) -> None:
    """Too few or too many are an error here as there."""
    for make in (Plain, maker(Plain)):
        with pytest.raises(TypeError):
            make(*arguments)  # type: ignore[arg-type]


@pytest.mark.parametrize("other", [Busy, Filled, Roomy, int, lambda: 0])
def test_other_classes_are_refused(other: type) -> None:
    """What such a class does when an object is made would be left out, so there is no maker for it."""
    with pytest.raises(TypeError):
        maker(other)
