"""Wheel and source distribution: what is in them, what an installed copy does on the oldest and the newest Python."""

from __future__ import annotations

import os
import shutil
import subprocess
import sys
import tarfile
import zipfile
from pathlib import Path

import pytest

from listener.sheets.pdf import FONTS_FOLDER

ROOT = Path(__file__).parents[1]
OLDEST = (3, 11)
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
    """A folder with the wheel and the source distribution, made from a copy without anything that is not kept."""
    copy, out = tmp_path_factory.mktemp("copy") / "source", tmp_path_factory.mktemp("packages")
    skipped = shutil.ignore_patterns(".git", ".*_cache", "__pycache__", ".venv", "dist", ".hypothesis", ".benchmarks")
    shutil.copytree(ROOT, copy, ignore=skipped)
    done = subprocess.run(
        [sys.executable, "-m", "hatchling", "build", "-d", str(out)],
        cwd=copy,
        capture_output=True,
        text=True,
        check=False,
    )
    assert done.returncode == 0, done.stderr
    return out


def only(packages: Path, ending: str) -> Path:
    found = list(packages.glob(f"*{ending}"))
    assert len(found) == 1
    return found[0]


def test_the_wheel_carries_drills_and_tables(packages: Path) -> None:
    """Every drill, every shared table and the letters of printed sheets travel inside the package, and no tests."""
    names = set(zipfile.ZipFile(only(packages, ".whl")).namelist())
    for folder in ("drills", "shared"):
        for path in (ROOT / folder).iterdir():
            if path.suffix in (".toml", ".csv"):
                assert f"listener/_data/{folder}/{path.name}" in names
    assert {path.relative_to(ROOT).as_posix() for path in FONTS_FOLDER.iterdir()} <= names
    assert not [name for name in names if name.startswith("tests/")]


def test_the_source_distribution_can_be_tested(packages: Path) -> None:
    """It has the tests, the drills and the pages."""
    with tarfile.open(only(packages, ".tar.gz")) as archive:
        names = {name.split("/", 1)[1] for name in archive.getnames() if "/" in name}
    assert {"tests/conftest.py", "drills/README.md", "docs/commands.md", "README.md", "pyproject.toml"} <= names


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
