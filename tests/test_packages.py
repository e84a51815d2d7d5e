"""Wheel and source distribution: what is in them, what an installed copy does on the oldest and the newest Python."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import zipfile
from pathlib import Path

import pytest
from release import build, faults_of_metadata, faults_of_source, faults_of_wheel, metadata

pytestmark = pytest.mark.slow


def interpreters() -> list[str]:
    """This Python and the newest other one that is here."""
    found: dict[tuple[int, int], str] = {}
    folder = Path(os.environ.get("PYENV_ROOT", Path.home() / ".pyenv")) / "versions"
    places = [str(path) for path in folder.glob("3.*/bin/python3")]
    places += [place for minor in range(11, 20) if (place := shutil.which(f"python3.{minor}"))]
    for place in places:
        asked = subprocess.run(
            [place, "-c", "import sys, venv, ensurepip; print(*sys.version_info[:2])"],
            capture_output=True,
            text=True,
            check=False,
        )
        if asked.returncode == 0:
            major, minor = map(int, asked.stdout.split())
            found[major, minor] = place
    newer = sorted(version for version in found if version > sys.version_info[:2])
    return [sys.executable, *(found[version] for version in newer[-1:])]


@pytest.fixture(scope="module")
def packages(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A folder with the wheel and the source distribution."""
    place, out = tmp_path_factory.mktemp("copy"), tmp_path_factory.mktemp("packages")
    build(place, out)
    return out


def only(packages: Path, ending: str) -> Path:
    found = list(packages.glob(f"*{ending}"))
    assert len(found) == 1
    return found[0]


def test_the_packages_carry_everything(packages: Path) -> None:
    """Drills, tables, schemas and pages travel inside the wheel, nothing of the tests does; the source distribution can
    be tested; what they say about themselves is good."""
    wheel, source = only(packages, ".whl"), only(packages, ".tar.gz")
    assert [*faults_of_wheel(wheel), *faults_of_source(source), *faults_of_metadata(metadata(wheel))] == []


def test_what_is_missing_is_seen(packages: Path, tmp_path: Path) -> None:
    """A wheel without a drill, with a test in it, and without an author."""
    whole, less = only(packages, ".whl"), tmp_path / only(packages, ".whl").name
    with zipfile.ZipFile(whole) as archive, zipfile.ZipFile(less, "w") as made:
        for name in archive.namelist():
            if not name.endswith("drills/40-toll-house.toml"):
                made.writestr(name, archive.read(name))
        made.writestr("tests/conftest.py", "")
    assert [fault.split(" ", 1)[1] for fault in faults_of_wheel(less)] == [
        "lacks listener/_data/drills/40-toll-house.toml", "has tests/conftest.py, which is not ours",
    ]  # fmt: skip
    said = metadata(whole).decode().replace("Author: The Widehand founders\n", "").replace("Topic ::", "Toppic ::")
    assert list(faults_of_metadata(said.encode())) == [
        "metadata: author is missing or wrong", "metadata: no classifier 'Topic ::'",
    ]  # fmt: skip
    assert "metadata: " in next(faults_of_metadata(said.replace("Version: ", "Version: x").encode()))


@pytest.mark.parametrize("ending", [".whl", ".tar.gz"])
@pytest.mark.parametrize("python", interpreters(), ids=lambda place: Path(place).resolve().name)
def test_an_installed_copy_does_the_main_job(python: str, ending: str, packages: Path, tmp_path: Path) -> None:
    """In a clean environment without any extra: the demo, a plan, a MIDI library; a clear line where an extra is
    missing. The wheel asks for nothing that would have to be built."""
    subprocess.run([python, "-m", "venv", tmp_path / "env"], check=True)
    binaries = tmp_path / "env" / "bin"
    ready_made = ["--only-binary", ":all:"] if ending == ".whl" else []
    subprocess.run(
        [binaries / "pip", "install", "-q", *ready_made, only(packages, ending)], check=True, capture_output=True
    )
    place = {**os.environ, "WIDEHAND_STORE": str(tmp_path / "history.sqlite3")}
    place.pop("PYTHONPATH", None)

    def widehand(*words: str) -> subprocess.CompletedProcess[str]:
        return subprocess.run(
            [binaries / "widehand", *words], cwd=tmp_path, env=place, capture_output=True, text=True, check=False
        )

    assert "hits" in widehand("demo", "--fast", "--plain").stdout
    assert len(widehand("drills").stdout.splitlines()) > 10
    assert widehand("plan", "mill-verse", "--json").returncode == 0
    assert "no live MIDI" not in widehand("ports").stderr
    refused = widehand("sheet", "mill-verse", "--pdf", "out.pdf")
    assert refused.returncode == 1
    assert "[sheets]" in refused.stderr
    assert len(refused.stderr.splitlines()) == 1
