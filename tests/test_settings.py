"""The player's settings: what they say, what goes before them, and every fault with its line."""

from __future__ import annotations

import os
import re
from argparse import Namespace
from contextlib import suppress
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.cli import main
from listener.commands.setup import guitar_of, hand_of, midi_of
from listener.errors import InstrumentError, SourceError
from listener.guitar.hand import hand_names, make_hand
from listener.guitar.instrument import make_instrument, tuning_list
from listener.hearing.take_file import OWN_PACE, TakeHeader
from listener.settings import (
    SETTINGS_VARIABLE,
    Settings,
    SettingsError,
    example_settings,
    load_settings,
    read_settings,
    settings_place,
)

PATH = Path("settings.toml")
FULL = """\
[guitar]
tuning = "Drop  D"
capo = 2
frets = 24
scale_mm = 650.5
left_handed = true

[hand]
reach_mm = [60, 85, 90.5, 60, 75, 60]
register = 3
high_open = false

[midi]
port = " guitar "
click = "synth"
pickup = "per-string from 11"

[player]
name = " Mara Lind "
"""


def read(text: str) -> Settings:
    return read_settings(text.encode(), PATH)


def faults(text: str) -> list[str]:
    with pytest.raises(SettingsError) as caught:
        read(text)
    return [str(problem) for problem in caught.value.problems]


def options(**given: object) -> Namespace:
    """What the command line gives when nothing was asked for, apart from ``given``."""
    nothing = {"tuning": None, "capo": None, "hand": None, "left_handed": False, "port": None, "click": None}
    return Namespace(**{**nothing, "pickup": None, **given})


def test_every_field() -> None:
    """All fields are read; a measured hand is named as make_hand reads it."""
    settings = read(FULL)
    assert settings == Settings(
        tuning="drop d",
        capo=2,
        fret_count=24,
        scale_mm=650.5,
        left_handed=True,
        hand="60 85 90.5 60 75 60",
        register=3,
        high_open=False,
        pickup="per-string from 11",
        port="guitar",
        click_port="synth",
        name="Mara Lind",
        path=PATH,
    )
    assert make_hand(settings.hand).reach_mm == (60.0, 85.0, 90.5, 60.0, 75.0, 60.0)


@pytest.mark.parametrize("text", ["", "# nothing yet\n", "[guitar]\n[hand]\n[midi]\n", '[midi]\nport = "  "\n'])
def test_what_is_not_said_has_its_default(text: str) -> None:
    """An empty file, empty sections and blank texts change nothing."""
    assert read(text) == Settings(path=PATH)


def test_the_example_says_the_defaults() -> None:
    """The documented file has every field of every section, each at its default."""
    text = example_settings()
    assert read(text) == Settings(path=PATH)
    fields = (
        "tuning",
        "capo",
        "frets",
        "scale_mm",
        "left_handed",
        "size",
        "reach_mm",
        "register",
        "high_open",
        "port",
        "click",
        "pickup",
        "name",
    )
    for field in fields:
        assert f"\n{field} = " in text or f"\n# {field} = " in text


@pytest.mark.parametrize("name", tuning_list())
def test_every_named_tuning_can_be_set(name: str) -> None:
    """The settings know the tunings of the table."""
    assert make_instrument(read(f'[guitar]\ntuning = "{name}"').tuning).name == name


@pytest.mark.parametrize("name", hand_names())
def test_every_hand_size_can_be_set(name: str) -> None:
    """The settings know the sizes of the table."""
    assert make_hand(read(f'[hand]\nsize = "{name.upper()}"').hand).name == name


def test_all_faults_at_once() -> None:
    """A file full of faults names each of them with its line, in order."""
    found = faults(
        "[guitar]\n"
        'tunning = "open g"\n'
        'tuning = "opn g"\n'
        "capo = -1\n"
        'frets = "many"\n'
        "scale_mm = true\n"
        "left_handed = 1\n"
        "[hnd]\n"
        "[hand]\n"
        'size = "huge"\n'
        "reach_mm = [60, 85,\n"
        "  9000, 60, 75, 60]\n"
        "[midi]\n"
        "port = 3\n"
    )
    expected = [
        "line 2: [guitar] has no field 'tunning'; did you mean 'tuning'?",
        "line 3: 'tuning' must be a name such as standard or drop d, or up to 12 strings from the lowest up, such as "
        "\"D2 A2 D3 G3 B3 E4\", not 'opn g'; did you mean 'open g'?",
        "line 4: 'capo' must be a whole number from 0 to 35, not -1",
        "line 5: 'frets' must be a whole number from 1 to 36, not 'many'",
        "line 6: 'scale_mm' must be a number from 250 to 1200, not true",
        "line 7: 'left_handed' must be true or false, not 1",
        "line 8: there is no section 'hnd'; did you mean 'hand'?",
        "line 10: 'size' must be large, medium, small, not 'huge'",
        "line 11: 'size' and 'reach_mm' are both given; a measured hand needs no size",
        "line 12: 'reach_mm' has 9000; give 20 to 200 mm",
        "line 14: 'port' must be a text in quotes, not 3",
    ]
    assert found == expected


