"""``widehand completion``: the scripts are tried in the shells that they are for."""

from __future__ import annotations

import shutil
import subprocess
import sys
from pathlib import Path

import pytest

from listener.cli import main
from listener.drill.drill_file import bundled_drills


def script(shell: str) -> str:
    command = [sys.executable, "-m", "listener", "completion", shell]
    return subprocess.run(command, capture_output=True, text=True, check=True).stdout


def needs(shell: str) -> str:
    if shutil.which(shell) is None:
        pytest.skip(f"{shell} is not installed (Debian: apt-get install {shell})")
    return shell


def bash_offers(folder: Path, *words: str) -> list[str]:
    """What bash would offer for the last word."""
    (folder / "widehand.bash").write_text(script("bash"), encoding="utf-8")
    line = (
        f"source widehand.bash; COMP_WORDS=({' '.join(repr(word) for word in words)}); "
        f"COMP_CWORD={len(words) - 1}; $(complete -p widehand | sed 's/.*-F \\([^ ]*\\).*/\\1/'); "
        "printf '%s\\n' \"${COMPREPLY[@]}\""
    )
    done = subprocess.run([needs("bash"), "-c", line], cwd=folder, capture_output=True, text=True, check=True)
    return done.stdout.split()


def test_bash_completes_commands(tmp_path: Path) -> None:
    """The first word: a command that begins so."""
    assert bash_offers(tmp_path, "widehand", "cal") == ["calibrate"]


def test_bash_completes_drills_and_drill_files(tmp_path: Path) -> None:
    """A drill of the course, or a drill file that lies here."""
    (tmp_path / "mill-race.toml").touch()
    (tmp_path / "mill.txt").touch()
    offered = bash_offers(tmp_path, "widehand", "play", "mill")
    assert set(offered) == {name for name in bundled_drills() if name.startswith("mill")} | {"mill-race.toml"}


@pytest.mark.parametrize("by_variable", [True, False], ids=["WIDEHAND_DRILLS", "the usual folder"])
@pytest.mark.parametrize("shell", ["bash", "fish", "zsh"])
def test_own_drills_are_completed(
    shell: str, by_variable: bool, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """As soon as they are made, by their names alone; a name that a shell would run is only a name."""
    home = tmp_path / "my data"
    own = home / "widehand" / "drills"
    monkeypatch.setenv("XDG_DATA_HOME", str(home))
    monkeypatch.delenv("WIDEHAND_DRILLS")
    text = script(shell)
    if by_variable:
        own = tmp_path / "else where"
        monkeypatch.setenv("WIDEHAND_DRILLS", str(own))
    own.mkdir(parents=True)
    for name in ("mill-own.toml", "mill.txt", "$(touch ran).toml"):
        (own / name).touch()
    (tmp_path / "s").write_text(text, encoding="utf-8")
    line = {
        "bash": "source ./s; _widehand_drills mill-",
        "fish": "source ./s; _widehand_drills",
        "zsh": "compdef() {}; compadd() { [ $1 = -a ] && print -l $drills; }; _files() {}; _arguments() {}; "
        "source ./s; _widehand_drills",
    }[shell]
    quiet = {"bash": ["--norc"], "fish": ["--no-config"], "zsh": ["-f"]}[shell]
    done = subprocess.run([needs(shell), *quiet, "-c", line], cwd=tmp_path, capture_output=True, text=True, check=False)
    offered = done.stdout.split("\n")
    assert "mill-own" in offered, done.stderr
    assert "mill" not in offered
    assert not (tmp_path / "ran").exists()
    assert not (own / "ran").exists()


def test_bash_completes_options_and_their_values(tmp_path: Path) -> None:
    """An option by its beginning, a pickup profile by its own."""
    assert bash_offers(tmp_path, "widehand", "play", "--own") == ["--own-pace"]
    assert bash_offers(tmp_path, "widehand", "play", "--pickup", "per") == ["per-string"]
    assert bash_offers(tmp_path, "widehand", "plan", "--hand", "sm") == ["small"]


def test_fish_completes_drills(tmp_path: Path) -> None:
    """fish tells by itself what it would offer."""
    (tmp_path / "widehand.fish").write_text(script("fish"), encoding="utf-8")
    line = "source widehand.fish; complete -C 'widehand play mill-v'"
    done = subprocess.run(
        [needs("fish"), "--no-config", "-c", line], cwd=tmp_path, capture_output=True, text=True, check=True,
        env={"HOME": str(tmp_path), "PATH": f"{Path(sys.executable).parent}:/usr/bin:/bin"},
    )  # fmt: skip
    assert {line.split("\t")[0] for line in done.stdout.splitlines()} >= {"mill-verse"}


@pytest.mark.parametrize("shell", ["bash", "zsh"])
def test_the_script_is_good_shell(shell: str, tmp_path: Path) -> None:
    """The shell itself reads the script without a complaint."""
    path = tmp_path / "script"
    path.write_text(script(shell), encoding="utf-8")
    done = subprocess.run([needs(shell), "-n", str(path)], capture_output=True, text=True, check=False)
    assert (done.returncode, done.stderr) == (0, "")


@pytest.mark.parametrize("shell", ["bash", "zsh", "fish", "powershell"])
def test_every_command_is_in_every_script(shell: str) -> None:
    """Made from the parser: all commands are there."""
    text = script(shell)
    for command in ("demo", "play", "hear", "plan", "sheet", "drills", "calibrate", "progress", "completion"):
        assert command in text


def test_another_shell_is_wrong_usage(capsys: pytest.CaptureFixture[str]) -> None:
    """Exit code 2, and the shells that there are."""
    with pytest.raises(SystemExit) as left:
        main(["completion", "abacus"])
    assert left.value.code == 2
    assert "bash" in capsys.readouterr().err
