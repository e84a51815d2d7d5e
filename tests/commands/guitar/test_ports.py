"""``widehand ports --watch`` with a second process that plucks the open strings."""

from __future__ import annotations

import io
import json
import signal
import subprocess
import sys
import time
from collections.abc import Sequence
from dataclasses import replace
from pathlib import Path

import pytest
from calm import no_longer_than, patient
from jack_server import sender
from printed import checked

from listener import cli
from listener.commands.guitar.watching import _kept, _Listening, _Teller
from listener.hearing.events import Message
from listener.hearing.learning import Proposal
from listener.hearing.sources.port_names import match_port
from listener.session.take.run import Interrupt
from listener.settings import Settings, load_settings

OPEN = (40, 45, 50, 55, 59, 64, 40, 40)


def watching(*words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "listener", "ports", "--watch", *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True, bufsize=1,
    )  # fmt: skip


def plucks(channels: Sequence[int]) -> list[tuple[float, tuple[int, ...]]]:
    rows: list[tuple[float, tuple[int, ...]]] = [(0.0, (0xE0 | channels[0] - 1, 0, 65))]
    for number, (channel, pitch) in enumerate(zip(channels, OPEN, strict=False)):
        rows.append((0.1 + 0.2 * number, (0x90 | channel - 1, pitch, 90)))
        rows.append((0.2 + 0.2 * number, (0x80 | channel - 1, pitch, 0)))
    return rows


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
@patient
def test_what_arrives_is_shown_and_the_profile_proposed() -> None:
    """Piped: the port; a line for each note with channel, name, velocity and bend; then the profile; Ctrl-C ends it."""
    with sender("watched-a") as guitar:
        process = watching("watched-a", "--pickup", "per-string from 11")
        assert process.stdout is not None
        first = process.stdout.readline()
        assert "watched-a" in first
        assert "Pluck each open string once" in first
        guitar.play(plucks((16, 15, 14, 13, 12, 11, 16, 16)))
        lines = []
        with no_longer_than(process):
            for line in process.stdout:
                lines.append(line)
                if sum("velocity" in one for one in lines) == len(OPEN):
                    break
        process.send_signal(signal.SIGINT)
        rest, err = process.communicate(timeout=20)
    assert (process.returncode, err) == (130, "")
    notes = [line for line in lines if "velocity" in line]
    assert "channel 16 (string 6)  E2   ( 40)  velocity  90  bend   +3.1 cents" in notes[0]
    assert "channel 11 (string 1)  E4   ( 64)  velocity  90\n" in notes[5]
    told = [line for line in lines if "profile" in line]
    assert told
    assert all("'per-string from 11'" in line for line in told)
    assert lines.index(told[0]) > lines.index(notes[5])
    assert 'pickup = "per-string from 11" under [midi]' in rest
    assert "The profile is 'per-string from 11': widehand play paddock-gate --port 'watched-a" in rest


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
@patient
def test_json_at_the_end_and_nothing_else() -> None:
    """``--seconds`` ends it with exit code 0; what was unclear is among the remarks."""
    with sender("watched-b") as guitar:
        process = watching("watched-b", "--seconds", "2", "--json")
        assert process.stderr is not None
        process.stderr.readline()
        guitar.play(plucks((1, 2, 3)))
        out, _ = process.communicate(timeout=20)
    assert process.returncode == 0
    found = checked(json.loads(out))
    assert found["port"].endswith("watched-b")
    assert (found["profile"], found["sure"], found["messages"]) == (None, False, 7)
    assert [pluck["name"] for pluck in found["plucks"]] == ["E2", "A2", "D3"]
    assert "3 of 6 strings so far" in found["remarks"][0]


class Source:
    """A port that gives what it was given, a pluck each time it is asked."""

    name, missing, lost = "made up", False, 0

    def __init__(self, *plucks: tuple[int, ...]) -> None:
        now_s = time.perf_counter()
        self._rows = [
            [
                Message(now_s + number + 0.01 * late, (0x90 | OPEN.index(pitch), pitch, 90))
                for late, pitch in enumerate(pluck)
            ]
            for number, pluck in enumerate(plucks)
        ]

    def wait(self, timeout_s: float) -> None:
        """There is always something."""

    def poll(self) -> list[Message]:
        return self._rows.pop(0) if self._rows else []


