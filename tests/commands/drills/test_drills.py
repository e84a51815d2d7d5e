"""``widehand drills`` from the outside: the list, one drill drawn, a new drill from chords or from a tune."""

from __future__ import annotations

import json
import os
import pty
import select
import signal
import subprocess
import sys
import time
import tomllib
from collections.abc import Callable
from datetime import UTC, datetime, timedelta
from fractions import Fraction
from pathlib import Path

import pytest
from how_many import some
from printed import document, run

from listener.cli import main
from listener.commands.drills.facts import ago
from listener.commands.drills.questions import ask_all
from listener.drill.drill_file import bundled_drills, load_drill
from listener.errors import UsageError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.history.skills.standpoint import KnownSkill, PlayedDrill, Standpoint
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.account import Account
from listener.judging.verdict import HIT, Verdict
from listener.music.pitch import parse_pitch
from listener.music.scale import parse_key
from listener.planning.planner import plan_drill
from listener.tunes.melody_file import melody_bytes
from listener.tunes.tune import Melody, MelodyNote

LINE = "C | Am7 D7/F# | G"


@pytest.fixture(autouse=True)
def folder(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """An empty folder to stand in, with a history and drills of its own."""
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "history.sqlite3"))
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "own"))
    return tmp_path


def write_tune(path: Path, notes: str, key: str = "C", meter: tuple[int, int] = (4, 4)) -> str:
    """A tune in quarter notes as a MIDI file."""
    found = tuple(MelodyNote(parse_pitch(name), Fraction(at), Fraction(1)) for at, name in enumerate(notes.split()))
    path.write_bytes(melody_bytes(Melody("t", "p", found, Fraction(len(found))), parse_key(key), meter))
    return path.name


def test_the_list_goes_by_topic(capsys: pytest.CaptureFixture[str]) -> None:
    """Every drill of the course is there once, under its topic; nothing was practised yet."""
    code, out, _ = run(capsys, "drills")
    assert code == 0
    names = [line.split()[0] for line in out.splitlines() if line.startswith("  ")]
    assert sorted(names) == sorted(bundled_drills())
    headings = [line for line in out.splitlines()[:-4] if line and not line.startswith(" ")]
    assert headings == list(dict.fromkeys(load_drill(name).topic for name in bundled_drills()))
    assert all("not yet" in line for line in out.splitlines() if line.startswith("  "))
    assert max(map(len, out.splitlines())) <= 100


