"""Programs that are killed, and programs that write at the same time, lose no stroke they called kept."""

from __future__ import annotations

import json
import os
import random
import subprocess
import sys
from pathlib import Path

import pytest
from kept_lines import check_integrity, lines_of, shown_takes

from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.take_file import read_take
from listener.history.rejudging import rejudge
from listener.history.store import Store
from listener.planning.drill_file import load_drill
from listener.planning.planner import plan_drill

PLAYER = Path(__file__).with_name("player_program.py")
SESSION = Path(__file__).with_name("session_to_kill.py")
#: A take prints some 25 lines; a stroke is kept and shown within a millisecond or two.
MOST_LINES, LONGEST_MS = 40, 6.0
#: A new history after so many kills: files that are just being made are hit, and files with some hundred takes.
KILLS_OF_ONE_HISTORY = 25


class Killer:
    """Kills simulated sessions and looks at what they left behind."""

    def __init__(self, folder: Path, seed: int) -> None:
        self._folder = folder
        self._chance = random.Random(seed)
        # The very plan that the other program makes, so that its lines can be made from what was kept.
        self._plan = plan_drill(load_drill("ferry-landing"), make_instrument(), make_hand())
        self.strokes = self.cut_off = self._known = 0

    def run(self, kills: int) -> None:
        """That many."""
        pipe = subprocess.PIPE
        with subprocess.Popen([sys.executable, str(SESSION)], stdin=pipe, stdout=pipe, text=True) as program:
            assert program.stdin is not None
            assert program.stdout is not None
            for number in range(kills):
                path = self._folder / f"{number // KILLS_OF_ONE_HISTORY}" / "history.sqlite3"
                before = self._known if number % KILLS_OF_ONE_HISTORY else 0
                lines, ms = self._chance.randint(0, MOST_LINES), self._chance.uniform(0, LONGEST_MS)
                order = [str(path), 1000 * number, lines, ms if lines else 5 * ms]
                print(json.dumps(order), file=program.stdin, flush=True)
                self._look(path, before, json.loads(program.stdout.readline()))
            program.stdin.close()
            assert program.wait() == 0

    def _look(self, path: Path, before: int, text: str) -> None:
        """Every printed stroke is there, in its take, and what is kept is what its MIDI says."""
        shown = shown_takes(text)
        if not path.exists():
            assert not shown
            self._known = 0
            return
        check_integrity(path)
        with Store.open(path) as store:
            takes = store.takes()[before:]
            self._known = before + len(takes)
            assert len(shown) <= len(takes) <= len(shown) + 1
            for kept, lines in zip(takes, [*shown, []], strict=False):
                there = lines_of(self._plan, store, kept.id)
                assert there[: len(lines)] == lines
                # Verdicts that come at the same moment are kept one by one and shown together.
                assert len(there) <= len(lines) + 4 or kept.id == takes[-1].id
                assert kept.finished_at is not None
                again = rejudge(kept.info, self._plan, read_take(store.take_file(kept.id), "take"))
                assert again[: len(there)] == store.verdicts(kept.id)
                self.strokes += len(lines)
                self.cut_off += kept.recovered
            assert store.check() == ()
            with store.backend.reading() as db:  # whatever was killed, what the takes say about skills is made out
                assert db.rows("SELECT id FROM take WHERE reviewed = 0 OR finished_at IS NULL") == []
        # Killed between its sign and its first take, a program leaves the sign, which is cleared away later.
        left = {file.name for file in path.parent.iterdir() if "-playing-" not in file.name}
        assert left <= {"history.sqlite3", "takes"}


@pytest.mark.skipif(os.name == "nt", reason="needs fork and SIGKILL")
def test_kill_at_random_moments(tmp_path: Path) -> None:
    """25 kills: every stroke that was shown is kept, judges the same from its MIDI, and the file is sound."""
    killer = Killer(tmp_path, 20310506)
    killer.run(25)
    assert killer.strokes > 100
    assert killer.cut_off > 5  # the killing did hit takes at work
    with Store.open(tmp_path / "0" / "history.sqlite3") as store:
        found = store.standings("simulated guitar")
        assert len(found) > 10
        store.review_again([take.id for take in store.takes()])
        assert store.standings("simulated guitar") == found


def start(store: Path | str, takes: int, strokes: int) -> subprocess.Popen[str]:
    """A program that plays takes into the store and prints a line after each thing that is done."""
    command = [sys.executable, str(PLAYER), str(store), str(takes), str(strokes)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def test_programs_writing_at_once(place: Path | str) -> None:
    """Three programs make the same new history at the same moment and play into it; each take is whole and its own."""
    children = [start(place, takes=3, strokes=20) for _ in range(3)]
    for child in children:
        output, _ = child.communicate(timeout=60)
        assert child.returncode == 0
        assert len([line for line in output.splitlines() if line.startswith("kept")]) == 60
    if isinstance(place, Path):
        check_integrity(place)
    with Store.open(place) as store:
        assert store.notes == ()
        takes = store.takes()
        assert len(takes) == 9
        assert not any(take.recovered for take in takes)
        for take in takes:
            assert [verdict.step for verdict in store.verdicts(take.id)] == list(range(20))
            assert store.take_file(take.id).count(b"data=") == 40
        assert len({take.info.session for take in takes}) == 3
