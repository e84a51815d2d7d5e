"""One take that nobody would take in does not keep the others back."""

from __future__ import annotations

import shutil
from pathlib import Path

import pytest

from listener.cli import main
from listener.history.exchange.unpacking import unpack
from listener.history.store.accounts import seal_takes
from listener.history.store.store import Store


def changed(made: Path, place: Path, statement: str) -> Path:
    """A copy of the history with something done to it on purpose."""
    shutil.copytree(made.parent, place.parent)
    with Store.open(place) as store, store.backend.writing() as rows:
        rows.rows(statement)
        seal_takes(rows, (1, 2))
    return place


def test_a_take_of_1970_is_a_take(mara_store: Path, tmp_path: Path) -> None:
    """A clock that was never set says 1970: such takes are handed over and taken in like any other."""
    store = changed(
        mara_store, tmp_path / "h" / "history.sqlite3",
        "UPDATE take SET started_at = '1970-01-01T00:00:07.000+00:00', finished_at = '1970-01-01T00:01:07.000+00:00'",
    )  # fmt: skip
    bundle, other = tmp_path / "b.zip", tmp_path / "other" / "history.sqlite3"
    assert main(["export", "--all", "--from", "Mara", "--bundle", str(bundle), "--store", str(store)]) == 0
    assert main(["import", str(bundle), "--mine", "--store", str(other)]) == 0
    with Store.open(other) as opened:
        assert [take.info.started_at.year for take in opened.takes()] == [1970, 1970]
    for words in (["progress"], ["today"], ["rejudge"]):
        assert main([*words, "--store", str(other)]) == 0


@pytest.mark.parametrize(
    ("statement", "words"),
    [
        ("UPDATE take SET drill = 'a-name-without-end' || hex(zeroblob(200)) WHERE id = 1", "'name' must be a text"),
        ("UPDATE take SET file = 'takes/gone.mid' WHERE id = 1", "there is no such file"),
        ("UPDATE take SET started_at = '0007-01-01T00:00:00+00:00' WHERE id = 1", "'started_at' must be a date"),
    ],
)
def test_the_others_go_out(
    mara_store: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str], statement: str, words: str
) -> None:
    """Of all takes, the one that cannot be handed over is named with its reason; asked for alone, it is an error."""
    store = changed(mara_store, tmp_path / "h" / "history.sqlite3", statement)
    bundle = tmp_path / "b.zip"
    asked = ["export", "--from", "Mara", "--bundle", str(bundle), "--store", str(store)]
    capsys.readouterr()
    assert main([*asked, "--all"]) == 0
    # A take whose file is said to be another one has a file beside the history that it does not know.
    left, written = (line for line in capsys.readouterr().err.splitlines() if "--rebuild" not in line)
    assert left.startswith("left out: take 1 of ")
    assert words in left
    assert written == f"written: {bundle} (1 take)"
    assert len(unpack(bundle.read_bytes(), "b.zip").takes) == 1
    assert main([*asked, "--take", "1"]) == 1
    (line,) = (line for line in capsys.readouterr().err.splitlines() if "--rebuild" not in line)
    assert words in line
