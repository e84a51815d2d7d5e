"""Arpeggios at the player's own pace: which notes belong to which step, when no click says where one ends.

A teacher who listens to broken chords does not decide at every note; he decides when he has heard enough. So several
readings of the last notes are kept side by side, each a way to cut them into arpeggios, and the likeliest is believed
once no other comes near it, or when two further arpeggios were heard. What makes a reading unlikely, each in nats (the
natural logarithm of how much rarer it is; the numbers are our choice, and said beside each):

- notes that are missing from a step, or too many in it;
- a note of the chord that still rings when the next one is said to begin: the hand that goes on silences it;
- a step that is said to take much less or more time than the player took for those before;
- a note against the order in which the player went through the last chords, if that was always up or always down;
- steps left out, or played once more.

Where an arpeggio is complete and nothing came for a second, it is over, whatever comes. Decisions depend on the times
of notes alone.
"""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from statistics import fmean, median
from typing import Final

from listener.hearing.events import NoteOn, Stroke

#: A complete arpeggio is over when nothing came for so long (our choice: a slow beat), and for so much longer than
#: between any two of its notes (our choice: a note more would have come by then).
SILENCE_S: Final = 1.0
_SILENCE_SHARE: Final = 1.5
#: A tone not played; a tone too many; both at once, a fret or two apart or an octave: one slip.
_MISSING: Final = 3.2
_EXTRA: Final = 3.6
_SLIPPED: Final = 3.4
_SLIPS: Final = (1, 2, 12)
#: The whole chord is another one of the same size.
_REPLACED: Final = 5.5
#: A tone of the chord plucked once more, as patterns that go up and down do.
_AGAIN: Final = 0.7
#: A note that was no common tone rings on into the next chord.
_RINGS_ON: Final = 2.0
#: The last note is one too many, and the next chord wants it.
_ASTRAY: Final = 2.5
#: The last note had fallen silent before one that is said to be of the same chord.
_SILENT: Final = 0.7
#: The chord before once more; steps left out, one or two.
_ONCE_MORE: Final = 5.0
_LEFT_OUT: Final = (0.0, 5.0, 7.0)
#: How far a step's length strays from the player's usual one, as a share, as long as too few steps are known; the least
#: that it strays, however steady the last steps were; and the most that counts against a step that is shorter, and one
#: that is longer (one may wait before a change of chord, one seldom comes early).
_STRAYS: Final = 0.20
_STRAYS_LEAST: Final = 0.08
_MOST_SHORTER: Final = 6.0
_MOST_LONGER: Final = 3.0
#: Steps that make the player's usual pace, and how many must be known for it, and for how far it strays.
_PACES: Final = 8
_LEAST_PACES: Final = 2
_LEAST_STRAYS: Final = 4
#: Standard deviation for a mean absolute deviation of 1 (normal distribution: the root of half pi).
_NORMAL: Final = 1.2533
#: Against the order of the last arpeggios, so many of them and with so many notes: always up, or always down.
_OUT_OF_ORDER: Final = 2.5
_HABIT: Final = 2
_TELLING: Final = 2
#: A reading is believed when all others are so much less likely (e to the power of 4.5 is 90 times), or after so many
#: further arpeggios.
_SURE: Final = 4.5
_HEARD_OUT: Final = 2
#: Readings kept, and how much less likely than the best.
_READINGS: Final = 12
_HOPELESS: Final = 10.0


@dataclass(frozen=True, slots=True)
class Part:
    """Notes that are read as one arpeggio. ``stroke`` has them all; its held notes are those of its first note."""

    step: int
    stroke: Stroke
    last_s: float
    plucks: int = 1
    widest_gap_s: float = 0.0
    #: What another likely reading has for this step, where this one would be right and that is not.
    doubt: Stroke | None = None

    def with_stroke(self, stroke: Stroke) -> Part:
        """With a note more."""
        whole = replace(stroke, struck=(*self.stroke.struck, *stroke.struck), held=self.stroke.held)
        gap_s = max(self.widest_gap_s, stroke.onset_s - self.last_s)
        return Part(self.step, whole, stroke.struck[-1].time_s, self.plucks + len(stroke.struck), gap_s)

    @property
    def way(self) -> int:
        """1 when its notes go up only, -1 when down only, else 0."""
        pitches = [note.pitch for note in self.stroke.struck]
        ups = {(low < high) - (low > high) for low, high in pairwise(pitches)}
        return ups.pop() if len(ups) == 1 else 0

    def silent_at(self, time_s: float) -> bool:
        """Nothing came for so long that nothing more will come."""
        return time_s >= self.last_s + max(SILENCE_S, _SILENCE_SHARE * self.widest_gap_s)


