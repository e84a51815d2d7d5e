"""The player's own drills are found by name, after those of the course."""

from __future__ import annotations

import json
from pathlib import Path

import pytest

from listener.cli import main
from listener.drill.drill_file import bundled_drills, load_drill
from listener.errors import DrillError

DRILL = (
    'title = "Quay steps"\nabout = "A"\ntopic = "t"\ndifficulty = 1\nkey = "C major"\ntempo = 60\n'
    '[[passage]]\nname = "p"\nexercise = "progression"\nchords = "C | F | G"\nkind = "spread"\n'
)


@pytest.fixture
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    place = tmp_path / "own drills"
    monkeypatch.setenv("WIDEHAND_DRILLS", str(place))
    return place


def test_an_own_drill_is_found_by_its_name(folder: Path) -> None:
    """quay-steps.toml in the folder is the drill quay-steps."""
    folder.mkdir()
    (folder / "quay-steps.toml").write_text(DRILL)
    drill = load_drill("quay-steps")
    assert (drill.name, drill.title, len(drill.steps)) == ("quay-steps", "Quay steps", 3)
    with pytest.raises(DrillError, match="quay-steps"):
        load_drill("quay-step")


def test_the_course_goes_first(folder: Path) -> None:
    """An own file with a name of the course does not hide the course's drill."""
    folder.mkdir()
    name = bundled_drills()[0]
    (folder / f"{name}.toml").write_text(DRILL)
    assert load_drill(name).title != "Quay steps"


def test_own_drills_are_listed_and_broken_ones_named(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """The list ends with the player's own; a file that is no drill costs one line, not the list."""
    folder.mkdir()
    (folder / "quay-steps.toml").write_text(DRILL)
    (folder / "notes.toml").write_text("words words\n")
    assert main(["drills"]) == 0
    out = capsys.readouterr().out
    assert "your own\n  quay-steps" in out
    assert "cannot be read" in out
    assert main(["drills", "--json"]) == 0
    rows = json.loads(capsys.readouterr().out)["drills"]
    assert [row["drill"] for row in rows if row.get("own")] == ["quay-steps"]


def test_no_folder_is_no_trouble(folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing there: the course alone, not a word about own drills."""
    assert main(["drills"]) == 0
    assert "your own" not in capsys.readouterr().out
