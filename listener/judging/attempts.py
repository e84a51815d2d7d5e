"""What somebody does at one step, as a teacher counts it: attempts.

- A chord that is rolled or broken until all of it was played, and nothing else, was played.
- Struck again, or picked on, it is the same chord: nothing more is said. So is a wrong one that is struck again.
- Single strings before a whole chord are trying the grip, and a foreign string before the first tone is a stray:
  neither is an attempt. Nor is, with the click, what leads in to a chord before it is due.
- Another chord after a wrong one is the next attempt; put right within :data:`GRACE_S` it was right at once.
- A tone hammered on, or pulled off, within :data:`ORNAMENT_S` is the tone that it arrives at.

Pure: a :class:`Visit` never changes, it has a successor.
"""

from __future__ import annotations

from collections.abc import Callable, Collection, Iterable, Sequence
from dataclasses import dataclass, replace
from itertools import chain, pairwise
from math import inf
from operator import attrgetter
from typing import Final

from listener.hearing.events import NoteOn, Stroke
from listener.judging.joining import (
    IN_RHYTHM,
    SAME_STRUM_S,
    STEP,
    in_time_of,
    is_roll,
    joined_with,
    last_s,
    may_come_next,
    ornamented,
    rest_of,
    roll_goes_on,
    stopped_before,
    wait_s,
    waits_of,
    without_held,
)

#: Put right so soon after its last note, a chord counts as played right at once (our choice: sooner than the ear has
#: told the hand; no chord of the measured take followed another within 200 ms).
GRACE_S: Final = 0.200
#: A string plucked again so long after the attempt began is a new round (our choice).
_NEW_ROUND_S: Final = 0.300
#: So many notes are an attempt at a chord, however wrong (our choice: two may be noodling).
_HANDFUL: Final = 3
#: How far a slip is from the tone that was meant (semitones).
_LIKE: Final = (1, 2, 12, 24)
#: A hand on its way to a chord may sound open strings so long before it (our choice).
_ON_ITS_WAY_S: Final = 0.400
#: What was struck so long ago and has gone is no beginning of what comes now (our choice).
_FORGOTTEN_S: Final = 1.0
_ONSET: Final = attrgetter("onset_s")

#: Whether a stroke is right for the step.
IsRight = Callable[[Stroke], bool]


