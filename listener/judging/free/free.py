"""Listening without a drill: every stroke gets a name, and the movement from the one before; what governs over them is
the harmony."""

from __future__ import annotations

from collections import deque
from collections.abc import Iterator, Mapping
from dataclasses import dataclass
from functools import cache, lru_cache
from math import inf

from listener.following.harmony import FILE_S, LIVE_S
from listener.following.pace import Timetable
from listener.hearing.cleaning import cleaned_json
from listener.hearing.ears import Ears
from listener.hearing.events import Message, Stroke
from listener.hearing.gathering import window_for
from listener.hearing.pickup import Pickup
from listener.hearing.take_file import AnyTake, Mark
from listener.judging.free.harmony import Harmony, HarmonyChord
from listener.judging.free.smoother import Smoother, Suggest
from listener.judging.free.stood import StandingChord, Stood
from listener.judging.marks import END, PAUSE, click_of, goes_on, in_order
from listener.judging.verdict import Verdict
from listener.music.meter import read_meter
from listener.music.movement import Movement, movement
from listener.music.naming import best_name
from listener.music.pitch import spell
from listener.music.voicing import Voicing


@dataclass(frozen=True, slots=True)
class HeardChord:
    """One stroke with its best name; ``chord``, ``kind`` and ``inversion`` are None when it has none.

    ``smoother`` is a voicing of the same chord that would have moved less, where there is one and it was asked for.
    """

    onset_s: float
    spread_ms: float
    pitches: tuple[int, ...]
    held: tuple[int, ...]
    names: tuple[str, ...]
    chord: str | None
    kind: str | None
    inversion: int | None
    movement: Movement | None
    smoother: Smoother | None = None

    def as_json(self) -> dict[str, object]:
        """A ``strokes`` entry of the ``hear`` contract."""
        return {
            "onset_s": self.onset_s,
            "spread_ms": self.spread_ms,
            "pitches": list(self.pitches),
            "held": list(self.held),
            "names": list(self.names),
            "chord": self.chord,
            "kind": self.kind,
            "inversion": self.inversion,
            "top": self.names[-1],
            "movement": self.movement.as_json() if self.movement else None,
            "smoother": self.smoother.as_json() if self.smoother else None,
        }


@dataclass(frozen=True)
class HeardTake:
    """All that was heard without a drill: every chord and single note in ``chords``, what governs over them in
    ``harmony``, each with its time. ``cleaned`` is how often each kind of the pickup's errors was set right.
    """

    chords: tuple[HeardChord, ...]
    harmony: tuple[HarmonyChord, ...]
    cleaned: Mapping[str, int]

    def as_json(self) -> dict[str, object]:
        """The ``hear`` contract without a drill."""
        return {
            "strokes": [chord.as_json() for chord in self.chords],
            "harmony": [chord.as_json() for chord in self.harmony],
            "cleaned": cleaned_json(self.cleaned),
        }


@dataclass(frozen=True, slots=True)
class _Said:
    """What a set of notes is called."""

    voicing: Voicing | None
    names: tuple[str, ...]
    chord: str | None = None
    kind: str | None = None
    inversion: int | None = None


@cache
def _plain_name(note: int) -> str:
    return str(spell(note))


@lru_cache(maxsize=8192)
def _said(pitches: tuple[int, ...]) -> _Said:
    """Players come back to their chords: most of what is heard has been heard before."""
    named = best_name(pitches)
    if named is None:
        return _Said(None, tuple(map(_plain_name, pitches)))
    best = named.voicing
    return _Said(best, best.names, best.chord.symbol, best.kind, best.inversion)


class FreeListener:
    """Strokes in, named chords out. What still rings belongs to the chord: a comped bass note often does."""

    def __init__(self, suggest: Suggest | None = None) -> None:
        self._suggest = suggest
        self._before: tuple[int, ...] | None = None

    def feed(self, stroke: Stroke) -> HeardChord:
        """Name one settled stroke."""
        pitches = stroke.struck_pitches
        held: tuple[int, ...] = ()
        if stroke.held:
            held = stroke.held_pitches
            pitches = tuple(sorted((*pitches, *held)))
        said = _said(pitches)
        before, self._before = self._before, pitches
        smoother = self._suggest(before, said.voicing) if self._suggest and before and said.voicing else None
        return HeardChord(
            stroke.onset_s,
            stroke.spread_ms if len(stroke.struck) > 1 else 0.0,
            pitches,
            held,
            said.names,
            said.chord,
            said.kind,
            said.inversion,
            movement(before, pitches) if before else None,
            smoother,
        )

    def jump(self) -> None:
        """What was heard before no longer counts as a neighbour."""
        self._before = None


