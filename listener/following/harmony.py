"""Which chord governs, from when on, when somebody plays freely.

A stroke alone says little: a bass note, two inner voices, a passing tone of the tune. So what sounds is weighed over
time. For every kind of chord on every root, the tones that sound speak for it or against it as long as they sound, and
the bass speaks once more; a change of chord has a price, so a few foreign tones change nothing; chords change only
where strings are struck, more easily where many are, or the bass; tones of the key, and chords that came before, are
likelier. The best path through all that is the harmony (a Viterbi search; the numbers stand in
:mod:`listener.following.harmony_prices`).

What governs at a stroke is settled when so much more has been heard as the listener asked for: a second live, longer
where nobody waits. Nothing depends on how often :meth:`HarmonyFollower.hear` is called.
"""

from __future__ import annotations

from collections import deque
from collections.abc import Iterable
from dataclasses import dataclass, field
from functools import cache
from math import inf
from operator import attrgetter
from typing import Final

import numpy as np
from numpy.typing import NDArray

from listener.following import harmony_prices as prices
from listener.hearing.events import NoteEvent, NoteOn, Place, Stroke, place_of, ticks
from listener.music.scale import parse_scale

#: One for each kind on each root, and one for no chord.
STATES: Final = 12 * len(prices.KINDS) + 1
NO_CHORD: Final = STATES - 1
#: Live, what governs at a stroke is settled after so many seconds.
LIVE_S: Final = 0.9
#: In a file, where nobody waits, after so many.
FILE_S: Final = 8.0
#: What governed is remembered when it is this old: by then it is well known.
KNOWN: Final = ticks(3.0)
#: What sounds is counted in ticks of the grid; so are the prices, then.
SECOND: Final = ticks(1.0)
#: No string says anything about the harmony for longer than this (our own choice).
_RINGS: Final = ticks(8.0)
#: So many segments are kept that nobody needs any more.
_MANY: Final = 64

_Numbers = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Governed:
    """One stroke and what governs from it on: a root (pitch class) and a kind, or neither.

    ``sounded`` says how long each pitch class sounded until the next stroke, ``bass`` how long each was the lowest, in
    ticks of the grid.
    """

    onset_s: float
    root: int | None
    kind: prices.Kind | None
    sounded: tuple[int, ...]
    bass: tuple[int, ...]


@dataclass(slots=True)
class _Segment:
    """From one stroke to the next. ``back`` leads from every state in it to the state before it."""

    onset_s: float
    tick: int
    back: NDArray[np.intp]
    #: How long each pitch class sounded, and behind these twelve, how long each was the bass, and how long the lowest
    #: where no bass was.
    sounded: list[int] = field(default_factory=lambda: [0] * 36)
    #: What governs in it, when that is settled.
    state: int | None = None


