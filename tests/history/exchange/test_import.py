"""Taking bundles in: what is new is kept, what is there stays, and a failure leaves everything as it was."""

from __future__ import annotations

import dataclasses
import errno
import json
from collections.abc import Callable
from datetime import UTC, datetime
from pathlib import Path
from typing import Any

import pytest

from listener.cli import main
from listener.drill.drill_file import bundled_drills, load_drill
from listener.errors import SourceError, StoreError
from listener.hearing.take_file import read_take
from listener.history.exchange import filing
from listener.history.exchange.bundle import Bundle, BundledDrill
from listener.history.exchange.filing import drill_news, keep_takes, new_takes, safe_stem, student_place, write_drills
from listener.history.exchange.packing import pack
from listener.history.exchange.selecting import bundle_of, packed, selected
from listener.history.exchange.unpacking import unpack
from listener.history.rejudging import plan_again, rejudge
from listener.history.store.store import Store

TEXT = (
    'title = "Quay steps"\nabout = "A"\ntopic = "t"\ndifficulty = 1\nkey = "C major"\ntempo = 60\n'
    '[[passage]]\nname = "p"\nexercise = "progression"\nchords = "C | F | G"\nkind = "spread"\n'
)


@pytest.fixture
def home(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Path:
    """A teacher's computer: an empty history and an empty folder of drills."""
    monkeypatch.setenv("WIDEHAND_DRILLS", str(tmp_path / "home" / "drills"))
    monkeypatch.setenv("WIDEHAND_STORE", str(tmp_path / "home" / "history.sqlite3"))
    return tmp_path / "home"


@pytest.fixture
def file(mara: bytes, tmp_path: Path) -> str:
    """Mara's bundle in a file."""
    (tmp_path / "mara.zip").write_bytes(mara)
    return str(tmp_path / "mara.zip")


def contents(store: Path) -> list[tuple[Any, ...]]:
    with Store.open(store, read_only=True) as opened:
        return [
            (
                take.info,
                take.finished_at,
                take.judged_by,
                take.sha256,
                opened.verdicts(take.id),
                opened.take_file(take.id),
            )
            for take in opened.takes()
        ]


def test_takes_arrive_as_they_left(home: Path, file: str, mara_store: Path) -> None:
    """In one's own history on another computer: every field, verdict and byte, in the same sittings."""
    assert main(["import", "--mine", file]) == 0
    assert contents(home / "history.sqlite3") == contents(mara_store)
    with Store.open(home / "history.sqlite3") as store:
        assert store.check() == ()
        assert [bool(plan_again(take.info).steps) for take in store.takes()] == [True, True]


def test_a_students_takes_are_kept_apart(home: Path, file: str, capsys: pytest.CaptureFixture[str]) -> None:
    """They are not in one's own progress, are found with --student, and say from whom they are."""
    assert main(["import", file]) == 0
    assert 'widehand progress --student "Mara Lind"' in capsys.readouterr().out
    assert main(["progress", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["takes"] == 0
    assert main(["progress", "--json", "--student", "mara lind"]) == 0
    assert json.loads(capsys.readouterr().out)["takes"] == 2
    place = student_place(home / "history.sqlite3", "Mara Lind")
    assert place.is_relative_to(home / "students")
    assert {row[0].source for row in contents(place)} == {"from Mara Lind: her guitar"}


def test_an_unknown_student_is_told(home: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing is made for a name that nobody has."""
    assert main(["progress", "--student", "Nobody Atall"]) == 1
    assert "there are no takes of Nobody Atall here" in capsys.readouterr().err
    assert not home.exists()


def test_names_that_look_alike_are_different_people(home: Path) -> None:
    """Umlauts and signs do not make one person of two; upper case and its composition do not make two of one."""
    own = home / "history.sqlite3"
    assert student_place(own, "Mära") != student_place(own, "Märä") != student_place(own, "M r")
    assert student_place(own, "MÄRA") == student_place(own, "ma\u0308ra")
    for name in ("../../etc", "/etc/passwd", "C:\\x", "\x00", "..", "con"):
        place = student_place(own, name)
        assert place.parent.parent == home / "students"


def test_importing_twice_changes_nothing(home: Path, file: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The second time everything is there already, and no row, file or drill is more or other."""
    assert main(["import", file]) == 0
    place = student_place(home / "history.sqlite3", "Mara Lind")
    before = contents(place), sorted(home.rglob("*"))
    capsys.readouterr()
    assert main(["import", file, file, "--json"]) == 0
    bundles = json.loads(capsys.readouterr().out)["bundles"]
    assert [bundle["takes"] for bundle in bundles] == [{"new": 0, "already_there": 2}] * 2
    assert [drill["state"] for bundle in bundles for drill in bundle["drills"]] == ["already there"] * 2
    assert (contents(place), sorted(home.rglob("*"))) == before


def test_only_what_is_new_is_added(home: Path, mara: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """A later bundle with one take more brings that one, into the sitting that it was part of."""
    bundle = unpack(mara, "mara.zip")
    (tmp_path / "first.zip").write_bytes(pack(dataclasses.replace(bundle, takes=bundle.takes[:1])))
    (tmp_path / "later.zip").write_bytes(mara)
    for name, new in (("first.zip", 1), ("later.zip", 1)):
        assert main(["import", "--json", str(tmp_path / name)]) == 0
        assert json.loads(capsys.readouterr().out)["bundles"][0]["takes"]["new"] == new


def test_a_dry_run_writes_nothing(home: Path, file: str, capsys: pytest.CaptureFixture[str]) -> None:
    """It says what would be new, and there is not even a folder afterwards."""
    assert main(["import", "--dry-run", file]) == 0
    out = capsys.readouterr().out
    assert "2 takes, 2 would be new" in out
    assert "drill quay-steps: would be new" in out
    assert not home.exists()


def test_a_drill_is_played_by_its_name_afterwards(home: Path, file: str, capsys: pytest.CaptureFixture[str]) -> None:
    """The drill that was handed over is found like one of the course; those that takes were played on stay out."""
    assert main(["import", file]) == 0
    assert "play it with: widehand play quay-steps" in capsys.readouterr().out
    assert load_drill("quay-steps").title == "Quay steps"
    assert [path.name for path in (home / "drills").iterdir()] == ["quay-steps.toml"]


def test_a_drill_of_the_same_name_is_never_written_over(home: Path) -> None:
    """Another text keeps its name, the new one gets a number; brought again, both are there already."""
    folder = home / "drills"
    folder.mkdir(parents=True)
    (folder / "Quay-Steps.toml").write_text("mine\n")
    drills = [BundledDrill("quay-steps", TEXT, True), BundledDrill("quay-steps", TEXT + "# more\n", True)]
    news = drill_news(drills, folder)
    assert [(one.state, one.name) for one in news] == [(filing.BESIDE, "quay-steps-2"), (filing.BESIDE, "quay-steps-3")]
    write_drills(news, folder)
    assert (folder / "Quay-Steps.toml").read_text() == "mine\n"
    assert [one.state for one in drill_news(drills, folder)] == [filing.SAME, filing.SAME]


def test_a_drill_of_the_course_is_there_already(home: Path) -> None:
    """The same text under the course's name needs no file; another text is kept beside it."""
    name = bundled_drills()[0]
    text = load_drill(name).text
    drills = [BundledDrill(name, text, True), BundledDrill(name, TEXT, True), BundledDrill(name, text, False)]
    news = drill_news(drills, home / "drills")
    assert [(one.state, one.name) for one in news] == [(filing.COURSE, name), (filing.BESIDE, f"{name}-2")]


@pytest.mark.parametrize(
    "name", ["../x", "a/b", "CON", "nul.txt", ".hidden", "-x", "x.", " ", "a\x00b", "ü" * 200, ".."]
)
def test_every_name_becomes_a_file_in_the_folder(name: str, tmp_path: Path) -> None:
    """Whatever a drill is called, its file lies in the folder and nowhere else."""
    (news,) = drill_news([BundledDrill(name, TEXT, True)], tmp_path / "drills")
    (path,) = write_drills([news], tmp_path / "drills")
    assert path.parent == tmp_path / "drills"
    assert path.resolve().parent == (tmp_path / "drills").resolve()
    assert path.is_file()
    assert not safe_stem(name).startswith(("-", "."))


def test_takes_can_be_judged_again_where_they_arrive(home: Path, file: str) -> None:
    """Raw MIDI, drill, plan, guitar, hand and pickup came along: the same verdicts, from scratch."""
    assert main(["import", "--mine", file]) == 0
    with Store.open(home / "history.sqlite3", read_only=True) as store:
        for take in store.takes():
            raw = read_take(store.take_file(take.id), "take")
            assert rejudge(take.info, plan_again(take.info), raw) == store.verdicts(take.id)


def test_a_students_takes_are_judged_again_where_they_lie(
    home: Path, file: str, capsys: pytest.CaptureFixture[str]
) -> None:
    """With --student: what an older program got wrong in the student's history is shown, and put right when asked to;
    one's own history has no part in it and is not made."""
    assert main(["import", file]) == 0
    place = student_place(home / "history.sqlite3", "Mara Lind")
    with Store.open(place) as store:
        right = store.verdicts(1)
        store.rewrite(
            1, (dataclasses.replace(right[0], grade="miss"), *right[1:]), datetime(2031, 5, 6, tzinfo=UTC), "0.0.3"
        )
    capsys.readouterr()
    assert main(["rejudge", "--student", "mara LIND", "--json"]) == 0
    shown = json.loads(capsys.readouterr().out)
    assert (shown["checked"], shown["changed"], shown["written"]) == (2, 1, 0)
    assert main(["rejudge", "--student", "Mara Lind", "--write", "--json"]) == 0
    assert json.loads(capsys.readouterr().out)["written"] == 1
    with Store.open(place, read_only=True) as store:
        assert store.verdicts(1) == right
    assert not (home / "history.sqlite3").exists()
    assert main(["rejudge", "--student", "Nobody Atall"]) == 1
    assert "there are no takes of Nobody Atall here" in capsys.readouterr().err


def test_a_disk_that_fills_up_leaves_no_half(
    home: Path, mara: bytes, monkeypatch: pytest.MonkeyPatch, capsys: pytest.CaptureFixture[str], file: str
) -> None:
    """When the second file cannot be written, neither take, drill nor file stays, and the next try succeeds."""
    from listener.history.store import embedded

    write = embedded.write_take_file
    calls: list[str] = []

    def full(store: Path, name: str, data: bytes) -> str:
        calls.append(name)
        if len(calls) == 2:
            raise OSError(errno.ENOSPC, "No space left on device")
        return write(store, name, data)

    monkeypatch.setattr(embedded, "write_take_file", full)
    assert main(["import", "--mine", file]) == 1
    err = capsys.readouterr().err
    assert err.startswith("widehand: ")
    assert len(err.splitlines()) == 1
    assert not list((home / "takes").glob("*"))
    assert not list((home / "drills").glob("*"))
    with Store.open(home / "history.sqlite3") as store:
        assert store.takes() == ()
        with store.backend.reading() as db:
            for table in ("session", "route", "target", "stroke", "chunk"):
                assert db.rows(f"SELECT * FROM {table}") == []
        assert store.notes == ()
    assert main(["import", "--mine", file]) == 0
    assert len(contents(home / "history.sqlite3")) == 2


def test_a_program_that_dies_in_between_has_lost_nothing(
    home: Path, mara: bytes, mara_store: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    """Killed between the rows and the files: when the history is opened next the takes are whole, files and all."""

    class Killed(BaseException):
        pass

    bundle = unpack(mara, "mara.zip")
    store = Store.open(home / "history.sqlite3")
    monkeypatch.setattr(filing, "_withdraw", lambda *_: None)

    def killed(*_: object) -> str:
        raise Killed

    monkeypatch.setattr(store.backend, "write_file", killed)
    with pytest.raises(Killed):
        keep_takes(store, bundle.takes)
    store.close()
    with Store.open(home / "history.sqlite3") as again:
        assert len(again.notes) == 2
        files = [read_take(again.take_file(take.id), "") for take in again.takes()]
        assert files == [read_take(take.midi, "") for take in bundle.takes]
        assert new_takes(again, bundle.takes) == ()


def test_a_bundle_without_a_name_asks_whose_it_is(
    home: Path, mara: bytes, tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    """Neither kept under nobody's name nor mixed into one's own; --from gives it."""
    path = tmp_path / "x.zip"
    path.write_bytes(pack(dataclasses.replace(unpack(mara, "m.zip"), student="")))
    assert main(["import", str(path)]) == 2
    assert "does not say whose takes it holds" in capsys.readouterr().err
    assert main(["import", "--from", "Ilse", str(path)]) == 0
    assert "from Ilse: 2 takes" in capsys.readouterr().out


def test_imported_takes_can_be_handed_on(home: Path, file: str, mara: bytes) -> None:
    """A bundle made of what was imported holds the same takes; only where they came from is said."""
    assert main(["import", "--mine", file]) == 0
    with Store.open(home / "history.sqlite3", read_only=True) as store:
        kept = selected(store, (), None, None, every=True)
        again = packed(bundle_of(store, kept, [load_drill("quay-steps")], "Mara Lind"))
    assert again == mara


@pytest.mark.parametrize("place", ["embedded", "studio"], indirect=True)
def test_both_kinds_of_history_take_them_in(place: Path | str, mara: bytes, open_any: Callable[[], Store]) -> None:
    """A file and a server: the same takes, once."""
    bundle = unpack(mara, "mara.zip")
    with Store.open(place) as store:
        keep_takes(store, new_takes(store, bundle.takes))
        keep_takes(store, new_takes(store, bundle.takes))
        assert [store.take_file(take.id) for take in store.takes()] == [take.midi for take in bundle.takes]
        assert [store.verdicts(take.id) for take in store.takes()] == [take.verdicts for take in bundle.takes]
        assert len({take.info.session for take in store.takes()}) == 2


def test_an_empty_bundle_is_no_trouble(home: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Nothing in it, nothing kept, and that is said."""
    (tmp_path / "x.zip").write_bytes(pack(Bundle("", "w", (), ())))
    assert main(["import", str(tmp_path / "x.zip")]) == 0
    assert "nothing in it to keep" in capsys.readouterr().out
    assert not home.exists()


def test_a_folder_that_cannot_be_written_is_told(tmp_path: Path) -> None:
    """A file where the folder of drills should be: one line with what to try."""
    (tmp_path / "drills").write_text("")
    news = drill_news([BundledDrill("x", TEXT, True)], tmp_path / "drills")
    with pytest.raises(StoreError, match="WIDEHAND_DRILLS"):
        write_drills(news, tmp_path / "drills")


def test_a_lie_about_a_digest_is_found(mara: bytes, entries: Any) -> None:
    """A take that is not what the index says is refused, not taken for another."""
    import io
    import zipfile

    found = entries(mara)
    found["takes/0001-mill-verse.mid"] = found["takes/0002-mill-verse.mid"]
    out = io.BytesIO()
    with zipfile.ZipFile(out, "w") as archive:
        for name, data in found.items():
            archive.writestr(zipfile.ZipInfo(name), data)
    with pytest.raises(SourceError, match="is not what the index says"):
        unpack(out.getvalue(), "b.zip")
