"""From what sounded to chords, as they were played: which strokes are one chord, and what is none.

Nothing is expected here. A chord is what sounds together on strings of its own: plucked or strummed at once, with what
still rings of the chord before, or broken, one string after the other while the others ring on. Struck again and again
it is one chord. Single notes are none, however many; they are said with their place in time. So is every note that was
taken out of a chord because it cannot have been meant, such as one that sounded for a moment only.

Which chords stood (:mod:`listener.judging.free.stood`) is told by another rule and has to be: here it is known how long
every note rings, and a voice that moves over a chord is written down, there voicings are counted while they are played,
and a tune over one is none.
"""

from __future__ import annotations

from bisect import bisect_right
from collections import defaultdict
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, field, replace
from math import inf
from operator import attrgetter
from typing import Final

from listener.drill.making.played import PlayedChord, PlayedNote, Unclear
from listener.following.harmony import FILE_S
from listener.hearing.ears import Ears
from listener.hearing.events import Message, NoteOn, Place, Stroke, low_to_high, place_of
from listener.hearing.gathering import RETRIGGER_S
from listener.hearing.pickup import Pickup
from listener.hearing.plucks import Plucks
from listener.hearing.rings import Ring, Rings
from listener.judging.free.harmony import Harmony, HarmonyChord
from listener.judging.free.stood import FEWEST
from listener.music.pitch import spell

#: A note shorter than this among longer ones is an error of the pickup (our choice; see shared/pickups.toml).
_BRIEF_S: Final = 0.06
_LONGER_S: Final = 0.15
#: What rings on for so long after a stroke belongs to its chord (our choice; the simulated player lets it ring for a
#: quarter of a second at least).
_HELD_S: Final = 0.2
#: Strings that were let go so long before a stroke were let go by the hand, not by being struck again.
_LET_GO_S: Final = 0.01
#: Strings that a hand lets go stop within so many seconds of each other, and so long before the next chord at most.
_TOGETHER_S: Final = 0.08
_LEFT_S: Final = 0.45
#: Where most strings have died away, so many of the chord have to be struck again.
_MOST_OF_IT: Final = 0.6
#: A chord that is rolled: between neighbouring strings, and from its first to its last.
_ROLL_GAP_S: Final = 0.15
_LONGEST_ROLL_S: Final = 0.7
#: What sounds for so long after a string was plucked had not been let go before.
_STILL_S: Final = 0.03
#: A chord that is broken sounds as a whole for so long at least; notes that only overlap are a tune that was slurred.
_WHOLE_S: Final = 0.2
#: One new note over a chord that rings is a chord of its own when it stays for so long; a quicker one is a fill.
_STAYS_S: Final = 0.25
#: The same over a single note that rings, which a tune may do, too.
_PAIR_STAYS_S: Final = 0.4
#: The same chord again within so many seconds is one chord, whatever part of it was struck meanwhile.
_AGAIN_S: Final = 1.0
#: Single notes this near to each other are said in one breath, and so many of them by name.
_ONE_BREATH_S: Final = 3.0
_NAMED: Final = 8


@dataclass(frozen=True)
class Transcript:
    """The chords in order, what became of none, the harmony over all of it, and how often each kind of the pickup's
    errors was set right."""

    chords: tuple[PlayedChord, ...]
    unclear: tuple[Unclear, ...]
    harmony: tuple[HarmonyChord, ...]
    cleaned: dict[str, int]


@dataclass(slots=True)
class _Note:
    """A note that was struck: when it began, in seconds at the string, and when it stopped sounding (infinity where it
    still does)."""

    place: Place
    pitch: int
    string: int | None
    on_s: float
    off_s: float

    @property
    def key(self) -> tuple[Place, int]:
        """Where it sounds, and what."""
        return self.place, self.pitch


@dataclass(slots=True)
class _Step:
    """A chord that is being gathered: its ``notes`` by place, as they sounded last, and the pitches that were struck
    for it in their ``sequence``. ``held`` is how many notes rang on into it, ``held_of_step`` whether a chord had them;
    it is ``small`` as long as it is struck a note or two at a time, and has been ``whole`` when all of it sounded at
    once. ``newest`` are the notes of its last stroke, at ``last_s``.
    """

    notes: dict[Place, _Note]
    strokes: list[float]
    held: int
    held_of_step: bool
    small: bool
    newest: set[tuple[Place, int]] = field(default_factory=set)
    whole: bool = False
    last_s: float = 0.0
    end_s: float = 0.0
    sequence: list[int] = field(default_factory=list)

    @property
    def keys(self) -> set[tuple[Place, int]]:
        return {note.key for note in self.notes.values()}


def transcribed(messages: Iterable[Message], pickup: Pickup) -> Transcript:
    """All chords of a take, or of a part of one; messages in order of time."""
    rings = Rings(Plucks(pickup), None)
    ears = Ears(pickup, keep_notes=True, rings=rings)
    strokes = [stroke for message in messages for stroke in ears.feed(message)] + ears.flush()
    harmony = Harmony(FILE_S)
    harmony.hear(ears.notes(), strokes, inf)
    writer = _Writer(pickup)
    for struck in _struck(strokes, rings):
        writer.stroke(struck)
    chords, unclear = writer.finished()
    return Transcript(tuple(chords), tuple(unclear), harmony.line, ears.cleaned)


