"""Voicings against tables computed outside this project from the published definitions (tables/SOURCES.md)."""

from __future__ import annotations

from collections.abc import Sequence
from itertools import pairwise

import pytest
from outside.tables.reading import table_rows

from listener.music.chord import parse_chord
from listener.music.naming import name_pitches
from listener.music.voicing import CLOSE, SHELL, kind_of, voicing_of, voicings

KINDS = {"close": "close", "drop2": "drop 2", "drop3": "drop 3", "drop2&4": "drop 2 & 4"}


def _intervals(midi: Sequence[int]) -> tuple[int, ...]:
    """Semitones between neighbouring notes, low to high."""
    return tuple(above - below for below, above in pairwise(midi))


def _ints(text: str) -> tuple[int, ...]:
    return tuple(map(int, text.split()))


SPREADS = table_rows("spread_triads.csv")
DROPS = table_rows("drop_voicings.csv")


def test_the_tables_are_whole() -> None:
    """Eighteen triads and 192 four-note voicings were copied."""
    assert (len(SPREADS), len(DROPS)) == (18, 192)


@pytest.mark.parametrize("row", SPREADS, ids=lambda row: f"{row['chord']} {row['inversion']}")
def test_spread_triads(row: dict[str, str]) -> None:
    """A spread triad is the close one with its middle note an octave up (source: spread_triads.csv)."""
    chord = parse_chord(row["chord"])
    inversion = int(row["inversion"])
    close, spread = _ints(row["close_midi"]), _ints(row["spread_midi"])
    assert close in voicings(chord, "close", low=48, high=76, inversion=inversion)
    assert [v for v in voicings(chord, "spread", low=48, high=76, inversion=inversion) if v[0] == close[0]] == [spread]
    voicing = voicing_of(chord, spread)
    assert (voicing.kind, voicing.inversion) == ("spread", inversion)
    assert _intervals(spread) == _ints(row["spread_adjacent_intervals"])
    assert voicing.span == int(row["spread_span"])
    assert kind_of(chord, close) == "close"


@pytest.mark.parametrize("row", DROPS, ids=lambda row: f"{row['chord']} {row['close_inversion']} {row['type']}")
def test_drop_voicings(row: dict[str, str]) -> None:
    """Drop voicings are built and recognised as the table has them (source: drop_voicings.csv)."""
    chord, kind, notes = parse_chord(row["chord"]), KINDS[row["type"]], _ints(row["midi_low_to_high"])
    assert notes in voicings(chord, kind, low=min(notes), high=max(notes))
    assert kind_of(chord, notes) == kind
    assert _intervals(notes) == _ints(row["adjacent_intervals"])
    assert notes[-1] == int(row["top_note"])


@pytest.mark.parametrize("row", DROPS, ids=lambda row: f"{row['chord']} {row['close_inversion']} {row['type']}")
def test_drop_voicings_are_named(row: dict[str, str]) -> None:
    """From the notes alone the chord of the table is among the readings with its kind, and so is a close spacing."""
    notes, chord = _ints(row["midi_low_to_high"]), parse_chord(row["chord"])
    found = {(naming.voicing.chord.root, naming.voicing.chord.quality): naming for naming in name_pitches(notes)}
    assert found[chord.root, chord.quality].voicing.kind == KINDS[row["type"]]


def test_a_close_shell_is_called_a_shell() -> None:
    """Root, third and seventh alone are a shell even under an octave (common practice; our choice of word)."""
    assert kind_of(parse_chord("Cmaj7"), (60, 64, 71)) == SHELL
    assert kind_of(parse_chord("Cmaj7"), (60, 64, 67, 71)) == CLOSE
