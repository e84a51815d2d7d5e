"""``widehand drills from take.mid``: a take, or anybody's MIDI file, becomes a drill file."""

from __future__ import annotations

import json
from pathlib import Path

import pytest
from printed import run

from listener.cli import main
from listener.drill.drill_file import load_drill
from listener.hearing.events import Message
from listener.hearing.take_file import Take, TakeHeader, take_bytes

C, F, G = (48, 52, 55), (53, 57, 60), (55, 59, 62)
OWN = TakeHeader("free", "own pace", 60.0, None, "single")


@pytest.fixture(autouse=True)
def here(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    monkeypatch.chdir(tmp_path)
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "own"))
    return tmp_path


def chords(*bars: tuple[int, ...], channels: bool = False) -> list[Message]:
    messages = []
    for number, pitches in enumerate(bars):
        for place, pitch in enumerate(pitches):
            channel = place if channels else 0
            messages.append(Message(1.0 + 2 * number, (0x90 | channel, pitch, 80)))
            messages.append(Message(2.9 + 2 * number, (0x80 | channel, pitch, 64)))
    return sorted(messages, key=lambda one: (one.time_s, one.data[0]))


def write(name: str, messages: list[Message], header: TakeHeader | None = OWN) -> str:
    Path(name).write_bytes(take_bytes(Take(tuple(messages), (), header)))
    return name


def made(capsys: pytest.CaptureFixture[str], *words: str) -> dict[str, object]:
    assert main(["drills", "from", *words, "--json"]) == 0
    document: dict[str, object] = json.loads(capsys.readouterr().out)
    return document


def test_a_take_is_known_as_one_and_its_drill_found_by_its_name(capsys: pytest.CaptureFixture[str]) -> None:
    """Its name is that of the file; what was found is said first, what to type next last."""
    write("evening.mid", chords(C, F, G, C))
    assert main(["drills", "from", "evening.mid"]) == 0
    told = capsys.readouterr()
    assert told.err.startswith(
        "Found in the playing: 120 a minute, four beats in a bar; --tempo and --meter say otherwise."
    )
    assert "4 chords in 4 bars, C major (a guess; --key says otherwise)" in told.out
    assert told.out.endswith("Play it: widehand play evening\n")
    assert [str(step.wish.chord) for step in load_drill("evening").steps] == ["C", "F", "G", "C"]
    assert main(["drills", "check", "evening"]) == 0
    assert main(["plan", "evening"]) == 0
    assert main(["sheet", "evening", "--tab", "-"]) == 0
    assert main(["sheet", "evening", "--musicxml", "evening.musicxml"]) == 0


def test_the_document_says_what_was_not_clear(capsys: pytest.CaptureFixture[str]) -> None:
    """Times in seconds, notes as MIDI, and the words of the report."""
    messages = [*chords(C, F), Message(5.0, (0x90, 67, 80)), Message(5.5, (0x80, 67, 64))]
    document = made(capsys, write("x.mid", messages), "--tempo", "60", "--meter", "3/4", "--key", "F")
    assert (document["tempo"], document["meter"], document["found_bars"]) == (60, [3, 4], False)
    assert (document["key"], document["guessed_key"]) == ("F major", False)
    (one,) = document["unclear"]  # type: ignore[misc]
    assert one["heard"] == [67]
    assert one["text"] == "a single note, G4: left out"


def test_a_file_from_elsewhere_is_a_tune_unless_it_is_said_to_be_playing(capsys: pytest.CaptureFixture[str]) -> None:
    """The same file, both ways; drums are left out of playing."""
    drums = [Message(1.0 + n, (0x99, 36, 80)) for n in range(4)] + [Message(1.5 + n, (0x89, 36, 64)) for n in range(4)]
    name = write("song.mid", sorted([*chords(C, F, G, C), *drums], key=lambda one: one.time_s), None)
    tune = made(capsys, name, "--name", "tune")
    assert tune["guessed_chords"] is True
    assert "To keep its chords as they were played: --as take." in " ".join(tune["remarks"])  # type: ignore[arg-type]
    document = made(capsys, name, "--as", "take", "--name", "played")
    assert document["steps"] == 4
    assert document["chords"] == "C | F | G | C"
    assert "Channel 10 is percussion and was left out." in document["remarks"]  # type: ignore[operator]
    take = write("take.mid", chords(C, F))
    assert made(capsys, take, "--as", "tune", "--name", "top-line")["guessed_chords"] is True


