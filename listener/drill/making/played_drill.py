"""From chords that were played, with their places in bars, to the sketch of a drill."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from typing import Final, NamedTuple

from listener.drill.drill_text import PlayedPassage, Sketch
from listener.drill.making.beats_found import Beats
from listener.drill.making.played import PlayedChord
from listener.drill.making.repeats import folded
from listener.drill.reading.fixed_notes import FixedNotes
from listener.drill.reading.top_line import ANY_NOTE
from listener.music.chord import UNNAMED, Chord, parse_chord, unnamed_chord
from listener.music.pitch import Pitch
from listener.music.scale import Key
from listener.tunes.bars import LONGER
from listener.tunes.chord_line_text import NO_CHORD, bar_words, in_lines
from listener.tunes.likely_key import likely_key
from listener.tunes.melody_midi import spelled

#: A chord rings on to the next one unless all is silent for so many whole bars before it.
_SILENT_BARS: Final = 1
#: A chord takes up so much at least, also when nobody has heard how long it rings.
_LEAST_BEATS: Final = Fraction(1)


class _Cell(NamedTuple):
    """What stands in a bar: a chord by its symbol and notes, one that rings on (:data:`LONGER`), or a rest."""

    word: str
    notes: str
    top: str
    length: Fraction


def sketch_of_played(
    parts: Sequence[Sequence[PlayedChord]],
    symbols: Sequence[Sequence[str | None]],
    beats: Beats,
    *,
    title: str,
    key: Key | None = None,
) -> Sketch:
    """The drill: every part is a passage, or several where bars are repeated. ``symbols`` name the chords, None where
    one has no name; ``key`` is worked out from the notes where it is not given."""
    chosen = key or _key(parts, symbols)
    passages = []
    for chords, names, starts in zip(parts, symbols, beats.starts, strict=True):
        passages += _passages(_bars(chords, names, starts, beats, chosen), beats.meter[0])
    return Sketch(
        title=title,
        key=str(chosen),
        chords=" | ".join(" ".join(passage.chords.split()) for passage in passages),
        tempo=beats.tempo,
        meter=f"{beats.meter[0]}/{beats.meter[1]}",
        topic="as I played it",
        played=tuple(passages),
    )


def _key(parts: Sequence[Sequence[PlayedChord]], symbols: Sequence[Sequence[str | None]]) -> Key:
    """The likeliest key from how long each pitch class sounds, where a chord has a name all of its tones: a voicing
    leaves some out. Pieces rather end on their tonic, and passages that are repeated on what leads back to it."""
    durations = [0.0] * 12
    last: Chord | None = None
    for part, names in zip(parts, symbols, strict=True):
        for chord, name in zip(part, names, strict=True):
            last = parse_chord(name) if name is not None else None
            for number in {pitch % 12 for pitch in chord.pitches} | (last.pitch_classes if last else frozenset()):
                durations[number] += chord.end_s - chord.onset_s
    leads_on = last is not None and {"3", "b7"} <= set(last.quality.degrees)
    return likely_key(durations, None if last is None or leads_on else last.root.pitch_class)


def _bars(
    chords: Sequence[PlayedChord], names: Sequence[str | None], starts: Sequence[Fraction], beats: Beats, key: Key
) -> list[list[_Cell]]:
    """Every bar with what stands in it, from the first bar in which something does."""
    bar = beats.meter[0]
    first = starts[0] // bar * bar
    begins = [start - first for start in starts]
    ends = [*begins[1:], Fraction((begins[-1] // bar + 1) * bar)]
    bars: list[list[_Cell]] = [[] for _ in range(int(ends[-1] // bar))]
    at = Fraction(0)
    for chord, name, start, end in zip(chords, names, begins, ends, strict=True):
        _fill(bars, at, start, NO_CHORD, None, bar)
        rings = Fraction(chord.end_s - chord.onset_s) * Fraction(beats.tempo) / 60
        rung = _next_bar(start + max(rings, _LEAST_BEATS), bar)
        at = rung if rung + _SILENT_BARS * bar <= end else end
        _fill(bars, start, at, *_named(chord, name, key), bar)
    _fill(bars, at, ends[-1], NO_CHORD, None, bar)
    return bars


def _next_bar(at: Fraction, bar: int) -> Fraction:
    return Fraction(-(-at // bar) * bar)


def _named(chord: PlayedChord, name: str | None, key: Key) -> tuple[str, tuple[str, str]]:
    """The chord's symbol, and its notes and top note as the drill file writes them."""
    known = parse_chord(name) if name is not None else unnamed_chord([spelled(p, key).tone for p in chord.pitches])
    pitches = tuple(_spelled(pitch, known, key) for pitch in chord.pitches)
    fixed = FixedNotes(pitches, tuple(note.string for note in chord.notes))
    top = str(pitches[-1]) if known.tone_of(pitches[-1].midi) is not None else ANY_NOTE
    return name or UNNAMED, (str(fixed), top)


def _spelled(midi: int, chord: Chord, key: Key) -> Pitch:
    tone = chord.tone_of(midi)
    return spelled(midi, key) if tone is None else tone.pitch(midi)


def _fill(
    bars: list[list[_Cell]], start: Fraction, end: Fraction, word: str, said: tuple[str, str] | None, bar: int
) -> None:
    """Write something from start to end, over as many bars as it takes."""
    notes, top = said or ("", "")
    at = start
    while at < end:
        number = int(at // bar)
        last = min(end, Fraction((number + 1) * bar))
        goes_on = at > start and word != NO_CHORD
        bars[number].append(
            _Cell(LONGER if goes_on else word, "" if goes_on else notes, "" if goes_on else top, last - at)
        )
        at = last


def _passages(bars: Sequence[list[_Cell]], bar: int) -> list[PlayedPassage]:
    """The bars, those that come again at once folded."""
    begins = [cells[0].word != LONGER for cells in bars]
    found = []
    for first, last, times in folded([tuple(cells) for cells in bars], begins):
        cells = [cell for one in bars[first:last] for cell in one if cell.notes]
        if not cells:  # bars of rest alone are nothing to practise
            continue
        words = [
            " ".join(bar_words([(cell.word, cell.length) for cell in one], Fraction(bar))) for one in bars[first:last]
        ]
        top = tuple(cell.top for cell in cells) if all(cell.word != UNNAMED for cell in cells) else ()
        notes, names = tuple(cell.notes for cell in cells), tuple(cell.word for cell in cells)
        found.append(PlayedPassage(in_lines(words), notes, names, top, times))
    return found
