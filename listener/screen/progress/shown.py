"""What the pictures of progress show, and in which order: the same in a terminal and on the page.

Here are titles and values only; how they are drawn is left to :mod:`listener.screen.progress.page` and
:mod:`listener.screen.progress.figures`.
"""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from typing import Final, TypeVar

from listener.history.progress.facts import ChangeTotals, Neck
from listener.history.progress.report import ProgressReport, Reached
from listener.history.progress.summary import REACHED
from listener.judging.account import Account
from listener.screen.theme import Theme

_Value = TypeVar("_Value")

#: What the courses below are called in tables and files.
MOVEMENT: Final = "movement"
TOP: Final = "top"
#: Axes reach at least so far: ms on either side of the click, minutes, frets. Little is not made to look like much.
LEAST_MS: Final = 30.0
LEAST_MINUTES: Final = 10.0
LEAST_FRETS: Final = 12
#: When a tempo counts as reached; the ladder's "clean" is another measure.
REACHED_WORDS: Final = (
    f"A tempo is reached with a take of the whole drill in which at least {100 * REACHED:.0f} % were hits."
)


@dataclass(frozen=True, slots=True)
class Hits:
    """The grades of each period; ``only_parts`` where no take was of a whole drill."""

    accounts: tuple[Account, ...]
    only_parts: bool

    @property
    def values(self) -> tuple[float | None, ...]:
        """Hits in percent, None where nothing was judged."""
        return tuple(_percent(one.share if one.judged else None) for one in self.accounts)


@dataclass(frozen=True, slots=True)
class Course:
    """One value from 0 to 100 for each period, None where there is none; ``unit`` is written right behind it."""

    name: str
    title: str
    unit: str
    values: tuple[float | None, ...]


@dataclass(frozen=True, slots=True)
class Timing:
    """Mean offset from the click and the spread about it in each period, in ms."""

    values: tuple[tuple[float, float] | None, ...]
    title: str = "Timing to the click"


@dataclass(frozen=True, slots=True)
class Minutes:
    """Minutes played in each period, the same weighted by how far the hand reached, and which are a jump."""

    whole: tuple[float, ...]
    stretch: tuple[float | None, ...]
    jumps: tuple[bool, ...]


@dataclass(frozen=True, slots=True)
class Tempos:
    """Tempos of each drill, the one played last first."""

    drills: tuple[Reached, ...]
    title: str = "Tempo reached"


@dataclass(frozen=True, slots=True)
class ChangesMap:
    """From which chord to which."""

    changes: tuple[ChangeTotals, ...]
    title: str = "From chord to chord"


@dataclass(frozen=True, slots=True)
class Places:
    """Where on the neck."""

    neck: Neck
    title: str = "Where you have been on the neck"


Shown = Hits | Course | Timing | Minutes | Tempos | ChangesMap | Places


def pictures_of(report: ProgressReport) -> Iterator[Shown]:
    """Every picture that the report has something for; none without a take."""
    if not report.periods:
        return
    accounts = tuple(map(report.account, report.periods))
    yield Hits(accounts, report.only_parts)
    yield Course(MOVEMENT, "Movement score", "", tuple(one.movement_score for one in accounts))
    yield Course(TOP, "Top note right", " %", tuple(_percent(one.top_accuracy) for one in accounts))
    timing = tuple(one.timing_ms for one in report.periods)
    if any(timing):
        yield Timing(timing)
    jumps = tuple(report.unit == "week" and one.start in report.words.jumps for one in report.periods)
    minutes = tuple(one.minutes for one in report.periods)
    yield Minutes(minutes, tuple(one.stretch_minutes for one in report.periods), jumps)
    if report.tempos:
        yield Tempos(report.tempos)
    if report.facts.changes:
        yield ChangesMap(report.facts.changes)
    if report.facts.neck.spots:
        yield Places(report.facts.neck)


def last_known(values: Sequence[_Value | None]) -> _Value | None:
    """The last that there is."""
    return next((value for value in reversed(values) if value is not None), None)


def frets_shown(neck: Neck) -> range:
    """From the open strings up to the highest fret that was played, an octave at least."""
    return range(max(LEAST_FRETS, *(spot.fret for spot in neck.spots), 0) + 1)


def spread_sign(theme: Theme) -> str:
    """What stands before how much something varies."""
    return "+-" if theme.ascii_only else "±"


def jump_sign(theme: Theme) -> str:
    """What marks a week whose load is a jump."""
    return "^" if theme.ascii_only else "▲"


def _percent(share: float | None) -> float | None:
    return None if share is None else 100 * share
