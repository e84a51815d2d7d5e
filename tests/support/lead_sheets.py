"""Tunes with chord symbols of their own, from the corpus that comes with music21 (BSD; the tunes are in the public
domain): two lead sheets, and a file of the Nottingham collection."""

from __future__ import annotations

import re
from collections.abc import Iterator
from pathlib import Path
from typing import Any

from listener.tunes.melody import read_melody
from listener.tunes.tune import Melody


def folder(music21: Any) -> Path:
    """Where the corpus lies."""
    return Path(music21.__file__).parent / "corpus"


def with_symbols(music21: Any, place: Path) -> Iterator[Melody]:
    """Melodies of the corpus that have chord symbols."""
    for path in sorted((folder(music21) / "leadSheet").glob("*.mxl")):
        yield read_melody(path.read_bytes(), path.name)
    for file in sorted((folder(music21) / "nottingham-dataset").glob("*.abc")):
        for piece in re.split(r"(?m)^(?=X:)", file.read_text(encoding="utf-8"))[1:]:
            score = music21.converter.parse(piece, format="abc")
            yield read_melody(Path(score.write("musicxml", place / "tune.musicxml")).read_bytes(), file.name)
