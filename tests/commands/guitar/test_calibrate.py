"""``widehand calibrate`` over real MIDI: a second process loops notes back, or plucks, with a known delay."""

from __future__ import annotations

import json
import os
import re
import subprocess
import sys
import time
from functools import partial
from pathlib import Path
from random import Random

import pytest
from calm import no_longer_than, patient
from jack_server import sender
from midi_loop import loop
from printed import checked

from listener.cli import main
from listener.commands.guitar.calibrate import _show
from listener.commands.guitar.measuring import asked_plucks, play_plucks
from listener.errors import SourceError
from listener.hearing.events import Message
from listener.history.calibration import known_delay
from listener.music.pitch import frequency_hz
from listener.session.take.run import Interrupt

OPEN = {6: 40, 5: 45, 4: 50, 3: 55, 2: 59, 1: 64}


def calibrate(store: Path, *words: str) -> subprocess.Popen[str]:
    return subprocess.Popen(
        [sys.executable, "-m", "listener", "calibrate", *words],
        stdout=subprocess.PIPE, stderr=subprocess.PIPE, stdin=subprocess.DEVNULL, text=True, bufsize=1,
        env={**os.environ, "WIDEHAND_STORE": str(store / "h.sqlite3")},
    )  # fmt: skip


def measured(store: Path, name: str, *words: str) -> dict[str, float]:
    with loop(name, *words):
        out, err = calibrate(store, "--port", f"{name} out", "--out", f"{name} in", "--json").communicate(timeout=60)
    assert out, err
    found: dict[str, float] = checked(json.loads(out))
    return found


@pytest.mark.jack
@pytest.mark.slow
@pytest.mark.usefixtures("jack_server")
@patient
def test_a_known_delay_round_the_loop_is_found(tmp_path: Path) -> None:
    """25 ms in the other process are 25 ms more than none; the result is kept for the port."""
    none, delayed = measured(tmp_path, "loop-a", "0"), measured(tmp_path, "loop-b", "25")
    assert 0 < none["median_ms"] < 10
    assert delayed["median_ms"] - none["median_ms"] == pytest.approx(25, abs=1.5)
    assert delayed["low_ms"] <= delayed["median_ms"] <= delayed["high_ms"]
    assert delayed["count"] == delayed["sent"]
    kept = known_delay(str(delayed["port"]), "single", tmp_path / "calibration.json")
    assert kept is not None
    assert kept.round_trip_ms == pytest.approx(delayed["median_ms"], abs=0.001)


@pytest.mark.jack
@pytest.mark.slow
@pytest.mark.usefixtures("jack_server")
@patient
def test_a_loop_that_loses_notes_is_refused(tmp_path: Path) -> None:
    """One line with the count, exit code 1, nothing kept.

    With every third message every third note-on is lost, 40 come back; a busy server may lose one or two of its own.
    """
    with loop("loop-c", "0", "3"):
        process = calibrate(tmp_path, "--port", "loop-c out", "--out", "loop-c in")
        out, err = process.communicate(timeout=60)
    assert (process.returncode, out) == (1, "")
    told = re.search(r"only (\d+) of 60 notes came back", err.splitlines()[-1])
    assert told
    assert 36 <= int(told[1]) <= 40
    assert not (tmp_path / "calibration.json").exists()


def performance(periods: float, sd_ms: float, rounds: int, beat_s: float) -> list[tuple[float, tuple[int, ...]]]:
    """What a pickup sends when the player is 25 ms early on average, from the first pluck on (at 0.5 s)."""
    random = Random(4)
    rows: list[tuple[float, tuple[int, ...]]] = []
    for number in range(rounds * 6):
        string = 6 - number % 6
        delay_s = periods / frequency_hz(OPEN[string])
        at_s = 0.5 + number * beat_s - 0.025 + random.gauss(0, sd_ms / 1000) + delay_s
        rows.append((at_s, (0x90 | string - 1, OPEN[string], 90)))
        rows.append((at_s + 0.1, (0x80 | string - 1, OPEN[string], 0)))
    return sorted(rows)


