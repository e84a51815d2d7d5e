"""Takes put together by day, week, month, quarter or year, in the player's own time zone. Pure."""

from __future__ import annotations

from collections.abc import Iterable, Mapping, Sequence
from dataclasses import dataclass, field
from datetime import date, timedelta, tzinfo
from typing import Final

from listener.history.progress.facts import Worked
from listener.history.progress.summary import figures, rounded
from listener.judging.account import Account

#: A picture has room for about so many columns.
MOST: Final = 32
#: In the first two weeks every day is shown by itself.
_MOST_DAYS: Final = 14
_MONTHS: Final = ("Jan", "Feb", "Mar", "Apr", "May", "Jun", "Jul", "Aug", "Sep", "Oct", "Nov", "Dec")


@dataclass(frozen=True, slots=True)
class Period:
    """A day, week (from Monday), month, quarter or year, and what was played in it. Times in seconds; ``stretch_s`` is
    None when no take says how far its shapes stretch. ``whole`` is what its takes of a whole drill come to: only their
    shares can be set beside those of another period, since a drill may be easier where it begins."""

    unit: str
    start: date
    takes: int
    account: Account
    playing_s: float
    stretch_s: float | None
    whole_takes: int = 0
    whole: Account = field(default_factory=Account)

    @property
    def label(self) -> str:
        """Short, for the foot of a picture: ``12 May``, ``May 31``, ``Q2 31``, ``2031``."""
        month, year = _MONTHS[self.start.month - 1], f"{self.start.year % 100:02}"
        return {
            "month": f"{month} {year}",
            "quarter": f"Q{(self.start.month + 2) // 3} {year}",
            "year": f"{self.start.year}",
        }.get(self.unit, f"{self.start.day} {month}")

    @property
    def timing_ms(self) -> tuple[float, float] | None:
        """Mean offset from the click and spread about it, 0 for a single onset; None without any."""
        mean_ms = self.account.mean_ms
        return None if mean_ms is None else (mean_ms, self.account.spread_ms or 0.0)

    @property
    def minutes(self) -> float:
        """Minutes played."""
        return self.playing_s / 60

    @property
    def stretch_minutes(self) -> float | None:
        """The same weighted by how far the shapes stretch; None where that is not known."""
        return None if self.stretch_s is None else self.stretch_s / 60

    def as_json(self) -> dict[str, object]:
        """One entry of ``weeks``."""
        return {
            self.unit: self.start.isoformat(),
            "takes": self.takes,
            "whole_takes": self.whole_takes,
            "strokes": self.account.strokes,
            **figures(self.account),
            "minutes": round(self.minutes, 2),
            "stretch_minutes": rounded(self.stretch_minutes, 2),
            "whole": figures(self.whole) if self.whole_takes else None,
        }


def start_of(day: date, unit: str) -> date:
    """The first day of the period that a day lies in."""
    if unit == "week":
        return date.fromordinal(max(1, day.toordinal() - day.weekday()))
    if unit == "month":
        return day.replace(day=1)
    if unit == "quarter":
        return day.replace(month=day.month - (day.month - 1) % 3, day=1)
    return day.replace(month=1, day=1) if unit == "year" else day


def unit_for(first: date, last: date) -> str:
    """The finest unit with which the time from one day to the other fits into a picture."""
    months = 12 * (last.year - first.year) + last.month - first.month + 1
    weeks = (start_of(last, "week") - start_of(first, "week")).days // 7 + 1
    if (last - first).days < _MOST_DAYS:
        return "day"
    if weeks <= MOST:
        return "week"
    if months <= MOST:
        return "month"
    return "quarter" if months <= 3 * (MOST - 1) else "year"


def grouped(takes: Iterable[Worked], unit: str, zone: tzinfo | None) -> dict[date, Period]:
    """The periods in which something was played, oldest first, by their first day; ``zone`` None is this machine's."""
    by_start: dict[date, list[Worked]] = {}
    for take in takes:
        day = take.summary.started_at.astimezone(zone).date()
        by_start.setdefault(start_of(day, unit), []).append(take)
    return {start: _period(unit, start, by_start[start]) for start in sorted(by_start)}


def filled(found: Mapping[date, Period], unit: str) -> tuple[Period, ...]:
    """The same without holes: empty periods stand between; of a longer time than a picture takes, the newest."""
    if not found:
        return ()
    day, last, periods = min(found), max(found), []
    if unit == "year":
        day = max(day, last.replace(year=max(1, last.year - MOST + 1)))
    while day <= last:
        periods.append(found.get(day) or Period(unit, day, 0, Account(), 0.0, None))
        following = _following(day, unit)
        if following is None:
            break
        day = following
    return tuple(periods)


def _following(day: date, unit: str) -> date | None:
    """The next period's first day; None at the end of the calendar."""
    try:
        # A jump that surely leaves this period and surely does not reach beyond the next.
        jump = {"day": 1, "week": 7, "month": 31, "quarter": 92, "year": 366}[unit]
        return start_of(day + timedelta(days=jump), unit)
    except OverflowError:
        return None


def _period(unit: str, start: date, takes: Sequence[Worked]) -> Period:
    accounts = [take.summary.account for take in takes]
    whole = [account for account in accounts if account.complete]
    stretches = [take.stretch_s for take in takes if take.stretch_s is not None]
    return Period(
        unit=unit,
        start=start,
        takes=len(takes),
        account=Account.total(accounts),
        playing_s=sum(take.playing_s for take in takes),
        stretch_s=sum(stretches) if stretches else None,
        whole_takes=len(whole),
        whole=Account.total(whole),
    )
