"""``widehand hear``: files told while they are heard, simulated takes, and what was set right of a pickup's errors."""

from __future__ import annotations

import json
import subprocess
import sys
from collections.abc import Sequence
from pathlib import Path

import pytest
from how_many import some
from hypothesis import given
from hypothesis import strategies as st
from printed import document, run

from listener.cli import main
from listener.commands.playing.heard_text import entry, json_pieces, lines
from listener.drill.drill_file import bundled_drills
from listener.hearing.cleaning import DOUBLE, GHOST, cleaned_json
from listener.hearing.events import Message, NoteOn, Stroke
from listener.hearing.take_file import Take, read_take, take_bytes
from listener.judging.free.free import FreeListener, HeardChord
from listener.judging.free.harmony import HarmonyChord
from listener.judging.words import inversion_word
from listener.music.chord import parse_chord
from listener.smf.writing import header_chunk, write_track

DRILL = "mill-verse"


@pytest.fixture(autouse=True)
def _own_folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "history.sqlite3"))


def said(capsys: pytest.CaptureFixture[str], *words: str) -> str:
    assert main(list(words)) == 0
    return capsys.readouterr().out


# Strokes, one at a time ----------------------------------------------------------------------------------------

HARMONY = (HarmonyChord(0.4, parse_chord("C")), HarmonyChord(2.0, None))
_chord = st.lists(st.integers(0, 127), min_size=1, max_size=7, unique=True)


def _heard(chords: Sequence[Sequence[int]]) -> list[HeardChord]:
    listener = FreeListener()
    found = []
    for number, pitches in enumerate(chords):
        at_s = 0.40004 * number
        notes = [NoteOn(at_s + 0.00372 * n, pitch, 80) for n, pitch in enumerate(pitches)]
        held = tuple(notes[:1]) if number % 3 == 2 else ()
        found.append(listener.feed(Stroke(tuple(notes[len(held) :]) or tuple(notes), held, True, at_s + 0.1)))
    return found


@given(st.lists(_chord, max_size=6))
def test_pieces_of_json_are_what_json_makes_of_the_whole(chords: list[list[int]]) -> None:
    """Byte for byte, whatever was heard: chords, clusters, single notes, nothing."""
    heard = _heard(chords)
    whole = (
        json.dumps(
            {
                "format": "widehand chords 1",
                "strokes": [chord.as_json() for chord in heard],
                "harmony": [{"onset_s": 0.4, "chord": "C"}, {"onset_s": 2.0, "chord": None}],
                "cleaned": {"ghost_note": 2},
            }
        )
        + "\n"
    )
    assert "".join(json_pieces(heard, lambda: HARMONY, lambda: {GHOST: 2, DOUBLE: 0})) == whole
    assert [entry(chord) for chord in heard] == [json.dumps(chord.as_json()) for chord in heard]


def test_a_line_for_each_stroke() -> None:
    """Time, name, spacing, notes, movement; then how many, the harmony, and what was set right."""
    heard = _heard([[48, 55, 64], [48, 57, 65], [60, 61, 62], [40]])
    told = list(lines(heard, lambda: HARMONY, lambda: {GHOST: 1}))
    for chord, line in zip(heard, told, strict=False):
        moved = "" if chord.movement is None else f"  moved {chord.movement.semitones}"
        kind = "" if chord.kind is None else f" {chord.kind}, {inversion_word(chord.inversion)}"
        name = chord.chord or ("no chord name" if len(chord.names) > 1 else "a single note")
        assert line == f"{chord.onset_s:8.2f} s  {name:<8}{kind}: {' '.join(chord.names)}{moved}\n"
    assert told[3].split("  ", maxsplit=3)[-1].startswith("a single note: E2")
    assert told[len(heard) :] == [
        "4 chords and notes heard\n",
        "The harmony, with the second from which on each chord holds:\n",
        "    0.40 C           2.00 -\n",
        "Pickup: 1 ghost note ignored.\n",
    ]
    assert list(lines([], tuple, dict)) == ["0 chords and notes heard\n"]
    long = list(lines([], lambda: HARMONY * 400, dict))
    assert max(map(len, long)) <= 80


