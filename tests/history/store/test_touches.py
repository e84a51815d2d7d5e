"""What is kept of the touch: written when a take ends, read by progress, handed on, and never believed when damaged."""

from __future__ import annotations

import contextlib
import io
import json
import shutil
import sqlite3
from contextlib import closing
from datetime import UTC
from pathlib import Path

import pytest
from how_many import some

from listener.cli import main
from listener.errors import SourceError
from listener.history.exchange.describing import take_from
from listener.history.exchange.strict import Fields
from listener.history.progress.reading import read_facts
from listener.history.progress.report import report_on
from listener.history.store.store import Store
from listener.history.store.touches import touch_from, touch_row, touch_seal
from listener.judging.touch.account import TouchAccount
from listener.screen.progress.tables import held_words

#: What a bundle says of a take, as little as may be.
_ROW = {
    "drill": "walk", "sitting": "2031-05-06T07:08:09+00:00", "started_at": "2031-05-06T07:08:09+00:00",
    "finished_at": "2031-05-06T07:09:09+00:00", "recovered": False, "program_version": "0.1.0", "judged_by": "0.1.0",
    "tuning": ["E2"], "capo": 0, "hand": "medium", "pickup": "single", "pace": "click", "source": "guitar",
    "verdicts": [],
}  # fmt: skip


def said(*words: str) -> str:
    """What a command prints."""
    out = io.StringIO()
    with contextlib.redirect_stdout(out), contextlib.redirect_stderr(io.StringIO()):
        assert main(list(words)) == 0
    return out.getvalue()


@pytest.fixture(scope="module")
def sound(tmp_path_factory: pytest.TempPathFactory) -> Path:
    """A history with one take, of somebody who was not simulated."""
    place = tmp_path_factory.mktemp("touch") / "history.sqlite3"
    said("demo", "cider-fair", "--fast", "--plain", "--seed", "7", "--store", str(place))
    return place


@pytest.fixture
def kept(sound: Path, tmp_path: Path) -> Path:
    """A copy of it."""
    shutil.copytree(sound.parent, tmp_path / "copy")
    return tmp_path / "copy" / sound.name


def touch_in(place: Path) -> tuple[TouchAccount | None, tuple[str, ...]]:
    """What the history says of its first take, and what it said when it was opened."""
    with Store.open(place) as store:
        return store.take(1).touch, store.notes


def damaged(place: Path, statement: str, *values: object) -> None:
    with closing(sqlite3.connect(place)) as db:
        db.execute(statement, values)
        db.commit()


def test_a_take_is_kept_with_its_touch(sound: Path) -> None:
    """The same as ``hear`` makes of its file, and in progress."""
    found, notes = touch_in(sound)
    assert notes == ()
    assert found is not None
    assert found.changes > 10
    take = next((sound.parent / "takes").glob("*.mid"))
    heard = json.loads(said("hear", str(take), "--drill", "cider-fair", "--json"))["touch"]
    assert len(heard.pop("chords")) >= 20
    assert heard == found.as_json()
    (drill,) = json.loads(said("progress", "--json", "--store", str(sound)))["drills"]
    assert drill["touch"] == drill["takes"][0]["touch"] == heard


def test_a_bit_is_turned_back(kept: Path) -> None:
    """In the text and in its seal."""
    before, _ = touch_in(kept)
    assert before is not None
    text = json.dumps(touch_row(before), separators=(",", ":"))
    damaged(kept, "UPDATE take SET touch = ?", text.replace("changes", "chances"))
    with closing(sqlite3.connect(kept)) as db:
        (seal,) = db.execute("SELECT touch_seal FROM take").fetchone()
    assert touch_in(kept)[0] in (before, None)
    flipped = chr(ord(text[-1]) ^ 1)
    damaged(kept, "UPDATE take SET touch = ?, touch_seal = ?", text[:-1] + flipped, touch_seal(text))
    after, (line,) = touch_in(kept)
    assert after == before
    assert "lost a bit" in line
    damaged(kept, "UPDATE take SET touch_seal = ?", touch_seal(text) ^ 8)
    assert touch_in(kept)[0] == before
    assert isinstance(seal, int)


@pytest.mark.parametrize(
    "value",
    some(["{}", "[]", "3", "no text at all", b"\xff\xfe", 7, '{"changes":-1,"early":[]}', '{"early":[["3",1]]}', ""]),
)
def test_what_is_not_what_was_kept_is_not_believed(kept: Path, value: object) -> None:
    """It is lost, and said once; judging the take again makes it anew from its MIDI."""
    before, _ = touch_in(kept)
    damaged(kept, "UPDATE take SET touch = ?", value)
    after, (line,) = touch_in(kept)
    assert after is None
    assert "was touched is lost; widehand rejudge --take 1 --write makes it again" in line
    assert touch_in(kept) == (None, ())
    assert json.loads(said("progress", "--json", "--store", str(kept)))["drills"][0]["touch"] is None
    said("rejudge", "--take", "1", "--write", "--store", str(kept))
    assert touch_in(kept) == (before, ())


def test_a_seal_without_a_text(kept: Path) -> None:
    """The text is gone."""
    damaged(kept, "UPDATE take SET touch = NULL")
    assert touch_in(kept)[0] is None
    assert touch_in(kept) == (None, ())


def test_it_comes_back_from_the_takes_file_and_travels_in_a_bundle(kept: Path, tmp_path: Path) -> None:
    """A lost history knows it again, and so does whoever is handed the take."""
    before, _ = touch_in(kept)
    bundle = tmp_path / "b.zip"
    said("export", "--all", "--bundle", str(bundle), "--store", str(kept))
    elsewhere = tmp_path / "elsewhere" / "history.sqlite3"
    said("import", str(bundle), "--mine", "--store", str(elsewhere))
    assert touch_in(elsewhere)[0] == before
    kept.unlink()
    said("rejudge", "--rebuild", "--store", str(kept))
    assert touch_in(kept)[0] == before


@pytest.mark.parametrize(
    "touch", [[], 3, "held", {"changes": -1}, {"voices": 1.5}, {"early": 7}, {"early": [["3", 1, 2]]}, {"held": True}]
)
def test_a_bundle_that_says_nonsense_is_refused(touch: object) -> None:
    """In one line that says whose; what is not there, or null, is not known."""
    row = {**_ROW, "touch": touch}
    with pytest.raises(SourceError, match=r"take 1, touch(:| must).*(damaged|made again)"):
        take_from(Fields(row, "take 1"), b"", None, "", {})
    for nothing in ({}, {"touch": None}):
        assert take_from(Fields({**_ROW, **nothing}, "take 1"), b"", None, "", {}).touch is None


def test_progress_adds_up_what_is_known(sound: Path) -> None:
    """A line of the tables, for drills of which enough is known."""
    found, _ = touch_in(sound)
    assert found is not None
    with Store.open(sound, read_only=True) as store, store.backend.reading() as db:
        report = report_on(read_facts(db), zone=UTC)
    share = found.held_share
    assert share is not None
    assert held_words(report) == (
        f"Voices held to the change, of those of which it can be told: cider-fair {100 * share:.0f} %."
    )
    (drill,) = report.facts.progress.drills
    assert drill.touch == found == report.touch_lately(drill)


def test_a_text_read() -> None:
    """Nothing stays nothing."""
    assert touch_from(None) is None
    assert touch_from("{}") == TouchAccount()
    assert touch_from("null") is None
