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
from dataclasses import dataclass, fields
from functools import lru_cache
from math import inf
from operator import itemgetter
from statistics import median
from typing import Any, Final

from listener.data import shared_table
from listener.hearing.events import NoteEvent, NoteOff, NoteOn, Place, place_of, seconds, ticks
from listener.hearing.pickup import Pickup

GHOST: Final = "ghost note"
DOUBLE: Final = "double trigger"
OCTAVE_GLITCH: Final = "octave glitch"
SEMITONE_GLITCH: Final = "semitone glitch"
RANG_OVER: Final = "note that rang over"
OCTAVE_HIGH: Final = "note sent an octave high"

#: How each is spoken of: plural, and what was done about it.
_WORDS: Final = {
    GHOST: ("ghost notes", "ignored"),
    DOUBLE: ("double triggers", "ignored"),
    OCTAVE_GLITCH: ("octave glitches", "corrected"),
    SEMITONE_GLITCH: ("semitone glitches", "corrected"),
    RANG_OVER: ("notes that rang over", "ended"),
    OCTAVE_HIGH: ("notes sent an octave high", "taken as meant"),
}

#: The player's usual loudness is the median of so many notes (our choice: four chords).
_MEMORY: Final = 16
#: Between neighbours in loudness the middle one is looked up anew after so many notes.
_RENEW: Final = 4


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


def cleaned_json(counts: Mapping[str, int]) -> dict[str, int]:
    """How often each kind of the pickup's errors was set right, what never happened left out.

    >>> cleaned_json({"ghost note": 14, "double trigger": 0})
    {'ghost_note': 14}
    """
    return {kind.replace(" ", "_"): count for kind, count in sorted(counts.items()) if count}


