"""What the pictures of progress are drawn from: sums over takes, changes and places on the neck. Values only.

- *time played* is the time from chord to chord within a take, at most ten seconds each, as a sitting counts it
  (:mod:`listener.session.rest`); a pause is not practice.
- *stretch load* is that time weighted, chord by chord, by how much of the hand's reach the one in the hand needs (0 to
  1): ten minutes at half of the reach are five. Where nothing sounded, nothing was stretched.
- *lately* is from :attr:`ProgressFacts.split_at` on: the last four weeks, or the newer half of a shorter time.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass, field
from datetime import datetime, timedelta
from typing import Final

from listener.history.progress.summary import ChangeProgress, Progress, TakeSummary
from listener.history.vocabulary.vocabulary import Vocabulary

#: Nobody holds one chord longer than this, in ms; what goes beyond is a pause.
LONGEST_HELD_MS: Final = 10_000
#: How far back "lately" goes at most. Our own choice.
LATELY: Final = timedelta(weeks=4)


@dataclass(frozen=True, slots=True)
class Worked:
    """What one take came to, and the work in it. ``playing_s`` is the time played; ``stretch_s`` the stretch load, None
    where the strain of the shapes was not kept."""

    summary: TakeSummary
    playing_s: float
    stretch_s: float | None


@dataclass(frozen=True, slots=True)
class ChangeTotals:
    """From one chord and kind to another over all takes, how much of it was lately, and the drill that asks for it
    most."""

    whole: ChangeProgress
    late_attempts: int
    late_hits: int
    drill: str

    @property
    def early_attempts(self) -> int:
        """Attempts before."""
        return self.whole.attempts - self.late_attempts

    @property
    def early_hits(self) -> int:
        """Hits before."""
        return self.whole.hits - self.late_hits

    def as_json(self) -> dict[str, object]:
        """One entry of ``changes``."""
        late = {"late_attempts": self.late_attempts, "late_hits": self.late_hits}
        return {**self.whole.as_json(), **late, "drill": self.drill}


@dataclass(frozen=True, slots=True)
class NeckSpot:
    """A place on the neck: string (1 is the highest), fret (0 is open; counted from the capo), and how many chords that
    were a hit or a near miss had a note there in the plan."""

    string: int
    fret: int
    strokes: int


@dataclass(frozen=True, slots=True)
class Neck:
    """Where one has been. ``strings`` are the names of the open strings, string 1 first; only numbers where takes
    differ in their tuning."""

    strings: tuple[str, ...]
    spots: tuple[NeckSpot, ...]


@dataclass(frozen=True, slots=True)
class ProgressFacts:
    """Everything that was read: takes oldest first, changes by the alphabet. ``simulated`` is the number of takes that
    the simulated guitarist played, which are left out of all the rest; with ``demo_only`` there are no others, and
    these are what is shown. ``split_at`` is None without a take. ``vocabulary`` counts free playing, too."""

    progress: Progress
    takes: tuple[Worked, ...]
    changes: tuple[ChangeTotals, ...]
    neck: Neck
    split_at: datetime | None
    simulated: int = 0
    demo_only: bool = False
    vocabulary: Vocabulary = field(default_factory=Vocabulary)


def split_at(takes: Sequence[TakeSummary]) -> datetime | None:
    """Where "lately" begins: four weeks before the newest take, or half-way for a shorter time."""
    if not takes:
        return None
    first, last = (pick(take.started_at for take in takes) for pick in (min, max))
    return last - min(LATELY, (last - first) / 2)
