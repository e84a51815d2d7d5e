"""The command line: exit codes, one clear line for every kind of trouble, JSON that others may rely on."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

import pytest
from how_many import some
from printed import document, run

DRILL = "mill-verse"


@pytest.fixture(autouse=True)
def _own_history(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "history.sqlite3"))


#: words, a part of the line that must come, exit code. {tmp} is an empty folder.
TROUBLE = {
    "no such MIDI file": (("hear", "{tmp}/none.mid"), "there is no such file", 1),
    "a folder instead of a file": (("hear", "{tmp}"), "that is a folder", 1),
    "an empty MIDI file": (("hear", "{tmp}/empty.mid"), "empty", 1),
    "a truncated MIDI file": (("hear", "{tmp}/cut.mid"), "cut.mid", 1),
    "not a MIDI file": (("hear", "{tmp}/text.mid"), "not a Standard MIDI File", 1),
    "an unknown drill": (("plan", "mill-vers"), "mill-verse", 1),
    "an unknown chord": (("plan", "{tmp}/chord.toml"), "line 10", 1),
    "an impossible wish": (("plan", "{tmp}/wish.toml"), "step 2", 1),
    "a file that is no TOML": (("plan", "{tmp}/text.mid"), "text.mid", 1),
    "tempo 0": (("demo", "--tempo", "0"), "not '0'", 2),
    "a tempo in words": (("demo", "--tempo", "slow"), "not 'slow'", 2),
    "an unknown hand": (("plan", DRILL, "--hand", "huge"), "huge", 1),
    "an unknown tuning": (("plan", DRILL, "--tuning", "sideways"), "sideways", 1),
    "a capo beyond the neck": (("plan", DRILL, "--capo", "40"), "not '40'", 2),
    "an unknown pickup": (("hear", "{tmp}/ok.mid", "--pickup", "magic"), "magic", 1),
    "a note that is none": (("name", "H2"), "H2", 1),
    "a note beyond MIDI": (("name", "128"), "128", 1),
    "an unknown command": (("paly", DRILL), "did you mean play?", 2),
    "an unknown option": (("demo", "--fats"), "did you mean --fast?", 2),
    "a drill to show but none named": (("drills", "show"), "which drill", 2),
    "a store that is no history": (("progress", "--store", "{tmp}/text.mid"), "text.mid", 1),
    "a history with a name that no file can have": (("progress", "--store", "x" * 400), "cannot be a file", 1),
    "the same, to judge again": (("rejudge", "--store", "x" * 400), "cannot be a file", 1),
    "a page with such a name": (("export", "mill-verse", "--bundle", "x" * 400 + ".zip"), "cannot be written", 1),
    "a new drill with such a name": (("drills", "from", "C | G", "--out", "x" * 400 + ".toml"), "cannot be written", 1),
    "a name that would steer the terminal": (("hear", "{tmp}/ok.mid", "--pickup", "\x1b[31mx"), "'\\x1b[31mx'", 1),
    "a picture nowhere": (("demo", "--picture", "{tmp}/no/where.svg"), "cannot be written", 1),
    "a MIDI file nowhere": (("plan", DRILL, "--midi", "{tmp}/no/where.mid"), "cannot be written", 1),
}
HEAD = 'title = "T"\nabout = "A"\ntopic = "t"\ndifficulty = 1\nkey = "C major"\ntempo = 60\n[[passage]]\nname = "p"\n'


@pytest.fixture
def trouble_folder(tmp_path: Path) -> Path:
    folder = tmp_path / "trouble"
    folder.mkdir()
    (folder / "empty.mid").write_bytes(b"")
    (folder / "text.mid").write_text("these are words, not music = = =\n")
    good = bytes.fromhex("4D546864 00000006 0000 0001 0060 4D54726B 0000000C 00903040 60803040 00FF2F00")
    (folder / "ok.mid").write_bytes(good)
    (folder / "cut.mid").write_bytes(good[:26])
    (folder / "chord.toml").write_text(HEAD + 'exercise = "progression"\nchords = "C | Hm7"\nkind = "spread"\n')
    (folder / "wish.toml").write_text(
        HEAD + 'exercise = "progression"\nchords = "C | G"\nkind = "spread"\ntop = ["any", "B6"]\n'
    )
    return folder


@pytest.mark.parametrize("story", TROUBLE)
def test_trouble_is_one_clear_line(story: str, trouble_folder: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What is wrong, where, and what to try; no traceback, nothing on standard output."""
    words, part, code = TROUBLE[story]
    got, out, err = run(capsys, *(word.format(tmp=trouble_folder) for word in words))
    assert got == code
    assert out == ""
    assert part in err
    assert "Traceback" not in err
    lines = [line for line in err.strip().splitlines() if not line.startswith(" ")]
    assert len(lines) == 1
    assert lines[0].startswith("widehand")


