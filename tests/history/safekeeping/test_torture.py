"""Programs are killed, disks fill up, a server goes away for good: after the next start no shown verdict is lost.

A small part of it is done each time. WIDEHAND_TORTURE in the environment says how much: 0.1 is a tenth, 1 is all of it,
which takes an hour.
"""

from __future__ import annotations

import json
import os
import random
import shutil
import subprocess
import sys
import tempfile
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest
from how_many import share
from kept_lines import check_integrity, lines_of, shown_takes
from postgres_server import Postgres, Unavailable

from listener.drill.drill_file import load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.take_file import read_take
from listener.history.rejudging import rejudge
from listener.history.safekeeping.rescue import rescue_folders
from listener.history.store.store import Store
from listener.planning.planner import plan_drill

PROGRAM = Path(__file__).with_name("torture_program.py")
KILLS, DISKS, SERVERS = (max(3, share(whole)) for whole in (1000, 200, 50))
#: A new history after so many.
OF_ONE_HISTORY = 20
#: Copies play at once.
MOST_PLAYERS = 4
#: Seeds of two players never meet.
APART = 1_000_000

pytestmark = pytest.mark.skipif(sys.platform != "linux", reason="needs fork, SIGKILL and prlimit")


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """Nobody's folders: what cannot be kept must not go into a developer's own."""
    for name in ("home", "tmp"):
        (tmp_path / name).mkdir()
    monkeypatch.setenv("HOME", str(tmp_path / "home"))
    monkeypatch.delenv("XDG_DATA_HOME", raising=False)
    monkeypatch.setenv("TMPDIR", str(tmp_path / "tmp"))
    return tmp_path


class Torturer:
    """Lets players play until something befalls them, and looks at what is there after the next start."""

    def __init__(self, home: Path, seed: int) -> None:
        self._home = home
        self.chance = random.Random(seed)
        self.shown = self.rescued = self.cut_off = 0
        self._seed = 0
        self._plan = plan_drill(load_drill("ferry-landing"), make_instrument(), make_hand())
        pipe = subprocess.PIPE
        self._program = subprocess.Popen([sys.executable, str(PROGRAM)], stdin=pipe, stdout=pipe, text=True)

    def close(self) -> None:
        """Let the program go."""
        assert self._program.stdin is not None
        self._program.stdin.close()
        assert self._program.wait() == 0
        assert self._program.stdout is not None
        self._program.stdout.close()

    def play(self, store: Path | str, deed: str, **more: Any) -> dict[int, list[str]]:
        """What the players showed, by the seed of the take."""
        players = self.chance.randint(1, MOST_PLAYERS)
        seeds = [self._seed + APART * number for number in range(players)]
        self._seed += 1000
        order = {
            "store": str(store),
            "seeds": seeds,
            "deed": deed,
            "lines": self.chance.randint(0, 40 * players),
            "ms": self.chance.uniform(0, 6),
            "then_ms": 0 if deed == "kill" else self.chance.choice((5, 50, 500)),
            **more,
        }
        assert self._program.stdin is not None
        assert self._program.stdout is not None
        print(json.dumps(order), file=self._program.stdin, flush=True)
        printed: list[str] = json.loads(self._program.stdout.readline())
        assert [text for text in printed if "Traceback" in text] == []
        return {
            seed + number: lines
            for seed, text in zip(seeds, printed, strict=True)
            for number, lines in enumerate(shown_takes(text))
        }

    def look(self, place: Path | str, shown: dict[int, list[str]]) -> None:
        """Start once more: every line that was shown is there, and what is kept is what its MIDI says."""
        for half_written in self._home.rglob("*.part"):
            os.utime(half_written, (0, 0))  # an hour later, or a day
        with Store.open(place) as store:
            self.rescued += sum("was rescued" in note for note in store.notes)
            self.cut_off += sum("was cut off" in note for note in store.notes)
            takes = store.takes()
            assert len({take.info.seed for take in takes}) == len(takes), "a take is there twice"
            kept = {take.info.seed: take for take in takes}
            for seed, lines in shown.items():
                if not lines:
                    continue
                take = kept[seed]
                assert lines_of(self._plan, store, take.id)[: len(lines)] == lines, store.notes
                assert take.finished_at is not None, store.notes
                again = rejudge(take.info, self._plan, read_take(store.take_file(take.id), "take"))
                verdicts = store.verdicts(take.id)
                assert again[: len(verdicts)] == verdicts
                self.shown += len(lines)
            assert store.check() == ()
            with store.backend.reading() as db:  # whatever was killed, what the takes say about skills is made out
                assert db.rows("SELECT id FROM take WHERE reviewed = 0") == []
            assert [file for folder in rescue_folders(store.backend) for file in folder.glob("*")] == []
        if isinstance(place, Path):
            check_integrity(place)
            left = {file.name for file in place.parent.iterdir()}
            assert left <= {"history.sqlite3", "takes", "filler"}, "something stays behind"
            assert all(file.suffix == ".mid" for file in (place.parent / "takes").glob("*"))


