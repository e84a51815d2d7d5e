"""What stands on a teacher's pages: one for each student, and the table that leads to them. Pure; ``now`` is given."""

from __future__ import annotations

import hashlib
from collections.abc import Sequence
from datetime import datetime
from typing import Final

from listener.history.exchange.advice import fault_words
from listener.history.exchange.packing import entry_name
from listener.history.exchange.students import JudgedAgain, Student
from listener.history.progress.summary import DrillProgress, TakeSummary
from listener.history.progress.trend import change_words
from listener.history.rejudging import VerdictChange
from listener.judging.account import Account
from listener.judging.verdict import Verdict
from listener.plain_words import counted
from listener.safe_text import person
from listener.screen.students.page import Page, PageTable
from listener.screen.words import offset_words, or_dash
from listener.session.rest import PAIN

_MOST_TAKES: Final = 200
_MOST_CHANGES: Final = 20
_MOST_DIFFERENCES: Final = 200
NONE: Final = "-"
_ABOUT: Final = (
    "Hits are the share of first attempts that were hits; the movement score is 100 where voices move least."
)


def page_file(student: Student) -> str:
    """The name of the student's HTML file; no two students share one."""
    plain = person(student.name)
    return f"{entry_name(plain)}-{hashlib.sha256(plain.encode()).hexdigest()[:8]}.html"


def overview(students: Sequence[Student], now: datetime, refused: Sequence[str]) -> Page:
    """The table of all students, each leading to the student's page."""
    columns = ("student", "takes", "minutes", "last take", "hits", "movement", "weakest change", "what to say next")
    return Page(
        title="Students",
        tables=(
            PageTable(
                f"Up to {now.astimezone():%Y-%m-%d}",
                columns,
                tuple((*row(student), student.advice(now)[0]) for student in students),
                numbers=frozenset({1, 2, 4, 5}),
                links=tuple(map(page_file, students)),
            ),
        ),
        foot=(_ABOUT, *(f"Left out: {line}" for line in refused), PAIN),
    )


def row(student: Student) -> tuple[str, ...]:
    """Name, takes, minutes, last date, hits, movement score, weakest change."""
    account = student.account
    return (
        student.name,
        f"{len(student.played)}{_left_out(student)}",
        f"{student.minutes:.0f}",
        f"{student.last.astimezone():%Y-%m-%d}" if student.last else NONE,
        percent(account.share) if account.judged else NONE,
        or_dash(account.movement_score),
        change_words(student.weakest) if student.weakest else NONE,
    )


def _left_out(student: Student) -> str:
    """Said where there is nothing else to see; elsewhere the demo's takes are passed over in silence."""
    return f" ({student.simulated} of the demo left out)" if student.simulated and not student.played else ""


def student_page(student: Student, now: datetime, again: Sequence[JudgedAgain] | None = None) -> Page:
    """Everything about one student; ``again`` when the takes were judged again."""
    progress = student.progress
    takes = sorted((take for drill in progress.drills for take in drill.takes), key=lambda take: take.take)
    tables = [_drills(progress.drills)]
    if progress.weak_changes:
        tables.append(_changes(student))
    tables.append(_takes(takes))
    if again is not None:
        tables.append(_again(again))
    account = student.account
    hits, nears, misses = account.grades
    return Page(
        title=student.name,
        facts=(
            ("Takes", f"{len(student.played)}{_left_out(student)}"),
            ("Playing time", _minutes(student.minutes)),
            ("Last take", f"{student.last.astimezone():%Y-%m-%d %H:%M}" if student.last else NONE),
            ("First attempts", f"{hits} hits, {nears} near, {misses} missed"),
            ("Hits", percent(account.share) if account.judged else NONE),
            ("Movement score", or_dash(account.movement_score)),
            ("Timing", _timing(account)),
            ("From", ", ".join(student.files)),
        ),
        say=student.advice(now),
        shares=tuple(take.account.share for take in takes if take.account.complete),
        picture="Hits in each take of a whole drill, oldest first",
        tables=tuple(table for table in tables if table.rows),
        foot=(_ABOUT, PAIN),
    )