class HarmonyFollower:
    """Notes and strokes in, what governs out. Times are seconds from the start of the take.

    ``hindsight_s`` is how much more is heard before it is settled what governs at a stroke.
    """

    def __init__(self, hindsight_s: float = LIVE_S) -> None:
        self._hindsight = ticks(hindsight_s)
        self._notes: list[NoteEvent] = []
        self._strokes: deque[Stroke] = deque()
        #: Up to this tick everything has been weighed.
        self._at = 0
        #: Where something sounds: its pitch, and the tick from which on it no longer counts.
        self._sounding: dict[Place, tuple[int, int]] = {}
        #: The last of these is open. Of the first so many it is settled what governs; so many have been given out, and
        #: of so many it is remembered.
        self._segments: list[_Segment] = []
        self._settled = 0
        self._given = 0
        self._recalled = 0
        #: The best path to each state, without what the open segment says.
        self._value: _Numbers = np.zeros(STATES, dtype=np.int64)
        #: A first beat, from beat to beat, both in ticks, and the beats in a bar.
        self._click: tuple[int, int, int] | None = None
        #: Where the lowest notes lay lately (MIDI).
        self._low = 0.0
        #: For how many seconds each pitch class has sounded, and each state governed; what is long ago counts less.
        self._heard = np.zeros(12)
        self._governed = np.zeros(STATES)

    def hear(self, notes: Iterable[NoteEvent], strokes: Iterable[Stroke], known_s: float) -> list[Governed]:
        """What governed at strokes that are settled and over: further notes and settled strokes, in order of time.
        Nothing earlier than ``known_s`` will come any more, which is infinity at the end."""
        self._notes.extend(notes)
        self._strokes.extend(strokes)
        if not self._segments and not self._strokes:
            return []
        self._notes.sort(key=attrgetter("time_s"))
        known = inf if known_s == inf else ticks(known_s)
        weighed = 0
        for note in self._notes:
            if ticks(note.time_s) > known:
                break
            self._until(ticks(note.time_s))
            self._sound(note)
            weighed += 1
        del self._notes[:weighed]
        self._until(known)
        return self._give(len(self._segments) - (known < inf))

    def click(self, first_beat_s: float, beat_s: float, beats_in_bar: int) -> None:
        """From here on a click runs: a first beat of a bar, the time from beat to beat, and how many a bar has."""
        self._click = (ticks(first_beat_s), ticks(beat_s), beats_in_bar)

    @property
    def unsettled(self) -> list[Governed]:
        """What seems to govern at the strokes that have not been given out, the last of which is not over."""
        if self._given == len(self._segments):
            return []
        path = self._path(self._best(), self._given)
        said = [segment.state for segment in self._segments[self._given :]]
        states = [state if now is None else now for now, state in zip(said, path, strict=True)]
        return [self._governing(self._given + i, state) for i, state in enumerate(states)]

    def rest(self, time_s: float) -> None:
        """Whatever sounds, says nothing any more from here on."""
        self._until(ticks(time_s))
        self._notes.clear()
        self._sounding.clear()

    def _sound(self, note: NoteEvent) -> None:
        place = place_of(note)
        if isinstance(note, NoteOn):
            self._sounding[place] = (note.pitch, ticks(note.time_s) + _RINGS)
        elif place in self._sounding and self._sounding[place][0] == note.pitch:
            del self._sounding[place]

    def _until(self, known: float) -> None:
        """Everything up to a tick is known, and no note begins or ends before it."""
        while True:
            stroke = ticks(self._strokes[0].onset_s) if self._strokes else inf
            due = self._segments[self._settled].tick + self._hindsight if self._settled < len(self._segments) else inf
            if min(stroke, due) > known or (known == inf and not self._strokes):
                break
            if due < stroke:
                self._weigh(int(due))
                self._settle()
            else:
                self._weigh(int(stroke))
                self._begin(self._strokes.popleft())
        if known < inf:
            self._weigh(int(known))
            return
        while self._settled < len(self._segments):
            self._settle()

    def _weigh(self, until: int) -> None:
        """What sounds, sounds until this tick, or until it no longer counts."""
        while self._at < until:
            for place in [place for place, (_, gone) in self._sounding.items() if gone <= self._at]:
                del self._sounding[place]
            if not self._segments or not self._sounding:
                self._at = until
                return
            lasts = min(until, *(gone for _, gone in self._sounding.values())) - self._at
            sounded = self._segments[-1].sounded
            pitches = {pitch for pitch, _ in self._sounding.values()}
            for number in {pitch % 12 for pitch in pitches}:
                sounded[number] += lasts
            lowest = min(pitches)
            sounded[12 + lowest % 12 + (0 if lowest <= self._low + prices.BASS_REACH else 12)] += lasts
            self._at += lasts

    def _begin(self, stroke: Stroke) -> None:
        """A stroke closes the segment before it: what it said is added up, and any chord may begin."""
        tick = max(ticks(stroke.onset_s), self._at)
        back = np.arange(STATES)
        entering = self._likely(tick)
        if self._segments:
            self._value = self._value + self._says(self._segments[-1])
            best = int(self._value.argmax())
            entering = entering + self._value[best] - self._change(stroke) * SECOND
            back[entering > self._value] = best
            self._value = np.maximum(self._value, entering)
        else:
            self._value = entering
            self._at = tick
        self._segments.append(_Segment(stroke.onset_s, tick, back))
        lowest = min([stroke.struck_pitches[0], *(pitch for pitch, _ in self._sounding.values())])
        self._low = float(lowest) if not self._low else self._low + (lowest - self._low) / prices.BASS_MEMORY
        self._forget()

    def _change(self, stroke: Stroke) -> int:
        """What a change of chord costs at a stroke."""
        struck = stroke.struck_pitches
        many = (prices.ONE_STRUCK, prices.TWO_STRUCK, prices.MANY_STRUCK)[min(len(struck), 3) - 1]
        lower = any(pitch < struck[0] for pitch, _ in self._sounding.values())
        return prices.CHANGE + many + (prices.OLD_BASS if lower else 0) + self._beat(ticks(stroke.onset_s))

    def _beat(self, tick: int) -> int:
        """What the place in the bar adds to that."""
        if self._click is None:
            return 0
        first, beat, in_bar = self._click
        number = round((tick - first) / beat)
        if abs(tick - first - number * beat) > prices.NEAR_BEAT * beat:
            return prices.OFF_BEAT
        return prices.ON_BAR if number % in_bar == 0 else prices.ON_BEAT

    def _likely(self, tick: int) -> _Numbers:
        """How likely each state is before anything of it sounds: by the key, and by what governed before."""
        if self._segments:
            last = self._segments[-1]
            self._heard = self._heard * 0.5 ** ((tick - last.tick) / SECOND / prices.KEY_HALF_S)
            self._heard = self._heard + np.array(last.sounded[:12]) / SECOND
            self._recall(tick)
        total = self._heard.sum() + prices.GIVEN_S
        fits = np.exp(prices.KEY_SHARP * (_scales() @ self._heard) / total)
        share = np.minimum(fits @ _scales() / fits.sum(), 1.0)
        surprise = np.log(share * (1 - prices.KEY_LEAST) + prices.KEY_LEAST)
        known = np.log1p(self._governed / prices.GIVEN_S)
        known[NO_CHORD] = 0.0
        likely = prices.OUT_OF_KEY * (surprise @ _tones()) + prices.COME_BACK * known
        whole: _Numbers = np.rint(likely * SECOND).astype(np.int64)
        return whole

    def _recall(self, tick: int) -> None:
        """What governed until some seconds ago is well known by now, and is remembered."""
        path = self._path(int(self._value.argmax()), self._recalled)
        while self._recalled < len(self._segments) - 1 and self._segments[self._recalled + 1].tick + KNOWN <= tick:
            segment = self._segments[self._recalled]
            length = (self._segments[self._recalled + 1].tick - segment.tick) / SECOND
            self._governed = self._governed * 0.5 ** (length / prices.BACK_HALF_S)
            self._governed[path[0]] += length if any(segment.sounded) else 0.0
            del path[0]
            self._recalled += 1

    def _says(self, segment: _Segment) -> _Numbers:
        """What sounds in it says for and against every state."""
        says: _Numbers = np.array(segment.sounded, dtype=np.int64) @ _evidence()
        return says

    def _best(self) -> int:
        return int((self._value + self._says(self._segments[-1])).argmax())

    def _path(self, state: int, first: int) -> list[int]:
        """The states from a segment on, when the last is in this one."""
        path = [state]
        for segment in reversed(self._segments[first + 1 :]):
            path.append(int(segment.back[path[-1]]))
        return path[::-1]

    def _settle(self) -> None:
        """It is settled what governs in the first segment of which that was open."""
        self._segments[self._settled].state = self._path(self._best(), self._settled)[0]
        self._settled += 1

    def _give(self, over: int) -> list[Governed]:
        """What is settled among the first so many segments, which are over."""
        given = range(self._given, max(self._given, min(self._settled, over)))
        self._given = given.stop
        return [self._governing(i, state) for i in given if (state := self._segments[i].state) is not None]

    def _governing(self, index: int, state: int) -> Governed:
        segment = self._segments[index]
        kind, root = divmod(state, 12)
        named = state != NO_CHORD
        return Governed(
            segment.onset_s,
            root if named else None,
            prices.KINDS[kind] if named else None,
            tuple(segment.sounded[:12]),
            tuple(bass + high for bass, high in zip(segment.sounded[12:24], segment.sounded[24:], strict=True)),
        )

    def _forget(self) -> None:
        """Nobody asks any more about what is settled and remembered."""
        done = min(self._settled, self._given, self._recalled)
        if done > _MANY:
            del self._segments[:done]
            self._settled -= done
            self._given -= done
            self._recalled -= done