def test_strings_are_kept_where_they_are_told(capsys: pytest.CaptureFixture[str]) -> None:
    """A file from elsewhere says nothing of strings: one channel for each is worth a hint, and the option takes it."""
    name = write("six.mid", chords((64, 60, 55, 52, 48), (65, 60, 57, 53, 48), channels=True), None)
    document = made(capsys, name, "--as", "take", "--name", "unknown")
    assert "5 channels sound one note at a time each" in " ".join(document["remarks"])  # type: ignore[arg-type]
    assert "(5)" not in Path(str(document["file"])).read_text(encoding="utf-8")
    document = made(capsys, name, "--as", "take", "--pickup", "per-string", "--name", "known")
    assert '"C3(5) E3(4) G3(3) C4(2) E4(1)"' in Path(str(document["file"])).read_text(encoding="utf-8")


def test_another_guitar_is_named(capsys: pytest.CaptureFixture[str]) -> None:
    """Who keeps a take of a guitar with a capo is told how to practise it."""
    header = TakeHeader("free", "own pace", 60.0, None, "single", capo=2)
    document = made(capsys, write("capo.mid", chords((50, 54, 57), (55, 59, 62)), header))
    assert any("--capo 2" in remark for remark in document["remarks"])  # type: ignore[attr-defined]


@pytest.mark.parametrize(
    ("words", "code", "said"),
    [
        (["x.mid", "--chords", "C | G"], 2, "--chords does not go with a take"),
        (["x.mid", "--transpose", "2", "--top", "3"], 2, "--top and --transpose do not go with a take"),
        (["x.mid", "--part", "7"], 1, "x.mid has no part 7; there is 1 from 0:01.0 to "),
        (["x.mid", "--part", "piano"], 2, "--part of a take is a number such as 1, not 'piano'"),
        (["x.mid", "--from", "2:00", "--to", "1:00"], 2, "--to has to be later than --from"),
        (["x.mid", "--from", "soon"], 2, "'soon' is no time in a take"),
        (["x.mid", "--from", "1:00"], 1, "x.mid: nothing was heard in it"),
        (["x.mid", "--meter", "5/7"], 2, "'5/7' is not a meter"),
        (["x.mid", "--pickup", "magnet"], 1, "there is no pickup profile 'magnet'"),
        (["x.mid", "--key", "H"], 1, "H"),
        (["C | G", "--pickup", "single"], 2, "--pickup goes with playing"),
        (["foreign.mid", "--from", "0:01"], 2, "--from goes with playing: is the file a take? Then add --as take"),
        (["drums.mid", "--as", "take"], 1, "drums.mid holds only percussion (channel 10)"),
        (["text.mid", "--as", "take"], 1, "text.mid is not a Standard MIDI File"),
        (["nowhere.mid", "--as", "take"], 1, "nowhere.mid: there is no such file"),
        (["nowhere.mid"], 1, "nowhere.mid"),
    ],
)  # fmt: skip
def test_what_cannot_be_is_said_in_one_line(
    words: list[str], code: int, said: str, capsys: pytest.CaptureFixture[str], here: Path
) -> None:
    """No traceback, and no file."""
    write("x.mid", chords(C, F))
    write("foreign.mid", chords(C, F), None)
    write("drums.mid", [Message(1.0, (0x99, 36, 80)), Message(1.5, (0x89, 36, 64))], None)
    Path("text.mid").write_text("no music", encoding="utf-8")
    found, _, told = run(capsys, "drills", "from", *words)
    assert (found, said in told, told.count("\n")) == (code, True, 1), told
    assert not (here / "own").exists()