@dataclass(frozen=True, slots=True)
class _Reading:
    """One way to cut the notes: arpeggios that are over but not believed yet, the one being played, what speaks against
    all that is over, and the lengths of a beat so far."""

    step: int
    over: tuple[Part, ...] = ()
    playing: Part | None = None
    cost: float = 0.0
    beats_s: tuple[float, ...] = ()
    ways: tuple[int, ...] = ()

    @property
    def habit(self) -> int:
        """1 when the last arpeggios went up, -1 when they went down, else 0."""
        return self.ways[0] if len(set(self.ways)) == 1 else 0


class Rolling:
    """Settled notes in, arpeggios out. ``pitches`` (MIDI) and ``beats`` are those of every step, ``right`` says whether
    a stroke is exactly what a step wants, ``loose`` are steps for which any octave of a tone is as good."""

    def __init__(
        self,
        pitches: Sequence[tuple[int, ...]],
        beats: Sequence[float],
        right: Callable[[Stroke, int], bool],
        loose: Sequence[bool],
    ) -> None:
        self._pitches = [frozenset(_seen(row, any_octave)) for row, any_octave in zip(pitches, loose, strict=True)]
        self._beats = tuple(beats)
        self._right = right
        self._loose = tuple(loose)
        self._readings: list[_Reading] = [_Reading(0)]

    def go_to(self, step: int) -> None:
        """Whatever was played, this step is next; the pace is remembered."""
        self._readings = [_Reading(step, beats_s=self._best.beats_s, ways=self._best.ways)]

    @property
    def _best(self) -> _Reading:
        return self._readings[0]

    @property
    def playing(self) -> Part | None:
        """The arpeggio that is likeliest being played."""
        return self._best.playing

    @property
    def step(self) -> int:
        """The step that is likeliest being played, or due next."""
        return self._best.playing.step if self._best.playing is not None else self._best.step

    def complete(self) -> bool:
        """The arpeggio that is being played has all its notes and no other."""
        playing = self._best.playing
        return playing is not None and self._right(playing.stroke, playing.step)

    def over(self, now_s: float) -> bool:
        """The arpeggio that is being played is complete, and was for so long that it is over."""
        playing = self._best.playing
        return playing is not None and playing.silent_at(now_s) and self.complete() and self._agreed()

    def peek(self, stroke: Stroke) -> Part | None:
        """What would be being played with this note, which may still be corrected."""
        readings = self._extended(stroke)
        return readings[0].playing if readings else None

    def feed(self, stroke: Stroke) -> list[Part]:
        """One note, or several at once; the arpeggios that are certain now."""
        readings = self._extended(stroke)
        if not readings:
            return []
        self._readings = readings
        return self._believed()

    def finish(self) -> list[Part]:
        """Nothing more belongs to what was played: all of it, as it is likeliest."""
        best = self._best
        if best.playing is None:
            return []
        step, likely = best.playing.step + 1, self._likely()
        self._readings = [_Reading(step, beats_s=best.beats_s, ways=best.ways)]
        return [*(self._doubted(part, likely) for part in best.over), best.playing]

    def _extended(self, stroke: Stroke) -> list[_Reading]:
        """All readings with this note, the likeliest first."""
        ways = [way for reading in self._readings for way in self._ways(reading, stroke)]
        ranked = sorted(((self._total(way), number, way) for number, way in enumerate(ways)))[:_READINGS]
        least = ranked[0][0] if ranked else 0.0
        return [replace(way, cost=way.cost - least) for total, _, way in ranked if total <= least + _HOPELESS]

    def _ways(self, reading: _Reading, stroke: Stroke) -> list[_Reading]:
        """The note goes on with the arpeggio, or begins the next, one farther on, or the same again."""
        playing, count = reading.playing, len(self._pitches)
        last_s = stroke.struck[-1].time_s
        if playing is None:
            plucks = len(stroke.struck)
            return [
                replace(reading, playing=Part(step, stroke, last_s, plucks), cost=reading.cost + price)
                for step, price in enumerate(_LEFT_OUT, start=reading.step)
                if step < count
            ]
        silent = 0.0 if self._ringing(playing.stroke.struck[-1:], stroke) else _SILENT
        turn = stroke.struck[0].pitch - playing.stroke.struck[-1].pitch
        odd = _OUT_OF_ORDER if turn * reading.habit < 0 else 0.0
        ways = [replace(reading, playing=playing.with_stroke(stroke), cost=reading.cost + silent + odd)]
        against = self._against(playing, whole=True)
        beat_s = (stroke.onset_s - playing.stroke.onset_s) / self._beats[playing.step]
        known = reading.beats_s if against > _REPLACED else (*reading.beats_s, beat_s)[-_PACES:]
        habits = (*reading.ways, playing.way)[-_HABIT:] if playing.plucks >= _TELLING else reading.ways
        cost = reading.cost + against + _off_pace(beat_s, reading.beats_s)
        nexts = [(playing.step + 1 + more, price) for more, price in enumerate(_LEFT_OUT)]
        for step, price in [*nexts, (playing.step, _ONCE_MORE)]:
            if step < count:
                ringing = [note for note in playing.stroke.struck if self._foreign(note.pitch, step)]
                ring = _RINGS_ON if self._ringing(ringing, stroke) else 0.0
                astray = [note for note in playing.stroke.struck[-1:] if self._foreign(note.pitch, playing.step)]
                if any(not self._foreign(note.pitch, step) for note in astray):
                    ring += _ASTRAY
                begun = Part(step, stroke, last_s, len(stroke.struck))
                ways.append(_Reading(step, (*reading.over, playing), begun, cost + price + ring, known, habits))
        return ways

    def _foreign(self, pitch: int, step: int) -> bool:
        """Whether a step does not want a tone."""
        return not set(_seen((pitch,), self._loose[step])) <= self._pitches[step]

    def _ringing(self, notes: Sequence[NoteOn], stroke: Stroke) -> bool:
        held = {(note.string, note.pitch) for note in stroke.held}
        return any((note.string, note.pitch) in held for note in notes)

    def _against(self, part: Part, *, whole: bool) -> float:
        """What speaks against these notes as (all of, or the beginning of) their step."""
        any_octave = self._loose[part.step]
        wanted = self._pitches[part.step]
        struck = frozenset(_seen(part.stroke.struck_pitches, any_octave))
        extra, again = struck - wanted, part.plucks - len(part.stroke.struck_pitches)
        cost = _AGAIN * again
        missing: frozenset[int] = frozenset()
        if whole:
            if self._right(part.stroke, part.step):
                return cost
            missing = wanted - struck - frozenset(_seen(part.stroke.held_pitches, any_octave))
        pairs = _pairs(missing, extra)
        edits = _SLIPPED * pairs + _MISSING * (len(missing) - pairs) + _EXTRA * (len(extra) - pairs)
        odd = abs(len(missing) - len(extra)) if whole else max(0, len(struck) - len(wanted))
        return cost + min(edits, _REPLACED + _EXTRA * odd)

    def _believed(self) -> list[Part]:
        """The arpeggios on which all likely readings agree."""
        found: list[Part] = []
        while self._best.over:
            first = self._best.over[0]
            likely = self._likely()
            agreed = all(reading.over and _same(reading.over[0], first) for reading in likely)
            if not agreed and len(self._best.over) <= _HEARD_OUT:
                break
            found.append(first if agreed else self._doubted(first, likely))
            self._readings = [
                replace(reading, over=reading.over[1:])
                for reading in self._readings
                if reading.over and _same(reading.over[0], first)
            ]
        return found

    def _doubted(self, part: Part, likely: Sequence[_Reading]) -> Part:
        """In doubt nothing is called right that another likely reading calls wrong."""
        others = (other for reading in likely for other in reading.over)
        wrong = (other for other in others if other.step == part.step and not self._right(other.stroke, other.step))
        other = next(wrong, None) if self._right(part.stroke, part.step) else None
        return part if other is None else replace(part, doubt=other.stroke)

    def _agreed(self) -> bool:
        """No likely reading has another arpeggio being played."""
        best = self._best.playing
        playing = [reading.playing for reading in self._likely()]
        return best is not None and all(other is not None and _same(other, best) for other in playing)

    def _likely(self) -> list[_Reading]:
        most = self._total(self._best) + _SURE
        return [reading for reading in self._readings if self._total(reading) <= most]

    def _total(self, reading: _Reading) -> float:
        return reading.cost + self._open_cost(reading)

    def _open_cost(self, reading: _Reading) -> float:
        return self._against(reading.playing, whole=False) if reading.playing is not None else 0.0