def _drills(drills: Sequence[DrillProgress]) -> PageTable:
    rows = tuple(
        (
            drill.drill,
            str(len(drill.takes)),
            hit_words(drill.last.account),
            percent(drill.account.share) if drill.whole_takes else NONE,
            f"{drill.tempo_reached:g}" if drill.tempo_reached is not None else NONE,
            _timing(drill.account),
            fault_words(drill.account.faults[0][0]) if drill.account.faults else NONE,
        )
        for drill in drills
    )
    columns = ("drill", "takes", "last take", "all takes", "tempo reached", "timing", "most often")
    return PageTable("Drills", columns, rows, frozenset({1, 2, 3, 4}))


def _changes(student: Student) -> PageTable:
    rows = tuple(
        (change_words(change), str(change.attempts), percent(change.hit_rate))
        for change in student.progress.weak_changes[:_MOST_CHANGES]
    )
    return PageTable("Weak changes", ("change", "tried", "hits"), rows, frozenset({1, 2}))


def _takes(takes: Sequence[TakeSummary]) -> PageTable:
    rows = tuple(
        (
            str(take.take),
            f"{take.started_at.astimezone():%Y-%m-%d %H:%M}",
            take.drill,
            f"{take.tempo:g}" if take.tempo is not None else "own pace",
            "/".join(map(str, take.account.grades)),
            hit_words(take.account),
            or_dash(take.account.movement_score),
        )
        for take in reversed(takes[-_MOST_TAKES:])
    )
    columns = ("take", "when", "drill", "tempo", "hits/near/missed", "hits", "movement")
    return PageTable("Takes, newest first", columns, rows, frozenset({0, 3, 5, 6}))


def _again(again: Sequence[JudgedAgain]) -> PageTable:
    rows: list[tuple[str, ...]] = []
    for one in again:
        if one.trouble:
            rows.append((str(one.number), NONE, NONE, "cannot be judged again", one.trouble))
        steps = one.take.info.plan.get("steps", ())
        for change in one.changes:
            chord = str(steps[change.step]["chord"]) if change.step < len(steps) else "?"
            rows.append((str(one.number), str(change.step + 1), chord, *_both(change)))
    columns = ("take", "step", "chord", "in the bundle", "judged again")
    shown = tuple(rows[:_MOST_DIFFERENCES]) or ((NONE, NONE, NONE, "every verdict", "is the same"),)
    return PageTable("Judged again by this program", columns, shown, frozenset({0, 1}))


def _both(change: VerdictChange) -> tuple[str, str]:
    other = [name.replace("_", " ") for name in change.what if name not in ("grade", "faults")]
    return _short(change.before), _short(change.after) + (f"; other {', '.join(other)}" if other else "")


def _short(verdict: Verdict | None) -> str:
    if verdict is None:
        return "no stroke"
    faults = "; ".join(fault.text for fault in verdict.faults)
    return f"{verdict.grade} ({faults})" if faults else verdict.grade


def hit_words(account: Account) -> str:
    """``83 %`` of a whole drill, ``8 of 16 steps`` of a take that was none."""
    return account.how_far or percent(account.share)


def percent(share: float) -> str:
    """``83 %``."""
    return f"{100 * share:.0f} %"


def _timing(account: Account) -> str:
    mean_ms, spread_ms = account.mean_ms, account.spread_ms
    if mean_ms is None:
        return NONE
    spread = "" if spread_ms is None else f", spread {spread_ms:.0f} ms"
    return f"{offset_words(mean_ms)}{spread}"


def _minutes(minutes: float) -> str:
    return "less than a minute" if minutes < 0.5 else counted(round(minutes), "minute")
