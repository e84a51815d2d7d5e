"""Chance that is the same everywhere: one seed gives one order, on every machine and with every Python.

The numbers are those of SplitMix64 (G. Steele, D. Lea, C. Flood, "Fast splittable pseudorandom number generators",
OOPSLA 2014), the order that of Fisher and Yates as R. Durstenfeld wrote it down (1964). Python's own ``random`` is not
used, since it promises the same sequence only for ``random()`` itself.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from typing import Final, TypeVar

Thing = TypeVar("Thing")

_WORD: Final = 2**64
_GAMMA: Final = 0x9E3779B97F4A7C15


def splitmix64(seed: int) -> Iterator[int]:
    """Endless whole numbers from 0 to 2**64 - 1, all equally likely."""
    state = seed % _WORD
    while True:
        state = (state + _GAMMA) % _WORD
        mixed = ((state ^ (state >> 30)) * 0xBF58476D1CE4E5B9) % _WORD
        mixed = ((mixed ^ (mixed >> 27)) * 0x94D049BB133111EB) % _WORD
        yield mixed ^ (mixed >> 31)


def shuffled(things: Sequence[Thing], seed: int) -> list[Thing]:
    """The things in an order that the seed settles; every order is equally likely."""
    return _shuffled(things, splitmix64(seed))


def dealt(things: Sequence[Thing], count: int, seed: int) -> list[Thing]:
    """``count`` of the things: all of them in a shuffled order, then all again in another one, and so on."""
    numbers = splitmix64(seed)
    found: list[Thing] = []
    while things and len(found) < count:
        found += _shuffled(things, numbers)
    return found[:count]


def _shuffled(things: Sequence[Thing], numbers: Iterator[int]) -> list[Thing]:
    order = list(things)
    for last in range(len(order) - 1, 0, -1):
        other = _below(last + 1, numbers)
        order[last], order[other] = order[other], order[last]
    return order


def _below(bound: int, numbers: Iterator[int]) -> int:
    """A number from 0 to ``bound - 1``; the last, incomplete stretch is thrown away so that none is favoured."""
    even = _WORD - _WORD % bound
    return next(number for number in numbers if number < even) % bound
