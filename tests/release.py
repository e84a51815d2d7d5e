"""Builds a release and checks it: ``python -m tests.release`` (in the folder of the project, with the extra 'test').

The wheel and the source distribution lie in ``dist`` afterwards. What is checked: that the version, the changelog and
the tag of this commit agree; that the metadata is good; that everything is in both files; and that a new environment
without any extra runs the README's first command, every command's help, and what reads the files that came along.
"""

from __future__ import annotations

import argparse
import os
import re
import shutil
import subprocess
import sys
import tarfile
import tempfile
import zipfile
from collections.abc import Collection, Iterator, Sequence
from dataclasses import dataclass
from datetime import UTC, date, datetime
from pathlib import Path

from packaging.metadata import InvalidMetadata, Metadata
from packaging.version import Version

from listener import __version__
from listener.options.whole import build_parser, parsers_of

ROOT = Path(__file__).resolve().parents[1]
#: What an installed copy reads from its own files.
LINES = (
    "-V", "demo --fast --json", "plan mill-verse --json", "drills", "docs", "docs readme", "docs --schema verdicts",
)  # fmt: skip
_RELEASE = re.compile(r"^## (\S+) - (\S+)$")
_LEFT_OUT = (".git", ".*_cache", "__pycache__", ".venv", "dist", ".hypothesis", ".benchmarks", "*.egg-info")


def main() -> int:
    """Build, check, and say what is wrong; 1 when anything is."""
    parser = argparse.ArgumentParser(prog="python -m tests.release", description="Build a release and check it.")
    parser.add_argument("--out", type=Path, default=ROOT / "dist", help="where the files go (dist)")
    out: Path = parser.parse_args().out
    tags, uncommitted = _git("tag", "--points-at", "HEAD").split(), _git("status", "--porcelain")
    changelog = Changelog.of((ROOT / "CHANGELOG.md").read_text(encoding="utf-8"))
    faults = list(changelog.faults(__version__, tags, datetime.now(UTC).date()))
    if tags and uncommitted:
        faults.append(f"this commit is tagged, but not all is committed: {uncommitted.splitlines()[0][3:]}")
    with tempfile.TemporaryDirectory() as place:
        wheel, source = build(Path(place), out)
        faults += [*faults_of_wheel(wheel), *faults_of_source(source), *faults_of_metadata(metadata(wheel))]
        faults += faults_when_installed(wheel, source, Path(place))
    for fault in faults:
        print(f"wrong: {fault}")
    if faults:
        return 1
    print(f"widehand {__version__} is good: {wheel}, {source}")
    if changelog.unreleased:
        print(f"No release yet: {changelog.unreleased} entries of CHANGELOG.md wait for a version and a day.")
    elif f"v{__version__}" not in tags:
        print(f"To release it: git tag v{__version__}")
    return 0


@dataclass(frozen=True)
class Changelog:
    """The releases, newest first, each a version and a date as they are written, and how many entries wait for one."""

    releases: tuple[tuple[str, str], ...]
    unreleased: int
    odd: tuple[str, ...] = ()

    @classmethod
    def of(cls, text: str) -> Changelog:
        """Read from its Markdown."""
        headings = [line for line in text.splitlines() if line.startswith("## ")]
        found = [match.groups() for line in headings if (match := _RELEASE.match(line))]
        odd = [line for line in headings if not _RELEASE.match(line) and line != "## Unreleased"]
        if headings[:1] != ["## Unreleased"]:
            odd.insert(0, "'## Unreleased' does not come first")
        waiting = text.partition("\n## Unreleased")[2].partition("\n## ")[0]
        return cls(tuple((version, day) for version, day in found), waiting.count("\n- "), tuple(odd))

    def faults(self, version: str, tags: Collection[str], today: date) -> Iterator[str]:
        """What does not agree with the version, the tags of this commit, and the calendar."""
        yield from (f"CHANGELOG.md: {line}" for line in self.odd)
        newest = self.releases[0][0] if self.releases else "none"
        if newest != version:
            yield f"the program is {version}, the newest release in CHANGELOG.md {newest}"
        days = []
        for name, day in self.releases:
            try:
                days.append((Version(name), date.fromisoformat(day)))
            except ValueError:
                yield f"CHANGELOG.md: '{name} - {day}' is not a version and a day such as 2031-05-06"
        if days != sorted(days, reverse=True):
            yield "CHANGELOG.md: the newest release does not come first"
        yield from (f"CHANGELOG.md: {day} has not come yet" for _, day in days if day > today)
        of_versions = [tag for tag in tags if re.match(r"v\d", tag)]
        yield from (
            f"this commit is tagged {tag}, the program is {version}" for tag in of_versions if tag != f"v{version}"
        )
        if of_versions and self.unreleased:
            yield f"this commit is tagged, but {self.unreleased} entries of CHANGELOG.md are unreleased"


def build(place: Path, out: Path) -> tuple[Path, Path]:
    """The wheel and the source distribution, made in a copy without anything that is not kept."""
    copy = place / "source"
    shutil.copytree(ROOT, copy, ignore=shutil.ignore_patterns(*_LEFT_OUT))
    command = [sys.executable, "-m", "hatchling", "build", "-d", str(out.resolve())]
    done = subprocess.run(command, cwd=copy, capture_output=True, text=True, check=False)
    if done.returncode:
        raise SystemExit(f"it cannot be built: {done.stderr.strip().splitlines()[-1]}")
    stem = f"widehand-{__version__}"
    return out / f"{stem}-py3-none-any.whl", out / f"{stem}.tar.gz"


