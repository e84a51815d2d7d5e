"""``widehand plan``: show the route through a drill, how good it is, and other routes beside it."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Sequence
from typing import Final

from rich.console import Console

from listener.commands.file_names import UNNAMED, find_drill, free_name
from listener.commands.files import write_file
from listener.commands.json_out import print_json
from listener.commands.setup import plan_of
from listener.guitar.hand import make_hand
from listener.plain_words import counted
from listener.planning.easier import easier_shape, near_limit
from listener.planning.plan import Plan, PlannedStep
from listener.planning.planner import plan_alternatives
from listener.planning.report import PlanReport, report
from listener.screen.plan.plan_view import plan_view
from listener.screen.theme import theme_for

#: Width when the output is not a terminal, so that a file looks the same wherever it was made.
PIPED_WIDTH: Final = 100


def run(
    plan: Plan,
    *,
    as_json: bool,
    console: Console | None = None,
    left_handed: bool = False,
    others: Sequence[Plan] | None = None,
    judged: PlanReport | None = None,
) -> int:
    """Print a plan for people, or as the one JSON document of the ``plan`` contract; the exit code is 0.

    ``others`` are further routes, None when nobody asked for any.
    """
    if as_json:
        file = console.file if console is not None else None
        print_json("plan", _document(plan, others, judged), indent=2, file=file)
        return 0
    shown_on = console if console is not None else Console()
    width = shown_on.width if shown_on.is_terminal else PIPED_WIDTH
    theme = theme_for(shown_on.encoding, left_handed=left_handed)
    picture = plan_view(plan, width=width, theme=theme, others=others or (), report=judged)
    shown_on.print(picture, crop=False, soft_wrap=True)
    shown_on.line()
    return 0


def main(arguments: Namespace) -> int:
    """The command line's way in: plan, compare, show, and write the MIDI file that was asked for."""
    find_drill(arguments, ("midi",))
    plan = plan_of(arguments, arguments.drill)
    if arguments.midi:
        _write_midi(free_name(plan.drill.name, ".mid") if arguments.midi is UNNAMED else arguments.midi, plan)
    others = _others(plan, arguments.alternatives) if arguments.alternatives else None
    judged = _report(plan) if arguments.json or arguments.compare else None
    return run(plan, as_json=arguments.json, left_handed=plan.left_handed, others=others, judged=judged)


def _report(plan: Plan) -> PlanReport | None:
    if plan.instrument is None or len(plan.steps) < 2:
        return None
    return report(plan, plan.drill, plan.instrument, make_hand(plan.hand))


def _others(plan: Plan, count: int) -> tuple[Plan, ...]:
    """The best routes after the plan's own; fewer are said on standard error."""
    if plan.instrument is None:
        return ()
    routes = plan_alternatives(plan.drill, plan.instrument, make_hand(plan.hand), count + 1)
    others = tuple(route for route in routes if _pitches(route) != _pitches(plan))[:count]
    if len(others) < count:
        print(f"widehand: {_how_many(len(others))} different", file=sys.stderr)
    return others


def _how_many(count: int) -> str:
    if count == 0:
        return "no other route sounds"
    return f"only {counted(count, 'other route')} sound{'s' if count == 1 else ''}"


def _pitches(plan: Plan) -> list[tuple[int, ...]]:
    return [planned.fingering.pitches for planned in plan.steps]


def _document(plan: Plan, others: Sequence[Plan] | None, judged: PlanReport | None) -> dict[str, object]:
    """The plan's own fields as they are, with what was asked for beside them."""
    document = plan.as_json()
    if plan.drill.notes:
        document["notes"] = list(plan.drill.notes)
    document["near_limit"] = [_near_limit(planned, plan) for planned in plan.steps if near_limit(planned)]
    if judged is not None:
        document["report"] = judged.as_json()
    if others is not None:
        document["alternatives"] = [other.as_json() for other in others]
    return document


def _near_limit(planned: PlannedStep, plan: Plan) -> dict[str, object]:
    """A shape near the limit of the hand, and the easiest of the same wish, null when there is none."""
    easier = easier_shape(planned, plan)
    beside = None
    if easier is not None:
        fingering = easier.fingering
        beside = {
            "names": list(easier.voicing.names),
            "strings": list(fingering.strings),
            "frets": list(fingering.frets),
            "fingers": list(fingering.fingers),
            "strain": round(fingering.strain, 3),
        }
    return {"step": planned.step.index, "strain": round(planned.fingering.strain, 3), "easier": beside}


def _write_midi(path: str, plan: Plan) -> None:
    from listener.sheets.midi_file import plan_midi

    write_file(path, plan_midi(plan))
    print(f"written: {path}", file=sys.stderr)
