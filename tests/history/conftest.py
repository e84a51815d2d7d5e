"""Things to keep: plans of made-up drills, verdicts, MIDI messages, and a store in a fresh folder."""

from __future__ import annotations

import os
import shutil
import tempfile
import uuid
from collections.abc import Callable, Iterator
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest
from postgres_server import Unavailable, running_postgres

from listener.hearing.events import Message
from listener.hearing.take_file import Take
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Fault, Verdict
from listener.music.movement import movement

STARTED = datetime(2031, 5, 6, 7, 8, 9, 250_000, tzinfo=UTC)
CHORDS = (("C", (48, 55, 64)), ("F", (48, 57, 65)), ("G", (50, 55, 59)))


def make_plan(chords: tuple[tuple[str, tuple[int, ...]], ...] = CHORDS, drill: str = "harbour-walk") -> dict[str, Any]:
    """The plan contract with the fields that the history reads."""
    steps = [
        {
            "index": index,
            "chord": chord,
            "kind": "spread",
            "inversion": 0,
            "pitches": list(pitches),
            "strings": [5, 4, 2][: len(pitches)],
        }
        for index, (chord, pitches) in enumerate(chords)
    ]
    return {"drill": drill, "title": "Harbour walk", "steps": steps}


def stand_in_file(take: Take) -> bytes:
    """Stands for the maker of Standard MIDI Files: anything that shows what it was given."""
    return repr((take.messages, take.marks)).encode()


@pytest.fixture
def store_path(tmp_path: Path) -> Path:
    """A place with a space and an umlaut in it, as people have them."""
    return tmp_path / "my häuser" / "history.sqlite3"


@pytest.fixture
def open_store(store_path: Path) -> Callable[[], Store]:
    """Opens the same history each time it is called."""
    return lambda: Store.open(store_path, make_file=stand_in_file)


@pytest.fixture
def store(open_store: Callable[[], Store]) -> Iterator[Store]:
    """An open history."""
    with open_store() as opened:
        yield opened


@pytest.fixture(scope="session")
def postgres() -> Iterator[str]:
    """The address of a PostgreSQL server that runs while the tests do; skipped, with the reason, without one."""
    try:
        with running_postgres() as address:
            yield address
    except Unavailable as reason:
        pytest.skip(str(reason))


@pytest.fixture
def studio(postgres: str) -> str:
    """The address of an empty history on that server, in a schema of its own."""
    import psycopg

    name = f"t{uuid.uuid4().hex}"
    with psycopg.connect(postgres, autocommit=True) as connection:
        connection.execute(f"CREATE SCHEMA {name}")
    return f"{postgres}&options=-csearch_path%3D{name}"


@pytest.fixture(params=["embedded", "studio"])
def place(request: pytest.FixtureRequest) -> Path | str:
    """Where a history can lie: in a file, and on a server. The same tests hold for both."""
    found: Path | str = request.getfixturevalue("store_path" if request.param == "embedded" else "studio")
    return found


@pytest.fixture
def open_any(place: Path | str) -> Callable[[], Store]:
    """Opens the same history each time it is called."""
    return lambda: Store.open(place, make_file=stand_in_file)


@pytest.fixture
def any_store(open_any: Callable[[], Store]) -> Iterator[Store]:
    """An open history."""
    with open_any() as opened:
        yield opened


@pytest.fixture(scope="session")
def info() -> Callable[..., TakeInfo]:
    """A take's description; keywords change it."""

    def build(**changes: Any) -> TakeInfo:
        fields: dict[str, Any] = {
            "session": 1,
            "drill": "harbour-walk",
            "drill_text": 'title = "Harbour walk"\n',
            "plan": make_plan(),
            "tuning": ("E2", "A2", "D3", "G3", "B3", "E4"),
            "capo": 0,
            "hand": "medium",
            "pickup": "six channels",
            "pace": "click",
            "source": "simulated player",
            "started_at": STARTED,
            "tempo": 72.5,
            "first_beat_s": 3.2,
            "seed": 7,
        }
        return TakeInfo(**{**fields, **changes})

    return build


@pytest.fixture(scope="session")
def verdict() -> Callable[..., Verdict]:
    """A verdict on a step; keywords change it."""

    def build(step: int = 0, grade: str = "hit", **changes: Any) -> Verdict:
        fields: dict[str, Any] = {
            "step": step,
            "attempt": 0,
            "grade": grade,
            "faults": () if grade == "hit" else (Fault("missing", "the 3rd (E4) is missing", wanted=64),),
            "heard": CHORDS[step % 3][1],
            "held": (),
            "onset_s": 1.5 + step,
            "spread_ms": 11.32,
            "offset_ms": -12.04,
            "movement": movement(CHORDS[(step - 1) % 3][1], CHORDS[step % 3][1]),
            "least": 2,
            "movement_score": 83.3,
        }
        return Verdict(**{**fields, **changes})

    return build


@pytest.fixture(scope="session")
def messages() -> Callable[[int], tuple[Message, ...]]:
    """The raw MIDI of one stroke: three notes on and off on three channels."""

    def build(number: int = 0) -> tuple[Message, ...]:
        pitches = CHORDS[number % 3][1]
        on = [Message(1.5 + number + 0.00452 * i, (0x90 + i, pitch, 80)) for i, pitch in enumerate(pitches)]
        off = [Message(2.4 + number, (0x80 + i, pitch, 0)) for i, pitch in enumerate(pitches)]
        return (*on, *off)

    return build


@pytest.fixture
def guarded_folder() -> Iterator[Path]:
    """A folder in which the rights of files count: tests that run as root become somebody else meanwhile."""
    if os.name == "nt":
        pytest.skip("rights of folders are tested on POSIX systems")
    folder = Path(tempfile.mkdtemp(prefix="widehand-"))
    root = os.geteuid() == 0
    if root:
        os.chown(folder, 65534, 65534)
        os.seteuid(65534)
    try:
        yield folder
    finally:
        folder.chmod(0o700)
        if root:
            os.seteuid(0)
        shutil.rmtree(folder)
