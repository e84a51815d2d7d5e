"""Compressed MusicXML: a readable archive with the very same score."""

from __future__ import annotations

import io
from zipfile import ZipFile

from sheet_plans import make_plan

from listener.sheets.musicxml.compressed import compressed_musicxml
from listener.sheets.musicxml.musicxml import plan_musicxml
from listener.tunes.melody import read_melody

PLAN = make_plan([("C", 0, 4), ("F", 4, 2), ("Cmaj7", 6, 2), ("G7/B", 8, 4)])


def test_the_archive_holds_the_score() -> None:
    """Media type first and uncompressed, a container that names the score, the score unchanged."""
    score = plan_musicxml(PLAN)
    with ZipFile(io.BytesIO(compressed_musicxml(score))) as archive:
        assert archive.testzip() is None
        assert archive.namelist() == ["mimetype", "META-INF/container.xml", "score.musicxml"]
        assert archive.read("mimetype") == b"application/vnd.recordare.musicxml"
        assert archive.read("score.musicxml") == score


def test_our_own_reader_takes_it_back() -> None:
    """The top line and the chord names, as a melody to be planned again."""
    melody = read_melody(compressed_musicxml(plan_musicxml(PLAN)), "t.mxl")
    assert [str(note.pitch) for note in melody.notes] == [str(one.voicing.top) for one in PLAN.steps]
    assert [note.start_beats for note in melody.notes] == [0, 4, 6, 8]
    assert [chord.chord.symbol for chord in melody.chords] == ["C", "F", "Cmaj7", "G7/B"]


def test_the_same_score_gives_the_same_bytes() -> None:
    """No clock in the archive."""
    score = plan_musicxml(PLAN)
    assert compressed_musicxml(score) == compressed_musicxml(score)