@pytest.mark.parametrize(
    ("text", "fault"),
    [
        ("[guitar\n", "line 1: cannot be read: a heading is not closed with ] (character 8)"),
        ("[guitar]\ncapo = 1\ncapo = 2\n", "line 3: cannot be read: this field was already written further up"),
        ("capo = 2\n", "line 1: there is no section 'capo'; there are guitar, hand, midi"),
        ('guitar = "mine"\n', "line 1: 'guitar' is a section: write [guitar]"),
        ("[[guitar]]\n", "line 1: 'guitar' is a section"),
        ("[guitar]\nfrets = 12\ncapo = 12\n", "line 3: 'capo' is 12, but there are only 12 frets"),
        ("[guitar]\nscale_mm = nan\n", "line 2: 'scale_mm' must be a number from 250 to 1200, not nan"),
        ("[guitar]\ncapo = 1.0\n", "line 2: 'capo' must be a whole number"),
        ("[guitar]\ncapo = " + "9" * 5000, "cannot be read: it has a number far longer than anybody needs"),
        ("[guitar]\nfrets = " + "9" * 30, "line 2: 'frets' must be a whole number from 1 to 36, not 9999"),
        (
            "[guitar]\nfrets = 0x" + "f" * 9000,
            "line 2: 'frets' must be a whole number from 1 to 36, not a very long number",
        ),
        ("[guitar]\nTUNING = 1\n", "line 2: [guitar] has no field 'TUNING'; did you mean 'tuning'?"),
        ('[player]\n"my\\nname" = 1\n', "line 2: [player] has no field 'my\\nname'; did you mean 'name'?"),
        ("[hand]\nreach_mm = [1, 2]\n", "line 2: 'reach_mm' must be six lengths in mm"),
        ('[hand]\nreach_mm = "60 85 90 60 75 60"\n', "line 2: 'reach_mm' must be six lengths"),
        ("[hand]\nreach_mm = [60, 85, 90, 60, 75, " + "9" * 400 + "]", "line 2: 'reach_mm' has a very long number"),
        ("[hand]\nregister = 13\n", "line 2: 'register' must be a whole number from -12 to 12, not 13"),
        ("[hand]\nregister = true\n", "line 2: 'register' must be a whole number from -12 to 12, not true"),
        ('[hand]\nhigh_open = "no"\n', "line 2: 'high_open' must be true or false, not 'no'"),
        ("x = " + "[" * 5000 + "]" * 5000, "cannot be read: it has lists inside lists without end"),
        ("# " + "x" * 70_000, "is too long for a settings file"),
    ],
)
def test_files_that_cannot_be(text: str, fault: str) -> None:
    """One clear line for each, and a short one."""
    (found,) = faults(text)
    assert found.startswith(fault)
    assert len(found) < 250


def test_not_a_text() -> None:
    """A file that is no UTF-8 is told so, with the line."""
    with pytest.raises(SettingsError, match="line 2: is not UTF-8 text"):
        read_settings(b'[guitar]\ntuning = "\xff"\n', PATH)


@given(st.binary(max_size=200))
def test_any_bytes_give_settings_or_faults(data: bytes) -> None:
    """Whatever the file holds, nothing else than a SettingsError comes of it."""
    with suppress(SettingsError):
        assert read_settings(data, PATH).path == PATH


