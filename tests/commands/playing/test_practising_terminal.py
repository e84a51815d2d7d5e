"""Practising on a real (pseudo) terminal: the target to hear, the tempo ladder, hard spots, each told on the screen."""

from __future__ import annotations

import json
import re
from pathlib import Path
from typing import Any

import pytest

pytest.importorskip("fcntl", reason="pseudo terminals are POSIX")

from in_terminal import SHORT_DRILL, Terminal, kept, widehand

PROGRAM = Path(__file__).parents[2] / "support" / "midi" / "practising_program.py"
#: Between two takes of a loop (seconds): long enough for a look at the screen.
BETWEEN_S = 1.0


class Practising(Terminal):
    """``widehand demo`` on a short drill, with options set by hand and MIDI outputs that write to files."""

    def __init__(self, folder: Path, options: dict[str, Any], *words: str) -> None:
        self.folder = folder
        drill = folder / "landing-stage.toml"
        drill.write_text(SHORT_DRILL, encoding="utf-8")
        said = json.dumps({"between_s": BETWEEN_S, **options})
        super().__init__(
            [str(PROGRAM), said, "demo", str(drill), "--count-in", "0", *words],
            environment={"WIDEHAND_STORE": str(folder / "h.sqlite3"), "WIDEHAND_OUTPUTS": str(folder)},
        )

    def sent(self, name: str) -> list[bytes]:
        """What an output got so far."""
        path = self.folder / f"{name}.txt"
        return [bytes.fromhex(line) for line in path.read_text().splitlines()] if path.exists() else []

    def wait_for_sent(self, name: str, count: int) -> list[bytes]:
        """Until an output got so many messages."""
        self.until(lambda: len(self.sent(name)) >= count, f"{count} messages to {name}")
        return self.sent(name)

    def quit(self) -> int:
        """The key q, and the exit code."""
        self.press("q")
        return self.wait()


def takes(folder: Path) -> list[tuple[float | None, int]]:
    """Tempo and number of verdicts of every kept take."""
    return [(tempo, len(grades)) for tempo, grades in kept(folder / "h.sqlite3")]


@pytest.mark.slow
def test_t_lets_the_target_be_heard(tmp_path: Path) -> None:
    """The key is shown; it sends the planned voicing as a roll to channel 1, ended again, also when the player leaves
    in the middle of it."""
    terminal = Practising(tmp_path, {"sound": "synth", "roll": True}, "--tempo", "20")
    terminal.wait_for(" t  hear")
    terminal.wait_for("step 1 of")
    terminal.press("t")
    first = terminal.wait_for_sent("synth", 6)  # the drill begins with three notes
    ons, offs = [m for m in first if m[0] == 0x90], [m for m in first if m[0] == 0x80]
    assert len(ons) == len(offs) == 3
    assert [m[1] for m in ons] == sorted(m[1] for m in ons)
    terminal.press("t")
    terminal.wait_for_sent("synth", 7)
    assert terminal.quit() == 0
    sent = terminal.sent("synth")
    assert sorted(m[1] for m in sent if m[0] == 0x90) == sorted(m[1] for m in sent if m[0] == 0x80)


@pytest.mark.slow
def test_without_an_output_there_is_no_such_key(tmp_path: Path) -> None:
    """No output for it: the key is not shown, and pressing it does nothing."""
    terminal = Practising(tmp_path, {}, "--tempo", "120")
    terminal.wait_for("step 1 of")
    terminal.press("t")
    terminal.wait_for_step(2)
    assert "hear" not in terminal.text.splitlines()[-1]
    assert terminal.quit() == 0


@pytest.mark.slow
def test_the_ladder_on_the_screen(tmp_path: Path) -> None:
    """After the first take the next rung is on the screen, and the next take comes by itself at that tempo."""
    terminal = Practising(tmp_path, {"ladder": True, "up_to": 400.0}, "--tempo", "380")
    said = terminal.wait_for("clean: now", "a little slower", "the same tempo again")
    terminal.wait_for("listening")
    terminal.wait_for_step(2)  # a take in which nothing has come yet is not kept
    assert terminal.quit() == 0
    tempi = [tempo for tempo, _ in takes(tmp_path)]
    assert tempi[0] == 380.0
    assert len(tempi) >= 2
    assert tempi[1] is not None
    expected = {
        "clean: now": tempi[1] > 380,
        "a little slower": tempi[1] < 380,
        "the same tempo again": tempi[1] == 380,
    }
    assert expected[said]


@pytest.mark.slow
def test_hard_spots_on_the_screen(tmp_path: Path) -> None:
    """After a take with faults the first spot is named and played by itself; n leaves it, q leaves altogether."""
    terminal = Practising(tmp_path, {"hard_spots": True}, "--tempo", "400")
    terminal.wait_for("clean 0 of 3")
    terminal.wait_for("listening")
    assert "next: step" in " ".join(terminal.text.split())
    terminal.wait_for("end of the take")
    terminal.press("n")
    terminal.wait_for("listening")
    assert terminal.quit() == 0
    counts = [count for _, count in takes(tmp_path)]
    assert counts[0] > counts[1] > 0


@pytest.mark.slow
def test_what_was_played_before_a_fresh_start_is_told(tmp_path: Path) -> None:
    """Who asks for the take again and leaves before its first chord is told how the one before went."""
    terminal = Practising(tmp_path, {}, "--tempo", "180", "--count-in", "2")
    terminal.wait_for_step(3)
    terminal.press("a")
    terminal.wait_for("count-in, beat")
    assert terminal.quit() == 0
    assert "Nothing was played in the last take; the one before it:" in terminal.text
    assert re.search(r"miss(es)?: \d of \d+ steps, then broken off\.", terminal.text)


@pytest.mark.slow
def test_a_day_counts_down_and_tells_how_each_item_went(tmp_path: Path) -> None:
    """What is left of a wait is shown; when the dashboard has gone, how the take went stands below its title."""
    terminal = widehand("today", "--start", "--demo", "--minutes", "5", store=tmp_path / "h.sqlite3")
    terminal.wait_for("0:03 left", "0:02 left", "0:01 left")
    terminal.press("n")
    terminal.wait_for_step(2)
    terminal.press("q")
    assert terminal.wait() == 0
    assert "left" not in terminal.text
    assert re.search(r"miss(es)?: \d of \d+ steps, then broken off\.", terminal.text)
    assert "Ended here" in terminal.text
