"""``widehand setup --check``: each thing that can be wrong is said with what to do, and nothing is left behind."""

from __future__ import annotations

import json
from pathlib import Path
from typing import Any

import pytest

from listener import settings
from listener.cli import main
from listener.commands.guitar import setup_check
from listener.errors import SourceError


@pytest.fixture(autouse=True)
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """All is well: a guitar and a synthesiser are connected, nothing is kept yet."""
    for variable, name in (("STORE", "kept/h.sqlite3"), ("DRILLS", "drills")):
        monkeypatch.setenv(f"WIDEHAND_{variable}", str(tmp_path / name))
    monkeypatch.delenv("WIDEHAND_SETTINGS", raising=False)
    monkeypatch.setattr(settings, "settings_folder", lambda: tmp_path)
    monkeypatch.setattr(setup_check, "input_ports", lambda: ["Midi Through Port-0", "guitar 20:0"])
    monkeypatch.setattr(setup_check, "output_ports", lambda: ["synth"])
    return tmp_path


def looked(capsys: pytest.CaptureFixture[str], code: int) -> dict[str, dict[str, Any]]:
    """The checks by their names."""
    assert main(["setup", "--check", "--json"]) == code
    out, err = capsys.readouterr()
    assert err == ""
    document = json.loads(out)
    assert document["works"] == (code == 0)
    return {one["name"]: one for one in document["checks"]}


def test_all_is_well(capsys: pytest.CaptureFixture[str], home: Path) -> None:
    """Every line says so, in 80 columns; nothing is written."""
    found = looked(capsys, 0)
    assert {one["state"] for one in found.values()} <= {"works", "missing"}
    assert (found["MIDI input"]["found"], found["MIDI output"]["found"]) == ("guitar 20:0", "synth")
    assert "widehand setup" in found["settings"]["do"]
    assert main(["setup", "--check"]) == 0
    lines = capsys.readouterr().out.splitlines()
    assert lines[-1] == "All that playing needs is there."
    assert [line.split("  ")[0] for line in lines if line[0] != " "][:2] == ["yes Python", "yes MIDI library"]
    assert list(home.iterdir()) == []


def refuse() -> list[str]:
    raise SourceError("no MIDI system answers (tried ALSA); load the sequencer")


def _database(home: Path) -> None:
    (home / "kept").mkdir()
    (home / "kept" / "h.sqlite3").write_text("these are words " * 100)


HEXA = '[midi]\npickup = "hexa"\n'

#: What is broken, what is then said of it, and of which check.
TROUBLE: dict[str, tuple[Any, str, str]] = {
    "no library": (lambda _home, patch: patch.setattr(setup_check, "_MIDI_LIBRARIES", ("no_such",)), "MIDI library",
                   "install Widehand with Python 3.11 to 3.14"),
    "no system": (lambda _home, patch: patch.setattr(setup_check, "input_ports", refuse), "MIDI input",
                  "load the sequencer"),
    "no port": (lambda _home, patch: patch.setattr(setup_check, "input_ports", lambda: ["Midi Through"]), "MIDI input",
                "plug the pickup in"),
    "the kept port is not there": (lambda home, _: (home / "settings.toml").write_text('[midi]\nport = "bass"\n'),
                                   "MIDI input", "choose another: widehand setup"),
    "settings that were named and are not there": (
        lambda home, patch: patch.setenv("WIDEHAND_SETTINGS", str(home / "slip.toml")), "settings", "setup makes them"),
    "settings that are none": (lambda home, _: (home / "settings.toml").write_text("[guitar\n"), "settings",
                               "cannot be read"),
    "a tuning that cannot be": (lambda home, _: (home / "settings.toml").write_text('[guitar]\ntuning = "E9 A9"\n'),
                                "settings", "MIDI's range"),
    "a pickup that is none": (lambda home, _: (home / "settings.toml").write_text(HEXA), "settings",
                              "no pickup profile 'hexa'"),
    "a history that is none": (lambda home, _: _database(home), "history", "h.sqlite3"),
    "a history under a file": (lambda home, _: (home / "kept").write_text(""), "history", "WIDEHAND_STORE"),
    "drills under a file": (lambda home, patch: ((home / "f").write_text(""),
                                                 patch.setenv("WIDEHAND_DRILLS", str(home / "f" / "drills"))),
                            "own drills", "WIDEHAND_DRILLS"),
    "a full disk": (lambda _home, patch: patch.setattr(setup_check, "_LEAST_FREE", 1 << 70), "own drills", "make room"),
    "an old Python": (lambda _home, patch: patch.setattr(setup_check, "_OLDEST", (9, 0)), "Python", "install Python"),
}  # fmt: skip


@pytest.mark.parametrize("story", TROUBLE)
def test_what_does_not_work_is_said(
    story: str, home: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Exit code 1, and of that check alone what is wrong and what to do."""
    with monkeypatch.context() as patch:
        breaks, name, said = TROUBLE[story]
        breaks(home, patch)
        found = looked(capsys, 1)
        assert name in {one["name"] for one in found.values() if one["state"] == "fails"}
        assert said in f"{found[name]['found']}; {found[name]['do']}"
        assert main(["setup", "--check"]) == 1
        out = capsys.readouterr().out
        assert f"NO  {name}" in out
        assert "Traceback" not in out


def test_extras_are_no_fault(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """They are said to be missing, with how to get them."""
    monkeypatch.setattr(setup_check, "find_spec", lambda name: object() if name == "rtmidi" else None)
    monkeypatch.setattr(setup_check, "player_here", lambda: None)
    found = looked(capsys, 0)
    assert found["sheets"]["do"] == "if wanted: pip install 'widehand[sheets]'"
    assert {name for name, one in found.items() if one["state"] == "missing"} >= {"sheets", "report", "studio", "sound"}
