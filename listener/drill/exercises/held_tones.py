"""Held tones: one or two chord tones keep sounding while a scale, or a tune, moves above them, a note at a time.

Not every note of a scale can be reached while the held ones stay pressed, so some are skipped, and said so; a tune is
played whole or not at all. That is decided here, when the drill is read, for standard tuning and the hand that the
passage names (``hand``, else medium), and not when it is planned: so a drill has the same steps for everyone who plays
it, a teacher and a student talk about the same step 5, and what the history keeps stays comparable. On another tuning
or with a smaller hand a step may then turn out to be unplayable, and the planner names it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from listener.drill.exercises.spots import (
    PassageFrame,
    Round,
    Spot,
    beats_each,
    limited,
    read_chord,
    read_scale,
    round_of,
)
from listener.drill.reading.fields import Table
from listener.drill.reading.top_line import own_degree, tones_in_words
from listener.drill.reading.wish_fields import WishFields
from listener.drill.transposing import Move
from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.pitch import Pitch, Tone, parse_pitch
from listener.music.scale import Scale
from listener.tunes.bars import read_bars

DIRECTIONS: Final = ("up", "down", "up and down")
HANDS: Final = ("small", "medium", "large")
FIELDS: Final = ("chord", "hold", "scale", "start", "steps", "direction", "beats_each", "tune", "hand", "times")
#: What a tune says by itself.
_OF_A_SCALE: Final = ("scale", "start", "steps", "direction", "beats_each")
#: Where a held degree is looked for first: C3, in the middle of the low strings (our choice).
_FROM_MIDI: Final = 48
_HIGHEST: Final = 88
_USUAL_STEPS: Final = 8

Places = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class _Note:
    """A note above the held ones, in beats from the start."""

    pitch: Pitch
    start: Fraction
    length: Fraction


@dataclass(frozen=True)
class _Task:
    """The chord, its held tones (low to high), and what moves above them: notes in order, spelled by these tones."""

    chord: Chord
    held: tuple[Pitch, ...]
    notes: tuple[_Note, ...]
    tones: tuple[Tone, ...]

    def moved(self, move: Move) -> _Task:
        """The same in another key."""
        chord = move.chord(self.chord)
        tones = tuple(map(move.tone, self.tones))
        spelled = {tone.pitch_class: tone for tone in tones}
        moved = [(note, note.pitch.midi + move.semitones) for note in self.notes]
        return _Task(
            chord,
            tuple(move.pitch(pitch, chord) for pitch in self.held),
            tuple(replace(note, pitch=spelled[midi % 12].pitch(midi)) for note, midi in moved),
            tones,
        )

    @property
    def pitches(self) -> list[Pitch]:
        """The different notes above, in the order in which they come."""
        return list({note.pitch.midi: note.pitch for note in self.notes}.values())

    @property
    def names(self) -> str:
        """The held tones in words."""
        return " and ".join(map(str, self.held))


def held_tones(table: Table, fields: WishFields, frame: PassageFrame) -> Round:
    """Read held tones with a scale or a tune above them."""
    direction = table.word("direction", DIRECTIONS) or "up"
    hand = table.word("hand", HANDS) or "medium"
    count = table.whole("steps", 2, 30) or _USUAL_STEPS
    times = table.whole("times", 1, 100) or 1
    beats = beats_each(table, frame)
    chord, held = _chord_and_held(table)
    notes = _tune(table, held, frame) if table.has("tune") else _scale(table, held, frame, count, beats)
    if chord is None or not held or notes is None:
        return Round()
    task, kept = _best(_Task(chord, held, *notes), frame.move, fields, hand)
    if table.has("tune"):
        return _whole(table, task, kept, frame, times, hand)
    wanted = task.pitches
    if len(kept) < 2:
        what = f"{len(kept)} of the notes {_listed(wanted)}" if wanted else "no note of the scale"
        table.wrong("hold", f"cannot be met: a {hand} hand in standard tuning reaches {what} above {task.names}")
        return Round()
    _say_skipped(table, task, [pitch for pitch in wanted if pitch not in kept], hand)
    way = {"up": kept, "down": kept[::-1], "up and down": [*kept, *kept[-2::-1]]}[direction]
    line = [_Note(pitch, place * beats, beats) for place, pitch in enumerate(way)]
    return round_of(_spots(task, line, table.line("hold")), frame, times)


def _whole(table: Table, task: _Task, kept: Sequence[Pitch], frame: PassageFrame, times: int, hand: str) -> Round:
    """A tune whose every note is reached; otherwise a complaint that says which is not."""
    lost = [pitch for pitch in task.pitches if pitch not in kept]
    if lost:
        reached = f", only {_listed(kept)}" if kept else ""
        table.wrong(
            "tune",
            f"cannot be met: a {hand} hand in standard tuning does not reach {_listed(lost)} above {task.names}"
            f"{reached}; put the tune or the held tones elsewhere",
        )
        return Round()
    end = task.notes[-1].start + task.notes[-1].length
    return Round(limited(_spots(task, task.notes, table.line("hold"))), int(-(-end // frame.bar_beats)), times)


def _best(task: _Task, move: Move | None, fields: WishFields, hand: str) -> tuple[_Task, list[Pitch]]:
    """The task and the notes reached; in another key, the nearest octave with most notes."""
    tasks = [task] if move is None else [task.moved(move.by(way)) for way in move.ways()]
    best: tuple[_Task, list[Pitch]] = (tasks[0], [])
    for one in tasks:
        reached = _reached(one, fields, hand)
        if len(reached) > len(best[1]):
            best = (one, reached)
        if reached and reached == one.pitches:
            break
    return best


def _spots(task: _Task, line: Sequence[_Note], at: int) -> Iterator[Spot]:
    low = tuple(pitch.midi for pitch in task.held)
    spelling = tuple(tone for tone in task.tones if task.chord.tone_of(tone.pitch_class) is None)
    for place, note in enumerate(line):
        yield Spot(
            task.chord,
            note.start,
            note.length,
            at,
            place,
            exact=(*low, note.pitch.midi),
            spelling=spelling,
            hold=low if place else (),
            fresh=place == 0,
        )


def _chord_and_held(table: Table) -> tuple[Chord | None, tuple[Pitch, ...]]:
    """The chord and the tones that are held; None or nothing when one of them is wrong, which is reported."""
    chord = read_chord(table, '"Am7"')
    text = table.text("hold", needed_like='"E3 G3"')
    if chord is None or not text:
        return chord, ()
    try:
        return chord, _held(text.split(), chord)
    except MusicError as error:
        table.wrong("hold", f"cannot be met: {error}")
        return chord, ()


def _scale(
    table: Table, held: Sequence[Pitch], frame: PassageFrame, count: int, beats: Fraction
) -> tuple[tuple[_Note, ...], tuple[Tone, ...]] | None:
    """The notes of the scale from the first one up, and its tones."""
    scale = read_scale(table, frame)
    if scale is None or not held:
        return None
    start = _start(table, scale, held)
    if start is None:
        return None
    row = list(scale.pitches(start, _HIGHEST))[:count]
    return tuple(_Note(pitch, place * beats, beats) for place, pitch in enumerate(row)), scale.tones


def _tune(
    table: Table, held: Sequence[Pitch], frame: PassageFrame
) -> tuple[tuple[_Note, ...], tuple[Tone, ...]] | None:
    """The notes of ``tune``, written in bars as chords are, each above the held tones; None when some are wrong."""
    for name in _OF_A_SCALE:
        if table.has(name):
            table.wrong(name, "and 'tune' both say what moves above; keep one of them")
    text = table.text("tune", needed_like='"A3 C4 . B3 | A3"')
    if not text or not held:
        return None
    bars = read_bars(str(table.values["tune"]), of="note", rest="a dot to let the note before it ring on")
    path, lines = table.place("tune"), table.report.lines
    faults = [(misprint.index, misprint.text) for misprint in bars.misprints]
    notes: list[_Note] = []
    tones: dict[int, Tone] = {}
    for timed in bars.timed:
        try:
            pitch = parse_pitch(timed.word.text)
        except MusicError as error:
            faults.append((timed.word.index, f"bar {timed.word.bar}: {error}"))
            continue
        if pitch.midi <= held[-1].midi:
            faults.append((timed.word.index, f"bar {timed.word.bar}: {pitch} does not lie above the held {held[-1]}"))
        tones.setdefault(pitch.midi % 12, Tone(pitch.letter, pitch.alteration))
        notes.append(_Note(pitch, timed.start * frame.bar_beats, timed.length * frame.bar_beats))
    for index, fault in faults[:10]:
        table.report.add_at(lines.line_in(path, index), f"'tune', {fault}")
    return None if faults or not notes else (tuple(notes), tuple(tones.values()))


def _held(words: Sequence[str], chord: Chord) -> tuple[Pitch, ...]:
    """One or two tones of the chord, low to high: pitches, or degrees, which are looked for upwards."""
    if not 1 <= len(words) <= 2:
        raise MusicError(f"one or two tones are held, such as E3 G3, not {len(words)}")
    held: list[Pitch] = []
    for word in words:
        above = held[-1].midi + 1 if held else _FROM_MIDI
        if word[:1].isupper():
            pitch = parse_pitch(word)
            if chord.tone_of(pitch.midi) is None:
                raise MusicError(f"{word} is not a tone of {chord}, which has {tones_in_words(chord)}")
        else:
            pitch = chord.tones[own_degree(chord, word)].above(above)
        if held and pitch.midi < above:
            raise MusicError(f"write the lower tone first: {pitch} does not lie above {held[-1]}")
        held.append(pitch)
    return tuple(held)


def _start(table: Table, scale: Scale, held: Sequence[Pitch]) -> int | None:
    """The first note of the scale: ``start``, or the nearest one above the held tones."""
    above = held[-1].midi + 1
    if not table.has("start"):
        return next((pitch.midi for pitch in scale.pitches(above, above + 12)), None)
    text = table.text("start")
    try:
        start = parse_pitch(text) if text else None
    except MusicError as error:
        table.wrong("start", f"cannot be read: {error}")
        return None
    if start is None:
        return None
    if start.midi % 12 not in scale.pitch_classes:
        table.wrong("start", f"is {text}, which is not in the scale ({' '.join(map(str, scale.tones))})")
        return None
    if start.midi < above:
        table.wrong("start", f"is {text}, which does not lie above the held {held[-1]}")
        return None
    return start.midi


def _reached(task: _Task, fields: WishFields, hand: str) -> list[Pitch]:
    """The notes that a hand reaches while the held tones stay on one and the same string and fret each.

    Of all places for the held tones the one that leaves most notes is taken, the lowest of equals.
    """
    from listener.guitar.grip import held_places
    from listener.guitar.hand import make_hand
    from listener.guitar.holds import Ways
    from listener.guitar.instrument import make_instrument

    low = {pitch.midi for pitch in task.held}
    chords = [tuple(sorted((*low, pitch.midi))) for pitch in task.pitches]
    found = held_places(
        make_instrument(),
        make_hand(hand),
        chords,
        strings=fields.strings,
        frets=fields.frets,
        open_strings=fields.open_strings,
        ways=Ways.BEST,
    )
    places: dict[tuple[int, ...], set[Places]] = {}
    for one in found.fingerings():
        where = tuple((s, f) for s, f, p in zip(one.strings, one.frets, one.pitches, strict=True) if p in low)
        places.setdefault(one.pitches, set()).add(where)
    over: dict[Places, list[Pitch]] = {}
    for pitch, chord in zip(task.pitches, chords, strict=True):
        for place in places.get(chord, ()):
            over.setdefault(place, []).append(pitch)
    if not over:
        return []
    return max(over.items(), key=lambda item: (len(item[1]), -sum(fret for _, fret in item[0]), item[0]))[1]


def _say_skipped(table: Table, task: _Task, skipped: Sequence[Pitch], hand: str) -> None:
    if skipped:
        out = f"{_listed(skipped)} {'is' if len(skipped) == 1 else 'are'} left out"
        why = f"no {hand} hand reaches {'it' if len(skipped) == 1 else 'them'} in standard tuning"
        table.report.notes[f"over {task.names} ({task.chord}) {out}: {why}"] = None


def _listed(pitches: Sequence[Pitch]) -> str:
    return " ".join(map(str, pitches))
