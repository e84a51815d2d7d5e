"""What is kept in the settings file, and what of it nobody touches."""

from __future__ import annotations

import os
import stat
import tomllib
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.commands.guitar.settings_keeping import changed, check_keeping, keep_pickup, keep_settings, kept_settings
from listener.errors import SourceError
from listener.settings import Settings, SettingsError, example_settings, load_settings, read_settings

PATH = Path("settings.toml")
MINE = """\
# mine
[guitar]
tuning = "drop d"      # for the slow ones
capo = 2

[hand]
reach_mm = [60, 85, 90,   # measured
  60, 75, 60]

[midi]
pickup = 'per-string bend 12'
"""


@pytest.fixture
def place(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Where the settings will lie; there is not even the folder."""
    monkeypatch.setenv("WIDEHAND_SETTINGS", str(tmp_path / "new" / "settings.toml"))
    return tmp_path / "new" / "settings.toml"


def test_only_what_changes_is_touched() -> None:
    """Comments, order, other fields stay; a comment stays beside its field; a new field goes into its section."""
    after = changed(
        MINE,
        {
            ("guitar", "tuning"): "standard",
            ("guitar", "left_handed"): True,
            ("hand", "reach_mm"): None,
            ("hand", "size"): "small",
            ("midi", "port"): 'a "b"',
            ("player", "name"): "Mara",
        },
        PATH,
    )
    assert after == (
        "# mine\n"
        "[guitar]\n"
        "left_handed = true\n"
        'tuning = "standard"    # for the slow ones\n'
        "capo = 2\n"
        "\n"
        "[hand]\n"
        'size = "small"\n'
        "# reach_mm = [60, 85, 90,   # measured\n"
        "#   60, 75, 60]\n"
        "\n"
        "[midi]\n"
        'port = "a \\"b\\""\n'
        "pickup = 'per-string bend 12'\n"
        "\n"
        "[player]\n"
        'name = "Mara"\n'
    )
    assert read_settings(after.encode(), PATH).port == 'a "b"'


@pytest.mark.parametrize(
    "text",
    [
        "",
        "# nothing yet",
        '[midi]\nport = "x"',
        "[midi]\n",
        'midi.port = "x"\n[guitar]\ncapo = 1\n',
        '[midi]\n"port" = "x" # y\n',
        '[midi]\nport = """\nx"""\n',
        '[ midi ]\n  port="x"\n',
        '[midi]\r\nport = "x"  # mine\r\n',
        'midi.pickup = "single"\n',
        example_settings(),
    ],
)
def test_every_way_to_write_a_field(text: str) -> None:
    """However it stands there, it says the new value and nothing else has changed."""
    before = tomllib.loads(text)
    after = changed(text, {("midi", "port"): "new"}, PATH)
    assert tomllib.loads(after) == {**before, "midi": {**before.get("midi", {}), "port": "new"}}
    assert ("\r\n" in after) == ("\r\n" in text)


@pytest.mark.parametrize("text", ['midi = { port = "x", pickup = "zone" }\n', 'midi = { pickup = "single" }\n'])
def test_what_cannot_be_changed_is_said(text: str) -> None:
    """One line with the place and what to do."""
    with pytest.raises(SettingsError, match=r"line 1: 'port' cannot be changed here; write it under \[midi\] yourself"):
        changed(text, {("midi", "port"): "new"}, PATH)


@given(st.text())
def test_any_text_is_kept_as_it_is(value: str) -> None:
    """Names of ports may hold anything; what cannot be in a file is replaced."""
    said = value.encode("utf-8", "replace").decode()
    assert tomllib.loads(changed(MINE, {("midi", "port"): said}, PATH))["midi"]["port"] == said


def test_a_new_file_explains_every_field(place: Path) -> None:
    """It is the example, with what was found in it; a second keeping goes into the same file."""
    assert keep_settings({("midi", "port"): "guitar"}) == place
    keep_settings({("midi", "pickup"): "per-string"})
    assert load_settings() == Settings(port="guitar", pickup="per-string", path=place)
    lines = place.read_text(encoding="utf-8").splitlines()
    assert len(lines) == len(example_settings().splitlines())
    assert all("#" in line for line in lines if " = " in line)


def test_a_link_and_its_rights_stay(place: Path, tmp_path: Path) -> None:
    """Settings that lie elsewhere are written there."""
    target = tmp_path / "dotfiles.toml"
    target.write_text(MINE, encoding="utf-8")
    target.chmod(0o600)
    place.parent.mkdir()
    place.symlink_to(target)
    keep_settings({("guitar", "capo"): 0})
    assert place.is_symlink()
    assert load_settings().capo == 0
    assert stat.S_IMODE(target.stat().st_mode) == 0o600


def test_a_file_with_faults_is_not_touched(place: Path) -> None:
    """Its faults are told first."""
    place.parent.mkdir()
    place.write_text("[guitar]\ncapo = many\n", encoding="utf-8")
    for keep in (lambda: keep_settings({("midi", "port"): "x"}), check_keeping, kept_settings):
        with pytest.raises(SettingsError, match="line 2"):
            keep()
    assert place.read_text(encoding="utf-8") == "[guitar]\ncapo = many\n"


def test_nowhere_to_keep(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    """Told before anybody has answered anything."""
    monkeypatch.setenv("WIDEHAND_SETTINGS", os.devnull)
    for check in (check_keeping, lambda: keep_settings({})):
        with pytest.raises(SourceError, match="where nothing is kept"):
            check()
    (tmp_path / "file").write_text("")
    monkeypatch.setenv("WIDEHAND_SETTINGS", str(tmp_path / "file" / "under" / "settings.toml"))
    for check in (check_keeping, lambda: keep_settings({})):
        with pytest.raises(SourceError, match="cannot be written"):
            check()


def test_what_the_player_wrote_of_the_same_channels_stays(place: Path) -> None:
    """A bend range written by hand says more than what was found; other channels are news."""
    place.parent.mkdir()
    place.write_text('[midi]\npickup = "per-string bend 12"\n', encoding="utf-8")
    keep_pickup("guitar", "per-string", kept_settings())
    assert (load_settings().port, load_settings().pickup) == ("guitar", "per-string bend 12")
    keep_pickup("guitar", "per-string from 11", kept_settings())
    assert load_settings().pickup == "per-string from 11"