@pytest.mark.skipif(sys.platform.startswith("win"), reason="the line is for a shell")
def test_how_to_find_a_new_drill_by_its_name(
    folder: Path, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """One that was written elsewhere: the line that is told, typed, puts it where ``widehand drills`` finds it, with
    that folder and without. Nothing is told of a drill that lies there, or that the course's of its name would hide."""
    own = folder / "own drills"
    monkeypatch.setenv("WIDEHAND_DRILLS", str(own))
    lead = "Find it by its name, in widehand drills too: "
    for name in ("my-verse", "my other verse"):
        _, out, _ = run(capsys, "drills", "from", "C | F", "--out", f"{name}.toml")
        (line,) = [line for line in out.splitlines() if line.startswith(lead)]
        assert f"  {name} " not in run(capsys, "drills")[1]
        subprocess.run(["sh", "-c", line.removeprefix(lead)], cwd=folder, check=True)
        assert load_drill(name).name == name
        assert f"  {name} " in run(capsys, "drills")[1]
    assert lead not in run(capsys, "drills", "from", "C | F", "--out", str(own / "third.toml"))[1]
    assert lead not in run(capsys, "drills", "from", "C | F", "--out", f"{bundled_drills()[0]}.toml")[1]


def test_a_new_drill_is_known_by_its_name_at_once(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """Its folder is made for the first one; the name alone is offered, and every command takes it."""
    _, out, _ = run(capsys, "drills", "from", LINE, "--name", "my verse")
    assert f"written: {folder / 'own' / 'my verse.toml'}" in out
    typed = [line.split("widehand ")[1] for line in out.splitlines() if "widehand " in line]
    assert typed == ["plan 'my verse'", "play 'my verse'"]
    assert "  my verse " in run(capsys, "drills")[1]
    for words in (["plan", "my verse", "--json"], ["sheet", "my verse"], ["demo", "my verse", "--fast", "--plain"]):
        assert main(words) == 0
        assert capsys.readouterr().out
    assert list(folder.glob("*.toml")) == []


def test_the_folder_of_own_drills_cannot_be_made(
    capsys: pytest.CaptureFixture[str], folder: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """One line that says what else can be done."""
    (folder / "file").write_text("")
    for place in ("file", "file/under"):
        monkeypatch.setenv("WIDEHAND_DRILLS", str(folder / place))
        code, out, err = run(capsys, "drills", "from", LINE)
        assert (code, out, err.count("\n")) == (1, "", 1)
        assert "the folder of your own drills, cannot be made" in err
        assert "name another place with --out or WIDEHAND_DRILLS" in err


def test_the_list_knows_the_last_take(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """After a take its day and its share of hits stand beside the drill, and in the JSON; not after one of the demo's
    simulated guitarist."""
    assert main(("demo", "--fast", "--plain")) == 0
    capsys.readouterr()
    assert {row["takes"] for row in document(capsys, "drills")["drills"]} == {0}
    monkeypatch.setattr("listener.commands.playing.demo.SIMULATED", "her guitar")
    assert main(("demo", "--fast", "--plain")) == 0
    capsys.readouterr()
    _, out, _ = run(capsys, "drills")
    (line,) = [line for line in out.splitlines() if line.startswith("  mill-verse ")]
    (row,) = [row for row in document(capsys, "drills")["drills"] if row["drill"] == "mill-verse"]
    assert row["takes"] == 1
    assert datetime.fromisoformat(row["last_played"]) <= datetime.now(UTC)
    assert f" today {row['last_hits']:.0%} " in " ".join(f"{line} ".split()) + " "


def test_the_list_says_how_far_a_take_went(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """A take that was broken off is no 100 %, however well it went."""
    plan = plan_drill(load_drill("mill-verse"), make_instrument(), make_hand())
    now = datetime.now(UTC)
    with Store.open(folder / "history.sqlite3") as store:
        session = store.begin_session(now)
        info = TakeInfo.of(plan, session=session, pickup="single", pace="click", source="her guitar", started_at=now)
        take = store.begin_take(info)
        for step in range(3):
            store.keep(take, Verdict(step, 1, HIT, (), plan.steps[step].voicing.midi, (), 1.0 + step, 0.0), [])
        store.finish_take(take, b"", now)
    _, out, _ = run(capsys, "drills")
    (line,) = [line for line in out.splitlines() if line.startswith("  mill-verse ")]
    assert f" today   3/{len(plan.steps)}" in line
    (row,) = [row for row in document(capsys, "drills")["drills"] if row["drill"] == "mill-verse"]
    assert (row["last_hits"], row["last_judged"], row["last_complete"]) == (1.0, 3, False)


def test_the_list_says_what_is_due(capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch) -> None:
    """As many as the drill covers of the skills that are due; other due skills are not its own."""
    now = datetime.now(UTC)
    due = tuple(KnownSkill(key, 0.5, now, 1.0, 4, 1, 0) for key in "abx")
    played = PlayedDrill("mill-verse", "T", 1, 60.0, 60.0, 64.0, 0.2, now, Account(), frozenset("abc"))
    monkeypatch.setattr(Store, "standpoint", lambda *_: Standpoint(skills=4, due=due, drills=(played,)))
    _, out, _ = run(capsys, "drills")
    assert [line.split()[0] for line in out.splitlines() if line.endswith("  2 due")] == ["mill-verse"]
    assert {row["drill"]: row["due"] for row in document(capsys, "drills")["drills"] if row["due"]} == {"mill-verse": 2}


def test_a_history_that_cannot_be_read_does_not_hide_the_list(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """The list is there; what is wrong with the history is one line beside it."""
    (folder / "history.sqlite3").write_text("these are words " * 100)
    code, out, err = run(capsys, "drills")
    assert code == 0
    assert "mill-verse" in out
    assert err.startswith("widehand: ")
    assert err.count("\n") == 1


def test_only_some_are_listed(capsys: pytest.CaptureFixture[str]) -> None:
    """By topic, by difficulty, by both."""
    topic = load_drill("mill-verse").topic
    some = document(capsys, "drills", "--topic", topic.upper())["drills"]
    assert {row["topic"] for row in some} == {topic}
    easy = document(capsys, "drills", "list", "--difficulty", "1")["drills"]
    assert {row["difficulty"] for row in easy} == {1}
    assert 0 < len(easy) < len(bundled_drills())


def test_own_drills_come_after_the_course(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """Under a heading of their own; a file that is no drill is said and does not stop the list."""
    (folder / "own").mkdir()
    assert run(capsys, "drills", "new", "--chords", LINE, "--out", "own", "--name", "my-verse")[0] == 0
    (folder / "own" / "bad.toml").write_text("title = ")
    _, out, _ = run(capsys, "drills")
    assert out.index("your own") < out.index("my-verse")
    assert "bad.toml" in out


@pytest.mark.parametrize(
    ("days", "words"),
    [
        (0, "today"),
        (1, "yesterday"),
        (3, "3 days ago"),
        (20, "2 weeks ago"),
        (90, "3 months ago"),
        (900, "2 years ago"),
    ],
)
def test_how_long_ago(days: int, words: str) -> None:
    """As people say it."""
    now = datetime(2024, 6, 1, 12, tzinfo=UTC)
    assert ago(now - timedelta(days=days), now) == words


@pytest.mark.parametrize("name", bundled_drills())
def test_every_drill_can_be_drawn(name: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Title, what it is for, key, tempo, every passage and every chord are there; no line is too long."""
    code, out, err = run(capsys, "drills", "show", name)
    assert (code, err) == (0, "")
    drill = load_drill(name)
    assert out.splitlines()[0] == drill.title
    flat = " ".join(out.split())
    for text in (drill.about, drill.listen_for, drill.move_on):
        assert " ".join(text.split())[:60].replace("Bb", "B♭") in flat.replace("Bb", "B♭")
    assert f"{drill.tempo:g} beats a minute" in out
    assert f"widehand play {name}" in out
    assert max(map(len, out.splitlines())) <= 100
    shown = document(capsys, "drills", "show", name)
    assert shown["passages"] == list(dict.fromkeys(step.passage for step in drill.steps))
    assert all(passage[:40] in out for passage in shown["passages"])


def test_a_line_becomes_a_drill(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """The file is written, says what it is in plain words, and is planned: how it went is said."""
    code, out, err = run(capsys, "drills", "from", LINE, "--name", "my-verse")
    assert (code, err) == (0, "")
    assert f"written: {folder / 'own' / 'my-verse.toml'}" in out
    assert "4 chords in 3 bars, G major (a guess; --key says otherwise), total movement" in out
    assert "widehand plan my-verse\n" in out
    drill = load_drill("my-verse")
    assert [str(step.wish.chord) for step in drill.steps] == ["C", "Am7", "D7/F#", "G"]
    assert [step.start_beats for step in drill.steps] == [0, 4, 6, 8]
    lines = (folder / "own" / "my-verse.toml").read_text(encoding="utf-8").splitlines()
    fields = [index for index, line in enumerate(lines) if " = " in line and not line.startswith("#")]
    assert all(lines[index - 1].startswith("#") for index in fields)


def test_names_with_spaces_can_be_typed(capsys: pytest.CaptureFixture[str]) -> None:
    """What is offered to type works as it stands."""
    _, out, _ = run(capsys, "drills", "from", LINE, "--out", "my verse.toml")
    assert "widehand plan 'my verse.toml'" in out
    assert "widehand play 'my verse.toml'" in run(capsys, "drills", "show", "my verse.toml")[1]


def test_new_with_options_is_the_same_as_from(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """All options of a progression stand in the file."""
    words = ("--kind", "spread or close", "--key", "C", "--tempo", "72", "--meter", "3/4", "--top", "any")
    first = document(capsys, "drills", "new", "my-verse", "--chords", LINE, "--title", "Rainy verse", *words)
    values = tomllib.loads((folder / "own" / "my-verse.toml").read_text(encoding="utf-8"))
    passage = values.pop("passage")[0]
    assert values == {"title": "Rainy verse", "topic": "my own", "key": "C major", "tempo": 72, "meter": "3/4"}
    assert passage == {"chords": LINE, "kind": "spread or close", "top": "any"}
    second = document(capsys, "drills", "from", LINE, "--name", "again", "--title", "Rainy verse", *words)
    assert {**first, "file": "", "drill": ""} == {**second, "file": "", "drill": ""}
    assert first["playable"]
    assert not first["guessed_key"]


def test_numerals(capsys: pytest.CaptureFixture[str]) -> None:
    """They stay numerals, so that the drill can change its key."""
    made = document(capsys, "drills", "from", "I | vi7 | ii7 V7 | I", "--key", "Eb")
    drill = load_drill(made["file"])
    assert [str(step.wish.chord) for step in drill.steps] == ["Eb", "Cm7", "Fm7", "Bb7", "Eb"]
    assert made["chords"] == "I | vi7 | ii7 V7 | I"


def test_a_tune_with_guessed_chords(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """Every note has its chord; that the chords are a guess is said and stands in the file; the tune is inside."""
    tune = write_tune(folder / "evening.mid", "E4 G4 C5 G4 F4 D4 B4 G4 C5 C5 C5 C5")
    code, out, err = run(capsys, "drills", "from", tune)
    assert code == 0
    assert "first guess" in err
    assert "12 chords in 3 bars, C major" in out
    (folder / tune).unlink()
    drill = load_drill("evening")
    assert " ".join(str(step.wish.top.pitch) for step in drill.steps) == "E4 G4 C5 G4 F4 D4 B4 G4 C5 C5 C5 C5"
    assert "# There are no chords in the file" in (folder / "own" / "evening.toml").read_text(encoding="utf-8")
    assert "passage 1" in run(capsys, "drills", "show", "evening")[1]


def test_a_tune_with_given_chords(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """Nothing is guessed; fewer notes and another pitch when that is asked for."""
    tune = write_tune(folder / "evening.mid", "E4 G4 C5 G4 F4 D4 B4 G4", meter=(4, 4))
    made = document(
        capsys, "drills", "from", tune, "--chords", "C F | G", "--notes", "chord", "--transpose", "-2", "--tempo", "50"
    )
    assert not made["guessed_chords"]
    drill = load_drill(made["file"])
    assert [(str(step.wish.chord), str(step.wish.top.pitch)) for step in drill.steps] == [
        ("Bb", "D4"), ("Eb", "Bb4"), ("F", "Eb4"),
    ]  # fmt: skip
    assert drill.tempo == 50


def test_what_cannot_be_played_is_explained(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """The file is written all the same, for editing; exit code 1, the step, the reason, and what would go."""
    words = ("from", "C | G", "--top", "E6 D6", "--kind", "spread")
    code, out, err = run(capsys, "drills", *words)
    assert (code, out) == (1, "")
    assert (folder / "own" / "my-drill.toml").is_file()
    assert "it cannot be played as it stands: step 1" in err
    assert "it can be played" in err
    made = document(capsys, "drills", *words, "--force", code=1)
    assert (made["playable"], made["total_movement"]) == (False, None)
    assert "step 1" in made["reason"]
    code, _, err = run(capsys, "drills", "check", "my-drill")
    assert code == 1
    assert "my-drill.toml: line " in err


#: words, what the line says, exit code
TROUBLE = {
    "a chord that is none": (("from", "C | Hm7 | G"), "bar 2: 'Hm7' does not begin with a root", 1),
    "numerals without a key": (("from", "I | IV"), "Roman numerals need a key", 1),
    "a key that is none": (("from", LINE, "--key", "H"), "does not begin with a tonic", 1),
    "a lower-case key": (("from", LINE, "--key", "g"), "write G major or G minor", 1),
    "a kind that is none": (("from", LINE, "--kind", "wide"), "'kind' must be one of", 2),
    "a top line that is none": (("from", LINE, "--top", "H4"), "'top'", 2),
    "a top line of another length": (("from", LINE, "--top", "E4 F4"), "'top'", 2),
    "a meter that is none": (("from", LINE, "--meter", "four"), "'meter' must be like 4/4", 2),
    "a tempo that is none": (("from", LINE, "--tempo", "9"), "not '9'", 2),
    "a name that leads elsewhere": (("from", LINE, "--name", "../x"), "will not do as a drill's name", 2),
    "a name like an option": (("from", LINE, "--name=-x"), "will not do as a drill's name", 2),
    "a name of the course": (("from", LINE, "--name", "mill-verse"), "is a drill of the course", 2),
    "a name of the course by its number": (("from", LINE, "--name", "7-mill-verse"), "is a drill of the course", 2),
    "another kind of file": (("from", LINE, "--out", "x.txt"), "its name ends in .toml", 2),
    "a folder that is not there": (("from", LINE, "--out", "no/x.toml"), "cannot be written", 1),
    "a file that is there": (("from", LINE, "--out", "there.toml"), "is there already", 1),
    "from nothing": (("from",), "from what?", 2),
    "nobody to answer": (("new",), "nobody is here to answer questions", 2),
    "a tune that is not there": (("from", "none.mid"), "there is no such file", 1),
    "a file that is no tune": (("from", "there.txt"), "cannot be read as a melody", 1),
    "a drill as a tune": (("from", "there.toml"), "is a drill already", 2),
    "a top line over a tune": (("from", "tune.mid", "--top", "3"), "--top does not go with a tune", 2),
    "a meter for a tune": (("from", "tune.mid", "--meter", "four"), "'four' is not a meter", 2),
    "a part that is not there": (("from", "tune.mid", "--part", "flute"), "has no part 'flute'", 1),
    "chords twice": (("from", LINE, "--chords", LINE), "twice", 2),
    "a topic that is none": (("--topic", "cooking"), "no drill is about 'cooking'; there are", 2),
    "a difficulty that is none": (("--difficulty", "9"), "not '9'", 2),
    "an option of another action": (("show", "mill-verse", "--kind", "spread"), "not with 'drills show'", 2),
    "an action that is none": (("delete", "mill-verse"), "there are list, show, check, new and from", 2),
    "a hand that is none": (("check", "mill-verse", "--hand", "huge"), "huge", 1),
}


@pytest.mark.parametrize("story", TROUBLE)
def test_trouble_is_one_clear_line(story: str, capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """What is wrong and what to try; nothing on standard output, nothing written, no file changed."""
    (folder / "there.toml").write_text("old")
    (folder / "there.txt").write_text("words")
    write_tune(folder / "tune.mid", "E4 G4 C5 G4")
    before = {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()}
    words, said, code = TROUBLE[story]
    got, out, err = run(capsys, "drills", *words)
    assert (got, out) == (code, "")
    lines = [line for line in err.splitlines() if not line.startswith(" ")]
    assert len(lines) == 1
    assert lines[0].startswith("widehand")
    assert said in err
    assert {path: path.read_bytes() for path in folder.rglob("*") if path.is_file()} == before


def test_force_replaces_and_nothing_is_left_behind(capsys: pytest.CaptureFixture[str], folder: Path) -> None:
    """Only with --force; beside the drill no other file stays."""
    folder = folder / "own"
    assert run(capsys, "drills", "from", LINE, "--name", "one")[0] == 0
    first = (folder / "one.toml").read_text(encoding="utf-8")
    assert run(capsys, "drills", "from", "C | F", "--name", "one")[0] == 1
    assert (folder / "one.toml").read_text(encoding="utf-8") == first
    assert run(capsys, "drills", "from", "C | F", "--name", "one", "--force")[0] == 0
    assert [path.name for path in folder.iterdir()] == ["one.toml"]
    assert 'chords = "C | F"' in (folder / "one.toml").read_text(encoding="utf-8")


def answers(*words: str) -> tuple[Callable[[str], str], Callable[[str], None], list[str]]:
    """Somebody who types these, and what was said."""
    waiting = iter(words)
    said: list[str] = []

    def ask(prompt: str) -> str:
        said.append(prompt)
        return next(waiting)

    return ask, said.append, said


def test_every_question_has_a_default() -> None:
    """Enter seven times gives a drill that can be read."""
    ask, say, said = answers(*[""] * 7)
    sketch = ask_all({}, ask=ask, say=say)
    assert (sketch.key, sketch.kind, sketch.top, sketch.tempo, sketch.meter) == ("C major", "spread", "", 60, "4/4")
    assert sum(prompt.endswith("]: ") for prompt in said) == 7


def test_answers_are_taken() -> None:
    """The defaults follow what was said before: four chords in the mode, a kind that all chords can have."""
    ask, say, said = answers("Rain", "F# minor", "", "close", "3", "72,5", "3/4")
    sketch = ask_all({}, ask=ask, say=say)
    assert (sketch.title, sketch.key, sketch.chords) == ("Rain", "F# minor", "i | VI | III | VII")
    assert (sketch.kind, sketch.top, sketch.tempo, sketch.meter) == ("close", "3", 72.5, "3/4")
    ask, say, said = answers("", "", "Am7 | D7", "", "", "", "")
    assert ask_all({}, ask=ask, say=say).kind == "spread or drop 2 or drop 3"
    assert any("[spread or drop 2 or drop 3]" in prompt for prompt in said)


def test_bad_answers_are_explained_and_asked_again(monkeypatch: pytest.MonkeyPatch) -> None:
    """Each kind of nonsense once, then sense; what is said breaks between words."""
    monkeypatch.setenv("COLUMNS", "80")
    ask, say, said = answers(
        "", "h minor", "g", "G", "C | Hm | G", "G | C", "wide", "spread", "q", "E4 F4", "3", "soon", "60", "5", "6/8"
    )
    sketch = ask_all({}, ask=ask, say=say)
    assert (sketch.chords, sketch.kind, sketch.top, sketch.meter) == ("G | C", "spread", "3", "6/8")
    talk = "\n".join(said)
    for part in (
        "tonic",
        "write G major",
        "'Hm' does not begin",
        "the spacing must be",
        "  'q' is not a degree",
        "  F4 is not a tone of",
        "not 'soon'",
        "4/4",
    ):
        assert part in talk
    assert all(len(line) < 80 for text in said for line in text.splitlines())
    marked = next(text for text in said if "^" in text).splitlines()
    assert marked[-2][marked[-1].index("^")] == "H"


def test_what_is_given_is_not_asked() -> None:
    """An option that says it already; a wrong one ends the questions at once."""
    ask, say, _ = answers("", "", "", "")
    sketch = ask_all({"title": "Rain", "key": "G", "tempo": "50"}, ask=ask, say=say)
    assert (sketch.title, sketch.key, sketch.tempo) == ("Rain", "G major", 50)
    with pytest.raises(UsageError, match="tonic"):
        ask_all({"key": "H"}, ask=ask, say=say)


def test_a_title_that_is_taken_is_asked_for_again_at_once() -> None:
    """Before any other answer can be lost; the title that is proposed is a free one."""
    names = {"My drill", "My drill 2", "Rain"}
    ask, say, said = answers("Rain", "", *[""] * 6)
    sketch = ask_all({}, taken=lambda title: f"{title} is there" if title in names else None, ask=ask, say=say)
    assert sketch.title == "My drill 3"
    assert said[1:4] == [said[1], "  Rain is there", said[1]]
    assert "[My drill 3]" in said[1]
    ask, say, said = answers(*[""] * 7)
    assert ask_all({}, title="Rainy verse", ask=ask, say=say).title == "Rainy verse"


@pytest.mark.parametrize(
    ("typed", "kind"), [("Drop2", "drop 2"), ("Close", "close"), ("DROP 2 or  Drop3", "drop 2 or drop 3")]
)
def test_spacings_are_understood_as_they_are_typed(typed: str, kind: str) -> None:
    """Capitals and the blank in drop 2 make no difference."""
    ask, say, _ = answers("", "", "Cmaj7 | Dm7", typed, "", "", "")
    assert ask_all({}, ask=ask, say=say).kind == kind


class Terminal:
    """``widehand drills new`` on a terminal of its own."""

    def __init__(self, folder: Path, *words: str) -> None:
        self.main, inner = pty.openpty()
        environment = {**os.environ, "TERM": "xterm", "NO_COLOR": "1"}
        command = [sys.executable, "-m", "listener", "drills", "new", *words]
        root = Path(__file__).parents[3]
        environment["PYTHONPATH"] = str(root)
        self.process = subprocess.Popen(
            command, stdin=inner, stdout=inner, stderr=inner, cwd=folder, env=environment, start_new_session=True
        )
        os.close(inner)
        self.text = ""

    def wait_for(self, part: str, *, interrupting: bool = False) -> None:
        """Until this is on the screen; a busy machine may take long. Python loses a SIGINT that comes in the instant
        before it waits for a line, so whoever sees nothing presses the key once more."""
        end = time.monotonic() + 60
        while part not in self.text:
            assert time.monotonic() < end, self.text
            if select.select([self.main], [], [], 1.0)[0]:
                try:
                    self.text += os.read(self.main, 4096).decode(errors="replace")
                except OSError:
                    break
            elif interrupting:
                self.process.send_signal(signal.SIGINT)
        assert part in self.text
        self.text = self.text[self.text.index(part) + len(part) :]

    def type(self, text: str) -> None:
        os.write(self.main, text.encode())

    def close(self) -> int:
        code = self.process.wait(60)
        os.close(self.main)
        return code


def test_questions_on_a_terminal(folder: Path) -> None:
    """Typed answers end in a file and a plan; a title that the course has is not taken."""
    terminal = Terminal(folder)
    for answer in ("Mill verse", "Rainy verse", "G", "G | H", "G | C | D7 | G", "", "", "", ""):
        terminal.wait_for("]: ")
        terminal.type(answer + "\n")
    terminal.wait_for("total movement")
    assert terminal.close() == 0
    assert [str(step.wish.chord) for step in load_drill("rainy-verse").steps] == [
        "G",
        "C",
        "D7",
        "G",
    ]


@pytest.mark.parametrize("key", ["Ctrl-C", "Ctrl-D"])
def test_leaving_writes_nothing(folder: Path, key: str) -> None:
    """Ctrl-C or the end of the input in the middle: exit code 130, a line that says so, no file."""
    terminal = Terminal(folder)
    terminal.wait_for("]: ")
    terminal.type("Rainy verse\n")
    terminal.wait_for("]: ")
    if key == "Ctrl-C":  # what a terminal makes of the key
        terminal.process.send_signal(signal.SIGINT)
    else:
        terminal.type("\x04")
    terminal.wait_for("stopped; nothing was written", interrupting=key == "Ctrl-C")
    assert terminal.close() == 130
    assert list(folder.rglob("*.toml")) == []


def test_no_questions_for_a_file_that_is_there(folder: Path) -> None:
    """A name or a file that was given and is taken is told before the first question."""
    (folder / "own").mkdir()
    (folder / "own" / "rain.toml").write_text("mine", encoding="utf-8")
    for words in some([("--title", "Rain"), ("--name", "rain"), ("rain",), ("--out", "own/rain.toml")]):
        terminal = Terminal(folder, *words)
        terminal.wait_for("rain.toml is there already")
        assert "What is it called" not in terminal.text
        assert terminal.close() in (1, 2)
    assert (folder / "own" / "rain.toml").read_text(encoding="utf-8") == "mine"


def test_patterns_are_told_in_words(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """By check and show, and to programs."""
    path = tmp_path / "strummed.toml"
    path.write_text(
        'title = "T"\nkey = "C major"\n[[passage]]\nname = "verse"\nchords = "C | F"\npattern = { strum = "d u" }\n',
        encoding="utf-8",
    )
    told = "strummed in eighths, anew in each bar: down, up"
    code, out, _ = run(capsys, "drills", "check", str(path))
    assert (code, out.splitlines()[1]) == (0, f"  verse: {told}")
    assert told in run(capsys, "drills", "show", str(path))[1]
    shown = json.loads(run(capsys, "drills", "show", str(path), "--json")[1])
    assert shown["patterns"] == {"verse": {"strum": "d u", "place": "1/8", "over": "bar", "swing": 0.5}}


def test_a_pattern_that_cannot_be_picked_is_told_with_its_line(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """One clear line: file, line, step, what is wrong, what to try."""
    path = tmp_path / "picked.toml"
    path.write_text(
        'title = "T"\nkey = "C major"\n[[passage]]\nchords = "C | F"\nkind = "spread"\n'
        'pattern = { pick = "p i m a" }\n',
        encoding="utf-8",
    )
    code, out, err = run(capsys, "drills", "check", str(path))
    assert (code, out) == (1, "")
    assert err.count("\n") == 1
    assert "picked.toml: line 4: step 1 (bar 1, beat 1): C spread cannot be played: its pattern needs 4 voices" in err
