"""A tune from a file and chords under it: what is needed to make a chord-melody drill of them.

Where the file has no chords and nobody gives any, they are guessed (:mod:`listener.tunes.harmonise`); where it names
no key, that is guessed, too (:mod:`listener.tunes.likely_key`). Where it lies on the neck is for
:mod:`listener.planning.tune_place` to say.
"""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from listener.drill.drill import Drill
from listener.drill.drill_file import read_drill
from listener.drill.drill_text import Sketch, drill_text
from listener.errors import SourceError
from listener.music.scale import Key
from listener.tunes.chord_line import ChordLine
from listener.tunes.chord_line_text import written_out
from listener.tunes.harmonise import harmonise
from listener.tunes.likely_key import key_of_melody
from listener.tunes.melody_file import from_first_bar, melody_bytes
from listener.tunes.tune import Melody, MelodyNote, TimedChord

USUAL_METER: Final = (4, 4)
#: What programs write where nobody set a key.
_UNSET_KEY: Final = "C major"
_MOST_BEATS: Final = 16
_UNITS: Final = (1, 2, 4, 8, 16)
#: Which notes of the tune get a chord: every one, those on the beats, or those where a bar or a chord begins.
EVERY: Final = "every"
ON_BEATS: Final = "beat"
ON_CHORDS: Final = "chord"


