"""Where a tune lies on the neck: moved by octaves, else into another key, until every note has a chord under it."""

from __future__ import annotations

from collections.abc import Iterable, Iterator, Sequence
from dataclasses import replace
from itertools import islice
from typing import Final

from listener.drill.drill import Wish
from listener.drill.making.chord_melody import TuneSetting, drill_of
from listener.drill.transposing import Move
from listener.errors import WidehandError
from listener.guitar.hand import Hand
from listener.guitar.instrument import Instrument
from listener.guitar.search import USUAL_HIGHEST_FRET
from listener.music.pitch import Pitch
from listener.music.scale import Key, usual_tonic
from listener.plain_words import counted
from listener.planning.shapes.candidates import candidates
from listener.tunes.tune import TimedChord

_OCTAVES: Final = (-12, 12, -24, 24)
#: Semitones up or down that are tried at most on the way to another key.
_FARTHEST: Final = 30


def moved(setting: TuneSetting, semitones: int) -> TuneSetting:
    """The tune and its chords higher or lower; the key gets the name that is usual there."""
    if not semitones:
        return setting
    move = _move(setting, semitones)
    notes = tuple(replace(note, pitch=_named(note.pitch, move)) for note in setting.melody.notes)
    chords = setting.chords
    if semitones % 12:
        chords = tuple(TimedChord(start, length, move.chord(chord)) for start, length, chord in chords)
    return replace(setting, melody=replace(setting.melody, notes=notes, chords=()), key=move.to, chords=chords)


def _move(setting: TuneSetting, semitones: int) -> Move:
    """To the key so far away, by the name that is usual there."""
    home = setting.key
    if semitones % 12 == 0:
        return Move(home, home, semitones)
    return Move(home, Key(usual_tonic(home.tonic.pitch_class + semitones, home.mode), home.mode), semitones)


def _named(pitch: Pitch, move: Move) -> Pitch:
    return move.tone(pitch.tone).pitch(pitch.midi + move.semitones)


def fitted(setting: TuneSetting, kind: str, instrument: Instrument, hand: Hand) -> TuneSetting:
    """The tune where every one of its notes can lie over its chord: as it is, else octaves away, else in another key.

    Where no place takes them all within the usual frets, the whole neck is tried; where that does not help either, the
    tune stays in the octave that takes most of its notes, and planning says which one fails.
    """
    wishes = tuple(dict.fromkeys(step.wish for step in drill_of(setting, kind).steps))
    usual = min(USUAL_HIGHEST_FRET, instrument.highest_fret)
    best, missing = _best_way(setting, wishes, usual, instrument, hand)
    if missing and instrument.highest_fret > usual:
        whole = (0, instrument.highest_fret)
        anywhere = [replace(wish, frets=whole) for wish in wishes]
        way, still = _best_way(setting, anywhere, instrument.highest_fret, instrument, hand)
        if still < missing:
            said = f"The tune reaches far up the neck: frets up to {instrument.highest_fret} are allowed."
            setting = replace(setting, frets=whole, remarks=(*setting.remarks, said))
            best, missing = way, still
    if not best:
        return setting
    there = moved(setting, best)
    return replace(there, remarks=(*setting.remarks, _moved_words(best, there, complete=not missing)))


def _best_way(
    setting: TuneSetting, wishes: Sequence[Wish], highest: int, instrument: Instrument, hand: Hand
) -> tuple[int, int]:
    """How far to move so that the fewest wishes have no shape, and how many these are. To another key only for none."""
    fewest, best = len(wishes) + 1, 0
    for way in (0, *_ways(setting, highest, instrument)):
        move = _move(setting, way)
        least = fewest if way % 12 == 0 else 1
        missing = len(list(islice(without_shape(map(move.wish, wishes), instrument, hand), least)))
        if missing < least:
            fewest, best = missing, way
        if not fewest:
            break
    return best, fewest


def _ways(setting: TuneSetting, highest_fret: int, instrument: Instrument) -> Iterator[int]:
    """How far the tune may move: the octaves first, then other keys, those with few signs at the clef and of these the
    nearest first; only where the neck has its notes."""
    lowest = min(note.pitch.midi for note in setting.melody.notes)
    highest = max(note.pitch.midi for note in setting.melody.notes)
    low, high = instrument.range[0], max(instrument.pitch(1, highest_fret), instrument.range[0])
    keys = {way: abs(_move(setting, way).to.signature) for way in range(-_FARTHEST, _FARTHEST + 1) if way % 12}
    for way in (*_OCTAVES, *sorted(keys, key=lambda way: (keys[way], abs(way), way))):
        if low < lowest + way and highest + way <= high:
            yield way


def _moved_words(way: int, there: TuneSetting, *, complete: bool) -> str:
    why = "so that every note has a chord under it" if complete else "where most of its notes have a chord under them"
    where = "up" if way > 0 else "down"
    if way % 12 == 0:
        octaves = "an octave" if abs(way) == 12 else "two octaves"
        return f"The tune is moved {where} {octaves}, {why}."
    return f"The tune is moved to {there.key}, {counted(abs(way), 'semitone')} {where}, {why}."


def without_shape(wishes: Iterable[Wish], instrument: Instrument, hand: Hand) -> Iterator[Wish]:
    """Those that no shape on this neck fulfils."""
    for wish in wishes:
        try:
            if len(candidates(wish, instrument, hand)):
                continue
        except WidehandError:
            pass
        yield wish
