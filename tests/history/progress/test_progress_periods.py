"""Takes put together by the calendar, and the words that the numbers are told in."""

from __future__ import annotations

import csv
import io
from collections.abc import Sequence
from dataclasses import replace
from datetime import UTC, date, datetime, timedelta, timezone
from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.history.progress.csv_pages import CHANGE_COLUMNS, TAKE_COLUMNS, changes_csv, takes_csv
from listener.history.progress.facts import ChangeTotals, Neck, ProgressFacts, Worked, split_at
from listener.history.progress.map import change_map, key
from listener.history.progress.periods import MOST, filled, grouped, start_of, unit_for
from listener.history.progress.progress import progress_of
from listener.history.progress.report import kept_since, report_on
from listener.history.progress.since_day import since_day
from listener.history.progress.summary import ChangeProgress, TakeSummary
from listener.history.progress.words import CARE, weak
from listener.judging.account import Account

MONDAY = datetime(2031, 5, 5, 18, 0, tzinfo=UTC)
TODAY = date(2031, 5, 31)


def take(day: int, hits: int = 8, misses: int = 2, *, minutes: float = 10.0, drill: str = "walk", spread: float = 0.0,
         stretch: float | None = 0.5) -> Worked:  # fmt: skip
    """A take of ten chords so many days after a Monday; ``spread`` ms on either side of the click."""
    count, square = hits + misses, round(10 * spread) ** 2
    account = Account(
        steps=count, strokes=count, reached=count, hits=hits, misses=misses, onsets=count if spread else 0,
        offset_squares=count * square if spread else 0,
    )  # fmt: skip
    summary = TakeSummary(day + 1, 1, drill, 60.0, MONDAY + timedelta(days=day), account)
    return Worked(summary, 60 * minutes, None if stretch is None else 60 * minutes * stretch)


def change(hits: int, attempts: int, late_hits: int = 0, late_attempts: int = 0, goal: str = "F") -> ChangeTotals:
    return ChangeTotals(ChangeProgress("C", "spread", goal, "close", attempts, hits), late_attempts, late_hits, "walk")


def facts(takes: Sequence[Worked], changes: Sequence[ChangeTotals] = ()) -> ProgressFacts:
    summaries = [one.summary for one in takes]
    return ProgressFacts(progress_of(summaries, ()), tuple(takes), tuple(changes), Neck((), ()), split_at(summaries))


def one_hit(moment: datetime, playing_s: float) -> Worked:
    """A take of one chord."""
    account = Account(steps=1, strokes=1, reached=1, hits=1)
    return Worked(TakeSummary(1, 1, "walk", None, moment, account), playing_s, None)


@pytest.mark.parametrize(
    ("text", "day"),
    [
        ("2031-05-01", date(2031, 5, 1)),
        ("2031-05-31", TODAY),
        ("0d", TODAY),
        ("10d", date(2031, 5, 21)),
        ("4w", date(2031, 5, 3)),
        (" 3M ", date(2031, 2, 28)),
        ("1y", date(2030, 5, 31)),
        ("39m", date(2028, 2, 29)),
        ("99999y", date.min),
    ],
)
def test_since(text: str, day: date) -> None:
    """Dates, and how long ago; months end where they end."""
    assert since_day(text, TODAY) == day


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("", "is not a date"), ("yesterday", "is not a date"), ("2031-5-1", "is not a date"),
        ("20310501", "is not a date"),
        ("2031-02-30", "is not in the calendar"), ("2031-13-01", "is not in the calendar"),
        ("2031-06-01", "is still to come"), ("-4w", "is not a date"), ("4 w", "is not a date"), ("4h", "is not a date"),
        ("999999d", "is not a date"), ("2031-W20", "is not a date"), ("x" * 500, "is not a date"),
    ],
)  # fmt: skip
def test_since_that_cannot_be_read(text: str, words: str) -> None:
    """One line with what to write instead, however long the input."""
    with pytest.raises(ValueError, match=words) as caught:
        since_day(text, TODAY)
    assert "4w, 3m, 1y" in str(caught.value)
    assert len(str(caught.value)) < 150


@pytest.mark.parametrize(
    ("last", "unit"),
    [(0, "day"), (13, "day"), (14, "week"), (7 * MOST - 1, "week"), (7 * MOST, "month"), (900, "month"),
     (1100, "quarter"), (3500, "year")],
)  # fmt: skip
def test_what_a_column_stands_for(last: int, unit: str) -> None:
    """From days to years, so that a picture never has too many columns."""
    first = date(2031, 5, 5)
    assert unit_for(first, first + timedelta(days=last)) == unit


