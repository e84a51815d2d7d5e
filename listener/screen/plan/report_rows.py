"""How good a plan is, as a small table and one sentence that says what it means."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.drill.drill import Drill, NoteWish
from listener.plain_words import counted, listed
from listener.planning.report import PlanReport, Totals, TwoWidths
from listener.screen.rows import Row, row, wrapped
from listener.screen.theme import QUIET, Theme

_LEAST: Final = "least possible"
_MOST_LINES: Final = 6


def report_rows(report: PlanReport, drill: Drill, width: int, theme: Theme) -> list[Row]:
    """The plan beside its yardsticks: movement, common tones kept, largest move, travel of the hand, worst strain."""
    routes = [("this plan", report.plan), ("everyday shapes", report.everyday), ("nearest each time", report.greedy)]
    known = [(name, totals) for name, totals in routes if totals is not None]
    weighed = any(totals.cost != totals.movement for _, totals in known)
    lines = [("", *_heads(weighed))]
    lines += [(name, *_cells(totals, weighed)) for name, totals in known[:1]]
    least = "?" if report.least is None else str(report.least)
    lines.append((_LEAST, *(["", least] if weighed else [least])))
    lines += [(name, *_cells(totals, weighed)) for name, totals in known[1:]]
    rows = [*_table(lines), []]
    for sentence in (meaning(report, drill), *_notes(report, weighed), *map(_two_widths, report.widths)):
        rows += [row(line) for line in wrapped(theme.words(sentence), width, _MOST_LINES, theme)]
    return rows


def _two_widths(one: TwoWidths) -> str:
    """What a chord loses and keeps when it opens."""
    stay = counted(one.shared, "stays where it was", "stay where they were")
    if one.shared == one.wide_notes:
        stay = "all of them stay where they were"
    return (
        f"{one.chord}: from {one.everyday_notes} notes over {counted(one.everyday_span, 'semitone')} to "
        f"{one.wide_notes} over {one.wide_span}; {stay if one.shared else 'none stays where it was'}."
    )


def _heads(weighed: bool) -> list[str]:
    return ["movement", *(["weighed"] if weighed else []), "kept", "largest", "travel", "strain"]


def _cells(totals: Totals, weighed: bool) -> list[str]:
    return [
        str(totals.movement),
        *([str(totals.cost)] if weighed else []),
        f"{totals.common_kept} of {totals.common_possible}",
        str(totals.largest_leap),
        f"{totals.travel_mm:.0f} mm",
        f"{100 * totals.worst_strain:.0f} %",
    ]


def _table(lines: Sequence[Sequence[str]]) -> list[Row]:
    """Names at the left, numbers at the right of their columns."""
    widths = [max(len(line[at]) for line in lines if at < len(line)) for at in range(max(map(len, lines)))]
    rows = []
    for number, line in enumerate(lines):
        text = line[0].ljust(widths[0]) + "".join(
            "  " + cell.rjust(wide) for cell, wide in zip(line[1:], widths[1:], strict=False)
        )
        rows.append(row((text, QUIET)) if number == 0 else row(text))
    return rows


def meaning(report: PlanReport, drill: Drill) -> str:
    """What the numbers say, in a sentence or two for players."""
    ratio = report.ratio
    if report.least is None:
        unknown = "So many voicings are possible that the least movement would take too long to find."
        return unknown + _beside(report, drill)
    if ratio is None:
        return (
            f"The voices move {counted(report.plan.movement, 'semitone')} where they could stand still; "
            f"that is the price of {_price(drill)}.{_beside(report, drill)}"
        )
    if ratio <= 1.0:
        return (
            f"Nobody could move the voices less through these chords in these kinds of voicing.{_beside(report, drill)}"
        )
    return (
        f"This is {_times(ratio)} the least movement that is possible; the rest is the price of {_price(drill)}."
        f"{_beside(report, drill)}"
    )


def _beside(report: PlanReport, drill: Drill) -> str:
    """Everyday shapes: they seldom have as many notes as the plan, so what comes and goes has to be counted too."""
    everyday, plan = report.everyday, report.plan
    if everyday is None or plan.cost <= 0:
        return ""
    aside = ", the top and bottom lines left aside," if _lines(drill) else ""
    ratio = everyday.cost / plan.cost
    size = "about as far" if 0.95 < ratio < 1.05 else f"{_times(ratio)} as far"
    if everyday.cost == everyday.movement and plan.cost == plan.movement:
        return f" In everyday shapes{aside} the voices would move {size}."
    return f" In everyday shapes{aside} the voices would move {size}, counting those that come and go."


def _times(ratio: float) -> str:
    return f"{ratio:.2f} times" if ratio < 10 else f"{ratio:.0f} times"


def _price(drill: Drill) -> str:
    """What stood in the way of the least: the lines that were asked for, and the hand's comfort."""
    asked = _lines(drill)
    if any(step.hold for step in drill.steps):
        asked.append("the held tones")
    if not drill.least_movement:
        asked.append("a hand that stays near and at ease")
    return listed(asked) or "what the drill asks for"


def _lines(drill: Drill) -> list[str]:
    """The outer lines that the drill asks for."""
    found = []
    if any(step.wish.top != NoteWish() or step.top_motion for step in drill.steps):
        found.append("the top line")
    if any(step.wish.bottom != NoteWish() or step.bottom_motion for step in drill.steps):
        found.append("the bottom line")
    return found


def _notes(report: PlanReport, weighed: bool) -> list[str]:
    found = []
    if weighed:
        found.append(
            "The weighed column also counts voices that come and go, where chords have different numbers of notes."
        )
    if report.everyday is None:
        found.append(f"Everyday shapes cannot stand beside it: {report.everyday_note}.")
    if report.greedy is None:
        found.append(f"Taking the nearest shape each time leads nowhere here: {report.greedy_note}.")
    return found
