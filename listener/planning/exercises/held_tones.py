"""Held tones: one or two chord tones keep sounding while a scale climbs above them, a note at a time.

Not every note of the scale can be reached while the held ones stay pressed, so some are skipped, and said so. That is
decided here, when the drill is read, for standard tuning and the hand that the passage names (``hand``, else medium),
and not when it is planned: so a drill has the same steps for everyone who plays it, a teacher and a student talk about
the same step 5, and what the history keeps stays comparable. On another tuning or with a smaller hand a step may then
turn out to be unplayable, and the planner names it.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from fractions import Fraction
from typing import Final

from listener.errors import MusicError
from listener.music.chord import Chord
from listener.music.pitch import Pitch, parse_pitch
from listener.music.scale import Scale
from listener.planning.exercises.spots import Frame, Round, Spot, beats_each, read_chord, read_scale, round_of
from listener.planning.fields import Table
from listener.planning.top_line import own_degree, tones_in_words
from listener.planning.transposing import Move
from listener.planning.wish_fields import WishFields

DIRECTIONS: Final = ("up", "down", "up and down")
HANDS: Final = ("small", "medium", "large")
FIELDS: Final = ("chord", "hold", "scale", "start", "steps", "direction", "beats_each", "hand", "times")
#: Where a held degree is looked for first: C3, in the middle of the low strings (our choice).
_FROM_MIDI: Final = 48
_HIGHEST: Final = 88
_USUAL_STEPS: Final = 8

Places = tuple[tuple[int, int], ...]


@dataclass(frozen=True)
class _Task:
    """The chord, its held tones (low to high), the scale above them, and the first note of it (MIDI)."""

    chord: Chord
    held: tuple[Pitch, ...]
    scale: Scale
    start: int

    def moved(self, move: Move) -> _Task:
        """The same in another key."""
        chord = move.chord(self.chord)
        return _Task(
            chord,
            tuple(move.pitch(pitch, chord) for pitch in self.held),
            replace(self.scale, tonic=move.tone(self.scale.tonic)),
            self.start + move.semitones,
        )

    def row(self, count: int) -> list[Pitch]:
        """The notes of the scale from the first one up."""
        return list(self.scale.pitches(self.start, _HIGHEST)[:count])

    @property
    def names(self) -> str:
        """The held tones in words."""
        return " and ".join(map(str, self.held))


def held_tones(table: Table, fields: WishFields, frame: Frame) -> Round:
    """Read held tones with a scale above them."""
    direction = table.word("direction", DIRECTIONS) or "up"
    hand = table.word("hand", HANDS) or "medium"
    count = table.whole("steps", 2, 30) or _USUAL_STEPS
    times = table.whole("times", 1, 100) or 1
    beats = beats_each(table, frame)
    task = _task(table, frame)
    if task is None:
        return Round()
    task, kept = _best(task, frame.move, count, fields, hand)
    wanted = task.row(count)
    if len(kept) < 2:
        what = f"{len(kept)} of the notes {_listed(wanted)}" if wanted else "no note of the scale"
        table.wrong("hold", f"cannot be met: a {hand} hand in standard tuning reaches {what} above {task.names}")
        return Round()
    _say_skipped(table, task, [pitch for pitch in wanted if pitch not in kept], hand)
    way = {"up": kept, "down": kept[::-1], "up and down": [*kept, *kept[-2::-1]]}[direction]
    return round_of(_spots(task, way, beats, table.line("hold")), frame, times)


def _best(task: _Task, move: Move | None, count: int, fields: WishFields, hand: str) -> tuple[_Task, list[Pitch]]:
    """The task and the notes reached; in another key, the nearest octave with most notes."""
    tasks = [task] if move is None else [task.moved(move.by(way)) for way in move.ways()]
    best: tuple[_Task, list[Pitch]] = (tasks[0], [])
    for one in tasks:
        reached = _reached(one, count, fields, hand)
        if len(reached) > len(best[1]):
            best = (one, reached)
        if reached and reached == one.row(count):
            break
    return best


def _spots(task: _Task, way: Sequence[Pitch], beats: Fraction, line: int) -> Iterator[Spot]:
    low = tuple(pitch.midi for pitch in task.held)
    spelling = tuple(tone for tone in task.scale.tones if task.chord.tone_of(tone.pitch_class) is None)
    for place, pitch in enumerate(way):
        yield Spot(
            task.chord,
            place * beats,
            beats,
            line,
            place,
            exact=(*low, pitch.midi),
            spelling=spelling,
            hold=low if place else (),
            fresh=place == 0,
        )


def _task(table: Table, frame: Frame) -> _Task | None:
    """The fields that say what is held and what moves; None when one of them is wrong, which is reported."""
    scale = read_scale(table, frame)
    chord = read_chord(table, '"Am7"')
    text = table.text("hold", needed_like='"E3 G3"')
    if chord is None or scale is None or not text:
        return None
    try:
        held = _held(text.split(), chord)
    except MusicError as error:
        table.wrong("hold", f"cannot be met: {error}")
        return None
    start = _start(table, scale, held)
    return None if start is None else _Task(chord, held, scale, start)


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
                raise MusicError(f"{word} is no tone of {chord}, which has {tones_in_words(chord)}")
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
        table.wrong("start", f"is {text}, which is no note of the scale ({' '.join(map(str, scale.tones))})")
        return None
    if start.midi < above:
        table.wrong("start", f"is {text}, which does not lie above the held {held[-1]}")
        return None
    return start.midi


def _reached(task: _Task, count: int, fields: WishFields, hand: str) -> list[Pitch]:
    """The notes that a hand reaches while the held tones stay on one and the same string and fret each.

    Of all places for the held tones the one that leaves most notes is taken, the lowest of equals.
    """
    from listener.guitar.hand import make_hand
    from listener.guitar.instrument import make_instrument
    from listener.guitar.search import fingerings

    low = {pitch.midi for pitch in task.held}
    over: dict[Places, list[Pitch]] = {}
    for pitch in task.row(count):
        found = fingerings(
            make_instrument(),
            make_hand(hand),
            (*sorted(low), pitch.midi),
            strings=fields.strings,
            frets=fields.frets,
            open_strings=fields.open_strings,
        )
        places = {
            tuple((s, f) for s, f, p in zip(one.strings, one.frets, one.pitches, strict=True) if p in low)
            for one in found
        }
        for place in places:
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