class FreeJudge:
    """Messages and marks in order of time; named chords gather in ``chords``, those that stood and are over in
    ``stood``, but where nobody ``counts`` them. There are no verdicts. Without ``hindsight_s`` there is no harmony.
    ``beats_in_bar`` is for a click.

    It takes the place of :class:`listener.judging.take.TakeJudge` when there is no drill: the same calls, no steps.
    """

    step = 0
    next_unplayed = 0
    timetable: Timetable | None = None

    def __init__(
        self,
        pickup: Pickup,
        suggest: Suggest | None = None,
        hindsight_s: float | None = LIVE_S,
        beats_in_bar: int = 4,
        *,
        counts: bool = True,
    ) -> None:
        self._ears = Ears(pickup, window_for(None), keep_notes=hindsight_s is not None)
        self._harmony = Harmony(hindsight_s) if hindsight_s is not None else None
        self._beats_in_bar = beats_in_bar
        self._listener = FreeListener(suggest)
        self._standing = StandingChord() if counts else None
        self._paused = False
        self.chords: list[HeardChord] = []
        self.stood: list[Stood] = []

    @property
    def finished(self) -> bool:
        """Free listening ends when the player says so."""
        return False

    @property
    def sounding(self) -> tuple[int, ...]:
        """Not followed here: no target that it could be compared with."""
        return ()

    @property
    def cleaned(self) -> dict[str, int]:
        """How often each kind of the pickup's errors was set right: the kinds of :mod:`listener.hearing.cleaning`."""
        return self._ears.cleaned

    @property
    def harmony(self) -> tuple[HarmonyChord, ...]:
        """The chords that governed so far, each from when on; the last as it seems now."""
        return self._harmony.line if self._harmony is not None else ()

    def feed(self, message: Message) -> list[Verdict]:
        """One message."""
        strokes = self._ears.feed(message)
        if strokes:
            self.chords.extend(self._named(strokes, message.time_s))
        return []

    def tick(self, now_s: float) -> list[Verdict]:
        """Time has passed."""
        self.chords.extend(self._named(self._ears.tick(now_s), now_s))
        return []

    def mark(self, mark: Mark) -> list[Verdict]:
        """``pause``, ``step ...`` or ``click ...`` (go on), or ``end``."""
        self.tick(mark.time_s)
        if mark.word in (PAUSE, END) or goes_on(mark):
            self.chords.extend(self._named(self._ears.flush(), inf if mark.word == END else mark.time_s))
            if self._harmony is not None:
                self._harmony.rest(mark.time_s)
                if (anchor := click_of(mark)) is not None:
                    self._harmony.click(anchor.time_s, 60.0 / anchor.tempo, self._beats_in_bar)
            self._listener.jump()
            self._end()
            self._paused = mark.word == PAUSE
        return []

    def finish(self) -> list[HeardChord]:
        """No more messages will come; everything that was heard."""
        self.chords.extend(self._named(self._ears.flush(), inf))
        self._end()
        return self.chords

    def hear(self, take: AnyTake) -> Iterator[HeardChord]:
        """All that is heard in a take without marks, one after the other: none of it gathers in ``chords``."""
        for message in take.messages:
            strokes = self._ears.feed(message)
            if strokes:
                yield from self._named(strokes, message.time_s)
        yield from self._named(self._ears.flush(), inf)
        self._end()

    def _named(self, strokes: list[Stroke], now_s: float) -> list[HeardChord]:
        """What was heard until now; in a pause, nothing was."""
        notes = self._ears.notes()
        if self._paused:
            notes, strokes = [], []
        if self._harmony is not None:
            self._harmony.hear(notes, strokes, inf if now_s == inf else self._ears.known_s(now_s))
        if self._standing is not None:
            self.stood += filter(None, map(self._standing.feed, strokes))
        return [self._listener.feed(stroke) for stroke in strokes]

    def _end(self) -> None:
        """Nothing goes on from here: the chord that stood until now is over."""
        stood = self._standing.end() if self._standing is not None else None
        if stood is not None:
            self.stood.append(stood)


def stood_in(take: AnyTake, pickup: Pickup) -> list[Stood]:
    """Every chord that stood in a take of free listening, once for as long as it did."""
    judge = FreeJudge(pickup, hindsight_s=None)
    deque(heard_in(take, judge), maxlen=0)
    return judge.stood


def judge_of_file(take: AnyTake, pickup: Pickup, suggest: Suggest | None = None) -> FreeJudge:
    """Free listening to a take or file that is all there already: the harmony looks further ahead than it can live, and
    nobody counts which chords stood."""
    meter = read_meter(take.header.meter) if take.header is not None else None
    return FreeJudge(pickup, suggest, FILE_S, meter[0] if meter is not None else 4, counts=False)


def hear_freely(take: AnyTake, pickup: Pickup, suggest: Suggest | None = None) -> HeardTake:
    """A whole take, named; what was played while it was paused is left out."""
    judge = judge_of_file(take, pickup, suggest)
    chords = tuple(heard_in(take, judge))
    return HeardTake(chords, judge.harmony, judge.cleaned)


def heard_in(take: AnyTake, judge: FreeJudge) -> Iterator[HeardChord]:
    """Its chords, one after the other while the take is being heard: ``judge`` keeps none of them."""
    if not take.marks:
        yield from judge.hear(take)
        return
    chords = judge.chords
    for entry in in_order(take):
        judge.mark(entry) if isinstance(entry, Mark) else judge.feed(entry)
        if chords:
            yield from chords
            chords.clear()
    yield from judge.finish()
