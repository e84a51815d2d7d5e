"""Everything a hand could play for one wish: the candidates among which the route search chooses.

A candidate is a voicing and one place for it on the neck. All of them are found, none is sampled: every set of
strings and frets that sounds the wished tones, in the wished kind. ``added_top`` and ``exact`` wishes are explained at
:class:`listener.drill.drill.Wish`; ``size`` counts the notes of the voicing with its slash bass, without an added
melody note.
"""

from __future__ import annotations

from collections.abc import Sequence
from functools import lru_cache
from typing import TYPE_CHECKING, Any, Final

import numpy as np

from listener.drill.drill import Wish
from listener.guitar.grip import held_places
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import Area, area
from listener.guitar.shape_table import ShapeTable, fret_rows, joined, table_of
from listener.music.voicing import ANY, FULL, OTHER, SHELL
from listener.planning.reasons import explain
from listener.planning.shapes.found import Candidate, Candidates
from listener.planning.shapes.neck import Tones, shapes
from listener.planning.shapes.spaced import spaced
from listener.planning.shapes.tones import wished_tones
from listener.planning.shapes.voiced import Voicer

if TYPE_CHECKING:
    from numpy.typing import NDArray

    Chosen = NDArray[np.bool_]
else:
    Chosen = Any

__all__ = ["Candidate", "candidates", "why_none"]

#: Semitones that a slash bass outside the chord may lie below the voicing, and a melody note above it.
LOWEST_BASS: Final = 24
HIGHEST_ADDED: Final = 12
#: Strings that a strummed shape sounds at least.
FEWEST_FULL: Final = 4


def candidates(wish: Wish, instrument: Instrument, hand: Hand) -> Candidates:
    """All playable fingerings that fulfil the wish, from the nut up; empty when there is none.

    A shape comes once for every sensible way to hold it, the easiest first.

    Raises :class:`InstrumentError` for strings or frets that do not exist and :class:`MusicError` for a wish that
    contradicts itself (a chord without the tone that makes it what it is).
    """
    # Equal chords may be written differently; the voicing shows the chord as this wish writes it.
    return _candidates(wish, wish.chord.written, instrument, hand)


def over(before: Sequence[Candidate], wish: Wish, instrument: Instrument, hand: Hand) -> Candidates:
    """What is left of the candidates of the step before when only their top note changes, to the one of this wish.

    The notes under it stay on their strings and frets; the new note lies above them on a string of its own.
    """
    limits = area(instrument, wish.strings, wish.frets, wish.open_strings)
    top = wish.top.pitch.midi if wish.top.pitch is not None else -1
    rows: dict[tuple[int, ...], None] = {}
    for candidate in before:
        fingering = candidate.fingering
        frets = [-1] * instrument.string_count
        for string, fret in zip(fingering.strings[:-1], fingering.frets[:-1], strict=True):
            frets[-string] = fret
        if len(fingering.pitches) > 1 and fingering.pitches[-2] >= top:
            continue
        for string in limits.strings:
            place = limits.frets_for(instrument.open_midi, string, top)
            if place is not None and frets[-string] < 0:
                rows[(*frets[: len(frets) - string], place, *frets[len(frets) - string + 1 :])] = None
    table = table_of(instrument, hand, np.array(list(rows), dtype=np.int8).reshape(-1, instrument.string_count))
    return Candidates.of_table(table, [OTHER] * len(table), Voicer(wish))


def why_none(wish: Wish, instrument: Instrument, hand: Hand) -> str:
    """One sentence: which part of a wish without candidates is to blame, and the nearest thing that can be played."""
    return explain(wish, instrument, hand, candidates)


@lru_cache(maxsize=512)
def _candidates(wish: Wish, written: str, instrument: Instrument, hand: Hand) -> Candidates:
    limits = area(instrument, wish.strings, wish.frets, wish.open_strings)
    voicer = Voicer(wish)
    if wish.exact is not None:
        table = _exact(wish, instrument, hand)
        return Candidates.of_table(table, [ANY] * len(table), voicer)
    kinds = tuple(dict.fromkeys(wish.kinds))
    found = [_of_kind(wish, kind, instrument, hand, limits) for kind in kinds]
    whole, origin = joined(found)
    return Candidates.of_table(whole, [kinds[index] for index in origin.tolist()], voicer)