def _same(part: Part, other: Part) -> bool:
    return (part.step, part.plucks, part.stroke.onset_s) == (other.step, other.plucks, other.stroke.onset_s)


def _pairs(missing: frozenset[int], extra: frozenset[int]) -> int:
    """How many missing tones have one too many near them, each paired once."""
    free, pairs = set(extra), 0
    for wanted in sorted(missing):
        near = next((note for note in sorted(free) if abs(note - wanted) in _SLIPS), None)
        if near is not None:
            free.discard(near)
            pairs += 1
    return pairs


def _off_pace(beat_s: float, beats_s: Sequence[float]) -> float:
    """What a step's length says against it, 0 while no pace is known."""
    if len(beats_s) < _LEAST_PACES:
        return 0.0
    usual_s = median(beats_s)
    strays = _STRAYS
    if len(beats_s) >= _LEAST_STRAYS:
        strays = max(_STRAYS_LEAST, _NORMAL * fmean(abs(one_s / usual_s - 1.0) for one_s in beats_s))
    share = beat_s / usual_s - 1.0
    return min(_MOST_SHORTER if share < 0 else _MOST_LONGER, (share / strays) ** 2 / 2)


def _seen(pitches: Sequence[int], any_octave: bool) -> tuple[int, ...]:
    return tuple(pitch % 12 for pitch in pitches) if any_octave else tuple(pitches)
