"""How the pattern of a step was played: which places fell out or came too many, how even they are, and which way.

The chord is judged elsewhere and never by this. Accents and rests are not judged. How strokes are laid on places is
:mod:`listener.judging.pattern.fit`'s.
"""

from __future__ import annotations

from bisect import bisect_left
from collections import Counter
from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from statistics import pstdev
from typing import Final

from listener.hearing.events import NoteOn, Stroke
from listener.judging.pattern.fit import Burst, Laid, bursts, laid_at_own_pace, laid_on_click
from listener.music.pattern import DOWN, UP, Pattern, Placed
from listener.planning.plan import PlannedStep

#: Places that tell how even a player is, at least (our choice).
_LEAST_EVEN: Final = 3
#: More places than this that fell out are told in one go (our choice).
_MOST_TOLD: Final = 2


@dataclass(frozen=True, slots=True)
class PatternVerdict:
    """Places are numbered from 0 among those of the step that the pattern strikes; there are ``asked`` of them.

    ``too_many`` has for everything that was struck besides the number of the place before which it came (``asked``
    after the last). ``spread_ms`` is how far the played places stray from an even beat, their steady lead or delay left
    out (standard deviation); None for fewer than three. ``words`` say all of it to players.
    """

    asked: int
    played: int
    fell_out: tuple[int, ...] = ()
    too_many: tuple[int, ...] = ()
    wrong_direction: tuple[int, ...] = ()
    wrong_voices: tuple[int, ...] = ()
    spread_ms: float | None = None
    words: tuple[str, ...] = ()

    @property
    def as_asked(self) -> bool:
        """Every place was played, nothing besides, the right way and on the right voices."""
        return not (self.fell_out or self.too_many or self.wrong_direction or self.wrong_voices)

    def as_json(self) -> dict[str, object]:
        """All of it."""
        return {
            "asked": self.asked,
            "played": self.played,
            "fell_out": list(self.fell_out),
            "too_many": list(self.too_many),
            "wrong_direction": list(self.wrong_direction),
            "wrong_voices": list(self.wrong_voices),
            "spread_ms": self.spread_ms,
            "words": list(self.words),
        }


def pattern_verdict(
    planned: PlannedStep, strokes: Sequence[Stroke], *, due_s: float | None, beat_s: float | None
) -> PatternVerdict | None:
    """What is to be said about the pattern of a step; None when it has none, or one that strikes nothing here.

    ``strokes`` are all that belong to the step, with times as plucked (:mod:`listener.hearing.plucks`); how they were
    gathered does not matter. With the click the step is due at ``due_s`` and a beat lasts ``beat_s``. At the player's
    own pace ``due_s`` is None and ``beat_s`` a guess, or None: what is struck first is then the first place, the tempo
    is found, and only the first time through is judged.
    """
    pattern = planned.step.pattern
    asked = [one for one in planned.step.placed if one.place.struck]
    if pattern is None or not asked:
        return None
    place_beats = float(pattern.place_beats)
    found = bursts(strokes, None if beat_s is None else place_beats * beat_s, strummed=pattern.is_strummed)
    if not found:
        everything = tuple(range(len(asked)))
        return PatternVerdict(len(asked), 0, everything, words=("nothing of the pattern was played",))
    looked = _Looked(planned, pattern, asked, found)
    starts = [float(one.start_beats) for one in asked]
    if due_s is not None and beat_s is not None:
        laid = laid_on_click(found, starts, place_beats, due_s, beat_s, looked.doubtful)
    else:
        laid = laid_at_own_pace(found, starts, place_beats, beat_s, looked.doubtful)
    return looked.verdict(laid)


