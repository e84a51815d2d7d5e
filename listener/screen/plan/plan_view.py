"""A whole plan on paper or screen: shapes, tab, the voices as lines, how far they move, and how good that is."""

from __future__ import annotations

from collections.abc import Sequence

from listener.plain_words import counted
from listener.planning.plan import Plan
from listener.planning.report import PlanReport
from listener.screen.plan.care_rows import care_rows
from listener.screen.plan.movement_table import movement_rows
from listener.screen.plan.report_rows import report_rows
from listener.screen.plan.routes import route_rows, routes_heading
from listener.screen.plan.shapes import shape_rows
from listener.screen.plan.tab import tab_rows
from listener.screen.plan.voice_lines import voice_line_rows
from listener.screen.rows import Canvas, Row, page, row, rule, wrapped
from listener.screen.theme import BOLD, QUIET, Theme
from listener.screen.words import number


def plan_view(
    plan: Plan, *, width: int, theme: Theme, others: Sequence[Plan] = (), report: PlanReport | None = None
) -> Canvas:
    """Everything about a plan, as high as it needs to be, never wider than ``width`` cells (made for 60 and up).

    ``others`` are further routes to be set beside it, ``report`` says how good it is.
    """
    rows = [*_heading(plan, width, theme), rule("shapes", width, theme), *shape_rows(plan, width, theme)]
    rows += [[], rule("tab", width, theme), *tab_rows(plan, width, theme)]
    rows += [[], rule("voices, from the top", width, theme), *voice_line_rows(plan, width, theme)]
    if len(plan.steps) > 1:
        rows += [[], rule("movement in semitones, top voice first", width, theme), *movement_rows(plan, theme)]
    if others:
        rows += [[], rule(routes_heading(others), width, theme), *route_rows(plan, others, width, theme)]
    if report is not None and len(plan.steps) > 1:
        rows += [[], rule("this plan beside other ways", width, theme), *report_rows(report, plan.drill, width, theme)]
    care = care_rows(plan, width, theme)
    if care:
        rows += [[], rule("near the limit of the hand, as a share of its reach", width, theme), *care]
    rows += [[], *(row(line) for text in _totals(plan) for line in wrapped(text, width, 3, theme))]
    return page(rows, width, theme)


def _heading(plan: Plan, width: int, theme: Theme) -> list[Row]:
    drill = plan.drill
    capo = f", capo {plan.capo}" if plan.capo else ""
    meter = f"{drill.meter[0]}/{drill.meter[1]}"
    facts = f"{drill.key}, {meter}, {number(drill.tempo)} beats a minute"
    tuning = f"tuning {theme.words(' '.join(plan.tuning))}{capo}, {plan.hand} hand"
    rows = [row((theme.name(drill.title or drill.name), BOLD)), row((theme.words(facts), QUIET)), row((tuning, QUIET))]
    for remark in drill.notes:
        rows += [row(line) for line in wrapped(theme.words(remark), width, 4, theme)]
    return rows


def _totals(plan: Plan) -> list[str]:
    changes = plan.changes
    if not changes:
        return [f"{counted(len(plan.steps), 'chord')}."]
    common = sum(moved.common for moved in changes)
    widest = max((planned.fingering.stretch_mm for planned in plan.steps), default=0.0)
    each = plan.total_movement / len(changes)
    return [
        f"{counted(len(plan.steps), 'chord')}, {counted(plan.total_movement, 'semitone')} of movement "
        f"({each:.1f} for each change), {counted(common, 'voice')} held.",
        f"Largest move {max(moved.largest for moved in changes)} semitones; widest stretch {widest:.0f} mm.",
    ]
