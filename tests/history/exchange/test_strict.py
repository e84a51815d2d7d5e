"""Fields of a bundle, each with its place in words; what is refused, what is usual, and what null means."""

from __future__ import annotations

import re
from collections.abc import Callable
from datetime import UTC, datetime
from typing import Any

import pytest

from listener.errors import SourceError
from listener.history.exchange.strict import Fields, texts
from listener.history.safekeeping.sense import KeptRow
from listener.records import choice, flag, listed, number, or_null, whole

ROW: dict[str, Any] = {
    "name": "Mara",
    "capo": 2,
    "tempo": 72,
    "pace": "click",
    "when": "2031-05-06T07:08:09+02:00",
    "marks": [],
    "nothing": None,
    "verdicts": [{"heard": [60]}, {"heard": [60, 200], "faults": [{"code": ""}]}],
    "touch": {"early": 7},
}
Read = Callable[[Fields], object]


def _second(row: Fields) -> Fields:
    return list(row.rows("verdicts", 9))[1]


@pytest.mark.parametrize(
    ("read", "fault"),
    [
        (lambda row: row.text("name", 3), ": 'name' must be a text of 0 to 3 characters"),
        (lambda row: row.text("gone", 3, needed=True), ": 'gone' must be a text of 1 to 3 characters"),
        (lambda row: row.text("nothing"), ": 'nothing' must be a text of 0 to 2000 characters"),
        (lambda row: row.need("gone", whole(0, 2)), ": 'gone' must be a whole number from 0 to 2"),
        (lambda row: row.need("capo", or_null(whole(3, 4))), ": 'capo' must be a whole number from 3 to 4"),
        (lambda row: row.need("tempo", number(0.5, 60)), ": 'tempo' must be a number from 0.5 to 60"),
        (lambda row: row.need("pace", choice(("own pace", "none"))), ": 'pace' must be one of own pace, none"),
        (lambda row: row.read("capo", flag, False), ": 'capo' must be true or false"),
        (lambda row: row.entries("verdicts", 1), ": 'verdicts' must be a list of up to 1 entries"),
        (
            lambda row: row.read("verdicts", texts(5, 2), ()),
            ": 'verdicts' must be a list of texts of up to 5 characters",
        ),
        (lambda row: row.moment("name"), ": 'name' must be a date and time with its zone, such as "),
        (lambda row: list(row.rows("touch", 9)), ": 'touch' must be a list of up to 9 entries"),
        (lambda row: row.part("name", lambda inner: inner), ", name must be a table, written {...}"),
        (lambda row: row.part("touch", lambda inner: inner.entries("early", 3)), ", touch: 'early' must be a list"),
        (
            lambda row: _second(row).read("heard", listed(whole(0, 127), 9), ()),
            ", verdicts 2: 'heard' must be a whole number from 0 to 127",
        ),
        (
            lambda row: [fault.text("code", 60, needed=True) for fault in _second(row).rows("faults", 9)],
            ", verdicts 2, faults 1: 'code' must be a text of 1 to 60 characters",
        ),
        (lambda row: row.misfit("pace", "another"), ": 'pace' must be another"),
    ],
)
def test_where_and_what(read: Read, fault: str) -> None:
    """One line: the file, the place in it as people count, the field, and what it must be."""
    with pytest.raises(SourceError, match=rf"^b\.zip, takes/1\.json{re.escape(fault)}.*; is the file damaged\?$"):
        read(Fields(ROW, "b.zip, takes/1.json"))


def test_what_is_usual() -> None:
    """What is not there is usual where something is; null is nothing where nothing may stand."""
    row = Fields(ROW, "b.zip")
    assert (row.text("gone"), row.entries("gone", 1), row.read("gone", flag, False)) == ("", [], False)
    assert row.need("nothing", or_null(whole(0, 1))) is row.need("gone", or_null(whole(0, 1))) is None
    assert row.part("gone", lambda inner: inner) is row.part("nothing", lambda inner: inner) is None
    assert row.need("tempo", number(0, 100)) == 72
    assert isinstance(row.need("tempo", number(0, 100)), int), "a whole number stays one"
    assert row.moment("when") == datetime(2031, 5, 6, 5, 8, 9, tzinfo=UTC)
    assert [one.where for one in row.rows("verdicts", 2)] == ["b.zip, verdicts 1", "b.zip, verdicts 2"]


def test_what_was_kept_is_read_more_kindly() -> None:
    """A row of the history may have longer texts and other years than a bundle, however deep they lie."""
    old = {"name": "x" * 5000, "when": "1066-10-14T09:00:00+00:00"}
    for kind, good in ((Fields, False), (KeptRow, True)):
        (row,) = kind({"rows": [old]}, "take").rows("rows", 1)
        for read in (lambda one: one.text("name", 200), lambda one: one.moment("when")):
            if good:
                assert read(row)
            else:
                with pytest.raises(SourceError, match=r"^take, rows 1: "):
                    read(row)
