"""A seal tells when a row changed, and which bit it was."""

from __future__ import annotations

import struct

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from listener.history.safekeeping.seals import put_right, seal_of

VALUES = st.lists(
    st.none()
    | st.integers(-(2**63), 2**63 - 1)
    | st.floats(allow_nan=False)
    | st.text(max_size=200)
    | st.binary(max_size=90),
    min_size=1,
    max_size=20,
)


def flipped(value: object, bit: int) -> object:
    """The value with one of its bits turned over, as a disk would."""
    if isinstance(value, str):
        return flipped(value.encode(), bit).decode("utf-8", "surrogateescape")  # type: ignore[union-attr]
    if isinstance(value, bytes):
        changed = bytearray(value)
        changed[bit // 8 % len(value)] ^= 1 << bit % 8
        return bytes(changed)
    if isinstance(value, float):
        return struct.unpack(">d", flipped(struct.pack(">d", value), bit))[0]  # type: ignore[arg-type]
    assert isinstance(value, int)
    return int.from_bytes(flipped(value.to_bytes(8, "big", signed=True), bit), "big", signed=True)  # type: ignore[arg-type]


@given(VALUES, st.integers(0, 10**6), st.integers(0, 10**6))
def test_any_bit_is_turned_back(values: list[object], place: int, bit: int) -> None:
    """In a number, a text, also one that is none any more, or raw bytes."""
    value = values[place % len(values)]
    assume(value is not None and value not in ("", b""))
    assume(not isinstance(value, float) or not value.is_integer())
    changed = [*values]
    changed[place % len(values)] = flipped(value, bit)
    after = changed[place % len(values)]
    assume(not isinstance(after, float) or not (after != after or after.is_integer()))
    assert seal_of(changed) != seal_of(values)
    assert put_right(changed, seal_of(values)) == values


def test_more_than_a_bit_is_not_guessed() -> None:
    """Another text, another number, another kind: found, and left for others to say what becomes of it."""
    kept = seal_of(["ferry", 7, 2.5, None])
    for values in (
        ["fairy", 7, 2.5, None],
        ["ferry", 8_000, 2.5, None],
        ["ferry", 7, 2.5, 0],
        ["ferry", "7", 2.5, None],
    ):
        assert put_right(values, kept) is None


@pytest.mark.parametrize(("one", "other"), [(60, 60.0), (0.0, -0.0), (True, 1)])
def test_what_a_column_gives_back_is_the_same(one: object, other: object) -> None:
    """A whole number in a column of real ones, nought without its sign, a flag as a number."""
    assert seal_of([one]) == seal_of([other])


def test_what_a_real_number_cannot_hold_is_another_number() -> None:
    """Beyond 2 to the 53rd whole numbers that differ would be the same real one."""
    assert seal_of([2**53 - 1]) == seal_of([float(2**53 - 1)])
    assert seal_of([2**60]) != seal_of([float(2**60)])