@pytest.mark.jack
@pytest.mark.slow
@pytest.mark.usefixtures("jack_server")
@patient
def test_the_delay_of_the_strings_is_found(tmp_path: Path) -> None:
    """A pickup three periods late, plucked by another process a little early and unevenly: three periods, and kept."""
    beat_s = 60 / 200
    with sender("plucked-a") as guitar:
        process = calibrate(
            tmp_path, "--port", "plucked-a", "--pickup", "per-string", "--plucks", "4", "--tempo", "200", "--json"
        )
        assert process.stderr is not None
        with no_longer_than(process):
            assert any("ready" in line for line in process.stderr)
        # Four clicks are counted in, the first of them is now; the first pluck is due with the fifth.
        time.sleep(4 * beat_s - 0.5)
        guitar.play(performance(3.0, 3.0, 4, beat_s))
        out, err = process.communicate(timeout=60)
    assert process.returncode == 0, err
    found = checked(json.loads(out))
    assert found["periods"] == pytest.approx(3.0, abs=0.7)
    assert found["low"] <= found["periods"] <= found["high"]
    assert [row["string"] for row in found["strings"]] == [6, 5, 4, 3, 2, 1]
    kept = known_delay(found["port"], "per-string", tmp_path / "calibration.json")
    assert kept is not None
    assert kept.delay_periods == pytest.approx(found["periods"], abs=0.001)


class Silent:
    """A port on which nothing comes."""

    name, missing = "guitar", False

    def wait(self, timeout_s: float) -> None:
        time.sleep(min(timeout_s, 0.001))

    def poll(self) -> list[Message]:
        return []


def test_each_click_says_what_comes_next_and_silence_ends_it_early(capsys: pytest.CaptureFixture[str]) -> None:
    """The next string is told one click ahead; after a whole round without a note nobody plucks on."""
    asked = asked_plucks(4, 6, 6000.0, time.perf_counter() - 1.0)
    show = partial(_show, 6, 4)
    with pytest.raises(SourceError, match="nothing came from 'guitar' in the whole first round"):
        play_plucks(Silent(), asked, None, show, Interrupt())  # type: ignore[arg-type]
    said = capsys.readouterr().err.splitlines()
    assert said[:5] == [
        "ready 1", "ready 2", "ready 3", "ready 4   then string 6", "string 6   round 1 of 4   then string 5"
    ]  # fmt: skip
    assert len(said) == 4 + 6
    show(asked[-1])
    assert capsys.readouterr().err == "string 1   round 4 of 4\n"


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["--pickup", "hexa"], 1, "no pickup profile 'hexa'"),
        (["--pickup", "per-string from 12"], 1, "MIDI has channels 1 to 16"),
        (["--plucks", "3"], 2, "whole number from 4 to 200"),
        (["--plucks", "many"], 2, "whole number"),
        (["--tempo", "nan"], 2, "from 30 to 200"),
    ],
)
def test_bad_options_are_one_clear_line(
    words: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """Before anything is measured, and before any port is asked for."""
    try:
        found = main(["calibrate", *words])
    except SystemExit as end:
        found = int(end.code or 0)
    out, err = capsys.readouterr()
    assert (found, out) == (code, "")
    assert said in err.splitlines()[-1]


def test_no_midi_system_is_one_clear_line(tmp_path: Path) -> None:
    """There is nothing to measure."""
    bare = {**os.environ, "JACK_DEFAULT_SERVER": "nobody-there", "JACK_NO_START_SERVER": "1"}
    bare["WIDEHAND_STORE"] = str(tmp_path / "h.sqlite3")
    done = subprocess.run(
        [sys.executable, "-m", "listener", "calibrate", "--port", "x"],
        capture_output=True, text=True, timeout=30, env=bare,
    )  # fmt: skip
    assert (done.returncode, done.stdout) == (1, "")
    assert "no MIDI" in done.stderr.splitlines()[-1]