@cache
def _evidence() -> _Numbers:
    """36 rows, for a tick of each pitch class, of each bass, and of each lowest note that is none; a column for each
    state."""
    table = np.zeros((36, STATES), dtype=np.int64)
    table[12:, NO_CHORD] = prices.NOTHING
    for state in range(NO_CHORD):
        kind, root = prices.KINDS[state // 12], state % 12
        counts = {kind.seventh: (prices.SEVENTH, prices.SEVENTH_BASS), kind.fifth: (prices.TONE, prices.FIFTH_BASS)}
        counts[kind.third] = (prices.TONE, prices.THIRD_BASS)
        counts[0] = (prices.TONE, prices.ROOT_BASS)
        for interval in range(12):
            sounds, lies = counts.get(interval, (prices.FOREIGN, 0))
            table[(root + interval) % 12, state] = sounds
            table[12 + (root + interval) % 12, state] = lies - kind.price
            table[24 + (root + interval) % 12, state] = lies * prices.HIGH_BASS // 100 - kind.price
    return table


@cache
def _tones() -> NDArray[np.float64]:
    """12 rows, for the pitch classes; a column for each state, 1 where it is a tone of it."""
    table = np.zeros((12, STATES))
    for state in range(NO_CHORD):
        kind, root = prices.KINDS[state // 12], state % 12
        for interval in kind.tones:
            table[(root + interval) % 12, state] = 1.0
    return table


@cache
def _scales() -> NDArray[np.float64]:
    """12 rows, for the scales on every pitch class; a column for each pitch class, 1 where the scale has it."""
    scale = parse_scale("C major").pitch_classes
    return np.array([[(number - root) % 12 in scale for number in range(12)] for root in range(12)], dtype=float)