@dataclass(frozen=True, slots=True)
class Visit:
    """What was played at one step without leaving it.

    ``tones`` are the pitches (MIDI) that the step's chord may have, ``count`` how many its plan has. With the click
    ``due_s`` is when the chord may begin: what comes before, and is not right, only leads in to one that comes in time.
    ``shared`` are tones that the chord before has too, ``opens`` the open strings. ``one_by_one`` where the drill asks
    for arpeggios: there a note above a chord is no tune.

    ``attempt`` are the notes of the attempt being made, as one stroke, None before the first and when it was told of;
    ``whole`` when several of them came at once. ``over`` are the attempts that are over, oldest first, and ``broken``
    those before them of single strings: they were trying the grip if a whole chord follows. ``wrong`` is what was
    struck in the last of all these. ``right`` once the attempt was right, ``sure`` when no next string can spoil it.
    ``anew_s`` is when a chord that is broken into its notes was last begun anew; ``wandered`` says that the player was
    elsewhere just before, and two notes may be the end of that. ``picks`` is somebody who mostly breaks chords into
    their notes.
    """

    step: int
    tones: frozenset[int]
    count: int
    due_s: float = -inf
    shared: frozenset[int] = frozenset()
    opens: frozenset[int] = frozenset()
    one_by_one: bool = False
    attempt: Stroke | None = None
    whole: bool = False
    over: tuple[Stroke, ...] = ()
    broken: tuple[Stroke, ...] = ()
    wrong: frozenset[int] = frozenset()
    right: bool = False
    sure: bool = False
    anew_s: float = -inf
    wandered: bool = False
    picks: bool = False

    def after(self, stroke: Stroke, is_right: IsRight) -> Visit:
        """With one more stroke at this step."""
        stroke = self._without_leaving(stroke, is_right)
        begun = self._begun_anew(stroke, is_right)
        if begun is not None:
            return begun
        if self.right:
            return self._after_right(stroke, is_right)
        before = self.attempt
        if before is not None and self._leads_in(before, stroke, is_right):
            return replace(self, attempt=None, whole=False)._begun(stroke, is_right)
        if before is None:
            return self._begun(stroke, is_right)
        meant = ornamented(before, stroke)
        return self._tried(before, stroke, is_right) if meant is None else self._begun(meant, is_right)

    def ended(self) -> Visit:
        """The attempt being made is over. The same wrong notes once more tell nothing new."""
        if self.attempt is None or not self._counts:
            return replace(self, attempt=None, whole=False)
        struck = frozenset(self.attempt.struck_pitches)
        found = replace(self, attempt=None, whole=False, wrong=struck)
        if struck <= self.wrong:
            return found
        meant = 2 * len(self.tones & struck) >= len(struck) or self._is_shifted(struck)
        if self.whole or (meant and is_roll(self.attempt)):
            return replace(found, over=(*self.over, self.attempt))
        return replace(found, broken=(*self.broken, self.attempt))

    def left(self) -> Visit:
        """The player has gone on: everything that was an attempt is over."""
        found = replace(self, sure=True) if self.right else self.ended()
        return replace(found, over=found._all_over(), broken=())

    def told(self) -> Visit:
        """All attempts that are over were told of, and so was one that is surely right."""
        return replace(self, over=(), attempt=None if self.sure else self.attempt)

    @property
    def lone(self) -> bool:
        """Nothing but one string was plucked."""
        return self.attempt is not None and len(self.attempt.struck_pitches) == 1

    @property
    def _is_anew(self) -> bool:
        """Whether there is a round before the one that is being played."""
        return self.attempt is not None and self.attempt.onset_s < self.anew_s <= last_s(self.attempt)

    def _this_round(self, before: Stroke) -> set[int]:
        """Pitches since the chord was begun anew."""
        return {note.pitch for note in before.struck if note.time_s >= self.anew_s} if self._is_anew else set()

    @property
    def _own_pace(self) -> bool:
        return self.due_s == -inf

    def passes_over(self, fill: bool) -> bool:
        """Whether the next stroke cannot matter: the attempt is surely right, or it is right and a fill follows that is
        not part of the same roll."""
        rolls = self.attempt is not None and is_roll(self.attempt)
        return self.sure or (fill and self.right and not rolls)

    @property
    def is_part(self) -> bool:
        """Not even as many notes as the chord has were plucked."""
        return self.attempt is None or len(self.attempt.struck_pitches) < self.count

    @property
    def _counts(self) -> bool:
        """Whether what was played so far is an attempt at all: a tone of the chord, a handful of notes, or as many one
        by one that are all near its tones, or one note over tones that ring on; a handful after noodling."""
        stroke = self.attempt
        if stroke is None:
            return False
        struck = stroke.struck_pitches
        if self.wandered and not (self.over or self.wrong or self._is_handful(stroke)):
            return False
        if not self.tones.isdisjoint(struck):
            return True
        if self._is_shifted(struck):
            return True
        if self.whole and self._is_handful(stroke):
            return True
        return not self.wrong and not self.tones.isdisjoint(stroke.held_pitches)

    def _begun_anew(self, stroke: Stroke, is_right: IsRight) -> Visit | None:
        """Broken again, and this time all of it: the round before, which lacked a string, was an attempt of its own.
        One begins anew with its first string out of the rhythm, with the string that was plucked last, or evenly where
        the bass comes again and then the rest together. String by string that may be an alternating bass, but for
        drills that ask for arpeggios."""
        before = self.attempt
        if before is None or self.sure or self.whole:
            return None
        bass = len(stroke.struck) > 1 and len(before.struck) > 2 and before.struck[-1].pitch == before.struck[0].pitch
        if not (self._is_anew or bass):
            return None
        anew_s = self.anew_s if self._is_anew else last_s(before)
        joined = joined_with(before, stroke)
        round_ = replace(joined, struck=tuple(note for note in joined.struck if note.time_s >= anew_s), held=())
        if not is_right(round_):
            return None
        fallen = replace(before, struck=tuple(note for note in before.struck if note.time_s < anew_s))
        return replace(self, attempt=fallen, right=False)._next(round_, is_right)

    def _after_right(self, stroke: Stroke, is_right: IsRight) -> Visit:
        """A chord broken into its notes can still be spoilt by a string that comes in its rhythm, and is no more than
        trying the grip when another chord follows."""
        before = self.attempt
        if before is None or self.sure:
            return self
        struck = set(stroke.struck_pitches)
        if len(struck) > 1 and is_right(stroke) and self._own_pace:
            return replace(self, attempt=stroke, whole=True, sure=True, broken=())
        goes_on = self.one_by_one or roll_goes_on(before, stroke)
        if goes_on and struck <= self.tones and struck.isdisjoint(before.struck_pitches):
            return replace(self, attempt=joined_with(before, stroke))  # its other strings, where some would have done
        fits = struck <= self.tones or is_right(stroke)
        if len(struck) > 1 and not is_roll(before):
            paused = self._own_pace and stopped_before(before, stroke)
            if not fits or (paused and not is_right(without_held(stroke, before))):
                return replace(self, attempt=stroke, whole=True, right=False, broken=())  # that was trying the grip
        if self._is_anew and len(struck) == 1 and struck <= self.tones - self._this_round(before):
            return replace(self, attempt=joined_with(before, stroke))  # it may still be all of it by itself
        if fits or len(struck) > 1:
            return self.surely()
        in_rhythm = wait_s(before, stroke) <= IN_RHYTHM * max(waits_of(before), default=0.0)
        meant = in_rhythm and not self._is_brushed(stroke.struck, before.struck)
        if meant and (self.one_by_one or may_come_next(before, stroke.struck[0].pitch)):
            return replace(self, attempt=joined_with(before, stroke), right=False)
        return self.surely()

    def _without_leaving(self, stroke: Stroke, is_right: IsRight) -> Stroke:
        """A stroke that is right but for open strings at its beginning that have gone: the hand sounded them."""
        gone = {(note.pitch, note.time_s) for note in stroke.gone if note.pitch in self.opens}
        first = next((at for at, note in enumerate(stroke.struck) if (note.pitch, note.time_s) not in gone), 0)
        if not first or is_right(stroke):
            return stroke
        rest = replace(stroke, struck=stroke.struck[first:])
        return rest if is_right(rest) else stroke

    def surely(self) -> Visit:
        """It is right, and nothing that follows can spoil it."""
        return replace(self, sure=True, over=self._all_over(), broken=())

    def _all_over(self) -> tuple[Stroke, ...]:
        """The attempts that are over. Single strings that were no more than trying the grip are none where it was right
        in the end, but of somebody who picks their chords."""
        if not (self.right and self._may_try):
            return _in_order(self.broken, self.over)
        return _in_order(tuple(one for one in self.broken if not self._tries(one)), self.over)

    @property
    def _may_try(self) -> bool:
        """Whether single strings may be no more than trying a grip."""
        return self._own_pace and not (self.picks or self.one_by_one)

    def _tries(self, stroke: Stroke) -> bool:
        """Whether single strings are those of somebody who tries a grip: one after the other over the strings, and each
        that is wrong is mended at once. Of two notes one may be all that came out."""
        tones, played = self.tones, [note.pitch for note in stroke.struck]
        right = [pitch for pitch in played if pitch in tones]
        mended = all(two in tones and 0 < abs(two - one) <= STEP for one, two in pairwise(played) if one not in tones)
        in_order = right in (sorted(right), sorted(right, reverse=True))
        return mended and played[-1] in tones and in_order and (len(played) > 1 or self.count > 2)

    @property
    def was_picked(self) -> bool:
        """Whether it was right in the end and broken into its notes, slower than a roll."""
        attempt = self.attempt
        return self.right and not self.whole and attempt is not None and not is_roll(attempt)

    def _leads_in(self, before: Stroke, stroke: Stroke, is_right: IsRight) -> bool:
        """What sounded before a chord was due, or open strings that a hand sounds on its way to a right one."""
        if before.onset_s < self.due_s <= stroke.onset_s:
            return True
        if self._is_part(before) or not set(before.struck_pitches) <= self.opens:
            return False
        return stroke.onset_s - before.onset_s < _ON_ITS_WAY_S and is_right(stroke)

    def _tried(self, before: Stroke, stroke: Stroke, is_right: IsRight) -> Visit:
        """After an attempt that is not right so far."""
        joined = joined_with(before, stroke)
        stopped = self._may_stop(before, stroke) and self._stopped(before, stroke)
        again = not set(stroke.struck_pitches).isdisjoint(before.struck_pitches)
        soon = wait_s(before, stroke) < GRACE_S
        chord = len(stroke.struck_pitches) > 1
        all_of_it = not (again and (self.whole or chord)) and is_right(joined)
        if all_of_it and (not stopped or is_right(joined_with(rest_of(before, stroke), stroke))):
            return self._begun(joined, is_right)
        if not self.whole:
            return self._broken(before, stroke, joined, is_right)
        if is_right(stroke):
            if not soon:
                return self._next(stroke, is_right)
            return replace(self._begun(stroke, is_right), attempt=in_time_of(before, stroke))
        if all_of_it:  # what it lacked, when of the rest something had died away
            return self._next(stroke, is_right) if _forgotten(before, stroke) else self._begun(joined, is_right)
        more = wait_s(before, stroke) < SAME_STRUM_S or not (self._own_pace or self._counts)
        if not again and (more or self._is_part(joined)):
            return replace(self, attempt=joined)
        if not chord or set(stroke.struck_pitches) <= set(before.struck_pitches):
            return self
        return self._next(stroke, is_right)

    def _may_stop(self, before: Stroke, stroke: Stroke) -> bool:
        """With the click a wait is mostly the pattern's."""
        return self._own_pace or _forgotten(before, stroke)

    def _stopped(self, before: Stroke, stroke: Stroke) -> bool:
        """Whether the player stopped in between. Of two notes one may be all that came out: when it has gone long ago,
        it was."""
        if self._own_pace and self.count == 2 and len(before.struck) == 1 and before.struck[0].pitch not in stroke.rang:
            return _forgotten(before, stroke)
        return stopped_before(before, stroke)

    def _broken(self, before: Stroke, stroke: Stroke, joined: Stroke, is_right: IsRight) -> Visit:
        """Single strings so far: a chord broken into its notes, or somebody who tries the grip."""
        paused = self._stopped(before, stroke)
        if len(stroke.struck_pitches) > 1 and is_roll(before) and paused:
            return self._next(stroke, is_right)
        alone = without_held(stroke, before)
        if is_right(alone):
            return self._begun(alone, is_right)
        if len(stroke.struck_pitches) > 1:
            kept = joined if self._is_part(joined) else stroke
            all_right = is_right(kept)
            return replace(self, attempt=kept, whole=True, broken=(), right=all_right, sure=all_right)
        pitch = stroke.struck[0].pitch
        right = self.tones.intersection(before.struck_pitches)
        if not right and pitch in self.tones and len(before.struck) == 1 and before.struck[0].pitch not in stroke.rang:
            return replace(self, attempt=stroke)  # a stray that has gone
        waits = waits_of(before)
        died_away = self._may_stop(before, stroke) and rest_of(before, stroke) != before
        full = len(before.struck_pitches) >= self.count > 1
        wrong = before.struck[-1].pitch
        mends = wrong not in self.tones and pitch in self.tones and abs(pitch - wrong) <= STEP
        if paused and (full or died_away) and not (mends and self._may_try and not is_roll(before)):
            return self._next(stroke, is_right)
        without = self._without_strays(joined)
        if self.count <= len(without.struck_pitches) < len(joined.struck_pitches) and is_right(without):
            return replace(self, attempt=without, right=True)
        first = before.struck[0].pitch
        if pitch == first and first in self.shared and self._is_part(before) and len(waits) > 0:
            # The first one was the last of the chord before.
            return replace(self, attempt=replace(joined, struck=joined.struck[1:]))
        if pitch in before.struck_pitches and stroke.onset_s - before.onset_s >= _NEW_ROUND_S:
            if paused or not self._is_part(before):
                return self._next(stroke, is_right)
            # An alternating bass goes on with its chord; a single string was only struck again.
            all_waits = [*waits, wait_s(before, stroke)]
            uneven = pitch == first and max(all_waits) > IN_RHYTHM * min(all_waits)
            turned = pitch == wrong and len(waits) > 1
            anew = (uneven or turned or self.one_by_one) and (not self._is_anew or pitch in self._this_round(before))
            anew_s = stroke.onset_s if anew else self.anew_s
            return replace(self, attempt=joined if waits else stroke, anew_s=anew_s)
        lacked = pitch in self.tones and 2 * len(right) >= self.count
        return self._next(stroke, is_right) if full and not lacked else replace(self, attempt=joined)

    def _begun(self, stroke: Stroke, is_right: IsRight) -> Visit:
        several = len(stroke.struck_pitches) > 1
        together = several and stroke.spread_ms < 1000 * SAME_STRUM_S
        whole = (self.whole and self.attempt is not None) or together
        right = is_right(stroke)
        at_once = together or not (several or self.broken or self.attempt is not None)
        found = replace(self, attempt=stroke, whole=whole, right=right, sure=right and at_once)
        return replace(found, broken=()) if whole else found

    def _next(self, stroke: Stroke, is_right: IsRight) -> Visit:
        """The attempt being made is over, and another begins with this stroke. Single strings that the chord before has
        too were that one, picked on."""
        before = self.attempt
        if before is not None and not self.whole and self.shared.issuperset(before.struck_pitches):
            return replace(self, attempt=None)._begun(stroke, is_right)
        return self.ended()._begun(stroke, is_right)

    def _without_strays(self, stroke: Stroke) -> Stroke:
        """Without foreign notes before the first tone of the chord; one that comes in the rhythm of the others, and is
        not only brushed, is one of them."""
        first = next((place for place, note in enumerate(stroke.struck) if note.pitch in self.tones), 0)
        rest = replace(stroke, struck=stroke.struck[first:])
        waits = waits_of(rest)
        if not first or not waits or self._is_brushed(stroke.struck[:first], rest.struck):
            return rest
        wait = rest.onset_s - stroke.struck[first - 1].time_s
        return stroke if min(waits) / IN_RHYTHM <= wait <= IN_RHYTHM * max(waits) else rest

    def _is_shifted(self, struck: Collection[int]) -> bool:
        """Several notes, each beside a tone of the chord or octaves away."""
        return len(struck) > 1 and all(self._is_like(pitch) for pitch in struck)

    def _is_like(self, pitch: int) -> bool:
        """A fret or two, or octaves, from a tone of the chord."""
        return any(abs(pitch - tone) in _LIKE for tone in self.tones)

    def _is_brushed(self, struck: Sequence[NoteOn], others: Sequence[NoteOn]) -> bool:
        """An open string that the chord does not have, softer than the softest of its others by more than those differ:
        nobody knows what a pickup makes of loudness. Of one note after the other as the drill asks for them each is
        meant."""
        if self.one_by_one or len(struck) > 1 or struck[0].pitch in self.tones or struck[0].pitch not in self.opens:
            return False
        loud = sorted(note.velocity for note in others)
        return len(loud) > 2 and struck[0].velocity < 2 * loud[0] - loud[-1]

    def _is_handful(self, stroke: Stroke) -> bool:
        return len(stroke.struck_pitches) >= min(_HANDFUL, self.count)

    def _is_part(self, stroke: Stroke) -> bool:
        """Nothing but tones of the chord: more of it may come."""
        return set(stroke.struck_pitches) <= self.tones


