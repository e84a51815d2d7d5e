"""Every JSON document that the program prints or writes says what it is, and is what its schema says."""

from __future__ import annotations

import io
import json
import shlex
import shutil
import zipfile
from pathlib import Path
from typing import Any

import pytest
from jsonschema import Draft202012Validator, ValidationError
from lab.pages.json_reference import page
from printed import checked, closed

from listener.cli import main
from listener.data import data_folder
from listener.formats import VERSIONS, format_of, version_in
from listener.history.calibration import KnownDelay, keep_delay
from listener.options.whole import build_parser, option_names, parsers_of
from listener.schemas import schema_names, whole_schema

ROOT = Path(__file__).parents[1]
#: What is typed, and the document that comes. {dir} is the folder of a player of some days.
LINES = {
    "demo --fast": "verdicts",
    "demo cider-fair --fast --tempo 120 --times 2": "verdicts",
    "demo --fast --own-pace --seed 3": "verdicts",
    "hear {dir}/take.mid --drill mill-verse": "verdicts",
    "hear --simulate --drill mill-verse --seed 5 --pickup-errors hard": "verdicts",
    "hear {dir}/take.mid": "chords",
    "hear {dir}/take.mid --remarks": "chords",
    "plan mill-verse": "plan",
    "plan mill-verse --compare": "plan",
    "plan mill-verse --alternatives 2 --capo 2": "plan",
    "plan paddock-gate --hand small": "plan",
    "plan cider-fair": "plan",
    "plan half-tide --tuning 'drop D'": "plan",
    "listen mill-verse --change 3 --everyday --wav change.wav": "listen",
    "sheet mill-verse --midi verse.mid --musicxml verse.mxl": "sheet",
    "sheet paddock-gate": "sheet",
    "name 55 64 72": "name",
    "name 60": "name",
    "drills": "drills",
    "drills show cider-fair": "drill",
    "drills check mill-verse": "drill-check",
    "drills check {dir}/broken.toml": "drill-check",
    "drills check {dir}/far.toml": "drill-check",
    "drills from 'C | G' --out made.toml": "new-drill",
    "drills from {dir}/take.mid --out kept.toml": "new-drill",
    "drills new high --chords 'C | G' --kind spread --top 'E6 D6'": "new-drill",
    "settings": "settings",
    "setup --check": "setup-check",
    "progress": "progress",
    "progress --since 2020-01-01 --drill mill-verse": "progress",
    "today": "today",
    "today --demo --start --fast --minutes 5": "today",
    "rejudge": "rejudge",
    "rejudge --store {dir}/older.sqlite3": "rejudge",
    "rejudge --rebuild --store {dir}/lost.sqlite3": "rebuild",
    "export --all --bundle all.zip --from Mara": "export",
    "export --take 1": "export",
    "import {dir}/bundle.zip --dry-run": "import",
    "import {dir}/bundle.zip --from Mara": "import",
    "students {dir} --rejudge": "students",
}
#: What needs a port; the tests of ``ports`` and ``calibrate`` look at these.
AT_PORTS = {"watch", "delay"}
#: What is written into files.
FILES = {"delays", "bundle", "bundle-take"}


@pytest.fixture(scope="module")
def folder(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A history with whole, broken-off and simulated takes, a take as a file, a bundle, two drills that are none."""
    place = tmp_path_factory.mktemp("player")
    with pytest.MonkeyPatch.context() as patch:
        patch.chdir(place)
        patch.setenv("WIDEHAND_STORE", str(place / "history.sqlite3"))
        for words in ("mill-verse", "cider-fair --tempo 120", "ferry-landing --own-pace"):
            assert main(["demo", *words.split(), "--fast", "--plain"]) == 0
        assert main(["export", "--all", "--bundle", "bundle.zip", "--from", "Ilse", "mill-verse"]) == 0
    shutil.copy(next((place / "takes").glob("*mill-verse*.mid")), place / "take.mid")
    (place / "broken.toml").write_text("title = 3\n[[passage]]\nchords = 'H'\n", encoding="utf-8")
    far = 'title = "Far"\nkey = "C major"\n[[passage]]\nchords = "C"\nkind = "close"\ntop = "E2"\n'
    (place / "far.toml").write_text(far, encoding="utf-8")
    return place


@pytest.fixture(autouse=True)
def _at_home(folder: Path, tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Each test writes into a folder of its own; what it reads is everybody's."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("WIDEHAND_STORE", str(folder / "history.sqlite3"))
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "own"))


@pytest.mark.parametrize("line", LINES)
def test_what_is_printed_is_what_its_schema_says(
    line: str, folder: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One document and nothing else, with its name, its version, and no field that the schema does not know."""
    if "import" in line:  # it keeps things
        shutil.copytree(folder, tmp_path / "mine")
        line += f" --store {tmp_path}/mine/history.sqlite3"
    assert main([*shlex.split(line.format(dir=folder)), "--json"]) in (0, 1)
    document = checked(json.loads(capsys.readouterr().out))
    assert document["format"] == format_of(LINES.get(line, "import"))


def test_ports_are_a_document_too(monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]) -> None:
    """As above, with ports that are there everywhere."""
    monkeypatch.setattr("listener.commands.guitar.ports.input_ports", lambda: ["guitar"])
    monkeypatch.setattr("listener.commands.guitar.ports.output_ports", list)
    assert main(["ports", "--json"]) == 0
    assert checked(json.loads(capsys.readouterr().out))["format"] == "widehand ports 1"