class _Looked:
    """The places and bursts of one step."""

    def __init__(self, planned: PlannedStep, pattern: Pattern, asked: Sequence[Placed], found: Sequence[Burst]) -> None:
        self._step = planned.step
        self._pattern = pattern
        self._asked = asked
        self._found = found
        self._voice_count = len(planned.voicing.midi)
        self._voices = _Voices(planned, [note for burst in found for note in burst.notes])

    def doubtful(self, place: int, burst: int) -> bool:
        """The wrong way, or other voices."""
        return self._goes_wrong(place, burst) or bool(self._other_voices(place, burst))

    def _goes_wrong(self, place: int, burst: int) -> bool:
        strum = self._asked[place].place.strum
        return bool(strum) and self._found[burst].direction not in (None, strum)

    def _other_voices(self, place: int, burst: int) -> tuple[int, ...]:
        """Those that were picked (from 0, the bass) where they are surely not those of the place, else none."""
        asked = self._asked[place].place
        if asked.strum:
            return ()
        wanted = set(self._pattern.voices(asked, self._voice_count))
        ranks = [self._voices.of(note) for note in self._found[burst].notes]
        known = {rank for rank in ranks if rank is not None}
        surely = known - wanted or (known != wanted and None not in ranks)
        return tuple(sorted(known)) if surely else ()

    def verdict(self, laid: Laid) -> PatternVerdict:
        """With everything that is said about it."""
        played = dict(laid.pairs)
        onsets = {place: self._found[burst].onset_s for place, burst in laid.pairs}
        used = set(played.values())
        strays = [onset_s - laid.times_s[place] for place, onset_s in onsets.items()]
        fell_out = tuple(place for place in range(len(self._asked)) if place not in played)
        too_many = tuple(
            bisect_left(laid.times_s, burst.onset_s)
            for number, burst in enumerate(self._found[: laid.count])
            if number not in used
        )
        wrong_way = tuple(place for place, burst in laid.pairs if self._goes_wrong(place, burst))
        others = {place: voices for place, burst in laid.pairs if (voices := self._other_voices(place, burst))}
        spread_ms = round(1000 * pstdev(strays), 1) if len(strays) >= _LEAST_EVEN else None
        words = [*self._left_out(fell_out), *self._besides(too_many)]
        words += [f"{_OTHER_WAY[self._asked[place].place.strum]} on {self._on(place)}" for place in wrong_way]
        words += [self._instead(place, voices) for place, voices in others.items()]
        even = [] if spread_ms is None else [f"even to within {spread_ms:.0f} ms"]
        words = [*words, *even] if words else [", ".join(["the pattern as asked", *even])]
        return PatternVerdict(
            len(self._asked), len(played), fell_out, too_many, wrong_way, tuple(others), spread_ms, tuple(words)
        )

    def _left_out(self, fell_out: Sequence[int]) -> Iterator[str]:
        if len(fell_out) <= _MOST_TOLD:
            for place in fell_out:
                what = self._what(place)
                yield f"{what} on {self._on(place)} {'were' if what.startswith('voices ') else 'was'} left out"
            return
        told = [self._on(place) for place in fell_out]
        which = f"{', '.join(told[:-1])} and {told[-1]}"
        each = "strokes" if self._pattern.is_strummed else "places"
        yield f"{len(fell_out)} of {len(self._asked)} {each} were left out: {which}"

    def _besides(self, too_many: Sequence[int]) -> Iterator[str]:
        """What came too many, counted where several came in one place."""
        one, more = ("stroke", "strokes") if self._pattern.is_strummed else ("note", "notes")
        for place, count in Counter(too_many).items():
            where = f"before {self._on(place)}" if place < len(self._asked) else f"after {self._on(place - 1)}"
            yield f"{'one' if count == 1 else count} {one if count == 1 else more} too many {where}"

    def _instead(self, place: int, voices: Sequence[int]) -> str:
        return f"{_voice_words(voices)} instead of {self._what(place)} on {self._on(place)}"

    def _what(self, place: int) -> str:
        asked = self._asked[place].place
        if asked.strum:
            return f"the {asked.strum}-stroke"
        return _voice_words(self._pattern.voices(asked, self._voice_count))

    def _on(self, place: int) -> str:
        """Where it is counted; the bar, too, where the chord lasts longer than one."""
        asked = self._asked[place]
        longer = self._asked[-1].bar > 0
        return f"{asked.counted} of bar {self._step.bar + asked.bar}" if longer else asked.counted


class _Voices:
    """Which voice of its chord a note is."""

    def __init__(self, planned: PlannedStep, notes: Sequence[NoteOn]) -> None:
        planned_pitches = planned.voicing.midi
        self._strings = {string: rank for rank, string in enumerate(planned.fingering.strings)}
        played = sorted({note.pitch for note in notes})
        # Where any voicing is right, another one with as many voices is counted from its own bass.
        own = (
            planned.step.free_voicing
            and not set(played) <= set(planned_pitches)
            and len(played) == len(planned_pitches)
        )
        self._pitches: dict[int, set[int]] = {}
        for rank, pitch in enumerate(played if own else planned_pitches):
            self._pitches.setdefault(pitch, set()).add(rank)

    def of(self, note: NoteOn) -> int | None:
        """From 0, the bass: by its pitch, else by its string; None where neither tells."""
        by_string = self._strings.get(note.string) if note.string is not None else None
        ranks = self._pitches.get(note.pitch)
        if not ranks:
            return by_string
        return by_string if by_string in ranks else min(ranks)


_OTHER_WAY: Final = {DOWN: "up instead of down", UP: "down instead of up"}


def _voice_words(ranks: Sequence[int]) -> str:
    """``voice 2``, ``voices 1 and 4``: counted from the bass."""
    names = [str(rank + 1) for rank in ranks]
    if len(names) == 1:
        return f"voice {names[0]}"
    return f"voices {', '.join(names[:-1])} and {names[-1]}"
