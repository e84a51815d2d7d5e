"""The yardstick for singable lines against the chorales it was counted in (tables/SOURCES.md)."""

from __future__ import annotations

import pytest
from outside.tables.reading import table_rows

from listener.data import shared_table
from listener.judging.singing import BOTTOM, TOP, singing

VOICES = {"S": "soprano", "A": "alto", "T": "tenor", "B": "bass"}


def test_the_table_is_the_count() -> None:
    """Every figure of the program's table is that of the count in 331 chorales."""
    table = shared_table("chorale_voices")
    rows = table_rows("chorales_voice_summary.csv")
    assert len(rows) == 8
    columns = {
        "moves": "moves", "hold": "zero_pct", "step": "step_pct", "skip": "third_pct", "leap": "leap5plus_pct",
        "mean_semitones": "mean_abs", "low": "low", "high": "high",
    }  # fmt: skip
    for row in rows:
        ours = table[{"beat": "changes", "note": "notes"}[row["level"]]][VOICES[row["voice"]]]
        assert ours == {name: float(row[column]) for name, column in columns.items()}, row


@pytest.mark.parametrize(("piece", "totals"), [("bwv269", (92, 82, 82, 166)), ("bwv66.6", (69, 65, 79, 119))])
def test_two_chorales(piece: str, totals: tuple[int, int, int, int]) -> None:
    """Semitones of each voice from beat to beat as music21 and partitura count them; these two pieces hardly cross."""
    rows = table_rows(f"slices_{piece}.csv")
    sung = singing([[tuple(int(row[voice]) for voice in "SATB") for row in rows]])
    top, bottom = sung.voice(TOP), sung.voice(BOTTOM)
    assert top is not None
    assert bottom is not None
    assert (top.semitones, bottom.semitones) == (totals[0], totals[3])
    for voice, column in ((top, "dS"), (bottom, "dB")):
        moves = [abs(int(row[column])) for row in rows[1:]]
        assert voice.moves == len(moves)
        assert voice.holds == moves.count(0)
        assert voice.leaps == sum(move >= 5 for move in moves)
        assert voice.largest == max(moves)
    assert 0.6 < top.smooth < 1.0