def faults_of_wheel(wheel: Path) -> Iterator[str]:
    """Every module, drill, table, schema and page is in it, and nothing of the tests."""
    names = set(zipfile.ZipFile(wheel).namelist())
    wanted = {f"listener/{path}" for path in _files(ROOT / "listener")}
    wanted |= {
        f"listener/_data/{folder}/{path}" for folder in ("drills", "shared", "docs") for path in _files(ROOT / folder)
    }
    wanted |= {"listener/_data/README.md", "listener/_data/CHANGELOG.md"}
    about = f"widehand-{__version__}.dist-info/"
    yield from (f"{wheel.name} lacks {name}" for name in sorted(wanted - names))
    yield from (f"{wheel.name} lacks {about}{name}" for name in ("licenses/LICENSE",) if about + name not in names)
    rest = {name for name in names - wanted if not name.startswith(about)}
    yield from (f"{wheel.name} has {name}, which is not ours" for name in sorted(rest))


def faults_of_source(source: Path) -> Iterator[str]:
    """It can be built and tested: program, tests and pages are in it."""
    with tarfile.open(source) as archive:
        names = {name.partition("/")[2] for name in archive.getnames()}
    folders = ("listener", "drills", "shared", "docs", "tests", ".ci")
    wanted = {f"{folder}/{path}" for folder in folders for path in _files(ROOT / folder)}
    wanted |= {"README.md", "CHANGELOG.md", "DEVELOPERS.md", "LICENSE", "pyproject.toml"}
    yield from (f"{source.name} lacks {name}" for name in sorted(wanted - names))


def metadata(wheel: Path) -> bytes:
    """What the wheel says about itself."""
    return zipfile.ZipFile(wheel).read(f"widehand-{__version__}.dist-info/METADATA")


def faults_of_metadata(data: bytes) -> Iterator[str]:
    """Whatever an index would refuse, and what nobody could do without."""
    try:
        found = Metadata.from_email(data, validate=True)
    except ExceptionGroup as error:
        yield from (f"metadata: {one}" for one in error.exceptions if isinstance(one, InvalidMetadata))
        return
    said = {
        "version": str(found.version) == __version__,
        "summary": bool(found.summary),
        "description": (found.description or "").startswith("# Widehand"),
        "description_content_type": (found.description_content_type or "").startswith("text/markdown"),
        "author": bool(found.author or found.author_email),
        "license_expression": found.license_expression == "MIT",
        "license_files": "LICENSE" in (found.license_files or ()),
        "requires_python": str(found.requires_python) == ">=3.11",
        "keywords": "guitar" in (found.keywords or ()),
    }
    yield from (f"metadata: {name} is missing or wrong" for name, good in said.items() if not good)
    yield from (f"metadata: no classifier '{kind} ::'" for kind in _KINDS if not _has(found.classifiers or (), kind))


_KINDS = ("Development Status", "Intended Audience", "Operating System", "Programming Language", "Topic")


def _has(classifiers: Sequence[str], kind: str) -> bool:
    return any(one.startswith(f"{kind} ::") for one in classifiers)


def faults_when_installed(wheel: Path, source: Path, place: Path) -> Iterator[str]:
    """In new environments without any extra: the README's first command in an unpacked source distribution, then the
    commands of the wheel."""
    clean = {
        name: value for name, value in os.environ.items() if not name.startswith(("PYTHON", "WIDEHAND", "VIRTUAL"))
    }
    environment = {**clean, "WIDEHAND_STORE": str(place / "history.sqlite3"), "WIDEHAND_SETTINGS": os.devnull}

    def said(command: Sequence[str | Path], folder: Path = place) -> Iterator[str]:
        done = subprocess.run(command, cwd=folder, env=environment, capture_output=True, text=True, check=False)
        if done.returncode or not done.stdout or "Traceback" in done.stderr:
            told = " ".join(map(str, command))
            yield f"'{told}' ended with {done.returncode}: {done.stderr.strip() or 'nothing was said'}"

    with tarfile.open(source) as archive:
        archive.extractall(place / "unpacked", filter="data")
    folder = place / "unpacked" / f"widehand-{__version__}"
    yield from said(["bash", "-c", first_command((folder / "README.md").read_text(encoding="utf-8"))], folder)
    binaries = place / "user" / ("Scripts" if os.name == "nt" else "bin")
    subprocess.run([sys.executable, "-m", "venv", place / "user"], check=True, env=environment)
    pip = [str(binaries / "pip"), "install", "-q", str(wheel.resolve())]
    subprocess.run(pip, check=True, env=environment, capture_output=True)
    for line in (*LINES, "--help", *(f"{name} --help" for name in parsers_of(build_parser()))):
        yield from said([binaries / "widehand", *line.split()])


def first_command(readme: str) -> str:
    """The first line to type.

    >>> first_command("# Title\\n\\nTry:\\n\\n    make && ./demo\\n\\n    more\\n")
    'make && ./demo'
    """
    return next(line.strip() for line in readme.splitlines() if line.startswith("    "))


def _files(folder: Path) -> Iterator[str]:
    """All that is kept, as a path from there."""
    for path in folder.rglob("*"):
        if path.is_file() and not any(part == "__pycache__" or part.endswith("_cache") for part in path.parts):
            yield path.relative_to(folder).as_posix()


def _git(*words: str) -> str:
    """What git says; nothing where there is none."""
    try:
        return subprocess.run(["git", *words], cwd=ROOT, capture_output=True, text=True, check=False).stdout
    except FileNotFoundError:
        return ""


if __name__ == "__main__":
    sys.exit(main())