def dropped(before: Visit, after: Visit, strokes: Iterable[Stroke]) -> list[Stroke]:
    """What was played in ``before`` and these strokes and is in no attempt of ``after``, which came of them."""
    mine = [stroke for stroke in (*before.broken, before.attempt, *strokes) if stroke is not None]
    told = [stroke for stroke in (*after.over, *after.broken, after.attempt) if stroke is not None]
    then = {(note.time_s, note.pitch) for stroke in mine for note in stroke.struck}
    now = {(note.time_s, note.pitch) for stroke in told for note in stroke.struck}
    times_s = {time_s for time_s, _ in now}
    moved = {pitch for _, pitch in now - then}  # to the time of what it was put in the place of
    found = []
    for stroke in mine:
        rest = tuple(note for note in stroke.struck if note.time_s not in times_s and note.pitch not in moved)
        if rest:
            found.append(replace(stroke, struck=rest))
    return found


def _forgotten(before: Stroke, stroke: Stroke) -> bool:
    """Whether what was struck before is no beginning of this any more, unless it rings on."""
    return wait_s(before, stroke) > _FORGOTTEN_S


def _in_order(*attempts: tuple[Stroke, ...]) -> tuple[Stroke, ...]:
    """All of them, oldest first."""
    return tuple(sorted(chain(*attempts), key=_ONSET))
