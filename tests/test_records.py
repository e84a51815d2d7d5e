"""Records that others wrote: what each kind takes, what is said of the rest, and that no fault is lost."""

from __future__ import annotations

import math
from typing import Any

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.records import (
    Kind,
    Misfit,
    Strict,
    Written,
    any_list,
    choice,
    did_you_mean,
    fits,
    flag,
    is_whole,
    listed,
    number,
    or_null,
    real,
    said,
    shown,
    text,
    whole,
)
from listener.toml_lines import Path

#: Whatever TOML or JSON can hold.
VALUES: st.SearchStrategy[Any] = st.recursive(
    st.none() | st.booleans() | st.integers() | st.floats() | st.text(max_size=12) | st.just(10**400),
    lambda inner: st.lists(inner, max_size=4) | st.dictionaries(st.text(max_size=3), inner, max_size=3),
    max_leaves=8,
)
KINDS: dict[str, Kind[Any]] = {
    "capo": whole(0, 36),
    "tempo": number(0, 1e6),
    "lag": real(-10, 10, "ms"),
    "loop": flag,
    "name": text(5, 1),
    "about": text(),
    "pace": choice(("click", "own pace")),
    "frets": listed(whole(0, 12), 3),
    "marks": any_list(2),
    "seed": or_null(whole(1, 9)),
    "version": whole(1, 2**31),
    "size": said(choice(("small", "large")), "small or large"),
}


class Bundle(Strict):
    """A record to its first fault."""

    def refusal(self, name: str, wanted: str) -> LookupError:
        """With its place."""
        return LookupError(f"{self.place(name)} must be {wanted}")


class Kept:
    """Keeps every fault with its place."""

    def __init__(self) -> None:
        self.found: list[tuple[Path, str]] = []

    def add(self, path: Path, text: str) -> None:
        """Keep it."""
        self.found.append((path, text))


@pytest.mark.parametrize(
    ("name", "value", "wanted"),
    [
        ("capo", -1, "a whole number from 0 to 36"),
        ("capo", 37, "a whole number from 0 to 36"),
        ("capo", 1.0, "a whole number from 0 to 36"),
        ("capo", True, "a whole number from 0 to 36"),
        ("capo", "1", "a whole number from 0 to 36"),
        ("capo", None, "a whole number from 0 to 36"),
        ("tempo", math.nan, "a number from 0 to 1e+06"),
        ("tempo", math.inf, "a number from 0 to 1e+06"),
        ("tempo", False, "a number from 0 to 1e+06"),
        ("tempo", 10**400, "a number from 0 to 1e+06"),
        ("lag", -10.5, "a number from -10 to 10 ms"),
        ("lag", -(10**400), "a number from -10 to 10 ms"),
        ("loop", 1, "true or false"),
        ("loop", "true", "true or false"),
        ("name", "", "a text of 1 to 5 characters"),
        ("name", "abcdef", "a text of 1 to 5 characters"),
        ("name", ["a"], "a text of 1 to 5 characters"),
        ("about", 5, "a text in quotes"),
        ("pace", "slow", "one of click, own pace"),
        ("pace", ["click"], "one of click, own pace"),
        ("frets", [1, 2, 3, 4], "a list of up to 3 entries"),
        ("frets", {"1": 2}, "a list of up to 3 entries"),
        ("frets", "123", "a list of up to 3 entries"),
        ("frets", [1, 13], "a whole number from 0 to 12"),
        ("frets", [1, True], "a whole number from 0 to 12"),
        ("marks", [0, 0, 0], "a list of up to 2 entries"),
        ("seed", 0, "a whole number from 1 to 9"),
        ("version", "1", "a whole number from 1 to 2147483648"),
        ("size", "huge", "small or large"),
    ],
)
def test_what_is_said(name: str, value: object, wanted: str) -> None:
    """The same by both readers: the one refuses it, the other keeps it and goes on with what is usual."""
    with pytest.raises(Misfit) as caught:
        KINDS[name](value)
    assert str(caught.value) == wanted
    for reads in (Bundle.need, lambda row, *field: row.read(*field, None)):
        with pytest.raises(LookupError) as refused:
            reads(Bundle({name: value}, ("takes", 3)), name, KINDS[name])
        assert refused.value.args == (f"('takes', 3, {name!r}) must be {wanted}",)
    kept = Kept()
    assert Written({name: value}, ("passage", 0), kept).read(name, KINDS[name], "usual") == "usual"
    assert kept.found == [(("passage", 0, name), f"'{name}' must be {wanted}, not {shown(value)}")]


