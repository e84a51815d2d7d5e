"""Telling the typical errors of pickups from notes: a stage between notes and gathering.

Notes that nothing speaks against pass unchanged and at once. What happens to the others:

- **Ghost notes.** A note much softer than what sounds, or than the player usually is, waits until it has outlived every
  ghost. If it ends before, neither its beginning nor its end is passed on. If it lives, it is passed on with its own
  onset (:attr:`~listener.hearing.events.NoteOn.sure_s` says when that was). Ghosts appear an octave or a twelfth above
  a sounding note, on its neighbours, or on a string that was let go, but the note that causes one is often known only
  after it: so a soft and short note is a ghost wherever it appears.
- **Glitches.** Another pitch on the same string within a moment corrects the first: the gatherer folds both into one
  note. Where strings are not told apart, a note that ended within a moment and was followed at once by one a semitone
  or a harmonic away is marked as corrected (:attr:`~listener.hearing.events.NoteOn.instead_of`).
- **Double triggers.** The same pitch on the same string within a moment: folded by the gatherer.
- **Notes that ring over.** A note that never ends is ended when no string could sound any longer.

Notes that die early, and notes that were sent an octave high, can only be told by what was meant; see
:mod:`listener.judging.doubt`. Every rule's numbers are in ``shared/pickups.toml``; everything that was set right is
counted. Decisions depend on the times of notes alone, in ticks of the take's grid, never on how often
:meth:`Cleaner.tick` is called. The raw take keeps every message.
"""

from __future__ import annotations

from collections import Counter, deque
from collections.abc import Mapping
from dataclasses import dataclass, fields, replace
from functools import lru_cache
from math import inf
from operator import itemgetter
from statistics import median
from typing import Any, Final

from listener.data import shared_table
from listener.hearing.events import TICK_US, NoteEvent, NoteOff, NoteOn, ticks
from listener.hearing.pickup import Pickup

GHOST: Final = "ghost note"
DOUBLE: Final = "double trigger"
OCTAVE_GLITCH: Final = "octave glitch"
SEMITONE_GLITCH: Final = "semitone glitch"
RANG_OVER: Final = "note that rang over"
DIED_EARLY: Final = "note that died early"
OCTAVE_HIGH: Final = "note sent an octave high"

#: How each is spoken of: plural, and what was done about it.
_WORDS: Final = {
    GHOST: ("ghost notes", "ignored"),
    DOUBLE: ("double triggers", "ignored"),
    OCTAVE_GLITCH: ("octave glitches", "corrected"),
    SEMITONE_GLITCH: ("semitone glitches", "corrected"),
    RANG_OVER: ("notes that rang over", "ended"),
    DIED_EARLY: ("notes that died early", "counted as held"),
    OCTAVE_HIGH: ("notes sent an octave high", "taken as meant"),
}

#: The player's usual loudness is the median of so many notes (our choice: four chords).
_MEMORY: Final = 16
#: Between neighbours in loudness the middle one is looked up anew after so many notes.
_RENEW: Final = 4

#: A string, or a pitch where strings are not told apart.
_Place = tuple[int | None, int]


@dataclass(frozen=True)
class CleaningRules:
    """The numbers of ``shared/pickups.toml``, explained there."""

    ghost_share: float
    ghost_velocity: int
    ghost_ms: float
    recent_ms: float
    retrigger_ms: float
    glitch_ms: float
    glitch_intervals: tuple[int, ...]
    gap_ms: float
    longest_ring_s: float
    settle_ms: float
    patience_ms: float


@lru_cache(maxsize=64)
def cleaning_rules(pickup: Pickup) -> CleaningRules:
    """The rules of a profile: those for all, with what its own table says differently."""
    rows: dict[str, Any] = {**shared_table("pickups")["cleaning"], **dict(pickup.cleaning)}
    known = {field.name for field in fields(CleaningRules)}
    values: dict[str, Any] = {name: value for name, value in rows.items() if name in known}
    return CleaningRules(**{**values, "glitch_intervals": tuple(values["glitch_intervals"])})


def counted_words(counts: Mapping[str, int]) -> tuple[str, ...]:
    """What was set right, for people.

    >>> counted_words({GHOST: 14, DOUBLE: 1, RANG_OVER: 0})
    ('14 ghost notes ignored', '1 double trigger ignored')
    """
    said = []
    for kind, (plural, done) in _WORDS.items():
        count = counts.get(kind, 0)
        if count:
            said.append(f"{count} {kind if count == 1 else plural} {done}")
    return tuple(said)


@dataclass(slots=True)
class _Ringing:
    """A note that sounds: its event, the tick of its onset, and whether it still has to live to be believed."""

    note: NoteOn
    onset: int
    doubtful: bool = False