class Keys:
    def __init__(self, source: Source) -> None:
        self._source = source

    def read(self) -> list[str]:
        return [] if self._source._rows else ["quit"]


def heard(*plucks: tuple[int, ...]) -> tuple[Proposal, list[str]]:
    """What is proposed in the end, and what was said beside the lines of notes."""
    source, out = Source(*plucks), io.StringIO()
    listening = _Listening(source, _Teller(None, time.perf_counter()), out)  # type: ignore[arg-type]
    listening.run(Keys(source), Interrupt(), None)  # type: ignore[arg-type]
    return listening.proposal(), [line for line in out.getvalue().splitlines() if "velocity" not in line]


def test_what_cannot_be_right_is_told_at_once_and_learning_starts_anew() -> None:
    """Two strings at once, and a string lower than the one before: told once each; what comes after counts."""
    good = [(pitch,) for pitch in OPEN]
    found, said = heard((40,), (45, 50, 55), *good)
    assert (found.profile, found.sure) == ("per-string low first", True)
    assert "Pluck 2 was several strings at once" in said[0]
    assert [line for line in said if "several" in line or "lower" in line] == said[:1]
    found, said = heard((64,), (59,), *good)
    assert found.profile == "per-string low first"
    assert "String number 2 was lower" in said[0]
    found, said = heard((40, 45))
    assert found.profile is None
    assert "several strings at once" in found.remarks[0]


def test_which_of_several_ports_is_said_with_the_option_that_there_is(
    monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str]
) -> None:
    """``ports`` has no --port."""

    def several(name: str | None, *, option: str) -> None:
        match_port(name, ["guitar", "keys"], option=option)

    monkeypatch.setattr("listener.commands.guitar.watching.open_input", several)
    assert cli.main(["ports", "--watch"]) == 1
    assert "say which with --watch PORT: 'guitar', 'keys'" in capsys.readouterr().err


SURE = Proposal("per-string", True, ())
NAMES = ["keys", "guitar 20:0"]


@pytest.mark.parametrize(
    ("before", "found", "after"),
    [
        (None, SURE, Settings(port="guitar", pickup="per-string")),
        ("[midi]\n", SURE, Settings(port="guitar", pickup="per-string")),
        ('[midi]\nport = "guit"\npickup = "zone"\n', SURE, Settings(port="guitar", pickup="per-string")),
        ('[midi]\nport = "keys"\n', SURE, Settings(port="keys")),
        ("", Proposal("per-string", False, ()), Settings()),
        ("[midi]\nport = 3\n", SURE, None),
    ],
)
def test_what_is_sure_is_kept_unless_another_port_is_named(
    before: str | None, found: Proposal, after: Settings | None, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Then play needs no options; a port that the player named, and a file with faults, stay, and how to is said."""
    place = tmp_path / "settings.toml"
    monkeypatch.setenv("WIDEHAND_SETTINGS", str(place))
    monkeypatch.setattr("listener.commands.guitar.watching.input_ports", lambda: NAMES)
    if before is not None:
        place.write_text(before, encoding="utf-8")
    (said,) = _kept(found, "guitar 20:0")
    if after is None or after in (Settings(port="keys"), Settings()):
        assert said.startswith('To keep it: pickup = "per-string" under [midi]')
        assert place.read_text(encoding="utf-8") == before
    else:
        assert said.startswith(f"Kept in {place}")
        assert load_settings() == replace(after, path=place)
        assert match_port(load_settings().port, ["keys", "guitar 24:1", "guitar 2"]) == "guitar 24:1"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["ports", "--seconds", "3"], 2, "--seconds and --pickup belong to --watch"),
        (["ports", "--pickup", "single"], 2, "--seconds and --pickup belong to --watch"),
        (["ports", "--watch", "x", "--pickup", "hexa"], 1, "no pickup profile 'hexa'"),
    ],
)
def test_bad_options_are_one_line(words: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]) -> None:
    """No traceback, the right exit code, before any port is asked for."""
    try:
        found = cli.main(words)
    except SystemExit as end:
        found = int(end.code or 0)
    told = capsys.readouterr().err
    assert found == code
    assert said in told
    assert len(told.strip().splitlines()) == 1
