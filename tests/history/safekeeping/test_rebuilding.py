"""A history that is gone, empty or cut is made again from its takes' files, and is what it was."""

from __future__ import annotations

import json
import random
import shutil
from contextlib import suppress
from dataclasses import replace
from datetime import timedelta
from pathlib import Path
from typing import Any

import pytest
from how_many import some
from played_takes import NOW, plan_of, played

from listener.cli import main
from listener.errors import SourceError
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import OWN_PACE, Mark, Take, TakeHeader, read_take, take_bytes
from listener.history.safekeeping.rebuilding import rebuild
from listener.history.safekeeping.take_record import kept_file, record_of
from listener.history.store.rows import KeptTake
from listener.history.store.store import Store
from listener.judging.free.free import FreeJudge
from listener.judging.take import judge_take
from listener.judging.verdict import Verdict
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.recorder import Session, StoreRecorder

SIMULATED = "simulated guitar"


@pytest.fixture(scope="module")
def made(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """Three sittings with takes of three drills on three guitars."""
    path = tmp_path_factory.mktemp("made") / "history.sqlite3"
    with Store.open(path) as store:
        for number, (drill, tempo, guitar) in enumerate(
            [
                ("ferry-landing", 72.0, {}),
                ("mill-verse", None, {"scale_mm": 610.0, "fret_count": 19, "left_handed": True}),
                ("harbour-lullaby", 60.0, {"tuning": "D2 A2 D3 G3 B3 E4", "capo": 2}),
            ]
        ):
            now = NOW + timedelta(days=number)
            session = Session(store, now)
            for seed in (2 * number, 2 * number + 1):
                at = now + timedelta(minutes=seed)
                played(store, plan_of(drill, **guitar), seed=seed, tempo=tempo, session=session, now=at)
    return path


@pytest.fixture
def lost(made: Path, store_path: Path) -> Path:
    """A copy of it, without its database."""
    shutil.copytree(made.parent, store_path.parent)
    store_path.unlink()
    return store_path


def all_of(path: Path) -> list[object]:
    """Everything that is kept, and what follows from it."""
    with Store.open(path, read_only=True) as store:
        takes: list[tuple[KeptTake, tuple[Verdict, ...], bytes]] = [
            (replace(take, route=0), store.verdicts(take.id), store.take_file(take.id)) for take in store.takes()
        ]
        return [takes, store.summaries(player=SIMULATED), store.standings(SIMULATED)]


@pytest.mark.parametrize(
    "how", some(["missing", "empty", "cut in its first bytes", "cut in its first page", "cut in the middle"])
)
def test_a_lost_history_is_said_and_made_again(
    made: Path, lost: Path, how: str, capsys: pytest.CaptureFixture[str], monkeypatch: pytest.MonkeyPatch
) -> None:
    """By one command, or by itself when there is a file that shows that it is damaged; bit for bit what it was."""
    monkeypatch.setenv("WIDEHAND_STORE", str(lost))
    size = {
        "missing": None,
        "empty": 0,
        "cut in its first bytes": 60,
        "cut in its first page": 3000,
        "cut in the middle": 90_000,
    }[how]
    if size is not None:
        lost.write_bytes(made.read_bytes()[:size])
    if not size:
        for command in (["rejudge"], ["progress"], ["today"], ["export", "--all", "--csv", "-"]):
            main(command)
            said = capsys.readouterr()
            assert "6 takes lie beside" in said.err
            assert "take them in with: widehand rejudge --rebuild" in said.err
        assert main(["rejudge", "--rebuild"]) == 0
        assert capsys.readouterr().out.startswith("6 takes with ")
    else:
        assert main(["rejudge"]) == 0
        said = capsys.readouterr()
        assert "was damaged" in said.err
        assert "came whole from their files" in said.err
        assert "6 takes judged again: every verdict is the same." in said.out
        (aside,) = lost.parent.glob("history-damaged-*")
        assert aside.stat().st_size == size
    assert all_of(lost) == all_of(made)
    assert main(["rejudge", "--rebuild", "--json"]) == 0
    said = capsys.readouterr()
    assert json.loads(said.out) == {
        "format": "widehand rebuild 1",
        "rebuilt": {"takes": 0, "verdicts": 0, "troubles": []},
    }
    assert said.err == ""


def test_takes_that_are_there_stay_as_they_are(made: Path, lost: Path) -> None:
    """Who has played on before noticing keeps the new takes; the old ones get other numbers where theirs are taken."""
    with Store.open(lost) as store:
        assert len(store.notes) == 1
        practice, _ = played(store, plan_of(), seed=77, now=NOW + timedelta(days=9))
    with Store.open(lost) as store:
        assert "6 takes lie beside" in store.notes[0]
        rebuilt = rebuild(store.backend)
        assert (rebuilt.takes, rebuilt.troubles) == (6, ())
        assert store.verdicts(1) == practice.verdicts
        assert [take.info.seed for take in store.takes()] == [0, 1, 2, 3, 4, 5, 77]
        assert store.check() == ()
        assert rebuild(store.backend).takes == 0


def test_what_cannot_be_read_is_named_and_left(made: Path, lost: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Ten kinds of files that are no takes, or no longer; the good ones come in."""
    takes = lost.parent / "takes"
    good = (takes / "0001-ferry-landing.mid").read_bytes()
    whole = read_take(good, "good")
    bad = {
        "0011-empty.mid": b"",
        "0012-text.mid": b"Dear neighbour",
        "0013-cut.mid": good[: len(good) // 2],
        "0014-elsewhere.mid": take_bytes(Take(whole.messages)),
        "0015-no-such-drill.mid": take_bytes(Take(whole.messages, header=_header(whole, drill="no-such-drill"))),
        "0016-no-such-pickup.mid": take_bytes(Take(whole.messages, header=_header(whole, pickup="no such"))),
        "0017-record.mid": take_bytes(replace(whole, record=b"[]")),
        "0018-record.mid": take_bytes(replace(whole, record=b'{"record": 1, "plan": {"steps": 7}, "about": {}}')),
        "0019-newer.mid": take_bytes(replace(whole, record=b'{"record": 2}')),
        "0020-tuning.mid": take_bytes(Take(whole.messages, header=_header(whole, tuning="Q9 Q9"))),
    }
    for name, data in bad.items():
        (takes / name).write_bytes(data)
    (takes / "0021-folder.mid").mkdir()
    assert main(["rejudge", "--rebuild", "--store", str(lost)]) == 1
    out = capsys.readouterr().out
    assert [line.partition(": ")[2][:4] for line in out.splitlines() if line.startswith("Left where it is: ")] == [
        name[:4] for name in (*bad, "0021")
    ]
    assert "6 takes with" in out
    assert all_of(lost) == all_of(made)


def _header(take: Take, **changes: Any) -> TakeHeader:
    assert take.header is not None
    return replace(take.header, **changes)


def test_any_change_in_a_record_is_refused_or_harmless(made: Path, tmp_path: Path) -> None:
    """Strange values in it end in one line, never in a traceback, and what comes in can be judged again."""
    chance = random.Random(5)
    file = made.parent / "takes" / "0001-ferry-landing.mid"
    whole = read_take(file.read_bytes(), "good")
    table, _, text = whole.record.partition(b"\0")
    strange = [None, True, -1, 10**30, 1.5, "", "x" * 3000, [], [[]], {}, [None], "\x1b[31m", "2031-05-06"]
    refused = 0
    for _ in range(150):
        row = json.loads(table)
        place: Any = row
        while True:
            key = chance.choice(list(place) if isinstance(place, dict) else range(len(place)))
            if isinstance(place[key], dict | list) and place[key] and chance.random() < 0.8:
                place = place[key]
                continue
            place[key] = chance.choice(strange)
            break
        data = take_bytes(replace(whole, record=json.dumps(row).encode() + b"\0" + text))
        with suppress(SourceError):
            assert kept_file(data, "bad") is not None
            continue
        refused += 1
    assert 50 < refused < 150


def test_files_of_older_programs_are_judged_by_the_drill_they_name(store_path: Path) -> None:
    """They say what was played on and which drill; what cannot be known is who played."""
    shutil.copytree(Path(__file__).parents[1] / "versions" / "3", store_path.parent)
    store_path.unlink()
    with Store.open(store_path) as store:
        assert rebuild(store.backend).takes == 3
        for take in store.takes():
            raw = read_take(store.take_file(take.id), "old")
            assert raw.header is not None
            plan = plan_of(raw.header.drill, tuning=raw.header.tuning, capo=raw.header.capo)
            assert store.verdicts(take.id) == tuple(judge_take(plan, make_pickup("per-string"), raw))
            assert len(store.verdicts(take.id)) > 5
            assert (take.info.drill, take.info.program_version) == (raw.header.drill, "0.1.0")
            assert take.info.tempo == (None if raw.header.pace == OWN_PACE else raw.header.tempo)


def test_free_listening_comes_back(lost: Path) -> None:
    """A take without a drill has no steps, and is a take all the same."""
    pickup = make_pickup("per-string")
    with Store.open(lost) as store:
        plan = replace(plan_of(), steps=(), drill=replace(plan_of().drill, name="free", text="", steps=()))
        practice = Practice(plan, pickup, TakeSettings(tempo=None, source="guitar"), FreeJudge(pickup))
        recorder = StoreRecorder(store, Session(store, NOW), practice, seed=None, now=lambda: NOW)
        for message in read_take((lost.parent / "takes" / "0001-ferry-landing.mid").read_bytes(), "one").messages:
            practice.feed(message)
        recorder.keep_messages(practice.messages_since(0))
        practice.end(100.0)
        recorder.finish(practice)
        assert (recorder.unkept, recorder.take_id) == (None, 1)
        heard = read_take(store.take_file(1), "free")
    for file in lost.parent.glob("history.sqlite3*"):
        file.unlink()
    with Store.open(lost) as store:
        assert rebuild(store.backend).takes == 7
        (found,) = [take for take in store.takes() if not take.step_count]
        assert (found.info.drill, found.info.pace) == ("free", OWN_PACE)
        assert read_take(store.take_file(found.id), "free") == heard


def test_ended_between_the_file_and_its_note(store_path: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """The whole file is there already: the take counts as finished, not as cut off, and lies there once."""

    class Killed(BaseException):
        pass

    def killed(*_: object, **__: object) -> None:
        raise Killed

    with Store.open(store_path) as store, monkeypatch.context() as patch:
        patch.setattr("listener.history.store.writing.finish_take", killed)
        with pytest.raises(Killed):
            played(store, plan_of(), seed=1)
    (file,) = (store_path.parent / "takes").iterdir()
    with Store.open(store_path) as store:
        assert store.notes == ()
        (take,) = store.takes()
        assert (take.recovered, store.take_file(take.id)) == (False, file.read_bytes())
        assert store.check() == ()
    assert list((store_path.parent / "takes").iterdir()) == [file]


def test_a_record_comes_back_as_it_was(made: Path) -> None:
    """Every field of the take and its verdicts, the drill's text to the last space; other programs pass over it."""
    import io

    import mido

    with Store.open(made, read_only=True) as store:
        for take in store.takes():
            data = store.take_file(take.id)
            found = kept_file(data, "take")
            assert found is not None
            assert found.take.info == replace(take.info, session=0)
            assert (found.take.verdicts, found.take.judged_by) == (store.verdicts(take.id), take.judged_by)
            assert found.take.finished_at == take.finished_at
            named = replace(take.info, drill="a long name " * 20)
            record = record_of(named, (), owner="x", sitting=NOW, finished_at=NOW)
            longer = kept_file(take_bytes(replace(found.raw, record=record)), "take")
            assert longer is not None
            assert longer.take.info.drill == named.drill
            plain = take_bytes(replace(found.raw, record=b""))
            notes = [str(one) for one in mido.MidiFile(file=io.BytesIO(data)) if not one.is_meta]
            assert notes == [str(one) for one in mido.MidiFile(file=io.BytesIO(plain)) if not one.is_meta]
    spoilt = bytearray(data)
    at = data.index(b"WdHd") + 200
    spoilt[at] ^= 0x10
    assert read_take(bytes(spoilt), "spoilt").record == b""


def test_rebuilding_goes_alone(lost: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With an option that chooses takes it would do less than it says."""
    for more in (["--write"], ["--take", "1"], ["--drill", "ferry-landing"]):
        assert main(["rejudge", "--rebuild", "--store", str(lost), *more]) == 2
        assert "leave out --take, --drill, --write" in capsys.readouterr().err


def test_a_cut_off_take_says_everything_too(store_path: Path) -> None:
    """What was completed at the next start can be lost and come back like any other."""
    with Store.open(store_path) as store:
        _, recorder = played(store, plan_of(), seed=1)
        info = store.take(1).info
        take = store.begin_take(replace(info, seed=2))
        store.keep(take, store.verdicts(1)[0], practice_messages(store), [Mark(0.0, "pause")])
        assert record_of(info, (), owner="x", sitting=NOW, finished_at=NOW)
    with Store.open(store_path) as store:
        before = [(take.id, take.recovered, store.verdicts(take.id)) for take in store.takes()]
    store_path.unlink()
    with Store.open(store_path) as store:
        assert rebuild(store.backend).takes == 2
        assert [(take.id, take.recovered, store.verdicts(take.id)) for take in store.takes()] == before
    assert recorder.unkept is None


def practice_messages(store: Store) -> tuple[Any, ...]:
    """Some of what was played in the first take."""
    return read_take(store.take_file(1), "one").messages[:20]