def _struck(strokes: Sequence[Stroke], rings: Rings) -> list[list[_Note]]:
    """The notes of settled strokes with their ends. What the pickup took back after the stroke ended at once."""
    rung: dict[Place, list[Ring]] = defaultdict(list)
    for ring in rings.read(rings.taken(0.0), None):
        rung[place_of(ring)].append(ring)

    def end_s(note: NoteOn) -> float:
        there = rung[place_of(note)]
        after = bisect_right(there, note.time_s, key=attrgetter("onset_s"))
        near = there[max(0, after - 1) : after + 1]
        nearest = min(near, key=lambda ring: abs(ring.onset_s - note.time_s), default=None)
        known = nearest is not None and abs(nearest.onset_s - note.time_s) <= RETRIGGER_S
        return nearest.end_s if nearest is not None and known else note.time_s

    return [
        [_Note(place_of(note), note.pitch, note.string, note.time_s, end_s(note)) for note in stroke.struck]
        for stroke in strokes
    ]


class _Writer:
    """Gathers strokes, in order of time, into chords."""

    def __init__(self, pickup: Pickup) -> None:
        self._strings = pickup.tells_strings
        self._sounding: list[_Note] = []
        self._step: _Step | None = None
        #: The places and pitches of the last chord that was one.
        self._last: set[tuple[Place, int]] = set()
        self._chords: list[PlayedChord] = []
        self._unclear: list[Unclear] = []
        self._single: list[tuple[float, float, int]] = []

    def stroke(self, struck: list[_Note]) -> None:
        """One stroke more."""
        struck = self._without_errors(struck)
        if not struck:
            return
        first_s, last_s = struck[0].on_s, max(note.on_s for note in struck)
        self._sounding = [note for note in self._sounding if note.off_s > first_s - _LET_GO_S]
        places = {note.place for note in struck}
        step = self._step
        if step is not None and self._is_rolled(step, struck, first_s):
            self._add(step, struck)
        elif step is not None and self._goes_on(step, struck, first_s):
            step.strokes.append(first_s)
            step.small = step.small and len(struck) <= 2
            self._add(step, struck)
        else:
            single = self._close(first_s)
            held = [note for note in self._sounding if note.place not in places and note.off_s >= last_s + _HELD_S]
            bass = self._bass(step, struck, held) if single and step is not None else []
            self._single = self._single[: len(self._single) - len(bass)]
            self._step = _Step(
                {note.place: note for note in held},
                [*bass, first_s],
                held=len(held),
                held_of_step=all(note.key in self._last for note in held),
                small=len(struck) <= 2,
                end_s=max((note.off_s for note in held), default=first_s),
            )
            self._add(self._step, struck)
        for note in self._sounding:
            if note.place in places:
                note.off_s = min(note.off_s, last_s)
        self._sounding = [note for note in self._sounding if note.place not in places] + struck
        step = self._step
        if step is not None:
            step.whole = step.whole or self._ringing(step, last_s + _WHOLE_S) == step.keys

    def finished(self) -> tuple[list[PlayedChord], list[Unclear]]:
        """Nothing more was played."""
        self._close(inf)
        self._say_single()
        return self._chords, sorted(self._unclear, key=lambda one: one.from_s)

    def _bass(self, before: _Step, struck: Sequence[_Note], held: Sequence[_Note]) -> list[float]:
        """The strokes of strings that were plucked by themselves and begin the chord that follows: they ring on into
        it, or it is the chord before once more and they are strings of that."""
        again = before.keys | {note.key for note in struck} <= self._last
        return before.strokes if again or before.keys <= {note.key for note in held} else []

    def _without_errors(self, struck: list[_Note]) -> list[_Note]:
        """Without what sounded for a moment only, beside what sounds for longer."""
        longer = any(note.off_s - note.on_s >= _LONGER_S for note in struck) or bool(self._sounding)
        kept = []
        for note in struck:
            length_s = note.off_s - note.on_s
            if longer and length_s < _BRIEF_S:
                what = (
                    f"{spell(note.pitch)} sounded for {1000 * length_s:.0f} ms only: taken for an error of the pickup"
                )
                self._unclear.append(Unclear(note.on_s, note.off_s, (note.pitch,), what))
            else:
                kept.append(note)
        return kept

    @staticmethod
    def _add(step: _Step, struck: Sequence[_Note]) -> None:
        """A stroke's notes to its chord."""
        step.whole = step.whole and all(note.place in step.notes for note in struck)
        step.notes.update((note.place, note) for note in struck)
        step.sequence += [note.pitch for note in struck]
        step.newest = {note.key for note in struck}
        step.last_s = max(note.on_s for note in struck)
        step.end_s = max(step.end_s, *(note.off_s for note in struck))

    def _is_rolled(self, step: _Step, struck: Sequence[_Note], now_s: float) -> bool:
        """Whether a stroke is the rest of one that is rolled: more strings, soon after, and all of it rings on."""
        soon = now_s - step.last_s <= _ROLL_GAP_S and now_s - step.strokes[-1] <= _LONGEST_ROLL_S
        if not soon or any(note.place in step.notes for note in struck):
            return False
        return step.newest <= self._ringing(step, now_s + _WHOLE_S)

    def _goes_on(self, step: _Step, struck: Sequence[_Note], now_s: float) -> bool:
        """Whether a stroke belongs to the chord that was played last: it is struck again, or broken."""
        fresh = {note.key for note in struck}
        if fresh <= step.keys:
            return fresh | self._ringing(step, now_s + _LET_GO_S) == step.keys or self._is_held(step, fresh, now_s)
        places = {place for place, _ in fresh - step.keys}
        if not step.small or len(struck) > 2 or places & step.notes.keys():
            return False
        # A voice that was let go, and one that is struck elsewhere: that is a voice that moved.
        if not step.newest <= self._ringing(step, now_s + _STILL_S):
            return False
        # Where strings are not told apart, a note that has ended may have been replaced by this one.
        return self._strings or len(self._ringing(step, now_s - _LET_GO_S)) == len(step.notes)

    def _is_held(self, step: _Step, fresh: set[tuple[Place, int]], now_s: float) -> bool:
        """Whether the hand still holds a chord of which some strings are struck again."""
        if step.small:  # picked: another of its strings rings on
            return bool(self._ringing(step, now_s + _STILL_S) - fresh)
        ringing = len(self._ringing(step, now_s - _LET_GO_S))
        if 2 * ringing >= len(step.notes):
            return True
        most = len(fresh) >= _MOST_OF_IT * len(step.notes)
        return ringing > 0 and most and not _let_go(step, now_s)

    def _ringing(self, step: _Step, at_s: float) -> set[tuple[Place, int]]:
        """The notes of a chord that sound after this time."""
        return {note.key for note in self._sounding if note.key in step.keys and note.off_s > at_s}

    def _close(self, now_s: float) -> bool:
        """What was being gathered is over, for something else begins; whether it was single notes."""
        step, self._step = self._step, None
        if step is None:
            return False
        # With no stroke of several strings it was built up one by one, or only one voice moved.
        single = len(step.sequence) == len(step.strokes)
        if single and not self._is_chord(step, min(now_s, step.end_s)):
            end_s = min(step.end_s, now_s)
            self._single += [(at_s, end_s, pitch) for at_s, pitch in zip(step.strokes, step.sequence, strict=True)]
            return True
        self._say_single()
        notes = sorted(step.notes.values(), key=low_to_high)
        end_s = min(step.end_s, now_s)
        played = PlayedChord(
            tuple(PlayedNote(note.pitch, note.string) for note in notes),
            tuple(step.strokes),
            step.strokes[-1] if end_s == inf else end_s,
        )
        before = self._chords[-1] if self._chords else None
        if before is not None and before.notes == played.notes and played.onset_s - before.end_s <= _AGAIN_S:
            played = replace(played, strokes=before.strokes + played.strokes)
            self._chords.pop()
        self._chords.append(played)
        self._last = step.keys
        return False

    def _is_chord(self, step: _Step, end_s: float) -> bool:
        """Whether single notes make a chord: broken, or with what rings on of the chord before."""
        # Two that overlap are a tune that was slurred.
        if len(step.notes) >= FEWEST and len(step.strokes) > 1 and step.whole:
            return True
        stays_s = end_s - step.strokes[0]
        if step.held > 1:
            return stays_s >= _STAYS_S
        return step.held == 1 and step.held_of_step and stays_s >= _PAIR_STAYS_S

    def _say_single(self) -> None:
        """Say the single notes that were played, those near each other in one line."""
        run: list[tuple[float, float, int]] = []
        for note in self._single:
            if run and note[0] - run[-1][0] > _ONE_BREATH_S:
                self._unclear.append(_single_notes(run))
                run = []
            run.append(note)
        if run:
            self._unclear.append(_single_notes(run))
        self._single = []


def _let_go(step: _Step, now_s: float) -> bool:
    """Whether the hand has just left a chord: several strings stopped together; those that die away do so singly."""
    ended = [note.off_s for note in step.notes.values() if note.off_s <= now_s - _LET_GO_S]
    last_s = max(ended, default=-inf)
    return sum(end_s >= last_s - _TOGETHER_S for end_s in ended) > 1 and now_s - last_s <= _LEFT_S


def _single_notes(run: Sequence[tuple[float, float, int]]) -> Unclear:
    pitches = tuple(pitch for _, _, pitch in run)
    names = " ".join(str(spell(pitch)) for pitch in pitches[:_NAMED])
    more = f" and {len(pitches) - _NAMED} more" if len(pitches) > _NAMED else ""
    what = "a single note" if len(pitches) == 1 else "single notes"
    end_s = max(end_s for _, end_s, _ in run)
    return Unclear(run[0][0], run[-1][0] if end_s == inf else end_s, pitches, f"{what}, {names}{more}: left out")
