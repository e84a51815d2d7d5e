"""A passage in another key: chords with sensible names, fixed pitches moved by one and the same interval.

All fixed pitches of a passage move together, so that its lines stay the lines they were. Degrees stay as they are.
"""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import dataclass, replace

from listener.drill.drill import NoteWish, Wish
from listener.drill.room import has_room
from listener.music.chord import Chord
from listener.music.pitch import Pitch, Tone
from listener.music.scale import Key, plain_tone
from listener.music.voicing import interval_degree


@dataclass(frozen=True)
class Move:
    """From one key to another of the same mode; fixed pitches move by ``semitones``."""

    home: Key
    to: Key
    semitones: int = 0

    def by(self, semitones: int) -> Move:
        """The same with another interval for fixed pitches."""
        return replace(self, semitones=semitones)

    def ways(self) -> tuple[int, ...]:
        """How far fixed pitches may move, the nearest first (down before up), at most an octave and a half."""
        away = (self.to.tonic.pitch_class - self.home.tonic.pitch_class) % 12
        return tuple(sorted((away - 24, away - 12, away, away + 12), key=lambda way: (abs(way), way)))

    def tone(self, tone: Tone) -> Tone:
        """Where a tone of the one key lies in the other."""
        return plain_tone(self.to.tonic.at(interval_degree(self.home.tonic, tone)), self.to)

    def chord(self, chord: Chord) -> Chord:
        """The chord on the same degree of the other key."""
        moved = chord.transposed(self.tone(chord.root))
        if moved.bass is None:
            return moved
        return replace(moved, bass=plain_tone(moved.bass, self.to))

    def pitch(self, pitch: Pitch, chord: Chord) -> Pitch:
        """A fixed pitch, named as a tone of the (moved) chord where it is one."""
        midi = pitch.midi + self.semitones
        return (chord.tone_of(midi) or self.tone(pitch.tone)).pitch(midi)

    def line(self, line: NoteWish, chord: Chord) -> NoteWish:
        """The wish for a top or bottom note."""
        return line if line.pitch is None else NoteWish(pitch=self.pitch(line.pitch, chord))

    def wish(self, wish: Wish) -> Wish:
        """Everything that a wish fixes, moved."""
        chord = self.chord(wish.chord)
        exact = wish.exact if wish.exact is None else tuple(note + self.semitones for note in wish.exact)
        return replace(
            wish,
            chord=chord,
            top=self.line(wish.top, chord),
            bottom=self.line(wish.bottom, chord),
            exact=exact,
            # Open strings stay behind: in another key the planner looks for a place anew.
            exact_strings=tuple(None for _ in wish.exact_strings),
            spelling=tuple(self.tone(tone) for tone in wish.spelling),
        )


def fitting(move: Move, wishes: Iterable[Wish]) -> Move:
    """The move by the smallest interval with which all fixed pitches still lie on an ordinary guitar.

    When there is none the smallest is taken, and the planner will say which step cannot be played.
    """
    fixed = dict.fromkeys(wish for wish in wishes if wish.top.pitch or wish.bottom.pitch or wish.exact)
    ways = move.ways()
    for way in ways:
        if all(has_room(move.by(way).wish(wish)) for wish in fixed):
            return move.by(way)
    return move.by(ways[0])
