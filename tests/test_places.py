"""Homes that are not there, files that are none, numbers that go on for ever: one clear line each, and at once."""

from __future__ import annotations

import os
from pathlib import Path

import pytest
from printed import run

from listener.cli import main
from listener.errors import PlaceError
from listener.history.calibration import known_delay
from listener.places import given, kept_folder, read_file, settings_folder
from listener.settings import Settings, load_settings

OWN = ("WIDEHAND_STORE", "WIDEHAND_SETTINGS", "WIDEHAND_DRILLS", "XDG_DATA_HOME", "XDG_CONFIG_HOME")
posix = pytest.mark.skipif(os.name == "nt", reason="pipes and HOME are POSIX")


def told(capsys: pytest.CaptureFixture[str], *words: str) -> tuple[int, str]:
    """Exit code, and the one line on standard error."""
    code, _, err = run(capsys, *words)
    lines = err.strip().splitlines()
    return code, lines[-1] if lines else ""


@posix
@pytest.mark.parametrize("home", ["", "relative", None])
def test_without_a_home(
    home: str | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """What keeps nothing works; what does says which variable helps; nothing is made where one happens to be."""
    monkeypatch.chdir(tmp_path)
    for name in OWN:
        monkeypatch.delenv(name, raising=False)
    if home is None:  # somebody whom the system does not know, as in many a container
        monkeypatch.delenv("HOME", raising=False)
        monkeypatch.setattr("pwd.getpwuid", lambda uid: {}[uid])
    else:
        monkeypatch.setenv("HOME", home)
    assert main(["plan", "mill-verse"]) == 0
    assert main(["drills"]) == 0
    assert load_settings() == Settings()
    capsys.readouterr()
    for words in (["demo", "--fast"], ["progress"], ["settings", "--begin"]):
        code, line = told(capsys, *words)
        assert code == 1
        assert "set HOME, or say where with WIDEHAND_STORE" in line
    assert not list(tmp_path.iterdir())
    monkeypatch.setenv("XDG_DATA_HOME", str(tmp_path))
    assert kept_folder() == tmp_path / "widehand"
    with pytest.raises(PlaceError):
        settings_folder()


@pytest.mark.parametrize(
    "words",
    [
        ("plan", "~nobody-here/x"), ("hear", "~nobody-here/x"), ("import", "~nobody-here/x"),
        ("students", "~nobody-here/x"), ("progress", "--store", "~nobody-here/x"),
        ("drills", "from", "~nobody-here/x.mid"), ("sheet", "mill-verse", "--midi", "~nobody-here/x"),
        ("drills", "from", "C | G", "--out", "~nobody-here/x.toml"),
    ],
)  # fmt: skip
def test_nobodys_home(words: tuple[str, ...], capsys: pytest.CaptureFixture[str]) -> None:
    """``~somebody`` who is not there."""
    code, line = told(capsys, *words)
    assert code == 1
    assert line.startswith("widehand: ~nobody-here/x")
    assert "there is no home folder of that name" in line


@pytest.mark.parametrize("variable", ["WIDEHAND_STORE", "WIDEHAND_SETTINGS"])
def test_nobodys_home_in_a_variable(
    variable: str, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """The same where a variable says it."""
    monkeypatch.setenv(variable, "~nobody-here/x")
    assert told(capsys, "today") == (
        1, "widehand: ~nobody-here/x: there is no home folder of that name; write the whole path"
    )  # fmt: skip


@posix
@pytest.mark.parametrize("special", ["pipe", "endless"])
def test_what_is_no_file_is_never_waited_for(
    special: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """A pipe that nobody writes into, and a device without end, wherever a file is read or written."""
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "history.sqlite3"))
    names = {}
    for ending in ("", ".toml", ".mid", ".zip"):
        names[ending] = str(tmp_path / f"x{ending}")
        if special == "pipe":
            os.mkfifo(names[ending])
        else:
            os.symlink("/dev/zero", names[ending])
    plain, toml, mid, bundle = names.values()
    for words in (
        ("hear", mid), ("hear", mid, "--drill", "mill-verse"), ("import", bundle), ("rejudge", "--store", plain),
        ("demo", "--fast", "--store", plain), ("plan", toml), ("drills", "check", toml), ("drills", "from", mid),
        ("progress", "--csv", plain), ("export", "mill-verse", "--bundle", bundle),
        ("sheet", "mill-verse", "--midi", mid),
        ("plan", "mill-verse", "--midi", mid), ("demo", "--picture", plain),
        ("hear", "--simulate", "--drill", "mill-verse", "--out", mid),
    ):  # fmt: skip
        code, line = told(capsys, *words)
        assert code == 1, words
        assert "it is a pipe or a device" in line, words
    with pytest.raises(OSError, match="it is a pipe or a device"):
        read_file(Path(plain), 10)
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path))
    assert main(["drills"]) == 0
    (tmp_path / "calibration.json").symlink_to(plain)
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "other"))
    with pytest.raises(Exception, match="it is a pipe or a device"):
        known_delay("a port", "single")


def test_a_file_is_read_as_far_as_asked(tmp_path: Path) -> None:
    """One byte more than allowed says that there is more; the device that is as good as an empty file is one."""
    file = tmp_path / "x"
    file.write_bytes(bytes(1000))
    assert len(read_file(file, 10)) == 11
    assert read_file(Path(os.devnull), 10) == b""
    with pytest.raises(IsADirectoryError):
        read_file(tmp_path, 10)
    assert given("~") == Path.home()


def test_no_history_is_overwritten_by_a_file(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Whatever is written to a name that turns out to be the history: refused, and the history is as it was."""
    store = tmp_path / "history.sqlite3"
    monkeypatch.setenv("WIDEHAND_STORE", str(store))
    assert main(["demo", "--fast"]) == 0
    before = store.read_bytes()
    for words in (("sheet", "mill-verse", "--midi"), ("plan", "mill-verse", "--midi"), ("demo", "--picture")):
        code, line = told(capsys, *words, str(store))
        assert code == 1
        assert "is a database, perhaps your history" in line
    assert store.read_bytes() == before


@pytest.mark.parametrize(
    ("words", "code"),
    [
        (("name", "1" * 5000), 1), (("name", "-" + "1" * 5000), 1), (("name", "C" + "1" * 5000), 1),
        (("rejudge", "--take", "1" * 5000), 2), (("demo", "--tempo", "1" * 5000), 2),
        (("progress", "--since", "1" * 5000 + "d"), 2), (("demo", "--count-in", "--5"), 2),
        (("plan", "mill-verse", "--tuning", "E" + "2" * 5000), 1),
    ],
)  # fmt: skip
def test_numbers_of_thousands_of_digits(words: tuple[str, ...], code: int, capsys: pytest.CaptureFixture[str]) -> None:
    """Python reads no number of more than 4,300 digits; a note or a count has fewer."""
    got, line = told(capsys, *words)
    assert got == code
    assert line.startswith("widehand")
    assert "read value" not in line
    assert len(line) < 400
