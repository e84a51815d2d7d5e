"""The harmony of free playing against chord labels of accompaniments that people play on a piano.

Source: POP909 (Z. Wang and others, "POP909: A pop-song dataset for music arrangement generation", ISMIR 2020; MIT),
which does not come with this project. ``WIDEHAND_ACCOMPANIMENTS`` names a folder that holds the piano track of each
piece as ``NAME.mid`` and its labels, a line for each of start and end in seconds and the chord as Harte writes it, as
``NAME.chords.txt``. In order of their names, every other piece is one that the numbers were tuned on, from the first.
"""

from __future__ import annotations

import os
from itertools import pairwise
from pathlib import Path

import numpy as np
import pytest
from harmony_scores import NO_CHORD, Labels, heard, scores

from listener.following.harmony import FILE_S, LIVE_S
from listener.hearing.take_file import open_take

FOLDER = os.environ.get("WIDEHAND_ACCOMPANIMENTS", "")
pytestmark = [
    pytest.mark.slow,
    pytest.mark.skipif(not FOLDER, reason="WIDEHAND_ACCOMPANIMENTS names no folder of accompaniments"),
]


def labels_of(path: Path) -> Labels:
    rows = [row.split() for row in path.read_text(encoding="utf-8").splitlines() if row.strip()]
    return [(float(start), float(end), written) for start, end, written in rows]


def chords(labels: Labels) -> int:
    """How many there are, one after the other."""
    changes = [now for before, now in pairwise([NO_CHORD, *(written for *_, written in labels)]) if now != before]
    return sum(written != NO_CHORD for written in changes)


@pytest.mark.parametrize("hindsight_s", [LIVE_S, FILE_S])
@pytest.mark.parametrize("half", [0, 1], ids=["tuned on", "reported"])
def test_accompaniments(half: int, hindsight_s: float) -> None:
    """The root is right for 92 % of the time, with its third for 90 %, and names are as many as chords, or a seventh
    more or less."""
    total, names, written = np.zeros(3), 0, 0
    pieces = sorted(Path(FOLDER).glob("*.mid"))[half::2]
    assert pieces, f"{FOLDER} holds no accompaniments"
    for piece in pieces:
        labels = labels_of(piece.with_suffix(".chords.txt"))
        line, _ = heard(open_take(piece.read_bytes(), str(piece)).without_marks().messages, hindsight_s)
        total += scores(line, labels)
        names, written = names + len(line), written + chords(labels)
    print(
        f"{len(pieces)} accompaniments: root {total[0] / total[2]:.1%}, with third {total[1] / total[2]:.1%}, ", end=""
    )
    print(f"{names / written:.2f} names a chord")
    assert total[0] / total[2] >= 0.92
    assert total[1] / total[2] >= 0.90
    assert 0.85 <= names / written <= 1.15