@pytest.fixture
def torturer(home: Path) -> Iterator[Torturer]:
    """One that comes to an end."""
    with closing(Torturer(home, 20310506)) as found:
        yield found


def test_killed_a_few_times(home: Path, torturer: Torturer) -> None:
    """The same as below, six times; and the skills are what they are when all is made out anew."""
    kill(home, torturer, 6)
    with Store.open(home / "0" / "history.sqlite3") as store:
        found = store.standings("simulated guitar")
        assert len(found) > 10
        store.review_again([take.id for take in store.takes()])
        assert store.standings("simulated guitar") == found


@pytest.mark.slow
def test_killed(home: Path, torturer: Torturer) -> None:
    """One to four programs that play into one history at once are killed at a random moment."""
    kill(home, torturer, KILLS)


def kill(home: Path, torturer: Torturer, kills: int) -> None:
    """So many times."""
    for number in range(kills):
        place = home / f"{number // OF_ONE_HISTORY}" / "history.sqlite3"
        shown = torturer.play(place, "kill")
        if place.exists():
            torturer.look(place, shown)
        else:
            assert not any(shown.values())
    assert torturer.shown > 20 * kills
    assert torturer.cut_off > kills / 3


@contextmanager
def small_disk(folder: Path, kilobytes: int) -> Iterator[None]:
    """A disk of this size at ``folder``; at the end of the block there is more room on it."""
    folder.mkdir()
    subprocess.run(["mount", "-t", "tmpfs", "-o", f"size={kilobytes}k", "tmpfs", folder], check=True)
    try:
        yield
    finally:
        subprocess.run(["umount", "--lazy", folder], check=True)


def may_mount() -> bool:
    """Whether this is somebody who may make disks."""
    if os.geteuid() != 0 or shutil.which("mount") is None:
        return False
    with tempfile.TemporaryDirectory() as folder:
        made = subprocess.run(["mount", "-t", "tmpfs", "tmpfs", folder], capture_output=True, check=False)
        return made.returncode == 0 and subprocess.run(["umount", folder], check=False).returncode == 0


@pytest.mark.slow
def test_the_disk_fills_up(home: Path, torturer: Torturer) -> None:
    """At a random moment no file may grow any more, or the disk is full; some of the programs are killed soon after."""
    disks = may_mount()
    for number in range(DISKS):
        folder = home / f"disk {number}"
        if disks and number % 2:
            with small_disk(folder, 20_000):
                place = folder / "history.sqlite3"
                shown = torturer.play(place, "fill", filler=str(folder / "filler"))
                (folder / "filler").unlink()
                torturer.look(place, shown)
        else:
            place = folder / "history.sqlite3"
            shown = torturer.play(place, "limit", bytes=torturer.chance.choice((12_000, 60_000, 120_000, 400_000)))
            torturer.look(place, shown)
    assert torturer.shown > 20 * DISKS
    assert torturer.rescued > DISKS / 4


@pytest.fixture
def server() -> Iterator[Postgres]:
    """A studio's server, not yet running; skipped, with the reason, where there can be none."""
    try:
        with Postgres() as found:
            yield found
    except Unavailable as reason:
        pytest.skip(str(reason))


@pytest.mark.slow
def test_the_server_goes_away(server: Postgres, torturer: Torturer) -> None:
    """A studio's server stops at a random moment and stays away as long as anybody plays."""
    for number in range(SERVERS):
        server.start()
        address = server.fresh(f"t{number}")
        shown = torturer.play(address, "quit", process=server.number)
        server.wait_until_gone()
        server.start()
        torturer.look(address, shown)
    assert torturer.shown > 20 * SERVERS
    assert torturer.rescued > SERVERS / 4