def test_the_variable_names_the_file(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """WIDEHAND_SETTINGS goes before the usual place, and a path that is passed goes before both."""
    mine, other = tmp_path / "mine.toml", tmp_path / "other.toml"
    mine.write_text("[guitar]\ncapo = 3\n", encoding="utf-8")
    other.write_text("\ufeff[guitar]\r\ncapo = 5\r\n", encoding="utf-8", newline="")
    monkeypatch.setenv(SETTINGS_VARIABLE, str(mine))
    assert settings_place() == mine
    assert load_settings() == Settings(capo=3, path=mine)
    assert load_settings(other) == Settings(capo=5, path=other)
    monkeypatch.setenv(SETTINGS_VARIABLE, os.devnull)
    assert load_settings() == Settings(path=Path(os.devnull))


def test_no_file_is_no_fault(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """Nobody needs settings: without a file in the usual place everything has its default."""
    monkeypatch.delenv(SETTINGS_VARIABLE, raising=False)
    monkeypatch.setattr("platformdirs.user_config_path", lambda *_args, **_more: tmp_path / "widehand")
    assert settings_place() == tmp_path / "widehand" / "settings.toml"
    assert load_settings() == Settings()


def test_a_named_file_has_to_be_there(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """A file that somebody named and that is missing, or a folder, is one clear line."""
    with pytest.raises(SettingsError, match="there is no such settings file"):
        load_settings(tmp_path / "gone.toml")
    monkeypatch.setenv(SETTINGS_VARIABLE, str(tmp_path))
    with pytest.raises(SettingsError, match="cannot be read"):
        load_settings()


def test_a_file_to_begin_with(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """It is written where it is looked for, folder and all, says the defaults, and never replaces one."""
    mine = tmp_path / "new" / "settings.toml"
    monkeypatch.setenv(SETTINGS_VARIABLE, str(mine))
    assert main(["settings", "--begin"]) == 0
    assert str(mine) in capsys.readouterr().out
    assert load_settings() == Settings(path=mine)
    mine.write_text("[guitar]\ncapo = 3\n", encoding="utf-8")
    assert main(["settings", "--begin"]) == 1
    assert "is there already" in capsys.readouterr().err
    assert main(["settings"]) == 0
    assert re.search(r"capo +fret 3", capsys.readouterr().out)
    (tmp_path / "file").write_text("", encoding="utf-8")
    monkeypatch.setenv(SETTINGS_VARIABLE, str(tmp_path / "file" / "settings.toml"))
    assert main(["settings", "--begin"]) == 1
    assert len(capsys.readouterr().err.splitlines()) == 1


def test_options_before_take_before_settings() -> None:
    """What was typed goes first, then what the take says about itself, then the settings."""
    settings = read(FULL)
    header = TakeHeader("d", OWN_PACE, 80.0, None, "single", tuning="dadgad", capo=0, hand="small")
    typed = options(tuning="open g", capo=1, hand="large")
    assert [guitar_of(options(), settings).name, guitar_of(options(), settings, header).name] == ["drop d", "dadgad"]
    assert guitar_of(typed, settings, header).name == "open g"
    assert [guitar_of(one, settings, header).capo for one in (options(), typed)] == [0, 1]
    assert guitar_of(options(), settings).capo == 2
    assert [hand_of(options(), settings).size, hand_of(options(), settings, header).name] == ["measured", "small"]
    assert hand_of(typed, settings, header).name == "large"
    guitar = guitar_of(options(), settings)
    assert (guitar.fret_count, guitar.scale_mm, guitar.left_handed) == (24, 650.5, True)
    assert guitar_of(options(left_handed=True), Settings()).left_handed


def test_ports_and_pickup() -> None:
    """Options go before settings; a command without such an option has the settings."""
    settings = read(FULL)
    midi = midi_of(options(port="other", pickup="single"), settings)
    assert (midi.port, midi.pickup, midi.click_port) == ("other", "single", "synth")
    assert midi_of(Namespace(), settings).pickup == "per-string from 11"
    assert midi_of(options(), Settings()) == midi_of(Namespace(), Settings())
    assert midi_of(options(), Settings()).pickup == "single"


def test_an_impossible_guitar_names_the_settings() -> None:
    """A tuning that leaves MIDI's range is told with the file that has it."""
    settings = read('[guitar]\ntuning = "E9 A9"\n')
    with pytest.raises(InstrumentError, match=r"MIDI's range.*the settings in settings.toml have a part in this"):
        guitar_of(options(), settings)


def test_play_listens_where_the_settings_say(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """Without --port the port of the settings is opened; with it, the option's."""

    def refuse(name: str | None, **_more: object) -> None:
        raise SourceError(f"asked for {name}")

    mine = tmp_path / "mine.toml"
    mine.write_text('[midi]\nport = "guitar"\n', encoding="utf-8")
    monkeypatch.setenv(SETTINGS_VARIABLE, str(mine))
    monkeypatch.setattr("listener.commands.playing.play.open_input", refuse)
    assert main(["play", "ferry-landing"]) == 1
    assert capsys.readouterr().err == "widehand: asked for guitar\n"
    assert main(["play", "ferry-landing", "--port", "other"]) == 1
    assert capsys.readouterr().err == "widehand: asked for other\n"
