"""One look at progress: the facts, put together by weeks and in words. What every way of showing it starts from."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import asdict, dataclass
from datetime import date, datetime, time, tzinfo

from listener.history.progress.facts import ProgressFacts
from listener.history.progress.periods import Period, filled, grouped, unit_for
from listener.history.progress.summary import DrillProgress
from listener.history.progress.trend import WEEKS_FOR_A_TREND
from listener.history.progress.words import ProgressWords, Weak, weak, words
from listener.history.store.rows import utc_text
from listener.judging.account import Account
from listener.judging.touch.account import TouchAccount
from listener.planning.shapes.cells import Cell


@dataclass(frozen=True, slots=True)
class Reached:
    """Tempos of one drill in beats per minute: the first and the highest that were reached (the whole drill, at least
    90 % hits; a *clean* take is another thing, see :mod:`listener.session.ladder`), and the highest that was tried.
    None where there was none."""

    drill: str
    first: float | None
    highest: float | None
    tried: float | None

    def words(self, to: str = "to") -> str:
        """``60 to 90``; empty where none was reached."""
        return f"{self.first:g} {to} {self.highest:g}" if self.first and self.highest else ""


@dataclass(frozen=True, slots=True)
class ProgressReport:
    """``unit`` is what a column of the pictures stands for; ``periods`` are these columns without holes, ``weeks``
    those with a take by their Mondays. ``since`` and ``drill`` are what it is limited to, None for everything.
    ``there_are`` is what the player's guitar and hand have room for."""

    facts: ProgressFacts
    unit: str
    periods: tuple[Period, ...]
    weeks: Mapping[date, Period]
    words: ProgressWords
    since: date | None = None
    drill: str | None = None
    zone: tzinfo | None = None
    there_are: frozenset[Cell] = frozenset()

    @property
    def lately(self) -> date | None:
        """The first day of what counts as lately; None while all of it is too short to have a before."""
        split = self.facts.split_at
        return None if split is None or len(self.weeks) < WEEKS_FOR_A_TREND else self.local_day(split)

    @property
    def weak(self) -> list[Weak]:
        """The changes to look at, what needs it most first (:func:`listener.history.progress.words.weak`)."""
        return weak(self.facts.changes, lately=self.lately is not None)

    def account_lately(self, drill: DrillProgress) -> Account:
        """What a drill's takes of late come to; all of them as long as there is no such thing."""
        split = self.facts.split_at
        if split is None or self.lately is None:
            return drill.account
        return Account.total(take.account for take in drill.takes if take.started_at >= split)

    def touch_lately(self, drill: DrillProgress) -> TouchAccount | None:
        """The same of their touch, as far as it is known."""
        split = self.facts.split_at if self.lately is not None else None
        takes = [take for take in drill.takes if split is None or take.started_at >= split]
        known = [take.touch for take in takes if take.touch is not None]
        return TouchAccount.total(known) if known else None

    @property
    def only_parts(self) -> bool:
        """No take was of a whole drill: then the pictures show the others, and say so."""
        return not any(period.whole_takes for period in self.periods)

    def account(self, period: Period) -> Account:
        """What the pictures of hits, top notes and movement tell of a period: its takes of whole drills."""
        return period.account if self.only_parts else period.whole

    @property
    def tempos(self) -> tuple[Reached, ...]:
        """Of every drill that was played with the click, the one played last first."""
        return tuple(found for found in map(_reached, self.facts.progress.drills) if found.tried is not None)

    def local_day(self, moment: datetime) -> date:
        """The day in the player's time zone."""
        return moment.astimezone(self.zone).date()

    def as_json(self) -> dict[str, object]:
        """The document that ``widehand progress --json`` prints."""
        split = self.facts.split_at
        return {
            **self.facts.progress.as_json(),
            "since": self.since.isoformat() if self.since else None,
            "simulated_takes": self.facts.simulated,
            "demo_only": self.facts.demo_only,
            "lately_from": split.isoformat() if split else None,
            "words": self.words.as_json(),
            "weeks": [week.as_json() for week in self.weeks.values()],
            "tempos": [asdict(one) for one in self.tempos],
            "changes": [change.as_json() for change in self.facts.changes],
            "neck": {
                "strings": list(self.facts.neck.strings),
                "spots": [asdict(spot) for spot in self.facts.neck.spots],
            },
            "vocabulary": self.facts.vocabulary.as_json(self.there_are),
        }


def report_on(
    facts: ProgressFacts,
    *,
    zone: tzinfo | None = None,
    since: date | None = None,
    drill: str | None = None,
    there_are: frozenset[Cell] = frozenset(),
) -> ProgressReport:
    """Put together by the days of this time zone; None is this machine's."""
    weeks = grouped(facts.takes, "week", zone)
    days = [take.summary.started_at.astimezone(zone).date() for take in facts.takes]
    unit = unit_for(min(days), max(days)) if days else "week"
    found = weeks if unit == "week" else grouped(facts.takes, unit, zone)
    return ProgressReport(
        facts, unit, filled(found, unit), weeks, words(facts, weeks, zone), since, drill, zone, there_are
    )


def kept_since(day: date | None, zone: tzinfo | None) -> str | None:
    """A day's first moment in the form in which takes keep theirs."""
    if day is None:
        return None
    moment = datetime.combine(day, time.min, zone)
    try:
        return utc_text(moment if zone else moment.astimezone())
    except OverflowError:  # the first day of the calendar, east of Greenwich
        return None


def _reached(drill: DrillProgress) -> Reached:
    reached = drill.tempos_reached
    tried = [take.tempo for take in drill.takes if take.tempo is not None]
    return Reached(drill.drill, reached[0] if reached else None, drill.tempo_reached, max(tried, default=None))
