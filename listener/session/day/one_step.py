"""One step further than what the player knows: which empty cell of the vocabulary is offered on a day. Pure.

A step changes one thing about a voicing that is used a lot: its inversion on the same strings, the strings of the same
inversion, or the root. Each offer has its day in a fortnight, so one that was passed over does not come again the next
day, and nobody has to remember what was said. All numbers are our own choice.
"""

from __future__ import annotations

from collections import defaultdict
from collections.abc import Collection, Iterable, Iterator
from dataclasses import dataclass
from datetime import date, datetime, timedelta
from typing import Final
from zlib import crc32

from listener.history.progress.periods import Period
from listener.history.progress.words import load_jumps
from listener.history.skills.skill_key import chord_of
from listener.history.vocabulary.map import ways_to
from listener.history.vocabulary.vocabulary import Vocabulary
from listener.judging.account import Account
from listener.music.chord import Chord, parse_chord
from listener.music.naming import spell_root
from listener.planning.shapes.cells import Cell
from listener.session.rest import RESTED_S

#: What a step changes, besides the inversion and the strings (:func:`listener.planning.shapes.cells.step_between`): the
#: root.
ROOT: Final = "root"
#: An offer comes at most once in so many days.
DAYS: Final = 14
#: Semitones of a fifth.
_FIFTH: Final = 7


@dataclass(frozen=True, slots=True)
class OneStep:
    """From a cell that is used a lot (``source``, in so many ``chords``) to ``cell``; for :data:`ROOT` both are the
    same and ``root`` is the new one (pitch class)."""

    differs: str
    source: Cell
    chords: int
    cell: Cell
    root: int | None = None

    @property
    def day(self) -> int:
        """Its day in the fortnight."""
        return crc32(repr((*self.cell, self.root)).encode()) % DAYS


def steps_from(vocabulary: Vocabulary, there_are: Collection[Cell]) -> tuple[OneStep, ...]:
    """Every step that there is, what lies beside the most used first, new roots after new cells."""
    ways = ways_to(vocabulary, there_are)
    cells = [OneStep(differs, source, vocabulary.cells[source], cell) for cell, (source, differs) in ways.items()]
    roots = [step for source in vocabulary.often if (step := _new_root(vocabulary, source)) is not None]
    return (*cells, *roots)


def of_day(steps: Iterable[OneStep], day: date) -> tuple[OneStep, ...]:
    """Those that may be offered on this day, the best first."""
    return tuple(step for step in steps if step.day == day.toordinal() % DAYS)


def chords_for(step: OneStep, vocabulary: Vocabulary) -> Iterator[tuple[str, ...]]:
    """Chords to take the step with, those that the player uses most first: of the quality that the source has most,
    then of its other qualities. A new root comes after the one beside it."""
    uses = vocabulary.of_cell(step.source)
    for quality in dict.fromkeys(one.quality for one in uses):
        known = [one.root for one in uses if one.quality == quality]
        if step.root is None:
            others = sorted(set(range(12)) - set(known), key=lambda root: (-vocabulary.roots[root], _fifths(root)))
            yield tuple(_symbol(root, quality) for root in (*known, *others))
        elif step.root in _beside(known):
            beside = next(root for root in known if step.root in _beside([root]))
            yield _symbol(beside, quality), _symbol(step.root, quality)


def in_order(chords: Iterable[str]) -> tuple[str, ...]:
    """Chords in falling fifths, as their roots come in tunes."""
    return tuple(sorted(chords, key=lambda chord: _fifths(parse_chord(chord).root.pitch_class), reverse=True))


def is_done(step: OneStep, today: Vocabulary) -> bool:
    """Whether the player has taken the step, by what was used ``today``."""
    return any(one.cell == step.cell and step.root in (None, one.root) for one in today.used)


def rest_is_due(played: Iterable[tuple[datetime, datetime]], now: datetime, after_s: float) -> bool:
    """Whether takes (start and end) that follow one another without a rest come to more than ``after_s`` seconds, the
    last of them so short a time ago that the hand has not rested since."""
    rested, worked_s, edge = timedelta(seconds=RESTED_S), 0.0, now
    for start, end in sorted(played, reverse=True):
        if edge - end >= rested:
            break
        worked_s += max(0.0, (min(end, edge) - start).total_seconds())
        edge = min(edge, start)
    return worked_s >= after_s


def load_has_jumped(played: Iterable[tuple[datetime, datetime]], now: datetime) -> bool:
    """Whether this week or the one before has far more minutes of takes than the weeks before it
    (:func:`listener.history.progress.words.load_jumps`). Free playing counts: the hand does not know the difference."""
    played_s: defaultdict[date, float] = defaultdict(float)
    for start, end in played:
        day = start.astimezone(now.tzinfo).date()
        played_s[day - timedelta(days=day.weekday())] += max(0.0, (end - start).total_seconds())
    weeks = {week: Period("week", week, 1, Account(), seconds, None) for week, seconds in played_s.items()}
    monday = now.date() - timedelta(days=now.weekday())
    return bool(weeks) and any((monday - week).days <= 7 for week in load_jumps(weeks))


def _symbol(root: int, quality: str) -> str:
    plain = chord_of(quality)
    return Chord(spell_root(root, plain.quality), plain.quality).symbol


def _fifths(root: int) -> int:
    """Its place when roots are counted in fifths from C."""
    return _FIFTH * root % 12


def _beside(roots: Iterable[int]) -> set[int]:
    """Roots a fifth from one of these."""
    return {(root + way) % 12 for root in roots for way in (_FIFTH, -_FIFTH)}


def _new_root(vocabulary: Vocabulary, source: Cell) -> OneStep | None:
    """A root that this cell never had, a fifth from one that it has in its usual quality; of several the one that is
    used least anywhere."""
    uses = vocabulary.of_cell(source)
    usual = [one.root for one in uses if one.quality == uses[0].quality]
    new = _beside(usual) - {one.root for one in uses}
    if not new:
        return None
    root = min(new, key=lambda one: (vocabulary.roots[one], _fifths(one)))
    return OneStep(ROOT, source, vocabulary.cells[source], source, root)