def _exact(wish: Wish, instrument: Instrument, hand: Hand) -> ShapeTable:
    """Every place of exactly the wished pitches, in every sensible way to hold it."""
    pitches = tuple(sorted(wish.exact or ()))
    if not pitches or not (wish.top.allows(wish.chord, pitches[-1]) and wish.bottom.allows(wish.chord, pitches[0])):
        return table_of(instrument, hand, fret_rows((), instrument.string_count))

    def found(frets: tuple[int, int] | None) -> ShapeTable:
        return held_places(
            instrument, hand, [pitches], strings=wish.strings, frets=frets, open_strings=wish.open_strings
        )

    places = found(wish.frets)
    if wish.exact_strings:
        # Somebody names notes for good, or has played them: high up the neck is as good as anywhere.
        fixed = {(string, pitch) for string, pitch in zip(wish.exact_strings, wish.exact or (), strict=True) if string}
        if wish.frets is None and (fixed or not len(places)):
            places = found((0, instrument.highest_fret))
        for string, pitch in fixed:
            places = places.taken(((places.strings == string) & (places.pitches == pitch)).any(axis=1))
    return places


def _of_kind(wish: Wish, kind: str, instrument: Instrument, hand: Hand, limits: Area) -> ShapeTable:
    """Every fingering of one kind that fulfils the rest of the wish, from the nut up."""
    tones = wished_tones(wish, kind)
    table = _shape_table(instrument, hand, tones, limits)
    return table.taken(
        _keeps_lines(wish, table) & _keeps_bass(wish, kind, tones, table) & _is_kind(wish, kind, tones, table)
    )


@lru_cache(maxsize=96)
def _shape_table(instrument: Instrument, hand: Hand, tones: Tones, limits: Area) -> ShapeTable:
    """Every shape of one chord's tones inside the limits that the hand holds.

    Wishes for one chord differ in top note, bottom note and inversion: the neck is searched once and serves them all.
    """
    return table_of(instrument, hand, shapes(instrument, hand.longest_mm, tones, limits))


def _keeps_lines(wish: Wish, table: ShapeTable) -> Chosen:
    """Rows with the wished notes on top and at the bottom."""
    good: Chosen = np.ones(len(table), dtype=bool)
    for line, notes in ((wish.top, table.top), (wish.bottom, table.bottom)):
        if line.pitch is not None:
            good &= notes == line.pitch.midi
        elif line.degree is not None:
            good &= notes % 12 == wish.chord.root.at(line.degree).pitch_class
    return good


def _keeps_bass(wish: Wish, kind: str, tones: Tones, table: ShapeTable) -> Chosen:
    """Rows whose lowest note is the slash bass or the tone that the inversion asks for."""
    chord = wish.chord
    good: Chosen = np.ones(len(table), dtype=bool)
    if chord.bass is not None:
        good &= table.bottom % 12 == chord.bass.pitch_class
    if tones.bass_bit and kind != FULL:
        good &= table.pitches[:, 1] - table.bottom <= LOWEST_BASS
    if wish.inversion is not None and not tones.bass_bit:
        degrees = chord.quality.degrees
        if not 0 <= wish.inversion < len(degrees):
            return np.zeros(len(table), dtype=bool)
        good &= table.bottom % 12 == chord.tones[degrees[wish.inversion]].pitch_class
    return good


def _is_kind(wish: Wish, kind: str, tones: Tones, table: ShapeTable) -> Chosen:
    """Rows of the wished number of notes that are spaced as the kind says."""
    added = tones.top_midi is not None
    skipped = 1 if tones.bass_bit else 0
    voices = table.count - added
    good: Chosen = voices >= (FEWEST_FULL if kind == FULL else 1)
    if wish.size is not None:
        good &= voices == wish.size
    if added:
        under = table.pitches[np.arange(len(table)), np.maximum(table.count - 2, 0)]
        good &= (table.count > 1) & (table.top - under <= HIGHEST_ADDED)
    if kind == SHELL:
        good &= table.pitches[:, skipped] % 12 == wish.chord.root.pitch_class
    elif kind not in (ANY, FULL):
        good &= spaced(table, kind, skipped, int(added))
    return good