@given(
    st.lists(st.integers(0, 4000), min_size=1, max_size=30),
    st.sampled_from(["day", "week", "month", "quarter", "year"]),
)
def test_laws_of_periods(days: list[int], unit: str) -> None:
    """Every take is in one period, periods follow each other without holes, and the fitting unit fits."""
    takes = [take(day) for day in days]
    found = grouped(takes, unit, UTC)
    periods = filled(found, unit)
    assert sum(period.takes for period in found.values()) == len(takes)
    assert Account.total(one.account for one in found.values()) == Account.total(one.summary.account for one in takes)
    starts = [period.start for period in periods]
    assert all(start_of(start, unit) == start for start in starts)
    assert starts == sorted(set(starts))
    assert all(start_of(after - timedelta(days=1), unit) == before for before, after in pairwise(starts))
    assert set(found) <= set(starts)
    span = [(MONDAY + timedelta(days=day)).date() for day in days]
    fitting = unit_for(min(span), max(span))
    assert len(filled(grouped(takes, fitting, UTC), fitting)) <= MOST


def test_weeks_are_those_of_iso_8601() -> None:
    """A week begins on the Monday that Python's ISO calendar gives, for each day of ten years."""
    for number in range(3650):
        day = date(2021, 1, 1) + timedelta(days=number)
        year, week, _ = day.isocalendar()
        assert start_of(day, "week") == date.fromisocalendar(year, week, 1)


def test_days_are_the_players_own() -> None:
    """Sunday evening in America is Monday in UTC, and belongs to Sunday's week."""
    late = one_hit(datetime(2031, 5, 12, 2, 0, tzinfo=UTC), 0.0)
    assert list(grouped([late], "week", UTC)) == [date(2031, 5, 12)]
    assert list(grouped([late], "week", timezone(timedelta(hours=-5)))) == [date(2031, 5, 5)]
    assert kept_since(date(2031, 5, 12), timezone(timedelta(hours=-5))) == "2031-05-12T05:00:00.000+00:00"


def test_clocks_gone_mad() -> None:
    """A take of the year 1 and one of 9999 make no endless picture."""
    mad = [one_hit(datetime(year, 1, 2, tzinfo=UTC), 1.0) for year in (1, 9999)]
    report = report_on(facts(mad), zone=UTC)
    assert (report.unit, len(report.periods)) == ("year", MOST)
    assert filled(grouped(mad[1:], "week", UTC), "week")[-1].takes == 1


def test_what_to_look_at_next() -> None:
    """The weakest change, drawn to the middle when little is known; else the drill with most to gain."""
    few, many = change(0, 3, goal="few"), change(10, 100, goal="many")
    assert [one.change for one in weak([few, many], lately=False)] == [many, few]
    assert weak([change(0, 2), change(20, 20)], lately=False) == []
    assert weak([change(3, 3), change(5, 5)], lately=False) == []  # without a slip, however seldom
    words = report_on(facts([take(0)], [many]), zone=UTC).words
    assert words.next == "Look at C spread to many close next: 10 of 100 were hits (in walk)."
    assert report_on(facts([take(0)]), zone=UTC).words.next == "Play walk once more: 8 of 10 chords were hits."
    assert "without a slip at 60" in report_on(facts([take(0, 10, 0)]), zone=UTC).words.next
    for hits, clean in ((10, ", and no slip in them"), (9, "")):
        whole = take(0, hits, 10 - hits)
        half = replace(whole, summary=replace(whole.summary, account=replace(whole.summary.account, steps=16)))
        words = report_on(facts([half]), zone=UTC).words
        assert words.next == f"Play walk through to its end: 10 of 16 steps last time{clean}."


@pytest.mark.parametrize(("hits", "attempts", "is_weak"), [(4, 5, False), (2, 3, False), (1, 3, True), (84, 100, True)])
def test_one_slip_is_no_weak_change(hits: int, attempts: int, is_weak: bool) -> None:
    """What nine hits in ten may well bring is not held against anybody."""
    assert bool(weak([change(hits, attempts)], lately=False)) == is_weak