class Cleaner:
    """Feed it notes in order of time, get notes."""

    def __init__(self, pickup: Pickup) -> None:
        rules = cleaning_rules(pickup)
        self._rules = rules
        self._strings = pickup.tells_strings
        self._ghost = ticks(rules.ghost_ms / 1000)
        self._recent = ticks(rules.recent_ms / 1000)
        self._retrigger = ticks(rules.retrigger_ms / 1000)
        self._glitch = ticks(rules.glitch_ms / 1000)
        self._gap = ticks(rules.gap_ms / 1000)
        self._longest = ticks(rules.longest_ring_s)
        self._ringing: dict[_Place, _Ringing] = {}
        #: The newest note of each place that is over: note, tick of its onset and of its end.
        self._ended: dict[_Place, tuple[NoteOn, int, float]] = {}
        #: The last places whose note was as short as a glitch, where strings are not told apart.
        self._short: deque[_Place] = deque(maxlen=6)
        self._doubtful: dict[_Place, _Ringing] = {}
        self._loudness: deque[int] = deque(maxlen=_MEMORY)
        self._usual = 0.0
        self._since_renewed = 0
        #: Before this tick nothing becomes certain and nothing has rung too long.
        self._due: float = inf
        #: Everything that began before now is known for certain from this tick on; in the past when it is already.
        self.certain_tick = 0
        self._short_until = -1
        #: How often each kind of error was set right.
        self.counts: Counter[str] = Counter()

    @property
    def due_s(self) -> float:
        """Before this time :meth:`tick` has nothing to say."""
        return self._due * TICK_US / 1_000_000

    def feed(self, event: NoteEvent) -> list[NoteEvent]:
        """What became certain before this note, and this note if it is."""
        now = ticks(event.time_s)
        found = self.tick(event.time_s) if self._due <= now else None
        own = self._end(event, now) if isinstance(event, NoteOff) else self._begin(event, now)
        return found + own if found else own

    def tick(self, now_s: float) -> list[NoteEvent]:
        """Notes that have lived long enough by now, and the ends of those that rang over."""
        now = inf if now_s == inf else ticks(now_s)
        if self._due > now:
            return []
        found: list[tuple[int, NoteEvent]] = []
        for place, doubt in list(self._doubtful.items()):
            sure = doubt.onset + self._ghost
            if sure <= now:
                del self._doubtful[place]
                doubt.doubtful = False
                doubt.note = replace(doubt.note, sure_s=_seconds(sure))
                self._remember(doubt.note)
                found.append((sure, doubt.note))
        if now != inf:
            found.extend(self._over(int(now)))
        self._due = min(
            min((doubt.onset + self._ghost for doubt in self._doubtful.values()), default=inf),
            min((ringing.onset + self._longest for ringing in self._ringing.values()), default=inf),
        )
        return [event for _, event in sorted(found, key=itemgetter(0))]

    def _over(self, now: int) -> list[tuple[int, NoteEvent]]:
        found: list[tuple[int, NoteEvent]] = []
        for place, ringing in list(self._ringing.items()):
            end = ringing.onset + self._longest
            if end <= now:
                note = ringing.note
                del self._ringing[place]
                self.counts[RANG_OVER] += 1
                found.append((end, NoteOff(_seconds(end), note.pitch, note.string)))
        return found

    def _begin(self, note: NoteOn, now: int) -> list[NoteEvent]:
        place = _place(note)
        before = self._ended.get(place)
        again = before is not None and now - before[1] < self._retrigger
        same = again and before is not None and before[0].pitch == note.pitch
        doubtful = not same and note.velocity < self._rules.ghost_velocity and self._is_faint(note, now)
        ringing = self._ringing[place] = _Ringing(note, now, doubtful)
        if doubtful:
            self._doubtful[place] = ringing
            self.certain_tick = max(self.certain_tick, now + self._ghost)
            self._due = min(self._due, now + self._ghost)
            return []
        self._due = min(self._due, now + self._longest)
        if again and before is not None:
            self._count_correction(note.pitch - before[0].pitch)
            ringing.onset = before[1]
        elif not self._strings:
            note = self._corrected(note, now)
            ringing.note = note
        self._remember(note)
        return [note]

    def _count_correction(self, interval: int) -> None:
        kind = DOUBLE if interval == 0 else SEMITONE_GLITCH if abs(interval) <= 2 else OCTAVE_GLITCH
        self.counts[kind] += 1

    def _corrected(self, note: NoteOn, now: int) -> NoteOn:
        """Marked as the correction of a note that has just ended, if it is one."""
        if now > self._short_until:
            return note
        for place in self._short:
            earlier, _, end = self._ended.get(place, (note, now, -inf))
            interval = note.pitch - earlier.pitch
            if now - end <= self._gap and interval in self._rules.glitch_intervals:
                self._count_correction(interval)
                del self._ended[place]
                return replace(note, instead_of=earlier.pitch)
        return note

    def _end(self, event: NoteOff, now: int) -> list[NoteEvent]:
        place = _place(event)
        ringing = self._ringing.get(place)
        if ringing is None or ringing.note.pitch != event.pitch:
            return []
        del self._ringing[place]
        if ringing.doubtful:
            del self._doubtful[place]
            self.certain_tick = max((each.onset + self._ghost for each in self._doubtful.values()), default=now)
            self.counts[GHOST] += 1
            return []
        self._ended[place] = (ringing.note, ringing.onset, now)
        if not self._strings and now - ringing.onset <= self._glitch:
            self._short.append(place)
            self._short_until = now + self._gap
        return [event]

    def _is_faint(self, note: NoteOn, now: int) -> bool:
        """Much softer than what may have caused it as a ghost."""
        loudest = max((cause.velocity for cause in self._causes(now)), default=0)
        return note.velocity < self._rules.ghost_share * max(loudest, self._usual)

    def _causes(self, now: int) -> list[NoteOn]:
        """What sounds or has just ended."""
        causes = [ringing.note for ringing in self._ringing.values() if not ringing.doubtful]
        return causes + [note for note, _, end in self._ended.values() if now - end <= self._recent]

    def _remember(self, note: NoteOn) -> None:
        self._loudness.append(note.velocity)
        self._since_renewed += 1
        if self._since_renewed >= _RENEW or len(self._loudness) <= _RENEW:
            self._since_renewed = 0
            self._usual = float(median(self._loudness))


def _seconds(tick: int) -> float:
    return tick * TICK_US / 1_000_000


def _place(note: NoteOn | NoteOff) -> _Place:
    return (note.string, 0) if note.string is not None else (None, note.pitch)
