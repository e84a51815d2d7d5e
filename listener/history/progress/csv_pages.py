"""Progress as tables for a spreadsheet (CSV, RFC 4180): a row for each take, and apart from it one for each change
and one for each voicing.

Numbers have a point and no unit, moments are ISO 8601 in UTC, what is not known is empty. Names that a spreadsheet
would take for a formula get an apostrophe in front: a drill's name can come from somebody else.
"""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.history.progress.csv_table import csv_table
from listener.history.progress.facts import ChangeTotals, ProgressFacts, Worked
from listener.history.progress.summary import rounded
from listener.history.vocabulary.vocabulary import Used, family_of, root_name
from listener.judging.touch.account import TouchAccount

TAKE_COLUMNS: Final = (
    *("take", "session", "drill", "started_at", "tempo", "strokes", "complete", "hits", "nears", "misses", "accuracy"),
    *("movement_score", "top_accuracy", "timing_mean_ms", "timing_spread_ms", "minutes", "stretch_minutes"),
    *("steps", "reached", "judged", "voices", "voices_held", "top_chords", "top_loudest"),
)
CHANGE_COLUMNS: Final = (
    *("from_chord", "from_kind", "to_chord", "to_kind", "drill", "attempts", "hits", "hit_rate"),
    *("late_attempts", "late_hits"),
)
VOCABULARY_COLUMNS: Final = ("kind", "inversion", "strings", "family", "quality", "root", "chords")


def takes_csv(facts: ProgressFacts) -> str:
    """One row for each take, oldest first; shares run from 0 to 1."""
    return csv_table(TAKE_COLUMNS, map(_take, facts.takes))


def changes_csv(facts: ProgressFacts) -> str:
    """One row for each change from chord to chord, by the alphabet; "late" are the last four weeks."""
    return csv_table(CHANGE_COLUMNS, map(_change, facts.changes))


def vocabulary_csv(facts: ProgressFacts) -> str:
    """One row for each voicing on each root: kinds in teaching order; strings from the lowest, empty where the pickup
    did not tell them apart; an empty inversion is a foreign bass."""
    return csv_table(VOCABULARY_COLUMNS, map(_used, facts.vocabulary.used))


def _used(one: Used) -> Sequence[object]:
    cell = one.cell
    return cell.kind, cell.inversion, cell.where, family_of(one.quality), one.quality, root_name(one.root), one.chords


def _take(worked: Worked) -> Sequence[object]:
    take, account = worked.summary, worked.summary.account
    return (
        take.take,
        take.session,
        take.drill,
        take.started_at.isoformat(),
        take.tempo,
        account.strokes,
        int(account.complete),
        *account.grades,
        rounded(account.share, 4),
        rounded(account.movement_score, 1),
        rounded(account.top_accuracy, 4),
        rounded(account.mean_ms, 2),
        rounded(account.spread_ms, 2),
        rounded(worked.playing_s / 60, 2),
        rounded(None if worked.stretch_s is None else worked.stretch_s / 60, 2),
        *(account.steps, account.reached, account.judged),
        *_touch(take.touch),
    )


def _touch(touch: TouchAccount | None) -> Sequence[int | None]:
    """Empty where nobody knows."""
    return (None,) * 4 if touch is None else (touch.voices, touch.held, touch.tops, touch.tops_out)


def _change(change: ChangeTotals) -> Sequence[object]:
    one = change.whole
    names = (one.from_chord, one.from_kind, one.to_chord, one.to_kind, change.drill)
    return (*names, one.attempts, one.hits, rounded(one.hit_rate, 4), change.late_attempts, change.late_hits)
