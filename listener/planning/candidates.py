"""Everything a hand could play for one wish: the candidates among which the route search chooses.

A candidate is a voicing and one place for it on the neck. All of them are found, none is sampled: every pitch set of
the wished kinds on every set of strings, and for the kind *full* every strummed shape on the neck.
"""

from __future__ import annotations

from collections.abc import Iterator
from dataclasses import dataclass, replace
from functools import lru_cache

from listener.guitar.fingering import Fingering
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import area, fingerings, full_shapes, position_order
from listener.music.chord import Chord
from listener.music.voicing import ANY, FULL, Voicing, tone_sets, voicing_of, voicings
from listener.planning.drill import Wish
from listener.planning.reasons import explain


@dataclass(frozen=True, slots=True)
class Candidate:
    """A voicing and where it lies; both hold the same pitches."""

    voicing: Voicing
    fingering: Fingering


def candidates(wish: Wish, instrument: Instrument, hand: Hand) -> tuple[Candidate, ...]:
    """All playable fingerings that fulfil the wish, from the nut up; empty when there is none.

    Raises :class:`InstrumentError` for strings or frets that do not exist and :class:`MusicError` for a wish that
    contradicts itself (a chord without the tone that makes it what it is).
    """
    # Equal chords may be written differently; the voicing shows the chord as this wish writes it.
    return _candidates(wish, wish.chord.written, instrument, hand)


def why_none(wish: Wish, instrument: Instrument, hand: Hand) -> str:
    """One sentence: which part of a wish without candidates is to blame, and the nearest thing that can be played."""
    return explain(wish, instrument, hand, candidates)


@lru_cache(maxsize=512)
def _candidates(wish: Wish, written: str, instrument: Instrument, hand: Hand) -> tuple[Candidate, ...]:
    area(instrument, wish.strings, wish.frets, wish.open_strings)
    voiced: dict[tuple[str, tuple[int, ...]], Voicing] = {}
    found: dict[tuple[tuple[int, ...], tuple[int, ...]], Candidate] = {}
    for kind in wish.kinds:
        for fingering in _fingered(wish, kind, instrument, hand):
            key = (kind, fingering.pitches)
            if key not in voiced:
                voiced[key] = _voicing(wish, kind, fingering.pitches)
            found.setdefault((fingering.strings, fingering.frets), Candidate(voiced[key], fingering))
    return tuple(sorted(found.values(), key=lambda candidate: position_order(candidate.fingering)))


def _fingered(wish: Wish, kind: str, instrument: Instrument, hand: Hand) -> Iterator[Fingering]:
    """Every fingering of one kind that keeps the wished top and bottom notes."""
    if kind == FULL:
        yield from (shape for shape in _full(wish, instrument, hand) if _keeps_lines(wish, shape.pitches))
        return
    low, high = instrument.range
    sets = voicings(
        wish.chord, kind, low=low, high=high, inversion=wish.inversion, without=wish.without, size=wish.size
    )
    for pitches in sets:
        if len(pitches) <= instrument.string_count and _keeps_lines(wish, pitches):
            yield from fingerings(
                instrument, hand, pitches, strings=wish.strings, frets=wish.frets, open_strings=wish.open_strings
            )


def _keeps_lines(wish: Wish, pitches: tuple[int, ...]) -> bool:
    return wish.top.allows(wish.chord, pitches[-1]) and wish.bottom.allows(wish.chord, pitches[0])


def _full(wish: Wish, instrument: Instrument, hand: Hand) -> tuple[Fingering, ...]:
    chord = wish.chord
    tones = next(tone_sets(chord, None, wish.without))
    optional = set(chord.quality.optional)
    bass = _bass_class(chord, wish.inversion)
    if bass is None and wish.inversion is not None:
        return ()
    return full_shapes(
        instrument,
        hand,
        frozenset(chord.tones[degree].pitch_class for degree in tones),
        frozenset(chord.tones[degree].pitch_class for degree in tones if degree not in optional),
        bass=bass,
        strings=wish.strings,
        frets=wish.frets,
        open_strings=wish.open_strings,
        sizes=(4, 5, 6) if wish.size is None else (wish.size,),
    )


def _bass_class(chord: Chord, inversion: int | None) -> int | None:
    """Pitch class that has to lie lowest; None for any, or when inversion and slash bass exclude each other."""
    degrees = chord.quality.degrees
    slash = chord.bass.pitch_class if chord.bass is not None else None
    if inversion is None or (slash is not None and chord.degree_of(slash) is None):
        return slash
    if not 0 <= inversion < len(degrees):
        return None
    wanted = chord.tones[degrees[inversion]].pitch_class
    return wanted if slash in (None, wanted) else None


def _voicing(wish: Wish, kind: str, pitches: tuple[int, ...]) -> Voicing:
    """Named by the kind that was wished where a spacing has two names (a shell is also close)."""
    voicing = voicing_of(wish.chord, pitches)
    if kind == ANY or voicing.kind in wish.kinds:
        return voicing
    return replace(voicing, kind=kind)
