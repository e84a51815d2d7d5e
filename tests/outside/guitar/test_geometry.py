"""Frets in mm and the notes on the neck, against published formulas and tables."""

from __future__ import annotations

import pytest
from outside.tables.reading import table_rows

from listener.guitar.instrument import make_instrument
from listener.music.pitch import parse_pitch


def test_fret_positions() -> None:
    """Every wire lies where the luthier's formula puts it (M. Koch, "Building Electric Guitars"), to 0.001 mm."""
    table = table_rows("guitar_fret_positions.csv")
    assert len(table) == 100
    for row in table:
        guitar = make_instrument(scale_mm=float(row["scale_mm"]), fret_count=24)
        assert guitar.fret_mm(int(row["fret"])) == pytest.approx(float(row["nut_to_fret_mm"]), abs=6e-4)


@pytest.mark.parametrize(("fret", "to_bridge_mm"), [(1, 599.360), (5, 475.712), (7, 423.812), (12, 317.5)])
def test_a_builders_table(fret: int, to_bridge_mm: float) -> None:
    """A scale of 25 inches, fret to bridge (fret table at stuphi.co.uk), to 0.1 mm of its rounding."""
    guitar = make_instrument(scale_mm=635.0)
    assert 635.0 - guitar.fret_mm(fret) == pytest.approx(to_bridge_mm, abs=0.1)


def test_the_rule_of_18() -> None:
    """Each fret divides what remains of the string by 17.817 (standard lutherie formula)."""
    guitar = make_instrument()
    for fret in range(1, 23):
        remains = 648.0 - guitar.fret_mm(fret - 1)
        assert guitar.fret_mm(fret) - guitar.fret_mm(fret - 1) == pytest.approx(remains / 17.817, abs=1e-3)


@pytest.mark.parametrize(
    ("low", "high", "span_mm"), [(1, 4, 97.3), (1, 5, 126.1), (5, 9, 100.1), (7, 11, 89.2), (12, 16, 66.8)]
)
def test_spans_between_frets(low: int, high: int, span_mm: float) -> None:
    """The same frets are nearer up the neck: L(2^(-a/12) - 2^(-b/12)) at 647.7 mm (worked from the formula)."""
    guitar = make_instrument(scale_mm=647.7)
    assert guitar.fret_mm(high) - guitar.fret_mm(low) == pytest.approx(span_mm, abs=0.05)


def test_every_note_on_the_neck() -> None:
    """String, fret and pitch agree with the fretboard table of standard tuning, 24 frets (equal temperament)."""
    guitar = make_instrument(fret_count=24)
    table = table_rows("guitar_fretboard.csv")
    assert len(table) == 6 * 25
    for row in table:
        midi = guitar.pitch(int(row["string"]), int(row["fret"]))
        assert midi == int(row["midi"]) == parse_pitch(row["name"]).midi


def test_places_of_one_pitch() -> None:
    """E4 lies at (1,0) (2,5) (3,9) (4,14) (D. Radicioni & V. Lombardo, ICMC 2005, fig. 1), then (5,19) and (6,24)."""
    guitar = make_instrument(fret_count=24)
    found = [(s, f) for s in range(1, 7) for f in range(25) if guitar.pitch(s, f) == 64]
    assert found == [(1, 0), (2, 5), (3, 9), (4, 14), (5, 19), (6, 24)]


def test_pitches_of_22_frets() -> None:
    """47 pitches from 40 to 86, none at more than five places (counted from the tuning)."""
    guitar = make_instrument()
    pitches = [guitar.pitch(s, f) for s in range(1, 7) for f in range(23)]
    assert (min(pitches), max(pitches), len(set(pitches))) == (40, 86, 47)
    assert max(map(pitches.count, pitches)) == 5
