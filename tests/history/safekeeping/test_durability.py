"""Programs that write at the same time lose no stroke they called kept."""

from __future__ import annotations

import subprocess
import sys
from pathlib import Path

from kept_lines import check_integrity

from listener.history.store.store import Store

PLAYER = Path(__file__).parents[1] / "player_program.py"


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
