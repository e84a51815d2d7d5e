"""Movement against published measures, scipy's matchings and two chorales (tables/SOURCES.md)."""

from __future__ import annotations

from itertools import pairwise

import pytest
from outside.tables.reading import table_rows

from listener.music.chord import parse_chord
from listener.music.movement import least_between, movement


def _ints(text: str) -> list[int]:
    return [int(word) for word in text.split()]


def _classes(symbol: str) -> list[int]:
    return [tone.pitch_class for tone in parse_chord(symbol).tones.values()]


def test_plr_moves() -> None:
    """All twelve neo-Riemannian moves on all 24 triads cost what theory says (Cohn and others; plr_moves.csv)."""
    rows = table_rows("plr_moves.csv")
    assert len(rows) == 288
    for row in rows:
        before, after = _classes(row["from"]), _classes(row["to"])
        assert least_between(before, after) == int(row["total_semitones"]), row
        assert len(set(before) & set(after)) == int(row["common_tones"]), row


@pytest.mark.parametrize(("move", "semitones"), [("P", 1), ("L", 1), ("R", 2)])
def test_p_l_r_cost_1_1_2(move: str, semitones: int) -> None:
    """P and L move one voice by one semitone, R by two, on all 24 triads (neo-Riemannian theory)."""
    rows = [row for row in table_rows("plr_moves.csv") if row["op"] == move]
    assert len({row["from"] for row in rows}) == 24
    assert {least_between(_classes(row["from"]), _classes(row["to"])) for row in rows} == {semitones}


@pytest.mark.parametrize(
    ("table", "size"), [("triads_minimal_voice_leading.csv", 48), ("sevenths_minimal_voice_leading.csv", 1728)]
)
def test_least_between(table: str, size: int) -> None:
    """The least total between pitch classes equals all permutations and scipy's assignment (Tymoczko's measure)."""
    rows = table_rows(table)
    assert len(rows) == size
    for row in rows:
        assert least_between(_classes(row["from"]), _classes(row["to"])) == int(row["min_L1_bijective"]), row


def test_sorted_matching() -> None:
    """Pairing by rank is the cheapest matching on a line (sorted_matching_cases.csv, run in scipy)."""
    rows = table_rows("sorted_matching_cases.csv")
    assert len(rows) == 200
    for row in rows:
        moved = movement(_ints(row["from_midi_sorted"]), _ints(row["to_midi_sorted"]))
        assert moved.semitones == moved.cost == int(row["min_L1(=sorted)"])
        assert sum(step * step for step in moved.voices) == int(row["min_sum_sq(=sorted)"])


@pytest.mark.parametrize(("piece", "total"), [("bwv269", 422), ("bwv66.6", 332)])
def test_chorale_slices(piece: str, total: int) -> None:
    """Every change of two chorales moves as far as music21 and partitura say (slices_*.csv; totals 422 and 332)."""
    rows = table_rows(f"slices_{piece}.csv")
    slices = [[int(row[voice]) for voice in "BTAS"] for row in rows]
    moves = [movement(before, after) for before, after in pairwise(slices)]
    assert [move.semitones for move in moves] == [int(row["sorted_total"]) for row in rows[1:]]
    assert sum(move.semitones for move in moves) == total
    for row, move in zip(rows[1:], moves, strict=True):
        assert move.semitones <= int(row["total_abs"])


def test_cadence_in_four_parts() -> None:
    """I-IV-V-I in C with common tones kept: upper voices 3, 6, 3 semitones, with the bass 10, 8, 8 (Kostka & Payne)."""
    chords = [[48, 55, 64, 72], [41, 57, 65, 72], [43, 55, 62, 71], [48, 55, 64, 72]]
    changes = list(pairwise(chords))
    assert [movement(before[1:], after[1:]).semitones for before, after in changes] == [3, 6, 3]
    assert [movement(before, after).semitones for before, after in changes] == [10, 8, 8]
