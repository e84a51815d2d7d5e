"""Somebody comps over a lead sheet: chords with their times become notes, in several ways, with the truth beside them.

Voices lead to the nearest tones over a bass, as far up the neck as a hand lies; times and loudness scatter as people's
do. What is written over the music is the truth, also where a root is left out.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from itertools import product
from random import Random
from typing import Final

from listener.hearing.events import Message, on_grid
from listener.music.chord import Chord

#: The bass lies in the octave from here, the other voices between these two (MIDI).
_LOW: Final = 40
_MIDDLE: Final = 52
_HIGH: Final = 76
#: Seconds by which notes scatter (one standard deviation), and between neighbouring strings of a strum.
_SCATTER_S: Final = 0.010
_STRUM_S: Final = 0.012
_START_S: Final = 1.0


@dataclass(frozen=True)
class Written:
    """A chord over the music, in seconds."""

    start_s: float
    end_s: float
    chord: Chord


@dataclass
class Hand:
    """What one chord is played with: a bass and the voices above it, and where notes are put."""

    draw: Random
    beat_s: float
    start_s: float
    end_s: float
    root: int
    bass: int
    voices: list[int]
    notes: list[tuple[float, float, int, int]]

    def pluck(
        self, at_s: float, until_s: float, pitches: Sequence[int], loud: float = 80.0, apart_s: float = 0.0
    ) -> None:
        """Notes that are plucked together, or string by string, and end together."""
        for number, pitch in enumerate(pitches):
            begins_s = max(0.01, at_s + number * apart_s + self.draw.gauss(0.0, _SCATTER_S))
            ends_s = max(begins_s + 0.05, until_s - self.draw.uniform(0.0, 0.06))
            velocity = min(120, max(25, round(self.draw.gauss(loud, 8.0))))
            self.notes.append((begins_s, ends_s, pitch, velocity))

    def times(self, beats: float) -> list[tuple[float, float]]:
        """The chord's time in parts of so many beats."""
        length, found = beats * self.beat_s, []
        at_s = self.start_s
        while at_s < self.end_s - 0.05:
            found.append((at_s, min(at_s + length, self.end_s)))
            at_s += length
        return found

    @property
    def rootless(self) -> list[int]:
        """All that is no root."""
        return [pitch for pitch in (self.bass, *self.voices) if pitch % 12 != self.root]


def block(hand: Hand) -> None:
    """The whole chord, every two beats."""
    for at_s, until_s in hand.times(2.0):
        hand.pluck(at_s, until_s, (hand.bass, *hand.voices))


def strummed(hand: Hand) -> None:
    """Eighths: all strings down, the upper ones up; some strokes fall out, and all strings ring to the change."""
    for number, (at_s, _) in enumerate(hand.times(0.5)):
        if number % 4 == 1 or (number and hand.draw.random() < 0.15):
            continue
        down = number % 2 == 0
        pitches = (hand.bass, *hand.voices) if down else tuple(reversed(hand.voices[-3:]))
        hand.pluck(at_s, hand.end_s, pitches, 85.0 if down else 65.0, _STRUM_S)


def picked(hand: Hand) -> None:
    """One string for each eighth, from the bass; every string rings to the change."""
    order = [0, *hand.draw.choice(((1, 2, 3), (2, 1, 3), (3, 1, 2)))]
    strings = (hand.bass, *hand.voices)
    for number, (at_s, _) in enumerate(hand.times(0.5)):
        hand.pluck(at_s, hand.end_s, (strings[min(order[number % 4], len(strings) - 1)],))


def left_out(hand: Hand) -> None:
    """A stroke for each beat; the root is in the first of four out of five chords, and in a third of the others."""
    for number, (at_s, until_s) in enumerate(hand.times(1.0)):
        there = hand.draw.random() < (1 / 3 if number else 4 / 5)
        hand.pluck(at_s, until_s, (hand.bass, *hand.voices) if there else hand.rootless)


def passing(hand: Hand) -> None:
    """The whole chord every two beats, and between them neighbours of its top note."""
    for at_s, until_s in hand.times(2.0):
        hand.pluck(at_s, until_s, (hand.bass, *hand.voices))
        for number in range(1, 4):
            begins_s = at_s + number * hand.beat_s / 2
            if begins_s < until_s - 0.1 and hand.draw.random() < 0.6:
                beside = hand.voices[-1] + hand.draw.choice((-2, -1, 1, 2))
                hand.pluck(begins_s, begins_s + 0.45 * hand.beat_s, (beside,))


WAYS: Final[dict[str, Callable[[Hand], None]]] = {
    "block chords": block,
    "strummed": strummed,
    "picked": picked,
    "roots left out": left_out,
    "passing notes": passing,
}


def comped(chords: Sequence[tuple[float, float, Chord]], way: str, seed: int) -> tuple[list[Message], list[Written]]:
    """A lead sheet (start and end in beats, chord) as messages of one channel, and what is written over it.

    The tempo is drawn, 80 to 120 a minute.
    """
    draw = Random(f"{way} {seed}")
    beat_s = 60.0 / draw.uniform(80.0, 120.0)
    notes: list[tuple[float, float, int, int]] = []
    written: list[Written] = []
    voices: list[int] = []
    for start, end, chord in chords:
        one = Written(_START_S + start * beat_s, _START_S + end * beat_s, chord)
        written.append(one)
        root = chord.root.pitch_class
        bass = _LOW + ((chord.bass or chord.root).pitch_class - _LOW) % 12
        voices = _led(chord, bass, voices)
        WAYS[way](Hand(draw, beat_s, one.start_s, one.end_s, root, bass, voices, notes))
    return _messages(notes), written


def _led(chord: Chord, bass: int, before: Sequence[int]) -> list[int]:
    """Four voices above the bass, nearest to those before."""
    tones = [tone.pitch_class for tone in chord.tones.values()]
    tones = [*tones, tones[0]][:4] if len(tones) < 4 else [*tones[:1], *tones[-3:]]
    best: tuple[int, list[int]] | None = None
    for octaves in product((0, 12), repeat=len(tones)):
        voices = sorted({_MIDDLE + (tone - _MIDDLE) % 12 + up for tone, up in zip(tones, octaves, strict=True)})
        if len(voices) < len(tones) or voices[-1] > _HIGH or voices[0] <= bass:
            continue
        moved = sum(abs(one - other) for one, other in zip(voices, before, strict=False))
        price = (moved or abs(sum(voices) - 60 * len(voices))) + 20 * (voices[-1] - voices[0] > 14)
        if best is None or price < best[0]:
            best = (price, voices)
    assert best is not None
    return best[1]


def _messages(notes: Sequence[tuple[float, float, int, int]]) -> list[Message]:
    """A pitch that is struck again ends before."""
    events: list[tuple[float, int, tuple[int, int, int]]] = []
    ends: dict[int, float] = {}
    for begins_s, ends_s, pitch, velocity in sorted(notes, reverse=True):
        until_s = min(ends_s, ends.get(pitch, ends_s + 1.0) - 0.01)
        ends[pitch] = begins_s
        events += [(begins_s, 1, (0x90, pitch, velocity)), (max(until_s, begins_s + 0.01), 0, (0x80, pitch, 0))]
    return [Message(on_grid(time_s), data) for time_s, _, data in sorted(events)]