class Cleaner:
    """Feed it notes in order of time, get notes."""

    def __init__(self, pickup: Pickup) -> None:
        rules = cleaning_rules(pickup)
        self._rules = rules
        self._strings = pickup.tells_strings
        #: A note that is not softer than this is no ghost.
        self._loud = rules.ghost_velocity
        self._ghost = ticks(rules.ghost_ms / 1000)
        self._recent = ticks(rules.recent_ms / 1000)
        self._retrigger = ticks(rules.retrigger_ms / 1000)
        self._glitch = ticks(rules.glitch_ms / 1000)
        self._gap = ticks(rules.gap_ms / 1000)
        self._longest = ticks(rules.longest_ring_s)
        #: What sounds, with the tick of its onset.
        self._ringing: dict[Place, tuple[NoteOn, int]] = {}
        #: The newest note of each place that is over: note, tick of its onset and of its end.
        self._ended: dict[Place, tuple[NoteOn, int, int]] = {}
        #: The last places whose note was as short as a glitch, where strings are not told apart.
        self._short: deque[Place] = deque(maxlen=6)
        #: What of it still has to live to be believed.
        self._doubtful: set[Place] = set()
        #: How loud the last notes were, and how many there were in all.
        self._loudness: deque[int] = deque(maxlen=_MEMORY + _RENEW)
        self._believed = 0
        #: Before this tick nothing becomes certain and nothing has rung too long.
        self._due: float = inf
        #: The same in seconds: before then :meth:`tick` has nothing to say.
        self.due_s = inf
        #: Everything that began before now is known for certain from this tick on; in the past when it is already.
        self.certain_tick = 0
        self._short_until = -1
        #: How often each kind of error was set right.
        self.counts: Counter[str] = Counter()

    @property
    def doubtful_since_s(self) -> float:
        """When the first of the notes that are in doubt began; infinity when none is."""
        return min((self._ringing[place][0].began_s for place in self._doubtful), default=inf)

    def feed(self, event: NoteEvent) -> list[NoteEvent]:
        """What became certain before this note, and this note if it is."""
        time_s = event.time_s
        now = ticks(time_s)
        found = self.tick(time_s) if self._due <= now else None
        if isinstance(event, NoteOn):
            own = self._begin(event, now)
        else:
            place = place_of(event)
            own = [event] if self._pass_end(place, event.pitch, now) else []
        return found + own if found else own

    def tick(self, now_s: float) -> list[NoteEvent]:
        """Notes that have lived long enough by now, and the ends of those that rang over."""
        now = inf if now_s == inf else ticks(now_s)
        if self._due > now:
            return []
        found: list[tuple[int, NoteEvent]] = []
        for place in [place for place in self._ringing if place in self._doubtful]:
            doubt, onset = self._ringing[place]
            sure = onset + self._ghost
            if sure <= now:
                self._doubtful.discard(place)
                note = doubt._replace(sure_s=seconds(sure))
                self._ringing[place] = (note, onset)
                self._loudness.append(note.velocity)
                self._believed += 1
                found.append((sure, note))
        if now != inf:
            found.extend(self._over(int(now)))
        self._becomes_due(
            min(
                min((self._ringing[place][1] + self._ghost for place in self._doubtful), default=inf),
                min((onset + self._longest for _, onset in self._ringing.values()), default=inf),
            )
        )
        return [event for _, event in sorted(found, key=itemgetter(0))]

    def _over(self, now: int) -> list[tuple[int, NoteEvent]]:
        found: list[tuple[int, NoteEvent]] = []
        for place, (note, onset) in list(self._ringing.items()):
            end = onset + self._longest
            if end <= now:
                del self._ringing[place]
                self.counts[RANG_OVER] += 1
                found.append((end, NoteOff(seconds(end), note.pitch, note.string)))
        return found

    def _begin(self, note: NoteOn, now: int) -> list[NoteEvent]:
        place = place_of(note)
        before = self._ended.get(place)
        again = before is not None and now - before[1] < self._retrigger
        if note.velocity < self._loud:
            same = again and before is not None and before[0].pitch == note.pitch
            if not same and self._is_faint(note, now):
                self._doubt(place, note, now)
                return []
        onset = now
        if again and before is not None:
            self._count_correction(note.pitch - before[0].pitch)
            onset = before[1]
        elif now <= self._short_until:
            note = self._corrected(note, now)
        self._believe(place, note, onset, now)
        return [note]

    def _believe(self, place: Place, note: NoteOn, onset: int, now: int) -> None:
        """A note begins that is none of the pickup's errors; ``onset`` is that of the note that it corrects."""
        self._ringing[place] = (note, onset)
        self._loudness.append(note.velocity)
        self._believed += 1
        due = now + self._longest
        if due < self._due:
            self._becomes_due(due)

    def _doubt(self, place: Place, note: NoteOn, now: int) -> None:
        sure = now + self._ghost
        self._ringing.pop(place, None)
        self._ringing[place] = (note, now)
        self._doubtful.add(place)
        self.certain_tick = max(self.certain_tick, sure)
        self._becomes_due(min(self._due, sure))

    def _becomes_due(self, tick: float) -> None:
        self._due = tick
        self.due_s = seconds(tick)

    def _count_correction(self, interval: int) -> None:
        kind = DOUBLE if interval == 0 else SEMITONE_GLITCH if abs(interval) <= 2 else OCTAVE_GLITCH
        self.counts[kind] += 1

    def _corrected(self, note: NoteOn, now: int) -> NoteOn:
        """Marked as the correction of a note that has just ended, if it is one."""
        for place in self._short:
            earlier, _, end = self._ended.get(place, (note, now, -inf))
            interval = note.pitch - earlier.pitch
            if now - end <= self._gap and interval in self._rules.glitch_intervals:
                self._count_correction(interval)
                del self._ended[place]
                return note._replace(instead_of=earlier.pitch)
        return note

    def _pass_end(self, place: Place, pitch: int, now: int) -> bool:
        """Whether the end of a note is passed on: not if nobody knows of the note."""
        ringing = self._ringing.get(place)
        if ringing is None or ringing[0].pitch != pitch:
            return False
        del self._ringing[place]
        note, onset = ringing
        if place in self._doubtful:
            self._doubtful.discard(place)
            self.certain_tick = max((self._ringing[each][1] + self._ghost for each in self._doubtful), default=now)
            self.counts[GHOST] += 1
            return False
        self._ended[place] = (note, onset, now)
        if not self._strings and now - onset <= self._glitch:
            self._short.append(place)
            self._short_until = now + self._gap
        return True

    def _is_faint(self, note: NoteOn, now: int) -> bool:
        """Much softer than what may have caused it as a ghost."""
        loudest = max((cause.velocity for cause in self._causes(now)), default=0)
        return note.velocity < self._rules.ghost_share * max(loudest, self._usual())

    def _causes(self, now: int) -> list[NoteOn]:
        """What sounds or has just ended."""
        causes = [note for place, (note, _) in self._ringing.items() if place not in self._doubtful]
        return causes + [note for note, _, end in self._ended.values() if now - end <= self._recent]

    def _usual(self) -> float:
        """The player's usual loudness. It is seldom asked for, so it is not kept up with every note; what it was after
        the last note at which it is renewed, is what the notes until then say."""
        since = self._believed % _RENEW if self._believed > _RENEW else 0
        known = list(self._loudness)[: len(self._loudness) - since]
        return float(median(known[-_MEMORY:])) if known else 0.0
