"""Programs that are killed, and programs that write at the same time, lose no stroke they called kept."""

from __future__ import annotations

import random
import sqlite3
import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

from listener.history.store import Store

PLAYER = Path(__file__).with_name("player_program.py")
KILLS = 24


def start(store: Path, takes: int, strokes: int) -> subprocess.Popen[str]:
    """A program that plays takes into the store and prints a line after each thing that is done."""
    command = [sys.executable, str(PLAYER), str(store), str(takes), str(strokes)]
    return subprocess.Popen(command, stdout=subprocess.PIPE, text=True)


def check_integrity(path: Path) -> None:
    """SQLite's own check of file and foreign keys."""
    db = sqlite3.connect(path)
    assert db.execute("PRAGMA integrity_check").fetchall() == [("ok",)]
    assert db.execute("PRAGMA foreign_key_check").fetchall() == []
    db.close()


def test_kill_at_random_moments(store_path: Path, open_store: Callable[[], Store]) -> None:
    """After kill -9 every stroke that was reported is there, with its MIDI, at most one more, and the file is sound."""
    chance = random.Random(20310506)
    moments = 0
    for _ in range(KILLS):
        wanted_lines = chance.randint(0, 30)
        with start(store_path, takes=1000, strokes=6) as child:
            assert child.stdout is not None
            lines = [child.stdout.readline() for _ in range(wanted_lines)]
            time.sleep(chance.uniform(0, 0.004))
            child.kill()
            lines += child.stdout.readlines()
        reported: dict[int, int] = {}
        finished = set()
        for line in lines:
            if not line.endswith("\n"):
                continue  # killed within the report itself
            word, take, *number = line.split()
            if word == "kept":
                reported[int(take)] = int(number[0])
                moments += 1
            elif word == "finished":
                finished.add(int(take))
        if not store_path.exists():
            continue
        check_integrity(store_path)
        with open_store() as store:
            for take, count in reported.items():
                kept = store.take(take)
                strokes = store.verdicts(take)
                assert count <= len(strokes) <= count + 1
                assert [verdict.step for verdict in strokes] == list(range(len(strokes)))
                assert kept.finished_at is not None
                data = store.take_file(take)
                assert data.count(b"data=") == 2 * len(strokes)
                assert take not in finished or not kept.recovered
            assert all(take.finished_at is not None for take in store.takes())
        check_integrity(store_path)
    assert moments > KILLS  # the killing did hit programs at work


def test_programs_writing_at_once(store_path: Path, open_store: Callable[[], Store]) -> None:
    """Three programs make the same new history at the same moment and play into it; each take is whole and its own."""
    children = [start(store_path, takes=3, strokes=20) for _ in range(3)]
    for child in children:
        output, _ = child.communicate(timeout=60)
        assert child.returncode == 0
        assert len([line for line in output.splitlines() if line.startswith("kept")]) == 60
    check_integrity(store_path)
    with open_store() as store:
        assert store.notes == ()
        takes = store.takes()
        assert len(takes) == 9
        assert not any(take.recovered for take in takes)
        for take in takes:
            assert [verdict.step for verdict in store.verdicts(take.id)] == list(range(20))
            assert store.take_file(take.id).count(b"data=") == 40
        assert len({take.info.session for take in takes}) == 3