def test_ten_faults_are_all_told(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A drill file with ten faults: all ten reported at once, each with its line."""
    file = tmp_path / "ten.toml"
    file.write_text(
        'title = 5\nabout = "A"\ntopic = "t"\ndifficulty = 9\nkey = "H major"\ntempo = 0\nmeter = "four"\n'
        'strictness = "somehow"\ncolour = "red"\n[[passage]]\nname = "p"\nexercise = "progression"\n'
        'chords = "C | Xm"\nkind = "wide"\ninversion = "many"\n'
    )
    code, out, err = run(capsys, "drills", "check", str(file))
    assert code == 1
    assert out == ""
    lines = [line for line in err.splitlines() if line.startswith("  line ")]
    assert len(lines) == 10
    assert [int(line.split()[1].rstrip(":")) for line in lines] == [1, 4, 5, 6, 7, 8, 9, 13, 14, 15]


def test_plan_keeps_its_contract(capsys: pytest.CaptureFixture[str]) -> None:
    """The fields that others rely on are there, and the totals add up."""
    plan = document(capsys, "plan", DRILL)
    assert {"drill", "title", "key", "tuning", "total_movement", "steps"} <= set(plan)
    assert plan["tuning"] == ["E2", "A2", "D3", "G3", "B3", "E4"]
    wanted = {
        "index", "bar", "beat", "chord", "kind", "inversion", "pitches", "names", "degrees", "strings", "frets",
        "fingers", "barre", "stretch_mm", "movement",
    }  # fmt: skip
    for step in plan["steps"]:
        assert wanted <= set(step)
        sizes = {len(step[key]) for key in ("pitches", "names", "degrees", "strings", "frets", "fingers")}
        assert len(sizes) == 1
    moved = [step["movement"]["semitones"] for step in plan["steps"] if step["movement"]]
    assert plan["steps"][0]["movement"] is None
    assert sum(moved) == plan["total_movement"]
    assert all({"semitones", "voices", "common", "largest"} <= set(step["movement"]) for step in plan["steps"][1:])


def test_demo_reports_its_take_and_a_replay_agrees(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The kept take, judged again from its file, gives the same document, field for field."""
    live = document(capsys, "demo", "--fast")
    (take,) = (tmp_path / "takes").glob("*.mid")
    assert document(capsys, "hear", str(take), "--drill", DRILL) == live
    assert {"drill", "attempts", "summary"} <= set(live)
    assert {"hits", "nears", "misses", "movement_score"} <= set(live["summary"])
    for attempt in live["attempts"]:
        assert {"step", "grade", "faults", "heard", "held", "onset_s", "spread_ms", "offset_ms", "movement"} <= set(
            attempt
        )
        assert attempt["grade"] in ("hit", "near", "miss")
        assert all({"code", "text"} <= set(fault) for fault in attempt["faults"])


@pytest.mark.parametrize("pace", [["--own-pace"], ["--tempo", "90"]])
def test_demo_at_any_pace_replays_alike(capsys: pytest.CaptureFixture[str], tmp_path: Path, pace: list[str]) -> None:
    """Own pace and other tempos too."""
    live = document(capsys, "demo", "--fast", "--seed", "3", *pace)
    (take,) = (tmp_path / "takes").glob("*.mid")
    assert document(capsys, "hear", str(take), "--drill", DRILL) == live


def test_hear_without_a_drill_names_every_chord(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """The planned chords of a drill, written as a MIDI file, are heard under their own names."""
    file = tmp_path / "plan.mid"
    plan = document(capsys, "plan", DRILL, "--midi", str(file))
    heard = document(capsys, "hear", str(file), "--pickup", "per-string")["strokes"]
    assert [stroke["pitches"] for stroke in heard] == [step["pitches"] for step in plan["steps"]]
    assert [stroke["chord"] for stroke in heard] == [step["chord"] for step in plan["steps"]]
    assert [stroke["kind"] for stroke in heard] == [step["kind"] for step in plan["steps"]]
    wanted = {"onset_s", "spread_ms", "pitches", "held", "chord", "kind", "inversion", "top", "movement"}
    assert all(wanted <= set(stroke) for stroke in heard)


def test_a_foreign_file_can_be_judged_with_a_tempo(capsys: pytest.CaptureFixture[str], tmp_path: Path) -> None:
    """A MIDI file that is no take: at own pace by default, with --tempo its timing is judged too."""
    file = tmp_path / "plan.mid"
    tempo = document(capsys, "plan", DRILL, "--midi", str(file))["tempo"]
    free = document(capsys, "hear", str(file), "--pickup", "per-string", "--drill", DRILL)
    timed = document(capsys, "hear", str(file), "--pickup", "per-string", "--drill", DRILL, "--tempo", str(tempo))
    assert {attempt["grade"] for attempt in free["attempts"]} == {"hit"}
    assert {attempt["grade"] for attempt in timed["attempts"]} == {"hit"}
    assert {attempt["offset_ms"] for attempt in free["attempts"]} == {None}
    assert max(abs(attempt["offset_ms"]) for attempt in timed["attempts"]) < 5


def test_name_keeps_its_contract(capsys: pytest.CaptureFixture[str]) -> None:
    """C spread triad, second inversion, in words and as JSON, best first."""
    code, out, _ = run(capsys, "name", "55", "64", "72")
    assert code == 0
    assert out.splitlines()[0].startswith("C spread triad, second inversion")
    named = document(capsys, "name", "G3", "E4", "C5")
    assert named["pitches"] == [55, 64, 72]
    best = named["names"][0]
    assert (best["chord"], best["kind"], best["inversion"], best["degrees"], best["span"]) == (
        "C", "spread", 2, ["5", "3", "1"], 17,
    )  # fmt: skip


def test_progress_after_a_demo(capsys: pytest.CaptureFixture[str]) -> None:
    """An empty history says what to do next; after a demo it is shown what there will be to see, and said whose it
    is."""
    code, out, _ = run(capsys, "progress")
    assert code == 0
    assert "widehand" in out
    document(capsys, "demo", "--fast")
    code, out, _ = run(capsys, "progress")
    assert code == 0
    assert out.startswith("All of this was played by the simulated guitarist of the demo.")
    found = document(capsys, "progress")
    assert (found["takes"], found["simulated_takes"], found["demo_only"]) == (1, 1, True)
    code, out, _ = run(capsys, "progress", "--drill", "low-tide")
    assert code == 0
    assert out.startswith("No takes of low-tide yet.")


def test_the_course_is_listed_and_shown(capsys: pytest.CaptureFixture[str]) -> None:
    """At least eight drills, which can be shown and have nothing wrong."""
    drills = document(capsys, "drills")["drills"]
    assert len(drills) >= 8
    for drill in some(drills):
        assert document(capsys, "drills", "check", drill["drill"])["problems"] == []
        code, out, _ = run(capsys, "drills", "show", drill["drill"])
        assert code == 0
        assert drill["title"] in out


def test_output_into_a_pipe_is_plain(capsys: pytest.CaptureFixture[str]) -> None:
    """No escape sequences when nobody sees a terminal, for every command that prints."""
    for words in (("demo", "--fast"), ("plan", DRILL), ("progress",), ("drills",), ("name", "60", "64", "67")):
        code, out, _ = run(capsys, *words)
        assert code == 0
        assert out
        assert "\x1b" not in out


def test_no_command_is_help(capsys: pytest.CaptureFixture[str]) -> None:
    """Without arguments the program says where to start."""
    code, out, _ = run(capsys)
    assert code == 0
    assert "widehand demo" in out
    assert "Pain means stop" in out


@pytest.mark.parametrize("words", ["--help", "plan --help", "help", "help plan", "-V"])
def test_help_loads_nothing_heavy(words: str) -> None:
    """Help needs neither numpy nor rich nor MIDI nor any part of the program but the options and the streams, and not
    all that argparse loads to find out how wide the terminal is."""
    code = (
        "import sys\nfrom listener.cli import main\n"
        f"try:\n    main({words.split()})\nexcept SystemExit:\n    pass\n"
        "print(sorted(m for m in sys.modules if m.split('.')[0] in "
        "('numpy', 'rich', 'mido', 'rtmidi', 'sqlite3', 'dataclasses', 'inspect', 'typing', 'datetime', 'shutil', "
        "'difflib') "
        "or m.startswith('listener.') and not m.startswith('listener.options')),"
        " file=sys.stderr)"
    )
    done = subprocess.run([sys.executable, "-c", code], capture_output=True, text=True, check=True)
    asked = (
        ["listener.commands", "listener.commands.way_in", "listener.commands.way_in.help"]
        if words.startswith("help")
        else []
    )
    assert done.stderr.strip() == str(["listener.cli", *asked, "listener.streams"])