@pytest.mark.parametrize(
    ("value", "quoted"),
    [
        ("huge", "'huge'"),
        ("it's", '"it\'s"'),
        ("a\x1b[2J", "'a\\x1b[2J'"),
        ("x" * 40, f"'{'x' * 40}'"),
        ("x" * 41, f"'{'x' * 37}'..."),
        (True, "true"),
        (-1, "-1"),
        (7.25, "7.25"),
        (10**400, "a very long number"),
        pytest.param(1 << 40_000, "a very long number", id="too long to be written"),
        ([1, 2], "a list"),
        ([], "an empty list"),
        ({"a": 1}, "a table"),
    ],
)
def test_a_value_as_it_is_quoted(value: object, quoted: str) -> None:
    """Short, on one line, and as the file has it where that is short enough."""
    assert shown(value) == quoted


@given(VALUES, st.integers(), st.integers())
def test_numbers(value: Any, low: int, high: int) -> None:
    """A number is taken when it lies within the bounds; what is not finite, or true, or no number, never is."""
    within = type(value) in (int, float) and low <= value <= high
    assert fits(number(low, high), value) == within
    assert fits(whole(low, high), value) == (within and type(value) is int)
    assert is_whole(value) == (type(value) is int)
    if within:
        assert number(low, high)(value) is value
    limits = (-100, 100)
    if fits(real(*limits), value):
        assert type(real(*limits)(value)) is float
        assert real(*limits)(value) == value
        assert math.isfinite(value)


@given(VALUES, st.integers(0, 6), st.integers(0, 6))
def test_texts_and_lists_have_an_end(value: Any, shortest: int, longest: int) -> None:
    """What is taken is no longer than was asked for, and is what was written."""
    assert fits(text(longest, shortest), value) == (isinstance(value, str) and shortest <= len(value) <= longest)
    assert fits(text(), value) == isinstance(value, str)
    assert fits(any_list(longest), value) == (isinstance(value, list) and len(value) <= longest)
    if fits(listed(text(shortest), longest), value):
        assert list(listed(text(shortest), longest)(value)) == value
        assert all(len(entry) <= shortest for entry in value)


@given(VALUES)
def test_null_and_other_words(value: Any) -> None:
    """Null beside a kind takes null and what the kind takes; other words take the same and change what is said."""
    for kind in KINDS.values():
        assert fits(or_null(kind), value) == (value is None or fits(kind, value))
        assert fits(said(kind, "better"), value) == fits(kind, value)
        if not fits(kind, value):
            with pytest.raises(Misfit, match=r"^better$"):
                said(kind, "better")(value)


@given(st.dictionaries(st.sampled_from([*KINDS, "more"]), VALUES))
def test_no_fault_is_lost(values: dict[str, Any]) -> None:
    """Whoever keeps faults has one for every wrong field, in the order of reading, at its place; whoever stops, stops
    at the first. A field that nobody asks for changes nothing."""
    kept = Kept()
    drill = Written(values, ("passage", 1), kept)
    found = {name: drill.read(name, kind, "usual") for name, kind in KINDS.items()}
    wrong = [name for name in KINDS if name in values and not fits(KINDS[name], values[name])]
    assert [path for path, _ in kept.found] == [("passage", 1, name) for name in wrong]
    for name, kind in KINDS.items():
        right = name in values and name not in wrong
        assert found[name] == (kind(values[name]) if right else "usual")
    assert drill.unknown(KINDS) == [name for name in values if name == "more"]
    bundle = Bundle(values)
    if wrong:
        with pytest.raises(LookupError, match=rf"^\('{wrong[0]}',\) must be "):
            [bundle.read(name, kind, "usual") for name, kind in KINDS.items()]
    else:
        assert {name: bundle.read(name, kind, "usual") for name, kind in KINDS.items()} == found


@given(st.dictionaries(st.sampled_from(list(KINDS)), VALUES), st.sampled_from(list(KINDS)))
def test_what_is_needed(values: dict[str, Any], name: str) -> None:
    """A field that is needed and missing is refused like one that is null."""
    row = Bundle(values)
    if fits(KINDS[name], values.get(name)):
        assert row.need(name, KINDS[name]) == KINDS[name](values.get(name))
    else:
        with pytest.raises(LookupError, match=name):
            row.need(name, KINDS[name])
    assert row.has(name) == (name in values)


def test_did_you_mean() -> None:
    """The nearest of the known words, whatever its case; nothing where none is near."""
    assert did_you_mean("tempoo", ("key", "tempo", "temper")) == "did you mean 'tempo'?"
    assert did_you_mean("TEMPO", ("key", "tempo")) == "did you mean 'tempo'?"
    assert did_you_mean("xyz", ("key", "tempo")) == ""
