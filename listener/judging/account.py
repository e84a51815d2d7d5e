"""What a take comes to: the one place where verdicts are counted. In whole numbers, so that adding up is exact.

The rules, the same for whoever tells of a take (screen, JSON, history, progress, since last time):

- *attempts*: the first attempt at a step counts, once for each step, for everything below. ``put_right`` are the steps
  that were no hit then and one at a later attempt.
- *how far*: a step is *judged* when it has a first attempt, *reached* when it or a later one has a verdict. Shares are
  shares of judged steps; they are those of the drill only when the take is ``complete``: every step reached and judged.
- *timing*: offsets from the click of first attempts that were no miss (a miss's offset belongs to another chord). The
  mean and the spread about it are told apart: a steady offset is a style, not a fault (laid back, on the beat and
  pushed are all meant that way in groove guitar: G. Câmara and others, JASA 147, 2020). What is a minute or more off
  was not played to its beat.
- *movement*: every score that a first attempt has, and the semitones that the voices really moved.
- *faults*: how many first attempts had each, however many of their notes it was about.
- *top note*: right when the highest note heard is the planned one, or when the attempt was a hit (a drill may accept
  other octaves); silence is wrong. It counts where the plan has a top note and the caller says which.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass, fields
from math import sqrt
from operator import attrgetter
from typing import Final, Protocol

from listener.judging.verdict import HIT, MISS, NEAR
from listener.planning.plan import Plan

#: Spread (standard deviation) up to which timing is called very steady: which of two sounds came first is heard from
#: about 20 ms apart (C. Watson, Seminars in Hearing 25, 2004, summarising I. Hirsh 1959); trained players who tap along
#: at 120 beats a minute spread by 10 to 20 ms (B. Repp, Psychonomic Bulletin & Review 12, 2005; value from memory).
VERY_STEADY_MS: Final = 20.0
#: Up to here it is called steady: players of good ensembles are apart by 30 to 50 ms (R. Rasch, Acustica 43, 1979).
STEADY_MS: Final = 50.0
#: Fewer onsets say nothing about steadiness (our choice).
_ENOUGH: Final = 4
#: Farther from its beat than this nothing was played to it (our choice).
_FARTHEST_MS: Final = 60_000.0
#: Times and scores are judged in tenths, and added up in tenths.
_TENTHS: Final = 10


class Attempt(Protocol):
    """What counts of a verdict, or of what the history keeps of one: ``top`` is the highest note heard (MIDI), None
    for silence; ``offset_ms`` late (+) or early (-) against the click; ``movement_score`` 0 to 100."""

    @property
    def step(self) -> int: ...
    @property
    def attempt(self) -> int: ...
    @property
    def grade(self) -> str: ...
    @property
    def offset_ms(self) -> float | None: ...
    @property
    def top(self) -> int | None: ...
    @property
    def movement_semitones(self) -> int | None: ...
    @property
    def movement_score(self) -> float | None: ...
    @property
    def fault_codes(self) -> Sequence[str]: ...


@dataclass(frozen=True, slots=True)
class Account:
    """Sums over one take, or over several added up. ``steps`` are those of the plan, ``strokes`` all verdicts, later
    attempts too, ``reached`` the steps up to the last one with a verdict.

    ``onsets`` are the first attempts that count for the timing; ``offset_tenths`` their offsets in tenths of a
    millisecond and ``offset_squares`` the squares of those. ``moves`` have a movement score, ``score_tenths`` in all;
    ``semitones`` is the total movement. ``tops`` first attempts were asked for a top note, ``tops_right`` had it.
    ``faults`` are codes with their number, the commonest first and equal ones by the alphabet.
    """

    steps: int = 0
    strokes: int = 0
    reached: int = 0
    hits: int = 0
    nears: int = 0
    misses: int = 0
    put_right: int = 0
    onsets: int = 0
    offset_tenths: int = 0
    offset_squares: int = 0
    moves: int = 0
    score_tenths: int = 0
    semitones: int = 0
    tops: int = 0
    tops_right: int = 0
    faults: tuple[tuple[str, int], ...] = ()

    @classmethod
    def of(cls, verdicts: Iterable[Attempt], steps: int, tops: Sequence[int | None] = ()) -> Account:
        """The account of a take's settled verdicts in the order of playing; ``steps`` is the number of its plan's
        steps, ``tops`` their planned top notes (MIDI, None for none) where they are known."""
        counting = Counting(steps, tops)
        for verdict in verdicts:
            counting.add(verdict)
        return counting.account

    @classmethod
    def of_take(cls, plan: Plan, verdicts: Iterable[Attempt]) -> Account:
        """The same with steps and top notes from the plan."""
        return cls.of(verdicts, len(plan.steps), planned_tops(plan))

    @classmethod
    def total(cls, accounts: Iterable[Account]) -> Account:
        """All of them together; nothing for none. How far they went is for each of them to say."""
        found = list(accounts)
        faults: Counter[str] = Counter()
        for account in found:
            faults.update(dict(account.faults))
        sums = map(sum, zip(*map(_SUMS_OF, found), strict=True))
        return cls(**dict(zip(SUMS, sums, strict=False)), faults=commonest_first(faults))

    def __add__(self, other: Account) -> Account:
        return self.total((self, other))

    @property
    def grades(self) -> tuple[int, int, int]:
        """Hits, nears and misses."""
        return self.hits, self.nears, self.misses

    @property
    def judged(self) -> int:
        """Steps with a first attempt."""
        return sum(self.grades)

    @property
    def complete(self) -> bool:
        """Every step of the drill was reached and judged, so that shares are those of the whole drill."""
        return 0 < self.steps == self.reached == self.judged

    @property
    def broken_off(self) -> bool:
        """The end of the drill was not reached."""
        return self.reached < self.steps

    @property
    def how_far(self) -> str:
        """``8 of 16 steps``; empty when it was the whole drill, or none."""
        return "" if self.complete or not self.steps else f"{self.judged} of {self.steps} steps"

    @property
    def share(self) -> float:
        """Share of hits in the judged steps, 0 to 1; 0 without any. Near misses are not hits."""
        return self.hits / self.judged if self.judged else 0.0

    @property
    def movement_score(self) -> float | None:
        """The mean, 0 to 100; None when nothing moved."""
        return self.score_tenths / (_TENTHS * self.moves) if self.moves else None

    @property
    def top_accuracy(self) -> float | None:
        """Share of right top notes, 0 to 1; None where none was asked for."""
        return self.tops_right / self.tops if self.tops else None

    @property
    def mean_ms(self) -> float | None:
        """Mean offset from the click, late is positive; None without a click, or when there are only misses."""
        return self.offset_tenths / (_TENTHS * self.onsets) if self.onsets else None

    @property
    def spread_ms(self) -> float | None:
        """Standard deviation of the offsets about their mean; None for fewer than two."""
        if self.onsets < 2:
            return None
        variance = self.onsets * self.offset_squares - self.offset_tenths**2
        return sqrt(variance) / (_TENTHS * self.onsets)

    @property
    def steadiness(self) -> str | None:
        """Whatever the mean: ``very steady``, ``steady``, ``not steady yet``; None for too few onsets."""
        if self.spread_ms is None or self.onsets < _ENOUGH:
            return None
        spread_ms = round(self.spread_ms, 1)  # as it is told
        if spread_ms <= VERY_STEADY_MS:
            return "very steady"
        return "steady" if spread_ms <= STEADY_MS else "not steady yet"

    def as_json(self) -> dict[str, object]:
        """The ``summary`` of the ``hear`` contract."""
        return {
            "steps": self.steps,
            "reached": self.reached,
            "judged": self.judged,
            "complete": self.complete,
            "hits": self.hits,
            "nears": self.nears,
            "misses": self.misses,
            "put_right": self.put_right,
            "movement_score": _tenth(self.movement_score),
            "total_movement": self.semitones,
            "timing_mean_ms": _tenth(self.mean_ms),
            "timing_spread_ms": _tenth(self.spread_ms),
            "steadiness": self.steadiness,
            "faults": dict(self.faults),
        }


#: The fields of an account that are plain sums, in their order: all but the faults.
SUMS: Final = tuple(field.name for field in fields(Account) if field.name != "faults")
_SUMS_OF: Final = attrgetter(*SUMS)
_SUM_OF_GRADE: Final = {HIT: "hits", NEAR: "nears", MISS: "misses"}


class Counting:
    """Settled verdicts in, one after the other; :attr:`account` is what they come to so far."""

    def __init__(self, steps: int, tops: Sequence[int | None] = ()) -> None:
        self._tops = tops
        self._sums = dict.fromkeys(SUMS, 0)
        self._sums["steps"] = steps
        self._faults: Counter[str] = Counter()
        #: Steps with a first attempt, those that were a hit then, and those that were one later.
        self._tried: set[int] = set()
        self._hit: set[int] = set()
        self._hit_later: set[int] = set()

    def add(self, verdict: Attempt) -> None:
        """The next verdict of the take."""
        sums, step, is_hit = self._sums, verdict.step, verdict.grade == HIT
        sums["strokes"] += 1
        sums["reached"] = max(sums["reached"], step + 1)
        if verdict.attempt != 1 or step in self._tried:
            if is_hit:
                self._hit_later.add(step)
            return
        self._tried.add(step)
        if is_hit:
            self._hit.add(step)
        sums[_SUM_OF_GRADE[verdict.grade]] += 1
        sums["semitones"] += verdict.movement_semitones or 0
        self._faults.update(set(verdict.fault_codes))
        if (offset_ms := timed_ms(verdict)) is not None:
            tenths = round(_TENTHS * offset_ms)
            sums["onsets"] += 1
            sums["offset_tenths"] += tenths
            sums["offset_squares"] += tenths**2
        if (score := moved_score(verdict)) is not None:
            sums["moves"] += 1
            sums["score_tenths"] += round(_TENTHS * score)
        top = self._tops[step] if step < len(self._tops) else None
        if top is not None:
            sums["tops"] += 1
            sums["tops_right"] += is_hit or verdict.top == top

    @property
    def account(self) -> Account:
        """What all of them come to."""
        sums = {**self._sums, "put_right": len(self._hit_later - self._hit)}
        return Account(**sums, faults=commonest_first(self._faults))


def timed_ms(verdict: Attempt) -> float | None:
    """The offset with which a verdict counts for the timing, in ms; None when it does not."""
    offset_ms = verdict.offset_ms
    if verdict.attempt != 1 or verdict.grade == MISS or offset_ms is None:
        return None
    return offset_ms if abs(offset_ms) < _FARTHEST_MS else None


def moved_score(verdict: Attempt) -> float | None:
    """The score with which a verdict counts for the movement, 0 to 100; None when it does not."""
    return verdict.movement_score if verdict.attempt == 1 else None


def planned_tops(plan: Plan) -> tuple[int | None, ...]:
    """The highest note (MIDI) of each step of a plan, None for one without notes."""
    return tuple(max(planned.voicing.midi, default=None) for planned in plan.steps)


def commonest_first(faults: Counter[str]) -> tuple[tuple[str, int], ...]:
    """Codes with their number; equal ones by the alphabet, so that the order is always the same."""
    return tuple(sorted(faults.items(), key=lambda item: (-item[1], item[0])))


def _tenth(value: float | None) -> float | None:
    return None if value is None else round(value, 1)