def _file(path: Path, *rows: tuple[int, int, int]) -> Path:
    """(tick, pitch, velocity) on channel 1, 480 ticks in half a second."""
    track = write_track((tick, bytes((0x90, pitch, velocity))) for tick, pitch, velocity in rows)
    path.write_bytes(header_chunk(0, 1, 480) + track)
    return path


def test_a_ghost_in_a_file_is_ignored_and_counted(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A soft octave of 20 ms above a loud note: not heard, but told at the end; in the file it stays."""
    file = _file(tmp_path / "g.mid", (480, 48, 90), (490, 60, 12), (510, 60, 0), (900, 48, 0))
    found = document(capsys, "hear", str(file))
    assert [stroke["pitches"] for stroke in found["strokes"]] == [[48]]
    assert found["cleaned"] == {"ghost_note": 1}
    assert said(capsys, "hear", str(file)).splitlines()[-1] == "Pickup: 1 ghost note ignored."
    assert [message.data[1] for message in read_take(file.read_bytes(), "g").messages] == [48, 60, 60, 48]


def test_damage_at_the_end_is_told_before_anything_else(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A file that is sound but for its last bytes: one line of trouble, no half document."""
    file = _file(tmp_path / "d.mid", *((480 * n, 60, 90 * (n % 2)) for n in range(2000)))
    data = file.read_bytes()
    file.write_bytes(data[:-8] + b"\x00\x90\x3c\x90" + data[-4:])
    for words in ([], ["--json"], ["--drill", DRILL]):
        assert main(["hear", str(file), *words]) == 1
        got = capsys.readouterr()
        assert got.out == ""
        assert "a status byte where data should be" in got.err


def test_a_file_is_named_without_the_planner(tmp_path: Path) -> None:
    """Naming what is in a file waits for neither the planner nor the judge to be loaded."""
    file = _file(tmp_path / "n.mid", (480, 48, 90), (480, 55, 90), (900, 48, 0), (900, 55, 0))
    code = (
        "import sys; from listener.cli import main; main(['hear', sys.argv[1]]); "
        "print(sorted({'listener.planning.planner', 'listener.judging.take'} & set(sys.modules)))"
    )
    done = subprocess.run([sys.executable, "-c", code, str(file)], capture_output=True, text=True, check=True)
    assert done.stdout.splitlines()[-1] == "[]"


# The simulated player --------------------------------------------------------------------------------------------


def test_a_simulated_take_is_judged_as_its_file_is(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """Kept with --out: the same verdicts and the same count of what was set right from the file."""
    file = tmp_path / "take.mid"
    for words in (["--seed", "3"], ["--seed", "4", "--pickup-errors", "hard", "--tempo", "96"]):
        live = document(capsys, "hear", "--simulate", "--drill", DRILL, "--out", str(file), *words)
        truth = live.pop("simulated")
        assert document(capsys, "hear", str(file), "--drill", DRILL) == live
        assert truth["seed"] == int(words[1])
    header = read_take(file.read_bytes(), "take").header
    assert header is not None
    assert (header.drill, header.pace, header.tempo, header.pickup) == (DRILL, "click", 96.0, "per-string")


def test_the_same_seed_plays_the_same(capsys: pytest.CaptureFixture[str]) -> None:
    """And another one does not."""
    words = ("hear", "--simulate", "--drill", DRILL, "--seed")
    first = document(capsys, *words, "5")
    assert document(capsys, *words, "5") == first
    assert document(capsys, *words, "6") != first


def test_without_errors_exactly_the_slips_fall(capsys: pytest.CaptureFixture[str]) -> None:
    """A pickup that makes no errors: nothing to set right, and the steps that fall are those that were played wrong."""
    for seed in range(6):
        found = document(
            capsys, "hear", "--simulate", "--drill", DRILL, "--pickup-errors", "none", "--seed", str(seed)
        )  # fmt: skip
        assert found["simulated"]["pickup_did"] == {}
        assert found["cleaned"] == {}
        fallen = {one["step"] for one in found["attempts"] if one["grade"] != "hit"}
        assert fallen == {slip["step"] for slip in found["simulated"]["slips"]}


def test_what_the_pickup_did_is_told_beside_what_was_set_right(capsys: pytest.CaptureFixture[str]) -> None:
    """In words: slips and lost notes by step; the ghosts that were counted are not fewer than none."""
    text = said(capsys, "hear", "--simulate", "--drill", DRILL, "--pickup-errors", "hard", "--seed", "2")
    told = text.splitlines()
    assert any(line.startswith("Pickup: ") and "ghost note" in line for line in told)
    assert any(line.startswith("The simulated player (seed 2, pickup errors: hard) meant") for line in told)


@pytest.mark.parametrize(
    ("drill", "pickup"),
    some([(drill, pickup) for drill in bundled_drills()[::7] for pickup in ("single", "per-string", "zone")]),
)
def test_any_drill_and_pickup_can_be_tried(capsys: pytest.CaptureFixture[str], drill: str, pickup: str) -> None:
    """A verdict for every step at least."""
    found = document(capsys, "hear", "--simulate", "--drill", drill, "--pickup", pickup)
    assert {one["step"] for one in found["attempts"]} == set(range(found["summary"]["steps"]))


def test_demo_with_errors_keeps_every_message(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """What was ignored is counted, and is in the kept take all the same: it judges again to the very same document."""
    live = document(capsys, "demo", "--fast", "--pickup-errors", "hard", "--seed", "2")
    assert live["cleaned"]["ghost_note"] > 0
    (take,) = (tmp_path / "takes").glob("*.mid")
    assert document(capsys, "hear", str(take), "--drill", DRILL) == live
    soft = [m for m in read_take(take.read_bytes(), "t").messages if m.data[0] & 0xF0 == 0x90 and 0 < m.data[2] < 30]
    assert len(soft) >= live["cleaned"]["ghost_note"]


def test_demo_without_errors_is_what_it_was(capsys: pytest.CaptureFixture[str]) -> None:
    """The default: no errors of the pickup, so nothing was set right but what a player's own hands bring about."""
    assert document(capsys, "demo", "--fast") == document(capsys, "demo", "--fast", "--pickup-errors", "none")
    assert "ghost" not in said(capsys, "demo", "--fast")


def test_plain_lines_tell_what_was_set_right(capsys: pytest.CaptureFixture[str]) -> None:
    """At the end of the take."""
    told = said(capsys, "demo", "--fast", "--plain", "--pickup-errors", "hard", "--seed", "2").splitlines()
    assert [line for line in told if line.startswith("Pickup: ")][-1].endswith(".")


def test_kinds_are_written_as_fields() -> None:
    """Underscores, in a steady order, and only what happened."""
    assert cleaned_json({GHOST: 3, DOUBLE: 1, "octave glitch": 0}) == {"double_trigger": 1, "ghost_note": 3}


BAD = {
    "nothing to hear": ([], "what shall be heard?", 2),
    "a drill but nothing to hear": (["--drill", DRILL], "hear --simulate", 2),
    "simulate without a drill": (["--simulate"], "--simulate needs a drill", 2),
    "simulate and a file": (["x.mid", "--simulate", "--drill", DRILL], "instead of the file x.mid", 2),
    "a seed for a file": (["x.mid", "--seed", "3"], "--seed needs --simulate", 2),
    "errors for a file": (["x.mid", "--pickup-errors", "hard"], "--pickup-errors needs --simulate", 2),
    "out for a file": (["x.mid", "--out", "y.mid", "--seed", "1"], "--seed and --out needs --simulate", 2),
    "errors of another kind": (["--simulate", "--drill", DRILL, "--pickup-errors", "awful"], "'awful'", 2),
    "no seed": (["--simulate", "--drill", DRILL, "--seed", "-1"], "not '-1'", 2),
    "a tempo of nothing": (["--simulate", "--drill", DRILL, "--tempo", "0"], "not '0'", 2),
    "an unknown drill": (["--simulate", "--drill", "no-such"], "no-such", 1),
    "an unknown pickup": (["--simulate", "--drill", DRILL, "--pickup", "magic"], "magic", 1),
    "out to nowhere": (["--simulate", "--drill", DRILL, "--out", "{tmp}/no/where.mid"], "cannot be written", 1),
    "out to a folder": (["--simulate", "--drill", DRILL, "--out", "{tmp}"], "is a folder; name a file in it", 1),
    "a tuning that the drill cannot use": (["--simulate", "--drill", DRILL, "--tuning", "E2 A2"], "", 1),
}


@pytest.mark.parametrize("story", BAD)
def test_bad_options_are_one_clear_line(story: str, capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """What is wrong and what to try; nothing on standard output, no file."""
    words, part, code = BAD[story]
    got, out, err = run(capsys, "hear", *(word.format(tmp=tmp_path) for word in words))
    assert (got, out) == (code, "")
    assert part in err
    own = [line for line in err.strip().splitlines() if not line.startswith(" ")]
    assert len(own) == 1
    assert own[0].startswith("widehand")
    assert not Path("y.mid").exists()


# Patterns --------------------------------------------------------------------------------------------------------

STRUMMED = """
title = "Landing stage"
key = "G major"
tempo = 120
meter = "2/4"
[[passage]]
numerals = "I | IV | V | I"
kind = "close"
frets = [0, 8]
pattern = { strum = "d u d u" }
"""


def test_patterns_stand_beside_the_attempts(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Each step that was left has what became of its pattern, in JSON and beneath its verdict; a drill without patterns
    says nothing of them."""
    drill = tmp_path / "stage.toml"
    drill.write_text(STRUMMED, encoding="utf-8")
    words = ("hear", "--simulate", "--pickup-errors", "none", "--seed", "3", "--drill")
    told = document(capsys, *words, str(drill))
    assert [one["step"] for one in told["patterns"]] == [0, 1, 2, 3]
    assert {one["asked"] for one in told["patterns"]} == {4}
    assert list(told).index("patterns") == list(told).index("attempts") + 1
    lines = said(capsys, *words, str(drill)).splitlines()
    for one in told["patterns"]:
        number = f"{one['step'] + 1:>2}  "
        mine = [line for line in lines if line.startswith(number)]
        assert mine[-1].endswith(f": {'; '.join(one['words'])}.")
        assert lines.index(mine[-1]) == lines.index(mine[0]) + len(mine) - 1
    assert "patterns" not in document(capsys, *words, DRILL)


# Over a chord ----------------------------------------------------------------------------------------------------


def test_what_was_played_over_a_chord(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Beside the attempts in JSON and beneath the chord's verdict; where nothing was, nothing is said."""
    drill = tmp_path / "stage.toml"
    drill.write_text(STRUMMED.replace('pattern = { strum = "d u d u" }', ""), encoding="utf-8")
    first, second = (one["pitches"] for one in document(capsys, "plan", str(drill))["steps"][:2])
    plucks = [(1.0, first), (1.8, [first[-1] + 5]), (2.4, [first[-1] + 7]), (3.5, second)]
    messages = [Message(at_s, (0x90, note, 80)) for at_s, notes in plucks for note in notes]
    messages += [Message(at_s + 1.6, (0x80, note, 0)) for at_s, notes in plucks for note in notes]
    take = Take(tuple(sorted(messages)))
    (tmp_path / "tune.mid").write_bytes(take_bytes(take))
    words = ("hear", str(tmp_path / "tune.mid"), "--pickup", "single", "--drill", str(drill))
    told = document(capsys, *words)
    assert [one["step"] for one in told["fills"]] == [0]
    assert len(told["fills"][0]["notes"]) == 2
    assert f": over it you played {' '.join(told['fills'][0]['notes'])}." in said(capsys, *words)
    assert "fills" not in document(capsys, "hear", "--simulate", "--pickup-errors", "none", "--drill", DRILL)
