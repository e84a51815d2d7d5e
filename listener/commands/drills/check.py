"""``widehand drills show`` and ``check``: one drill drawn, or everything that is wrong with its file."""

from __future__ import annotations

import shlex
from argparse import Namespace

from rich.console import Console

from listener.commands.drills.facts import exercises_of, facts
from listener.commands.json_out import print_json
from listener.commands.looking.plan import PIPED_WIDTH
from listener.commands.setup import guitar_of, hand_of
from listener.drill.drill import Drill
from listener.drill.drill_file import load_drill
from listener.drill.own_drills import own_drill_files
from listener.errors import DrillError, PlanError
from listener.music.pattern import Pattern
from listener.planning.planner import plan_drill
from listener.safe_text import printable
from listener.screen.plan.drill_view import drill_view
from listener.screen.theme import theme_for
from listener.settings import load_settings


def show(arguments: Namespace) -> int:
    """Draw a drill: what it is for, its chords bar by bar."""
    drill = load_drill(arguments.drill)
    exercises = exercises_of(drill)
    if arguments.json:
        passages = list(dict.fromkeys(step.passage for step in drill.steps))
        patterns = {name: pattern.as_json() for name, pattern in _patterns(drill).items()}
        exercised = list(exercises.values())
        print_json("drill", {**facts(drill), "passages": passages, "exercises": exercised, "patterns": patterns})
        return 0
    console = Console()
    width = console.width if console.is_terminal else PIPED_WIDTH
    picture = drill_view(
        drill, width=width, theme=theme_for(console.encoding), exercises=exercises, called=shlex.quote(arguments.drill)
    )
    console.print(picture, crop=False, soft_wrap=True)
    console.line()
    return 0


def check(arguments: Namespace) -> int:
    """Say everything that is wrong with a drill file, with line numbers; also whether this guitar and hand play it."""
    settings = load_settings()
    instrument, hand = guitar_of(arguments, settings), hand_of(arguments, settings)
    try:
        drill = load_drill(arguments.drill)
    except DrillError as error:
        if not arguments.json:
            raise
        problems = [{"line": problem.line, "text": problem.text} for problem in error.problems]
        print_json("drill-check", {"drill": error.name, "problems": problems})
        return 1
    try:
        plan_drill(drill, instrument, hand)
    except PlanError as error:
        line = drill.steps[error.step - 1].line if error.step else 0
        if not arguments.json:
            where = f"line {line}: " if line else ""
            file = own_drill_files().get(arguments.drill, arguments.drill)
            raise PlanError(f"{file}: {where}{error}", step=error.step) from None
        print_json("drill-check", {"drill": drill.name, "problems": [{"line": line, "text": str(error)}]})
        return 1
    if arguments.json:
        print_json("drill-check", {"drill": drill.name, "problems": []})
        return 0
    guitar = f"{instrument.name} tuning" + (f" with a capo at fret {instrument.capo}" if instrument.capo else "")
    print(f"{drill.name}: nothing wrong, {len(drill.steps)} steps, playable with a {hand.size} hand in {guitar}")
    for passage, pattern in _patterns(drill).items():
        print(f"  {printable(passage)}: {pattern.words}")
    for note in drill.notes:
        print(f"  note: {note}")
    return 0


def _patterns(drill: Drill) -> dict[str, Pattern]:
    """The pattern of every passage that has one, by its name."""
    return {step.passage: step.pattern for step in drill.steps if step.pattern is not None}
