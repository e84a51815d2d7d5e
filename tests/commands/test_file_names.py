"""Files that nobody named are called after the drill, lie in this folder, and never go over another file."""

from __future__ import annotations

from pathlib import Path

import pytest

from listener.cli import main


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to stand in."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "kept" / "h.sqlite3"))
    return tmp_path


@pytest.mark.parametrize(
    ("words", "names"),
    [
        (("sheet", "ferry-landing", "--midi"), ["ferry-landing.mid"]),
        (("sheet", "--tab", "ferry-landing"), ["ferry-landing.txt"]),
        (
            ("sheet", "ferry-landing", "--midi", "--musicxml", "--tab", "mine.txt"),
            ["ferry-landing.mid", "ferry-landing.musicxml", "mine.txt"],
        ),
        (("plan", "--json", "--midi", "ferry-landing"), ["ferry-landing.mid"]),
        (("listen", "--wav", "ferry-landing", "--change", "1"), ["ferry-landing.wav"]),
        (("progress", "--csv", "--csv-changes"), ["progress-changes.csv", "progress.csv"]),
        (("progress", "--drill", "Nobody's", "--csv"), ["nobody-s.csv"]),
    ],
    ids=" ".join,
)
def test_a_file_without_a_name(
    words: tuple[str, ...], names: list[str], folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """It gets the drill's, whichever of both comes first, and the name is told; one that is there stays as it is."""
    assert main(words) == 0
    assert sorted(path.name for path in folder.iterdir() if path.is_file()) == names
    err = capsys.readouterr().err
    assert all(f"written: {name}" in err for name in names)
    before = {path: path.read_bytes() for path in folder.iterdir() if path.is_file()}
    unnamed = [name for name in names if name != "mine.txt"]
    assert main(words) == 0
    assert all(path.read_bytes() == data for path, data in before.items())
    again = [f"{Path(name).stem}-2{Path(name).suffix}" for name in unnamed]
    err = capsys.readouterr().err
    assert all(f"written: {name}" in err for name in again)
    assert {path.name for path in folder.iterdir() if path.is_file()} == {*names, *again}


def test_all_pages_of_a_sheet_must_be_free(folder: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The second page of one sheet is not taken for the first of another, nor gone over."""
    monkeypatch.setattr("listener.sheets.printed.practice_sheet.sheet_pages", lambda *_words, **_more: [b"one", b"two"])
    (folder / "ferry-landing-2.svg").write_bytes(b"mine")
    assert main(["sheet", "ferry-landing", "--svg"]) == 0
    assert {path.name: path.read_bytes() for path in folder.glob("*.svg")} == {
        "ferry-landing-2.svg": b"mine", "ferry-landing-3.svg": b"one", "ferry-landing-3-2.svg": b"two",
    }  # fmt: skip


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (("sheet",), 2, "which drill? Such as: widehand sheet mill-verse"),
        (("sheet", "--pdf"), 2, "which drill?"),
        (("sheet", "--tab", "-"), 2, "which drill?"),
        (("sheet", "--pdf", "out.pdf"), 2, "which drill?"),
        (("sheet", "--pdf", "ferry-landing", "--svg", "low-tide"), 2, "which drill?"),
        (("plan",), 2, "which drill? Such as: widehand plan mill-verse"),
        (("plan", "--midi", ""), 2, "which drill?"),
        (("plan", "--midi", "fery-landing"), 1, "did you mean ferry-landing"),
        (("listen", "--wav"), 2, "which drill? Such as: widehand listen mill-verse"),
        (("sheet", "--midi", "no-such.toml"), 1, "there is no such file"),
    ],
    ids=lambda value: " ".join(value) if isinstance(value, tuple) else None,
)
def test_no_drill(
    words: tuple[str, ...], code: int, said: str, folder: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One line that says what to type; nothing is written."""
    assert main(words) == code
    out, err = capsys.readouterr()
    assert (out, err.count("\n")) == ("", 1)
    assert said in err
    assert list(folder.iterdir()) == []
