"""``widehand sheet``: every format into its file, one clear line for what cannot be, and nothing half done."""

from __future__ import annotations

import io
from argparse import Namespace
from pathlib import Path
from typing import Any
from zipfile import is_zipfile

import mido
import pytest
from musicxml_schema import faults

from listener.commands.looking.sheet import main
from listener.errors import DrillError, InstrumentError, SourceError, UsageError, WidehandError

DRILL = "ferry-landing"


def options(**given: Any) -> Namespace:
    """The options of the command line with their defaults."""
    usual: dict[str, Any] = dict.fromkeys(
        ("musicxml", "midi", "wav", "svg", "pdf", "tab", "tuning", "capo", "hand", "tempo")
    )
    usual |= {"drill": DRILL, "left_handed": False, "with_click": False, "paper": "a4", "json": False}
    return Namespace(**(usual | given))


@pytest.fixture(autouse=True)
def no_settings(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """The settings of whoever runs the tests play no part."""
    empty = tmp_path / "settings.toml"
    empty.touch()
    monkeypatch.setenv("WIDEHAND_SETTINGS", str(empty))


def test_all_formats_at_once(tmp_path: Path, capsys: pytest.CaptureFixture[str], printing: None) -> None:
    """Six files, each of its kind; what was written is said on standard error."""
    files = {
        kind: tmp_path / f"sheet.{end}"
        for kind, end in {
            "musicxml": "musicxml",
            "midi": "mid",
            "wav": "wav",
            "svg": "svg",
            "pdf": "pdf",
            "tab": "txt",
        }.items()
    }
    assert main(options(**{kind: str(path) for kind, path in files.items()})) == 0
    out, err = capsys.readouterr()
    assert out == ""
    assert all(f"written: {path}\n" in err for path in files.values())
    assert faults(files["musicxml"].read_bytes()) == []
    assert len(mido.MidiFile(files["midi"]).tracks) == 2
    assert files["wav"].read_bytes().startswith(b"RIFF")
    assert files["svg"].read_bytes().startswith(b"<?xml version='1.0' encoding='UTF-8'?>\n<svg ")
    assert files["pdf"].read_bytes().startswith(b"%PDF-")
    assert files["tab"].read_text(encoding="ascii").startswith("Ferry landing")


def test_without_a_format_the_tab_is_printed(capsys: pytest.CaptureFixture[str]) -> None:
    """The one format that needs nothing installed and no file."""
    assert main(options()) == 0
    plain = capsys.readouterr().out
    assert "Pain means stop." in plain
    assert main(options(tab="-")) == 0
    assert capsys.readouterr().out == plain


def test_click_tempo_and_compression(tmp_path: Path) -> None:
    """A third track for the click, the tempo everywhere, an archive for .mxl."""
    midi, score, tab = tmp_path / "a.mid", tmp_path / "a.mxl", tmp_path / "a.txt"
    assert main(options(midi=str(midi), musicxml=str(score), tab=str(tab), with_click=True, tempo=48.0)) == 0
    assert "48 beats a minute" in tab.read_text(encoding="ascii")
    tracks = mido.MidiFile(midi).tracks
    assert [track.name for track in tracks][1:] == ["Guitar", "Click"]
    assert [message.tempo for message in tracks[0] if message.type == "set_tempo"] == [1_250_000]
    assert is_zipfile(io.BytesIO(score.read_bytes()))


def test_more_pages_have_numbers(tmp_path: Path) -> None:
    """The first page under its own name, the others beside it."""
    pytest.importorskip("verovio")
    assert main(options(drill="lighthouse-stairs", svg=str(tmp_path / "stairs.svg"))) == 0
    names = sorted(path.name for path in tmp_path.glob("*.svg"))
    assert names[:2] == ["stairs-2.svg", "stairs.svg"]


@pytest.mark.parametrize(
    ("given", "error", "message"),
    [
        ({"wav": "-"}, UsageError, "--wav needs the name of a file"),
        ({"pdf": "-"}, UsageError, "--pdf needs the name of a file"),
        ({"musicxml": "x.xml", "midi": "x.xml"}, UsageError, "x.xml is asked for twice"),
        ({"midi": "x.mid", "tempo": 1.0}, UsageError, "cannot hold a tempo of 1"),
        ({"svg": "x.svg", "paper": "b7"}, UsageError, "there is no paper 'b7'"),
        ({"drill": "no-such-drill", "midi": "x.mid"}, WidehandError, "no-such-drill"),
        ({"tuning": "H2", "midi": "x.mid"}, InstrumentError, "H2"),
        ({"hand": "giant", "tab": "x.txt"}, WidehandError, "giant"),
        ({"midi": "missing/folder/x.mid"}, SourceError, "missing/folder/x.mid cannot be written: no such file"),
        ({"tab": "."}, SourceError, r"\. is a folder; name a file in it"),
    ],
)
def test_what_cannot_be(
    given: dict[str, Any], error: type[Exception], message: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line that says what is wrong; nothing is written."""
    monkeypatch.chdir(tmp_path)
    with pytest.raises(error, match=message):
        main(options(**given))
    assert sorted(path.name for path in tmp_path.iterdir()) == ["settings.toml"]


def test_a_broken_drill(tmp_path: Path) -> None:
    """All faults with their lines, as everywhere."""
    broken = tmp_path / "broken.toml"
    broken.write_text('title = "T"\nkey = "H major"\n', encoding="utf-8")
    with pytest.raises(DrillError, match="line 2"):
        main(options(drill=str(broken)))


def test_a_missing_library_leaves_nothing_behind(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The MIDI file that was asked for beside the PDF is not written either."""

    def broken(name: str) -> Any:
        raise ModuleNotFoundError(f"No module named '{name}'", name=name)

    monkeypatch.setattr("listener.sheets.extras.import_module", broken)
    with pytest.raises(WidehandError, match=r"pip install 'widehand\[sheets\]'"):
        main(options(midi=str(tmp_path / "a.mid"), pdf=str(tmp_path / "a.pdf")))
    assert not (tmp_path / "a.mid").exists()
