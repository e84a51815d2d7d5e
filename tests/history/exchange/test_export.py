"""Handing over: what was asked for and nothing else, as a bundle, a table or JSON."""

from __future__ import annotations

import contextlib
import csv
import io
import json
import shutil
import sqlite3
from datetime import datetime, timedelta
from pathlib import Path

import pytest
from printed import run

from listener.history.exchange.unpacking import unpack
from listener.history.progress.csv_table import safe_cell
from listener.history.store.rows import utc_text
from listener.history.store.store import Store


def test_a_bundle_of_everything(mara_store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Twice the same file, with the name that was given; the history is only read."""
    before = mara_store.read_bytes()
    for name in ("one.zip", "two.zip"):
        words = ("--all", "--from", "Mara Lind", "--bundle", str(tmp_path / name), "--store", str(mara_store))
        assert run(capsys, "export", *words)[0] == 0
    assert (tmp_path / "one.zip").read_bytes() == (tmp_path / "two.zip").read_bytes()
    assert len(unpack((tmp_path / "one.zip").read_bytes(), "one.zip").takes) == 2
    assert mara_store.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "takes"),
    [
        (("--take", "1"), [1]),
        (("--take", "2", "--take", "1", "--take", "2"), [1, 2]),
        (("--drill", "mill-verse"), [1, 2]),
        (("--since", "2020-01-01"), [1, 2]),
        (("--take", "1", "--drill", "mill-verse", "--since", "2020-01-01"), [1]),
        (("--all",), [1, 2]),
    ],
)
def test_what_is_asked_for(
    words: tuple[str, ...], takes: list[int], mara_store: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """By number, drill, day, or all; oldest first."""
    code, out, _ = run(capsys, "export", *words, "--json", "--store", str(mara_store))
    assert code == 0
    assert [row["take"] for row in json.loads(out)["takes"]] == takes


def test_since_a_day_or_so_long_ago(mara_store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A take of forty days ago is not among those of the last five weeks, and is among those of two months and of the
    day itself."""
    store = tmp_path / "history.sqlite3"
    shutil.copy(mara_store, store)
    day = datetime.now().astimezone() - timedelta(days=40)
    with contextlib.closing(sqlite3.connect(store)) as db, db:
        db.execute("UPDATE take SET started_at = ?, seal = NULL WHERE id = 1", (utc_text(day),))
    for since, takes in (("5w", [2]), ("39d", [2]), ("2m", [1, 2]), ("1Y", [1, 2]), (day.date().isoformat(), [1, 2])):
        code, out, _ = run(capsys, "export", "--since", since, "--json", "--store", str(store))
        assert (code, [row["take"] for row in json.loads(out)["takes"]]) == (0, takes), since


def test_the_document_has_the_verdicts(mara_store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """As the attempts of the hear contract, field for field."""
    document = json.loads(run(capsys, "export", "--all", "--json", "--store", str(mara_store))[1])
    with Store.open(mara_store, read_only=True) as store:
        kept = [[verdict.as_json() for verdict in store.verdicts(number)] for number in (1, 2)]
    assert [row["attempts"] for row in document["takes"]] == json.loads(json.dumps(kept))


def test_the_table_has_a_row_for_each_verdict(mara_store: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """RFC 4180, read back by Python's csv module: as many rows as verdicts, numbers as they are kept."""
    code, out, _ = run(capsys, "export", "--all", "--csv", "-", "--store", str(mara_store))
    assert code == 0
    rows = list(csv.DictReader(io.StringIO(out, newline="")))
    with Store.open(mara_store, read_only=True) as store:
        verdicts = [(number, verdict) for number in (1, 2) for verdict in store.verdicts(number)]
    assert len(rows) == len(verdicts) == 32
    for row, (number, verdict) in zip(rows, verdicts, strict=True):
        assert (int(row["take"]), int(row["step"]), row["grade"]) == (number, verdict.step + 1, verdict.grade)
        assert [int(pitch) for pitch in row["heard"].split()] == list(verdict.heard)
        assert (float(row["offset_ms"]) if row["offset_ms"] else None) == verdict.offset_ms


@pytest.mark.parametrize("text", ["=1+1", "+1", "-1", "@x", "\t=1"])
def test_no_cell_is_a_formula(text: str) -> None:
    """A text from elsewhere is not run by a spreadsheet; others are as they were."""
    assert safe_cell(text) == f"'{text}"
    assert safe_cell("mill-verse") == "mill-verse"


def test_a_drill_alone(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """No take is needed, and no history."""
    file = str(tmp_path / "x.zip")
    assert run(capsys, "export", "mill-verse", "--bundle", file, "--store", str(tmp_path / "none.sqlite3"))[0] == 0
    bundle = unpack(Path(file).read_bytes(), "x.zip")
    assert [(drill.name, drill.to_practise) for drill in bundle.drills] == [("mill-verse", True)]
    assert not (tmp_path / "none.sqlite3").exists()


def test_the_name_comes_from_the_settings(
    mara_store: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Unless another is given, even an empty one; control characters are left out."""
    (tmp_path / "settings.toml").write_text('[player]\nname = "Ilse\\u001b[2J Brook"\n')
    monkeypatch.setenv("WIDEHAND_SETTINGS", str(tmp_path / "settings.toml"))
    file = tmp_path / "x.zip"
    for words, name in (((), "Ilse[2J Brook"), (("--from", "Ada"), "Ada"), (("--from", ""), "")):
        assert run(capsys, "export", "--all", "--bundle", str(file), "--store", str(mara_store), *words)[0] == 0
        assert unpack(file.read_bytes(), "x.zip").student == name


#: Words, a part of the line that must come, exit code.
TROUBLE = {
    "nothing to write": (("--all",), "say what to write", 2),
    "nothing to hand over": (("--bundle", "{tmp}/x.zip"), "say what to hand over", 2),
    "a drill into a table": (("mill-verse", "--csv", "{tmp}/x.csv"), "a drill goes into a bundle", 2),
    "a bundle on the screen": (("--all", "--bundle", "-"), "needs the name of a file", 2),
    "a bundle that nobody finds": (("--all", "--bundle", "{tmp}/mara"), "a bundle's name ends in .zip", 2),
    "two documents on one screen": (("--all", "--csv", "-", "--json"), "both want standard output", 2),
    "no such take": (("--take", "99", "--json"), "there is no take 99", 1),
    "take 0": (("--take", "0", "--json"), "not '0'", 2),
    "no such drill played": (("--drill", "no-such", "--json"), "there are some of: mill-verse", 1),
    "no such drill": (("no-such-drill", "--bundle", "{tmp}/x.zip"), "no-such-drill", 1),
    "a day that is none": (("--since", "2031-02-31", "--json"), "is not in the calendar", 2),
    "a day in words": (("--since", "monday", "--json"), "is not a date", 2),
    "a day to come": (("--since", "2999-01-01", "--json"), "is still to come", 2),
    "a bundle nowhere": (("--all", "--bundle", "{tmp}/no/x.zip"), "cannot be written", 1),
    "a bundle over a folder": (("--all", "--bundle", "{tmp}"), "is a folder", 1),
    "a table nowhere": (("--all", "--csv", "{tmp}/no/x.csv"), "cannot be written", 1),
    "a name without end": (("--all", "--from", "x" * 500, "--bundle", "{tmp}/x.zip"), "'student' must be", 1),
}


@pytest.mark.parametrize("story", TROUBLE)
def test_trouble_is_one_clear_line(
    story: str, mara_store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """What is wrong and what to try; nothing is written."""
    words, part, code = TROUBLE[story]
    got, out, err = run(capsys, "export", "--store", str(mara_store), *(word.format(tmp=tmp_path) for word in words))
    assert (got, out) == (code, "")
    assert part in err
    assert len([line for line in err.splitlines() if not line.startswith(" ")]) == 1
    assert list(tmp_path.iterdir()) == []


@pytest.mark.parametrize("words", [("--csv", "-"), ("--json",)])
def test_an_empty_history(words: tuple[str, ...], tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A table with its head, a document without takes; a bundle of nothing is refused with what to do."""
    store = ("--store", str(tmp_path / "none.sqlite3"))
    assert run(capsys, "export", "--all", *words, *store)[0] == 0
    code, _, err = run(capsys, "export", "--all", "--bundle", str(tmp_path / "x.zip"), *store)
    assert (code, "widehand demo" in err) == (1, True)
    assert list(tmp_path.iterdir()) == []
