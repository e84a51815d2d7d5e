"""``widehand progress`` is readable in a terminal, in a pipe and without colour, and never leaves one at a loss."""

from __future__ import annotations

import io
import json
import sys
from collections.abc import Callable
from datetime import UTC, date, datetime, timedelta
from pathlib import Path

import made_up_weeks
import pytest
from rich.console import Console

from listener.cli import main
from listener.commands.keeping.progress import run
from listener.errors import StoreError, WidehandError
from listener.history.progress.reading import read_facts
from listener.history.progress.report import ProgressReport, report_on
from listener.history.store.rows import TakeInfo
from listener.history.store.store import Store
from listener.judging.verdict import Verdict
from listener.screen.progress.tables import show

Info = Callable[..., TakeInfo]
MakeVerdict = Callable[..., Verdict]
NOW = datetime(2031, 5, 6, 12, 0, tzinfo=UTC)
LONG_NAME = "spread-triads-in-two-positions-with-a-very-long-name"


@pytest.fixture
def filled(store: Store, info: Info, verdict: MakeVerdict) -> Path:
    """Four takes of one drill, better each time, and one of a drill with a long name at the player's own pace."""
    session = store.begin_session(NOW)
    for number in range(4):
        take = store.begin_take(info(session=session, tempo=60.0 + number, started_at=NOW + timedelta(days=number)))
        for step in range(3):
            grade = "hit" if step < number else "near"
            store.keep(take, verdict(step, grade, attempt=1, movement_score=70.0 + 10 * number), [])
        store.finish_take(take, b"file", NOW)
    take = store.begin_take(info(session=session, drill=LONG_NAME, pace="own pace", tempo=None, started_at=NOW))
    store.keep(take, verdict(0, attempt=1, offset_ms=None, movement=None, least=None, movement_score=None), [])
    store.finish_take(take, b"file", NOW)
    return store.backend.path


class Pipe(io.TextIOWrapper):
    """A pipe with an encoding of its own."""

    def __init__(self, encoding: str) -> None:
        super().__init__(io.BytesIO(), encoding=encoding, newline="\n", write_through=True)

    @property
    def text(self) -> str:
        buffer = self.buffer
        assert isinstance(buffer, io.BytesIO)
        return buffer.getvalue().decode(self.encoding)


def printed(path: Path, monkeypatch: pytest.MonkeyPatch, encoding: str = "utf-8", drill: str | None = None) -> str:
    """What a pipe with that encoding gets."""
    stream = Pipe(encoding)
    with monkeypatch.context() as patch:
        patch.setattr(sys, "stdout", stream)
        assert run(path, drill=drill, as_json=False) == 0
    return stream.text