@dataclass(frozen=True)
class TuneSetting:
    """A tune (from its first full bar, in quarter notes) with its chords. ``remarks`` are sentences for the player,
    ``frets`` the lowest and highest fret where the usual ones do not do."""

    melody: Melody
    key: Key
    meter: tuple[int, int]
    chords: tuple[TimedChord, ...]
    remarks: tuple[str, ...] = ()
    guessed_chords: bool = False
    guessed_key: bool = False
    frets: tuple[int, int] | None = None

    @property
    def bar(self) -> Fraction:
        """Quarter notes in a bar."""
        return Fraction(4 * self.meter[0], self.meter[1])

    @property
    def bars(self) -> int:
        """Bars from the first full one to the last that is begun."""
        last = max((chord.start_beats + chord.length_beats for chord in self.chords), default=Fraction(0))
        return int(-(-max(last, self.melody.notes[-1].end_beats) // self.bar))


def set_tune(
    melody: Melody, *, key: Key | None = None, meter: tuple[int, int] | None = None, line: ChordLine | None = None
) -> TuneSetting:
    """A melody as it was read, with the chords of ``line``, else those of its file, else guessed ones.

    ``key`` and ``meter`` go before what the file says. Raises :class:`SourceError` for a tune that no drill can hold.
    """
    remarks = list(melody.remarks)
    beats, unit = meter or melody.meter or USUAL_METER
    if not 1 <= beats <= _MOST_BEATS or unit not in _UNITS:
        raise SourceError(
            f"{melody.name} is in {beats}/{unit}, which drills do not know; give another, as in --meter 4/4"
        )
    if meter is None and melody.meter is None:
        remarks.append("The file names no meter; 4/4 is taken. If that is wrong: --meter 3/4.")
    chosen = key or melody.key or key_of_melody(melody)
    guessed_key = key is None and melody.key is None
    if guessed_key:
        remarks.append(f"The file names no key; it sounds like {chosen}. If that is wrong: --key says it.")
    elif key is None and str(chosen) == _UNSET_KEY and (likely := key_of_melody(melody)).signature:
        remarks.append(f'The file says {chosen}, but the tune sounds like {likely}. If so: --key "{likely}".')
    whole = from_first_bar(melody)
    if not whole.notes:
        raise SourceError(f"{melody.name} has no full bar; a tune of one bar at least is needed")
    if melody.pickup_beats:
        remarks.append("The upbeat is left out: a drill begins with the first full bar.")
    setting = TuneSetting(whole, chosen, (beats, unit), whole.chords, guessed_key=guessed_key)
    if line is not None:
        setting = replace(setting, chords=tuple(_of_line(line, setting)))
        if line.bars < setting.bars:
            remarks.append(f"The chords are {line.bars} bars long, the tune {setting.bars}: they begin again.")
    elif not whole.chords:
        chords = harmonise(whole, chosen, setting.meter)
        setting = replace(setting, chords=chords, guessed_chords=True)
        remarks.append(
            "There are no chords in the file: these are a first guess, for each bar or half bar the chord of the key "
            "that has most of its long notes on strong beats, with V to I at the end. Edit them as you hear them."
        )
    lost = len(whole.notes) - len(set(_with_chord(whole.notes, setting.chords)))
    if lost:
        remarks.append(f"{lost} of {len(whole.notes)} notes have no chord and are left out.")
    return replace(setting, remarks=tuple(remarks))


def _of_line(line: ChordLine, setting: TuneSetting) -> Iterator[TimedChord]:
    """The chords of a line over the whole tune, again and again where it is shorter."""
    bar = setting.bar
    end = setting.melody.notes[-1].end_beats
    offset = Fraction(0)
    while offset < end:
        for one in line.chords:
            start = offset + one.start * bar
            if start < end:
                yield TimedChord(start, one.length * bar, one.chord)
        offset += line.bars * bar


def _with_chord(notes: Sequence[MelodyNote], chords: Sequence[TimedChord]) -> Iterator[int]:
    """The places of notes under which a chord sounds, in any order, some more than once."""
    ends = [note.end_beats for note in notes]
    for start, length, _ in chords:
        at = bisect_right(ends, start)
        while at < len(notes) and notes[at].start_beats < start + length:
            yield at
            at += 1


def thinned(setting: TuneSetting, which: str) -> TuneSetting:
    """The same with fewer notes: those that sound on the beats (:data:`ON_BEATS`), or where a bar or chord begins.

    Each lasts to the next; what is left out is left to the singer.
    """
    if which == EVERY:
        return setting
    end = setting.melody.notes[-1].end_beats
    step = Fraction(4, setting.meter[1]) if which == ON_BEATS else setting.bar
    if which == ON_BEATS and setting.meter[1] == 8 and setting.meter[0] % 3 == 0:
        step *= 3
    places = {step * number for number in range(int(-(-end // step)))}
    if which == ON_CHORDS:
        places |= {chord.start_beats for chord in setting.chords}
    kept = [
        (place, note) for place in sorted(places) for note in [_sounding(setting.melody, place)] if note is not None
    ]
    notes = []
    for (place, note), after in zip(kept, [*(one[0] for one in kept[1:]), end], strict=True):
        stop = after if note.end_beats < after and _follows(setting.melody, note, after) else min(after, note.end_beats)
        notes.append(MelodyNote(note.pitch, place, stop - place))
    said = f"{len(notes)} of {len(setting.melody.notes)} notes are kept, those on each {which}."
    return replace(setting, melody=replace(setting.melody, notes=tuple(notes)), remarks=(*setting.remarks, said))


def _sounding(melody: Melody, place: Fraction) -> MelodyNote | None:
    return next((note for note in melody.notes if note.start_beats <= place < note.end_beats), None)


def _follows(melody: Melody, note: MelodyNote, place: Fraction) -> bool:
    """Whether other notes sound between this one and the place, so that it stands for them, too."""
    return any(note.end_beats <= other.start_beats < place for other in melody.notes)


def sketch_of(setting: TuneSetting, *, title: str, kind: str = "any") -> Sketch:
    """The drill: the chords, and the tune on top."""
    return Sketch(
        title=title,
        key=str(setting.key),
        chords=written_out(setting.chords, setting.bar, setting.bars),
        kind=kind,
        tempo=60.0,
        meter=f"{setting.meter[0]}/{setting.meter[1]}",
        frets=setting.frets,
        topic="chord melody",
        melody=melody_bytes(setting.melody, setting.key, setting.meter),
        remarks=setting.remarks,
    )


def drill_of(setting: TuneSetting, kind: str = "any") -> Drill:
    """The drill as it would be read from its file."""
    return read_drill(drill_text(sketch_of(setting, title="tune", kind=kind)), "tune")
