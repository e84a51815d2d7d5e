"""The way in that the README shows, typed into a clean shell: the first command, then ``widehand`` as a command.

The environment has nothing of the tests' own but what reaching the package index takes.
"""

from __future__ import annotations

import os
import re
import shutil
import subprocess
import sys
from pathlib import Path

import pytest

ROOT = Path(__file__).parents[1]
README = (ROOT / "README.md").read_text(encoding="utf-8")
_LINES = [line.split("  #")[0].strip() for line in re.findall(r"^    (\S.*)$", README, re.MULTILINE)]
FIRST = next(line for line in _LINES if "venv" in line and "demo" in line)
#: What is passed on of this environment: where and how packages are fetched.
_FETCHING = re.compile(r"^PIP_|^UV_|SSL|CERT|PROXY|proxy")
pytestmark = [pytest.mark.slow, pytest.mark.skipif(os.name == "nt", reason="the lines are for a POSIX shell")]


def line(beginning: str) -> str:
    """The only line to type that begins so."""
    (found,) = [one for one in _LINES if one.startswith(beginning)]
    return found


class Newcomer:
    """A copy of the project, a home with nothing in it, and a shell."""

    def __init__(self, place: Path) -> None:
        skipped = shutil.ignore_patterns(".git", ".*_cache", "__pycache__", ".venv", "dist", "tests", ".hypothesis")
        shutil.copytree(ROOT, place / "widehand", ignore=skipped)
        self.folder, self.home, self.tools = place / "widehand", place / "home", place / "tools"
        self.home.mkdir()
        self.tools.mkdir()
        (self.tools / "python3").symlink_to(getattr(sys, "_base_executable", sys.executable))

    def type(self, *lines: str) -> subprocess.CompletedProcess[str]:
        """Lines typed into one new shell; the first that fails ends it."""
        fetching = {name: value for name, value in os.environ.items() if _FETCHING.search(name)}
        path = os.pathsep.join(map(str, (self.tools, self.home / ".local" / "bin", "/usr/bin", "/bin")))
        return subprocess.run(
            ["bash", "--noprofile", "--norc", "-ec", "\n".join(lines)],
            cwd=self.folder,
            env={"HOME": str(self.home), "PATH": path, "LANG": "C.UTF-8", **fetching},
            stdin=subprocess.DEVNULL,
            capture_output=True,
            text=True,
            check=False,
        )


@pytest.fixture
def newcomer(tmp_path: Path) -> Newcomer:
    """Before anything was typed there is no such command."""
    person = Newcomer(tmp_path)
    assert person.type("widehand --version").returncode == 127
    return person


def test_the_first_command_and_then_a_command_for_good(newcomer: Newcomer) -> None:
    """The demo plays; after one more line ``widehand`` is a command in that shell, and knows what works here."""
    shown = newcomer.type(f"{FIRST} --fast")
    assert shown.returncode == 0, shown.stderr
    assert "hits" in shown.stdout
    done = newcomer.type(line(". .venv"), "widehand --version", "widehand plan ferry-landing", "widehand setup --check")
    assert done.stdout.startswith("widehand ")
    assert "yes history" in done.stdout
    assert "Traceback" not in done.stderr
    assert newcomer.type("widehand --version").returncode == 127


@pytest.mark.parametrize("tool", ["pipx", "uv"])
def test_with_a_tool_for_that(newcomer: Newcomer, tool: str) -> None:
    """One line puts the command where every terminal finds it."""
    environment = newcomer.home / "tool"
    have = newcomer.type(f"python3 -m venv {environment}", f"{environment}/bin/pip install -q {tool}")
    assert have.returncode == 0, have.stderr
    (newcomer.tools / tool).symlink_to(environment / "bin" / tool)
    done = newcomer.type(line(tool))
    assert done.returncode == 0, done.stderr
    shown = newcomer.type("widehand demo --fast --plain")
    assert "hits" in shown.stdout, shown.stderr