def test_piped_output_is_readable(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """No colours, no cut words, every number of the drill on its line."""
    monkeypatch.delenv("NO_COLOR", raising=False)
    monkeypatch.setenv("FORCE_COLOR", "")
    text = printed(filled, monkeypatch)
    assert "\x1b" not in text
    assert "…" not in text
    assert max(map(len, text.splitlines())) <= len(LONG_NAME) + 75
    tables = text[text.index("Take by take") :]
    row = next(line for line in tables.splitlines() if "harbour-walk" in line)
    assert row.split() == ["harbour-walk", "4", "▁▃▆█", "100", "%", "▆▇▇█", "100", "63"]
    detail = [line for line in tables.splitlines() if "harbour-walk" in line][1]
    assert detail.split() == ["harbour-walk", "2031-05-09", "3/0/0", "100", "%", "-12", "±0", "missing:", "6"]
    assert LONG_NAME in text
    assert "13 strokes in 5 takes, 1 session." in text


def test_weak_changes_are_listed(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """From, to, how often, how well."""
    lines = [line.split() for line in printed(filled, monkeypatch).splitlines()]
    assert ["C", "spread", "F", "spread", "4", "50", "%"] in lines
    assert ["F", "spread", "G", "spread", "4", "25", "%"] in lines


@pytest.mark.parametrize("encoding", ["ascii", "cp1252", "latin-1"])
def test_output_that_cannot_show_the_blocks(filled: Path, monkeypatch: pytest.MonkeyPatch, encoding: str) -> None:
    """Plain letters instead, nothing lost."""
    text = printed(filled, monkeypatch, encoding)
    assert text.isascii()
    assert ".-=#" in text
    assert "-12 +-0 " in text


def test_no_color_means_plain(filled: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    """NO_COLOR gives the plain form even where blocks could be shown."""
    monkeypatch.setenv("NO_COLOR", "1")
    assert printed(filled, monkeypatch).isascii()


def reported(path: Path, drill: str) -> ProgressReport:
    """What there is to tell of one drill."""
    with Store.open(path, read_only=True) as store, store.backend.reading() as db:
        return report_on(read_facts(db, drill), zone=UTC)


@pytest.mark.parametrize("width", [60, 80, 140])
@pytest.mark.parametrize("plain", [False, True])
def test_terminal_widths(filled: Path, width: int, plain: bool) -> None:
    """Everything stays within the terminal, no text is cut with dots, and at 80 columns each drill is one line."""
    file = io.StringIO()
    show(reported(filled, "harbour-walk"), Console(file=file, width=width, highlight=False), plain=plain)
    lines = file.getvalue().splitlines()
    assert max(map(len, lines)) <= width
    assert "…" not in file.getvalue()
    if plain:
        assert all(line.endswith("|") for line in lines if line.startswith("|"))  # no column fell off
    if width >= 80:
        first, second = (line for line in lines if "harbour-walk" in line)
        assert "63" in first
        assert "missing: 6" in second


def test_long_name_in_a_narrow_terminal(filled: Path) -> None:
    """A long name is folded, not cut: all of its letters are there."""
    file = io.StringIO()
    show(reported(filled, LONG_NAME), Console(file=file, width=80, highlight=False), plain=True)
    first_column = "".join(line.split("|")[1].strip() for line in file.getvalue().splitlines() if line.startswith("|"))
    assert LONG_NAME in first_column


def test_json_is_one_document(filled: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """With --json stdout holds one document and nothing else."""
    assert run(filled, drill="harbour-walk", as_json=True) == 0
    captured = capsys.readouterr()
    document = json.loads(captured.out)
    assert captured.err == ""
    assert (document["takes"], document["strokes"]) == (4, 12)
    (drill,) = document["drills"]
    assert [take["accuracy"] for take in drill["takes"]] == [0.0, 0.3333, 0.6667, 1.0]
    assert drill["tempo_reached"] == 63.0
    assert drill["timing"] == {"mean_ms": -12.0, "spread_ms": 0.0, "strokes": 12}


def test_nothing_yet(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """One friendly line that says what to do next; no file is made."""
    path = tmp_path / "history.sqlite3"
    assert run(path, drill=None, as_json=False) == 0
    out = capsys.readouterr().out
    assert out.startswith("No takes yet.")
    assert "widehand play" in out
    assert out.count("\n") == 1
    assert run(path, drill=None, as_json=True) == 0
    assert json.loads(capsys.readouterr().out)["drills"] == []
    assert not path.exists()


def test_no_takes_of_this_drill(filled: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Says which drills there are takes of."""
    assert run(filled, drill="harbor-walk", as_json=False) == 0
    out = capsys.readouterr().out
    assert "No takes of harbor-walk yet" in out
    assert "harbour-walk" in out


def test_hostile_names_do_not_steer_the_terminal(
    store: Store, info: Info, verdict: MakeVerdict, monkeypatch: pytest.MonkeyPatch
) -> None:
    """A drill name with markup or control characters is shown as text."""
    take = store.begin_take(info(session=store.begin_session(NOW), drill="[red]\x1b[31mname[/]"))
    store.keep(take, verdict(0, attempt=1), [])
    store.finish_take(take, b"", NOW)
    text = printed(store.backend.path, monkeypatch)
    assert "\x1b" not in text
    assert "[red]" in text
    assert "\x1b" not in printed(store.backend.path, monkeypatch, drill="\x1b[2J")


def test_not_a_history(tmp_path: Path) -> None:
    """The store's own clear line comes through."""
    path = tmp_path / "x.sqlite3"
    path.write_bytes(b"no database at all " * 50)
    with pytest.raises(StoreError, match="is not a Widehand history"):
        run(path, drill=None, as_json=False)


def test_since_and_one_drill(filled: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """Only takes from that day on count, everywhere in the document; without one the line says there are older ones."""
    assert run(filled, drill="harbour-walk", as_json=True, since=date(2031, 5, 8), zone=UTC) == 0
    document = json.loads(capsys.readouterr().out)
    assert (document["since"], document["takes"], document["strokes"]) == ("2031-05-08", 2, 6)
    assert sum(week["takes"] for week in document["weeks"]) == 2
    assert sum(change["attempts"] for change in document["changes"]) == 4
    assert run(filled, drill=None, as_json=False, since=date(2031, 7, 1), zone=UTC) == 0
    assert "leave out --since" in capsys.readouterr().out
    assert run(filled, drill="harbour-walk", as_json=False, since=date(2031, 7, 1), zone=UTC) == 0
    assert "No takes of harbour-walk since 2031-07-01" in capsys.readouterr().out


def test_the_document(filled: Path, capsys: pytest.CaptureFixture[str]) -> None:
    """What the pictures show is in the JSON, beside what has always been there."""
    assert run(filled, drill=None, as_json=True, zone=UTC) == 0
    document = json.loads(capsys.readouterr().out)
    assert {"sessions", "takes", "strokes", "drills", "weak_changes"} < set(document)
    (week,) = document["weeks"]
    assert (week["week"], week["takes"], week["hits"], week["nears"]) == ("2031-05-05", 5, 7, 6)
    assert week["minutes"] == pytest.approx(8 / 60, abs=0.01)
    assert document["words"]["next"].startswith("Look at ")
    assert document["tempos"] == [{"drill": "harbour-walk", "first": 63.0, "highest": 63.0, "tried": 63.0}]
    assert document["changes"][0]["late_attempts"] <= document["changes"][0]["attempts"]


def test_tables_for_a_spreadsheet(filled: Path, tmp_path: Path, capfdbinary: pytest.CaptureFixture[bytes]) -> None:
    """Into a file, or whole and alone on standard output, with line ends as RFC 4180 has them."""
    path = tmp_path / "takes.csv"
    assert run(filled, drill=None, as_json=False, csv=str(path), csv_changes="-") == 0
    out, err = capfdbinary.readouterr()
    assert out.startswith(b"from_chord,from_kind,to_chord,to_kind")
    assert err.decode().strip() == f"written: {path}"
    assert out.count(b"\r\n") == out.count(b"\n") == 3
    assert len(path.read_text(encoding="utf-8").splitlines()) == 6


@pytest.mark.parametrize(
    ("files", "words"),
    [
        ({"html": "-"}, "--html needs the name of a file"),
        ({"csv": "-", "as_json": True}, "only one thing fits on standard output"),
        ({"csv": "-", "csv_changes": "-"}, "only one thing fits on standard output"),
        ({"html": "a", "csv": "a"}, "a is asked for twice"),
        ({"csv": "/nowhere/at/all.csv"}, "/nowhere/at/all.csv cannot be written"),
        ({"csv": "/"}, "/ is a folder"),
    ],
)
def test_files_that_cannot_be(filled: Path, files: dict[str, str], words: str) -> None:
    """One line that says what is wrong."""
    with pytest.raises(WidehandError, match=words):
        run(filled, **{"drill": None, "as_json": False, **files})


def test_the_history_is_not_written_over(filled: Path) -> None:
    """A slip of the keyboard does not cost years."""
    before = filled.read_bytes()
    with pytest.raises(WidehandError, match="is a database, perhaps your history; name another file"):
        run(filled, drill=None, as_json=False, csv=str(filled))
    assert filled.read_bytes() == before


@pytest.mark.parametrize("text", ["yesterday", "2031-02-30", "9999-12-31", "-4w", ""])
@pytest.mark.parametrize("command", ["progress", "export"])
def test_since_on_the_command_line(command: str, text: str, capsys: pytest.CaptureFixture[str]) -> None:
    """Wrong usage is exit code 2 with one line about what to write, the same for all that look back."""
    with pytest.raises(SystemExit) as caught:
        main([command, f"--since={text}"])
    assert caught.value.code == 2
    assert "4w, 3m, 1y" in capsys.readouterr().err


def test_the_picture_in_the_pages_is_current(tmp_path: Path) -> None:
    """docs/progress.svg is what the program draws now (``tests/support/histories/made_up_weeks.py`` says how)."""
    with Store.open(tmp_path / "history.sqlite3") as store:
        made_up_weeks.fill(store)
        drawn = made_up_weeks.picture(store)
    assert drawn == (Path(made_up_weeks.__file__).parents[3] / "docs" / "progress.svg").read_text(encoding="utf-8")