def test_what_is_written_is_what_its_schema_says(folder: Path, tmp_path: Path) -> None:
    """The index, takes and routes of a bundle; the delays that were measured."""
    with zipfile.ZipFile(io.BytesIO((folder / "bundle.zip").read_bytes())) as archive:
        written = {name: json.loads(archive.read(name)) for name in archive.namelist() if name.endswith(".json")}
    assert {checked(document)["format"] for document in written.values()} == {
        "widehand bundle", "widehand bundle-take 1", "widehand plan 1",
    }  # fmt: skip
    path = keep_delay(KnownDelay("guitar", "single", 2.0), tmp_path / "calibration.json")
    assert version_in(checked(json.loads(path.read_text())), "delays") == 1


def test_every_command_and_every_document_is_tried() -> None:
    """Each command with ``--json`` is in the lines above, and each document is printed or written by one of them."""
    with_json = {name for name, parser in parsers_of(build_parser()).items() if "--json" in option_names(parser)}
    tried = {line.split()[0] for line in LINES}
    assert with_json - tried == {"play", "ports", "calibrate"}  # play tells what demo and hear tell
    assert {*LINES.values(), "ports"} | AT_PORTS | FILES == {*VERSIONS, "bundle"} == set(schema_names())


@pytest.mark.parametrize("name", schema_names())
def test_a_schema_is_good_and_whole(name: str) -> None:
    """It is a schema; it names the version that is written; it refers to nothing outside of itself."""
    schema = whole_schema(name)
    Draft202012Validator.check_schema(schema)
    if name != "bundle":
        assert schema["properties"]["format"] == {"const": format_of(name)}
    assert "parts.json" not in json.dumps(schema)
    assert set(schema.get("$defs", ())) <= set(
        json.loads((data_folder("shared") / "schemas" / "parts.json").read_text())["$defs"]
    )


def test_a_schema_is_no_rubber_stamp(capsys: pytest.CaptureFixture[str]) -> None:
    """A field gone, of another type, out of bounds, of another version, or unknown: each is seen."""
    main(["name", "55", "64", "72", "--json"])
    good = json.loads(capsys.readouterr().out)
    wrong: list[dict[str, Any]] = [
        {"format": good["format"], "names": good["names"]},
        {**good, "pitches": "55"},
        {**good, "pitches": [128]},
        {**good, "format": "widehand name 2"},
        {**good, "names": [{**good["names"][0], "colour": "blue"}]},
    ]
    checked(good)
    for document in wrong:
        with pytest.raises(ValidationError):
            Draft202012Validator(closed(whole_schema("name"))).validate(document)


def test_schemas_can_be_asked_for(capsys: pytest.CaptureFixture[str]) -> None:
    """By the name of the document, or by what stands in its ``format``; a mistyped one is told."""
    for words in ("plan", "widehand plan 1"):
        assert main(["docs", "--schema", words]) == 0
        assert json.loads(capsys.readouterr().out) == whole_schema("plan")
    assert main(["docs", "--schema", "paln"]) == 2
    assert "did you mean plan?" in capsys.readouterr().err


def test_the_page_is_current() -> None:
    """docs/json.md is what ``PYTHONPATH=tests python -m lab.pages.json_reference`` prints."""
    assert (ROOT / "docs" / "json.md").read_text(encoding="utf-8") == page()
