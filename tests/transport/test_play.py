"""The main job over real MIDI: a second process plays a drill into ``widehand play``, which judges it."""

from __future__ import annotations

import os
from collections.abc import Sequence
from pathlib import Path
from typing import Any

import pytest
from calm import patient
from jack_server import sender
from port_player import Row, click_ear, from_now_s, printed, report, wait_for_line, widehand

#: Eight chords of two beats, the first two wide: short, as it is played in real time.
SHORT = """\
title = "Landing stage"
key = "G major"
tempo = 100
meter = "2/4"
[[passage]]
name = "wide"
numerals = "I | IV"
kind = "spread"
frets = [0, 8]
[[passage]]
name = "close"
numerals = "V | I | vi | ii | V | I"
kind = "close"
frets = [0, 9]
"""
TEMPO = 320
#: How long each chord rings, less than the shortest step; and at own pace one chord comes so long after another.
RING_S, APART_S = 0.3, 0.4
pytestmark = pytest.mark.jack


@pytest.fixture(scope="module")
def short(tmp_path_factory: pytest.TempPathFactory) -> str:
    """The short drill in a file."""
    path = tmp_path_factory.mktemp("drill") / "landing-stage.toml"
    path.write_text(SHORT, encoding="utf-8")
    return str(path)


def planned(drill: str) -> list[dict[str, Any]]:
    """Its planned steps, as the command line reports them."""
    found: list[dict[str, Any]] = printed("plan", drill)["steps"]
    assert len(found) >= 8
    return found


@pytest.fixture(scope="module")
def steps(short: str) -> list[dict[str, Any]]:
    """The planned steps of the short drill."""
    return planned(short)


def strum(start_s: float, step: dict[str, Any], pitches: Sequence[int], length_s: float) -> list[Row]:
    """The chord as a pickup with one channel for each string sends it, 3 ms from string to string."""
    strings = step["strings"] if len(pitches) == len(step["strings"]) else step["strings"][: len(pitches)]
    rows: list[Row] = []
    for number, (pitch, string) in enumerate(zip(pitches, strings, strict=False)):
        rows.append((start_s + 0.003 * number, (0x90 | string - 1, pitch, 90)))
        rows.append((start_s + length_s + 0.003 * number, (0x80 | string - 1, pitch, 0)))
    return rows


def played(chords: Sequence[tuple[float, dict[str, Any], Sequence[int]]], length_s: float) -> list[Row]:
    return sorted(row for start_s, step, pitches in chords for row in strum(start_s, step, pitches, length_s))


def with_slips(steps: Sequence[dict[str, Any]]) -> tuple[dict[int, list[int]], dict[int, str]]:
    """One slip of each kind that needs no clock: what is played instead, and the fault that must be named."""
    spread = next(step["index"] for step in steps if step["kind"] == "spread")
    top, dropped, low = 1, 3, 5
    assert len({spread, top, dropped, low}) == 4
    low_pitches = [pitch - 12 for pitch in steps[low]["pitches"]]
    bass, middle, high = steps[spread]["pitches"]
    instead = {
        top: [*steps[top]["pitches"][:-1], steps[top]["pitches"][-1] + 1],
        dropped: [steps[dropped]["pitches"][0], *steps[dropped]["pitches"][2:]],
        low: low_pitches,
        spread: sorted([bass, middle, high - 12]),
    }
    return instead, {top: "top_note", dropped: "missing", low: "octave", spread: "spacing"}


def at_own_pace(
    drill: str, name: str, folder: Path, chords: Sequence[tuple[dict[str, Any], Sequence[int]]]
) -> dict[str, Any]:
    """What is said of these pitches, played one chord after the other; its kept take is judged the same."""
    with sender(name) as guitar:
        listening = widehand(
            "play", drill, "--own-pace", "--port", name, "--pickup", "per-string",
            "--store", str(folder / "history.sqlite3"), "--json",
        )  # fmt: skip
        wait_for_line(listening)
        rows = [(0.3 + APART_S * n, step, pitches) for n, (step, pitches) in enumerate(chords)]
        guitar.play(played(rows, RING_S))
        live = report(listening, 60)
    (take,) = (folder / "takes").glob("*.mid")
    assert printed("hear", str(take), "--drill", drill) == live
    return live


@pytest.mark.slow
@patient
def test_every_planned_chord_is_a_hit(jack_server: str, tmp_path: Path) -> None:
    """A drill of the course at own pace, all notes as planned: every step a hit."""
    steps = planned("mill-verse")
    live = at_own_pace("mill-verse", "guitar-a", tmp_path, [(step, step["pitches"]) for step in steps])
    assert [(one["step"], one["grade"]) for one in live["attempts"]] == [(n, "hit") for n in range(len(steps))]


@patient
def test_exactly_the_slips_fall(jack_server: str, short: str, steps: list[dict[str, Any]], tmp_path: Path) -> None:
    """Top note changed, tone dropped, closed up, an octave low: exactly those steps fall, each with the right fault,
    and every other is a hit."""
    instead, faults = with_slips(steps)
    chords = [(step, instead.get(n, step["pitches"])) for n, step in enumerate(steps)]
    live = at_own_pace(short, "guitar-b", tmp_path, chords)
    fallen = {one["step"]: one["faults"][0]["code"] for one in live["attempts"] if one["grade"] != "hit"}
    assert fallen == faults
    assert [one["step"] for one in live["attempts"]] == list(range(len(steps)))


@pytest.mark.slow
@patient
def test_late_with_the_click(jack_server: str, short: str, steps: list[dict[str, Any]], tmp_path: Path) -> None:
    """The other process plays to the click that it hears, one chord 150 ms late: that chord falls, as late."""
    late = 2
    with click_ear("ear") as ear, sender("guitar-c") as guitar:
        listening = widehand(
            "play", short, "--tempo", str(TEMPO), "--port", "guitar-c", "--click", "ear", "--pickup", "per-string",
            "--store", str(tmp_path / "history.sqlite3"), "--json",
        )  # fmt: skip
        beat_s = 60 / TEMPO
        lead_s = from_now_s(ear.first_beat_s() + 2 * beat_s)
        chords = []
        for step in steps:
            beats_in = (step["bar"] - 1) * 2 + step["beat"] - 1
            delay_s = 0.15 if step["index"] == late else 0.0
            chords.append((lead_s + beats_in * beat_s + delay_s, step, step["pitches"]))
        guitar.play(played(chords, RING_S))
        live = report(listening, 120)
    fallen = {
        one["step"]: [fault["code"] for fault in one["faults"]] for one in live["attempts"] if one["grade"] != "hit"
    }
    assert fallen == {late: ["late"]}
    offsets = {one["step"]: one["offset_ms"] for one in live["attempts"]}
    assert abs(offsets.pop(late) - 150) < 40
    assert max(map(abs, offsets.values())) < 40
    (take,) = (tmp_path / "takes").glob("*.mid")
    assert printed("hear", str(take), "--drill", short) == live


def test_no_midi_system_is_one_line(tmp_path: Path) -> None:
    """Without a MIDI system: one clear line, exit code 1, no traceback."""
    bare = {**os.environ, "JACK_DEFAULT_SERVER": "nobody-there", "JACK_NO_START_SERVER": "1"}
    process = widehand("play", "mill-verse", "--store", str(tmp_path / "history.sqlite3"), env=bare)
    out, err = process.communicate(timeout=30)
    assert process.returncode == 1
    assert out == ""
    assert len(err.strip().splitlines()) == 1
    assert err.startswith("widehand: ")
