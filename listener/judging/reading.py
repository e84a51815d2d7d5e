"""One way to cut the notes of arpeggios, and what the player's habits say for or against it.

Habits are learned from the last arpeggios of the same reading: how long a step takes, whether the notes always go up or
down, how evenly they come, how long a note is waited for, and whether a tone is plucked twice in a chord. A habit says
nothing before it is known. What speaks against a reading is in nats, see :mod:`listener.judging.rolling`.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field, replace
from itertools import pairwise
from math import log
from statistics import fmean, median
from typing import Final

from listener.hearing.events import Stroke

#: A complete arpeggio is over when nothing came for so long (our choice: a slow beat), and for so much longer than
#: between any two notes of it or of the last arpeggios (our choice: a note more would have come by then).
SILENCE_S: Final = 1.0
_SILENCE_SHARE: Final = 1.5
#: A tone of the chord plucked once more, as patterns that go up and down do; and by a player who never did lately.
_AGAIN: Final = 0.7
_AGAIN_AT_LAST: Final = 2.5
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
#: The same for the wait for a note beside the wait before it, as the logarithm of their ratio.
_UNEVEN: Final = 0.40
_UNEVEN_LEAST: Final = 0.15
_MOST_UNEVEN: Final = 2.5
_WAITS: Final = 8
_LEAST_WAITS: Final = 3
#: No wait counts as shorter (several strings at once).
_SHORTEST_S: Final = 0.010
#: Standard deviation for a mean absolute deviation of 1 (normal distribution: the root of half pi).
_NORMAL: Final = 1.2533
#: Against the order of the last arpeggios, so many of them and with so many notes: always up, or always down.
_OUT_OF_ORDER: Final = 2.5
_HABIT: Final = 2
_TELLING: Final = 2
#: Arpeggios whose longest wait and whose tones plucked twice are remembered.
_REMEMBERED: Final = 3


@dataclass(frozen=True, slots=True)
class Part:
    """Notes that are read as one arpeggio. ``stroke`` has them all; its held notes are those of its first note.
    ``wait_s`` is that for its last note, ``uneven`` how far each wait but the first was from the one before."""

    step: int
    stroke: Stroke
    last_s: float
    plucks: int = 1
    widest_s: float = 0.0
    wait_s: float = 0.0
    uneven: tuple[float, ...] = ()
    #: What another likely reading has for this step, where this one would be right and that is not.
    doubt: Stroke | None = None

    def with_stroke(self, stroke: Stroke) -> Part:
        """With a note more."""
        wait_s = stroke.onset_s - self.last_s
        return replace(
            self,
            stroke=replace(stroke, struck=(*self.stroke.struck, *stroke.struck), held=self.stroke.held),
            last_s=stroke.struck[-1].time_s,
            plucks=self.plucks + len(stroke.struck),
            widest_s=max(self.widest_s, wait_s),
            wait_s=wait_s,
            uneven=(*self.uneven, self.unevenness(wait_s)) if self.wait_s else (),
        )

    @property
    def way(self) -> int:
        """1 when its notes go up only, -1 when down only, else 0."""
        pitches = [note.pitch for note in self.stroke.struck]
        ups = {(low < high) - (low > high) for low, high in pairwise(pitches)}
        return ups.pop() if len(ups) == 1 else 0

    @property
    def again(self) -> int:
        """How often a tone was plucked once more."""
        return self.plucks - len(self.stroke.struck_pitches)

    def unevenness(self, wait_s: float) -> float:
        """How far a wait is from that for the last note: the logarithm of their ratio without its sign, 0 for none."""
        return abs(log(max(wait_s, _SHORTEST_S) / max(self.wait_s, _SHORTEST_S))) if self.wait_s else 0.0


@dataclass(frozen=True, slots=True)
class Habits:
    """What the last arpeggios have in common: lengths of a beat, ways, unevenness of waits, longest waits, and how
    many tones were plucked once more."""

    beats_s: tuple[float, ...] = ()
    ways: tuple[int, ...] = ()
    uneven: tuple[float, ...] = ()
    widest_s: tuple[float, ...] = ()
    repeats: tuple[int, ...] = ()

    def after(self, part: Part, beat_s: float | None) -> Habits:
        """With an arpeggio more; None says nothing of the pace."""
        return Habits(
            self.beats_s if beat_s is None else (*self.beats_s, beat_s)[-_PACES:],
            (*self.ways, part.way)[-_HABIT:] if part.plucks >= _TELLING else self.ways,
            (*self.uneven, *part.uneven)[-_WAITS:],
            (*self.widest_s, part.widest_s)[-_REMEMBERED:],
            (*self.repeats, part.again)[-_REMEMBERED:],
        )

    def silent(self, part: Part, time_s: float) -> bool:
        """Nothing came for so long that nothing more will come."""
        usual_s = max((part.widest_s, *self.widest_s))
        return time_s >= part.last_s + max(SILENCE_S, _SILENCE_SHARE * usual_s)

    def against_going_on(self, part: Part, stroke: Stroke) -> float:
        """What its order and its time say against a note that goes on with an arpeggio."""
        way = self.ways[0] if len(set(self.ways)) == 1 else 0
        turned = (stroke.struck[0].pitch - part.stroke.struck[-1].pitch) * way < 0
        strays = _UNEVEN
        if len(self.uneven) >= _LEAST_WAITS:
            strays = max(_UNEVEN_LEAST, _NORMAL * fmean(self.uneven))
        late = (part.unevenness(stroke.onset_s - part.last_s) / strays) ** 2 / 2
        return (_OUT_OF_ORDER if turned else 0.0) + min(_MOST_UNEVEN, late)

    def against_again(self, part: Part) -> float:
        """What the tones that are plucked once more say against an arpeggio."""
        return (_AGAIN if any(self.repeats) else _AGAIN_AT_LAST) * part.again

    def against_pace(self, beat_s: float) -> float:
        """What a step's length says against it, 0 while no pace is known."""
        if len(self.beats_s) < _LEAST_PACES:
            return 0.0
        usual_s = median(self.beats_s)
        strays = _STRAYS
        if len(self.beats_s) >= _LEAST_STRAYS:
            strays = max(_STRAYS_LEAST, _NORMAL * fmean(abs(one_s / usual_s - 1.0) for one_s in self.beats_s))
        share = beat_s / usual_s - 1.0
        return min(_MOST_SHORTER if share < 0 else _MOST_LONGER, (share / strays) ** 2 / 2)


@dataclass(frozen=True, slots=True)
class Reading:
    """Arpeggios that are over but not believed yet, the one being played, what speaks against all that is over, and the
    habits so far. ``step`` is the one that is due where none is being played."""

    step: int
    over: tuple[Part, ...] = ()
    playing: Part | None = None
    cost: float = 0.0
    habits: Habits = field(default_factory=Habits)

    def going_to(self, step: int) -> Reading:
        """Nothing was played yet of this step; the habits are remembered."""
        return Reading(step, habits=self.habits)

    def parts(self, step: int) -> Sequence[Part]:
        """What it has for a step."""
        playing = () if self.playing is None else (self.playing,)
        return [part for part in (*self.over, *playing) if part.step == step]