def test_what_was_mended_is_no_longer_weak() -> None:
    """Once there is a before, only what was played lately counts; in the first weeks all of it does."""
    mended, slipping = change(10, 40, late_hits=20, late_attempts=20), change(35, 40, 4, 10, goal="G")
    first, third = [take(0), take(3)], [take(0), take(7), take(14)]
    assert [one.counted for one in report_on(facts(first, [mended, slipping]), zone=UTC).weak] == [mended.whole]
    (found,) = (one.counted for one in report_on(facts(third, [mended, slipping]), zone=UTC).weak)
    assert (found.to_chord, found.hits, found.attempts) == ("G", 4, 10)
    words = report_on(facts(third, [mended, slipping]), zone=UTC).words
    assert words.next == "Look at C spread to G close next: 4 of 10 were hits lately (in walk)."
    assert "lately" not in report_on(facts(first, [mended]), zone=UTC).words.next


def test_when_a_trend_can_be_seen() -> None:
    """After the first week two more are needed; with three there is nothing to say."""
    assert report_on(facts([take(0)]), zone=UTC).words.trend.endswith("in the week of 19 May 2031.")
    assert report_on(facts([take(0), take(7)]), zone=UTC).words.trend.endswith("in the week of 19 May 2031.")
    assert report_on(facts([take(0), take(7), take(14)]), zone=UTC).words.trend == ""


@pytest.mark.parametrize(
    ("minutes", "jumps"),
    [
        ([60, 60, 60, 60, 140], [4]),
        ([60, 60, 60, 60, 85], []),
        ([200], []),  # nothing is known of the time before
        ([60, 200], []),
        ([60, 60, 200], [2]),
        ([10, 10, 10, 10, 50], []),  # an hour a week is no load
        ([60, 60, 0, 0, 0, 0, 120], [6]),  # after a pause
        ([60, 60, 150, 60, 60, 60, 60], [2]),
    ],
)
def test_jumps_of_the_load(minutes: list[float], jumps: list[int]) -> None:
    """Half as much again as in the four weeks before is a jump; care is told while it is new."""
    takes = [take(7 * week, minutes=one) for week, one in enumerate(minutes) if one]
    words = report_on(facts(takes), zone=UTC).words
    assert [(day - MONDAY.date()).days // 7 for day in words.jumps] == jumps
    assert bool(words.care) == bool(jumps and jumps[-1] >= len(minutes) - 2)
    if words.care:
        assert words.care.endswith(CARE)
        assert f"{minutes[jumps[-1]]:.0f} minutes" in words.care


def test_wider_stretches_are_a_jump_too() -> None:
    """The same minutes with twice the stretch."""
    takes = [take(7 * week, minutes=90, stretch=0.8 if week == 4 else 0.4) for week in range(5)]
    assert "wider stretches" in report_on(facts(takes), zone=UTC).words.care


def test_the_map_shows_where_most_is_to_gain() -> None:
    """Chords around which most went amiss come first; what has no room is counted."""
    found = change_map([change(1, 50, goal="hard"), change(50, 50, goal="easy"), change(40, 50, goal="fair")], 3)
    assert found.names == ("C spread", "hard close", "fair close")
    assert (sorted(found.cells), found.left_out) == ([(0, 1), (0, 2)], 1)
    assert [key(place) for place in (0, 25, 26, 51, 52)] == ["a", "z", "a2", "z2", "a3"]


def test_tables() -> None:
    """What a CSV reader gets is what the takes say; a name that looks like a formula is only text."""
    takes = [take(0), take(1, drill='=1+1,"x"', stretch=None)]
    rows = list(csv.DictReader(io.StringIO(takes_csv(facts(takes)), newline="")))
    assert tuple(rows[0]) == TAKE_COLUMNS
    assert (rows[0]["drill"], rows[0]["accuracy"], rows[0]["minutes"]) == ("walk", "0.8", "10.0")
    assert [rows[0][name] for name in ("complete", "steps", "reached", "judged")] == ["1", "10", "10", "10"]
    assert (rows[1]["drill"], rows[1]["stretch_minutes"]) == ('\'=1+1,"x"', "")
    assert datetime.fromisoformat(rows[1]["started_at"]) == takes[1].summary.started_at
    (row,) = csv.DictReader(io.StringIO(changes_csv(facts(takes, [change(3, 4, 1, 2)])), newline=""))
    assert tuple(row) == CHANGE_COLUMNS
    assert list(row.values()) == ["C", "spread", "F", "close", "walk", "4", "3", "0.75", "2", "1"]
    assert takes_csv(facts([])).splitlines() == [",".join(TAKE_COLUMNS)]
