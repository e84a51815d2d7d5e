"""Arpeggios at the player's own pace: which notes belong to which step, when no click says where one ends.

A teacher who listens to broken chords does not decide at every note; he decides when he has heard enough. So several
readings of the last notes are kept side by side, each a way to cut them into arpeggios, and the likeliest is believed
once no other comes near it, or when two further arpeggios were heard. What makes a reading unlikely, each in nats (the
natural logarithm of how much rarer it is; the numbers are our choice, and said beside each):

- notes that are missing from a step, or too many in it;
- the hand: one that goes on to the next chord silences the notes that it leaves, all at about the same time, and one
  that stays lets them ring;
- a step that is said to take much less or more time than the player took for those before, and a note that is waited
  for much longer or shorter than the one before it;
- a note against the order in which the player went through the last chords, if that was always up or always down, and
  a tone plucked twice by a player who never did that lately, the more so where it is held into the next chord;
- steps left out, or played once more.

To call a chord right takes more than to call it wrong: its next one must have begun with more than a single note, and
every reading in which it is wrong must be much less likely. Else it is called what the other reading says.

Where an arpeggio is complete and nothing came for long, it is over, whatever comes. Decisions depend on the times of
notes alone.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Callable, Sequence
from dataclasses import dataclass, replace
from typing import Final

from listener.hearing.events import NoteOn, Stroke
from listener.judging.reading import Part, Reading

#: A tone not played; a tone too many; both at once, a fret or two apart or an octave: one slip.
_MISSING: Final = 3.2
_EXTRA: Final = 3.6
_SLIPPED: Final = 3.4
_SLIPS: Final = (1, 2, 12)
#: The whole chord is another one of the same size.
_REPLACED: Final = 5.5
#: The last note is one too many, and the next chord wants it.
_ASTRAY: Final = 1.2
#: A tone plucked twice, by a player who never did that lately, is held into the next chord: rather that one's own.
_BORROWED: Final = 2.5
#: A note that was no common tone rings on into the next chord; or only common tones ring, but nothing has ended.
_RINGS_ON: Final = 3.0
_STAYED: Final = 2.5
#: Nothing rings but common tones, and the last note does not, before a note that is said to be of the same chord; and
#: several had ended together shortly before it, as when a hand leaves (notes of a plucked chord are let go over 57 ms,
#: the median of 48 in one take of GuitarSet).
_SILENT: Final = 1.5
_LEFT: Final = 4.0
_TOGETHER_S: Final = 0.100
_SHORTLY_S: Final = 0.600
#: An end so soon after a pluck is that of the note before it on its string.
_CUT_OFF_S: Final = 0.040
#: Ends of notes that are remembered: four chords of six strings.
_ENDS: Final = 24
#: The chord before once more; steps left out, one or two.
_ONCE_MORE: Final = 5.0
_LEFT_OUT: Final = (0.0, 5.0, 7.0)
#: A reading is believed when all others are so much less likely (e to the power of 4.5 is 90 times; of 5.5, 240 times,
#: where it calls a chord right), or after so many further arpeggios.
_SURE: Final = 4.5
_SURE_OF_RIGHT: Final = 5.5
_HEARD_OUT: Final = 2
#: Notes with which the next chord has begun for certain.
_BEGUN: Final = 2
#: Readings kept, and how much less likely than the best.
_READINGS: Final = 16
_HOPELESS: Final = 12.0


@dataclass(frozen=True, slots=True)
class _Silence:
    """What ended between the last note and this one: anything, and how many notes together shortly before this one."""

    any: bool = False
    together: int = 0


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
        self._readings: list[Reading] = [Reading(0)]
        self._ends_s: deque[float] = deque(maxlen=_ENDS)

    def go_to(self, step: int) -> None:
        """Whatever was played, this step is next; the habits are remembered."""
        self._readings = [self._best.going_to(step)]

    def ended(self, time_s: float) -> None:
        """A note fell silent."""
        self._ends_s.append(time_s)

    @property
    def _best(self) -> Reading:
        return self._readings[0]

    @property
    def playing(self) -> Part | None:
        """The arpeggio that is likeliest being played."""
        return self._best.playing

    @property
    def step(self) -> int:
        """The step that is likeliest being played, or due next."""
        return self._best.playing.step if self._best.playing is not None else self._best.step

    def over(self, now_s: float) -> bool:
        """The arpeggio that is being played is complete, and was for so long that it is over."""
        playing = self._best.playing
        silent = playing is not None and self._best.habits.silent(playing, now_s)
        return silent and playing is not None and self._is_right(playing) and self._agreed()

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
        found = [self._doubted(part) for part in (*best.over, best.playing)]
        habits = replace(best.habits, widest_s=best.habits.after(best.playing, None).widest_s)
        self._readings = [Reading(best.playing.step + 1, habits=habits)]
        return found

    def _extended(self, stroke: Stroke) -> list[Reading]:
        """All readings with this note, the likeliest first."""
        silence = self._silence(stroke)
        ways = [way for reading in self._readings for way in self._ways(reading, stroke, silence)]
        ranked = sorted(((self._total(way), number, way) for number, way in enumerate(ways)))[:_READINGS]
        least = ranked[0][0] if ranked else 0.0
        return [replace(way, cost=way.cost - least) for total, _, way in ranked if total <= least + _HOPELESS]

    def _silence(self, stroke: Stroke) -> _Silence:
        """In every reading the last note is the same."""
        if self._best.playing is None:
            return _Silence()
        last_s, until_s = self._best.playing.last_s, stroke.onset_s
        since_s = max(last_s + _CUT_OFF_S, until_s - _SHORTLY_S)
        lately = [end_s for end_s in self._ends_s if since_s < end_s < until_s]
        together = (sum(first <= end_s <= first + _TOGETHER_S for end_s in lately) for first in lately)
        return _Silence(any(last_s < end_s < until_s for end_s in self._ends_s), max(together, default=0))

    def _ways(self, reading: Reading, stroke: Stroke, silence: _Silence) -> list[Reading]:
        """The note goes on with the arpeggio, or begins the next, one farther on, or the same again."""
        playing, habits, count = reading.playing, reading.habits, len(self._pitches)
        begun = Part(reading.step, stroke, stroke.struck[-1].time_s, len(stroke.struck))
        if playing is None:
            return [
                replace(reading, playing=replace(begun, step=step), cost=reading.cost + price)
                for step, price in enumerate(_LEFT_OUT, start=reading.step)
                if step < count
            ]
        ringing = _ringing((*playing.stroke.struck, *playing.stroke.held), stroke)
        common = playing.step + 1 < count and all(not self._foreign(note.pitch, playing.step + 1) for note in ringing)
        going_on = habits.against_going_on(playing, stroke)
        if (common or not ringing) and not _ringing(playing.stroke.struck[-1:], stroke):
            going_on += _LEFT if silence.together > 1 else _SILENT if silence.any else 0.0
        stayed = _STAYED if ringing and common and not silence.together else 0.0
        pitches = [note.pitch for note in playing.stroke.struck]
        twice = [note for note in ringing if pitches.count(note.pitch) > 1] if not any(habits.repeats) else []
        ways = [replace(reading, playing=playing.with_stroke(stroke), cost=reading.cost + going_on)]
        against = self._against(playing, reading, whole=True)
        beat_s = (stroke.onset_s - playing.stroke.onset_s) / self._beats[playing.step]
        learned = habits.after(playing, None if against > _REPLACED else beat_s)
        cost = reading.cost + against + habits.against_pace(beat_s)
        nexts = [(playing.step + 1 + more, price) for more, price in enumerate(_LEFT_OUT)]
        for step, price in [*nexts, (playing.step, _ONCE_MORE)]:
            if step < count:
                price += _RINGS_ON if any(self._foreign(note.pitch, step) for note in ringing) else stayed
                price += _ASTRAY if self._astray(playing, step) else 0.0
                price += _BORROWED if any(not self._foreign(note.pitch, step) for note in twice) else 0.0
                over = (*reading.over, playing)
                ways.append(Reading(step, over, replace(begun, step=step), cost + price, learned))
        return ways

    def _astray(self, part: Part, step: int) -> bool:
        """The last note of an arpeggio is one too many, and this step wants it."""
        pitch = part.stroke.struck[-1].pitch
        return self._foreign(pitch, part.step) and not self._foreign(pitch, step)

    def _foreign(self, pitch: int, step: int) -> bool:
        """Whether a step does not want a tone."""
        return not set(_seen((pitch,), self._loose[step])) <= self._pitches[step]

    def _against(self, part: Part, reading: Reading, *, whole: bool) -> float:
        """What speaks against these notes as (all of, or the beginning of) their step."""
        any_octave = self._loose[part.step]
        wanted = self._pitches[part.step]
        struck = frozenset(_seen(part.stroke.struck_pitches, any_octave))
        extra, cost = struck - wanted, reading.habits.against_again(part)
        missing: frozenset[int] = frozenset()
        if whole:
            if self._is_right(part):
                return cost
            missing = wanted - struck - frozenset(_seen(part.stroke.held_pitches, any_octave))
        pairs = _pairs(missing, extra)
        edits = _SLIPPED * pairs + _MISSING * (len(missing) - pairs) + _EXTRA * (len(extra) - pairs)
        odd = abs(len(missing) - len(extra)) if whole else max(0, len(struck) - len(wanted))
        return cost + min(edits, _REPLACED + _EXTRA * odd)

    def _is_right(self, part: Part) -> bool:
        return self._right(part.stroke, part.step)

    def _believed(self) -> list[Part]:
        """The arpeggios on which all likely readings agree."""
        found: list[Part] = []
        while self._best.over:
            first = self._best.over[0]
            right, following = self._is_right(first), self._best.playing
            if right and len(self._best.over) == 1 and following is not None and following.plucks < _BEGUN:
                break
            likely = self._likely(_SURE_OF_RIGHT if right else _SURE)
            agreed = all(reading.over and _same(reading.over[0], first) for reading in likely)
            if not agreed and len(self._best.over) <= _HEARD_OUT:
                break
            found.append(first if agreed else self._doubted(first))
            self._readings = [
                replace(reading, over=reading.over[1:])
                for reading in self._readings
                if reading.over and _same(reading.over[0], first)
            ]
        return found

    def _doubted(self, part: Part) -> Part:
        """In doubt nothing is called right that another likely reading never has right."""
        if not self._is_right(part):
            return part
        for reading in self._likely(_SURE_OF_RIGHT):
            others = reading.parts(part.step)
            if others and not any(self._is_right(other) for other in others):
                return replace(part, doubt=others[0].stroke)
        return part

    def _agreed(self) -> bool:
        """No likely reading has another arpeggio being played."""
        best = self._best.playing
        playing = [reading.playing for reading in self._likely(_SURE_OF_RIGHT)]
        return best is not None and all(other is not None and _same(other, best) for other in playing)

    def _likely(self, sure: float) -> list[Reading]:
        most = self._total(self._best) + sure
        return [reading for reading in self._readings if self._total(reading) <= most]

    def _total(self, reading: Reading) -> float:
        playing = reading.playing
        return reading.cost + (self._against(playing, reading, whole=False) if playing is not None else 0.0)


def _ringing(notes: Sequence[NoteOn], stroke: Stroke) -> list[NoteOn]:
    """Those of the notes that still ring at a stroke."""
    held = {(note.string, note.pitch) for note in stroke.held}
    return [note for note in notes if (note.string, note.pitch) in held]


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


def _seen(pitches: Sequence[int], any_octave: bool) -> tuple[int, ...]:
    return tuple(pitch % 12 for pitch in pitches) if any_octave else tuple(pitches)
