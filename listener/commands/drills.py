"""``widehand drills``: list the course, show a drill, check a drill file."""

from __future__ import annotations

import json
from argparse import Namespace
from collections.abc import Iterator
from textwrap import fill

from listener.errors import DrillError, PlanError, UsageError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.drill import Drill
from listener.planning.drill_file import bundled_drills, load_drill
from listener.planning.own_drills import own_drill_files
from listener.planning.planner import plan_drill


def main(arguments: Namespace) -> int:
    """Do what the action says."""
    if arguments.action == "list":
        if arguments.drill:
            raise UsageError(f"to see one drill: widehand drills show {arguments.drill}")
        return _list(as_json=arguments.json)
    if not arguments.drill:
        raise UsageError(f"which drill? Such as: widehand drills {arguments.action} {bundled_drills()[0]}")
    return (_show if arguments.action == "show" else _check)(arguments.drill, as_json=arguments.json)


def _list(*, as_json: bool) -> int:
    drills = [load_drill(name) for name in bundled_drills()]
    own, troubles = _own()
    if as_json:
        rows = [*map(_facts, drills), *({**_facts(drill), "own": True} for drill in own)]
        print(json.dumps({"drills": rows}))
        return 0
    width = max(len(drill.name) for drill in (*drills, *own))
    for drill in drills:
        print(_row(drill, width))
    if own or troubles:
        print("\nYour own:")
    for drill in own:
        print(_row(drill, width))
    for trouble in troubles:
        print(f"cannot be read: {trouble}")
    print("\nThe number is the difficulty, 1 to 5. To look at one: widehand drills show NAME")
    return 0


def _row(drill: Drill, width: int) -> str:
    return f"{drill.name:<{width}}  {drill.difficulty}  {drill.title} ({drill.topic})"


def _own() -> tuple[list[Drill], list[str]]:
    """The player's own drills, and a line for each file that is none. The course's names go first."""
    drills, troubles = [], []
    for name, path in own_drill_files().items():
        try:
            drill = load_drill(name)
        except DrillError as error:
            troubles.append(f"{path}: {error.problems[0]}")
            continue
        if name not in bundled_drills():
            drills.append(drill)
    return drills, troubles


def _show(name: str, *, as_json: bool) -> int:
    drill = load_drill(name)
    if as_json:
        print(json.dumps(_facts(drill)))
        return 0
    for line in _description(drill):
        print(line)
    return 0


def _check(name: str, *, as_json: bool) -> int:
    try:
        drill = load_drill(name)
    except DrillError as error:
        if not as_json:
            raise
        problems = [{"line": problem.line, "text": problem.text} for problem in error.problems]
        print(json.dumps({"drill": error.name, "problems": problems}))
        return 1
    try:
        plan_drill(drill, make_instrument(), make_hand())
    except PlanError as error:
        if not as_json:
            raise
        line = drill.steps[error.step - 1].line if error.step else 0
        print(json.dumps({"drill": drill.name, "problems": [{"line": line, "text": str(error)}]}))
        return 1
    if as_json:
        print(json.dumps({"drill": drill.name, "problems": []}))
    else:
        print(f"{drill.name}: nothing wrong, {len(drill.steps)} steps, playable with a medium hand in standard tuning")
        for note in drill.notes:
            print(f"  note: {note}")
    return 0


def _facts(drill: Drill) -> dict[str, object]:
    return {
        "drill": drill.name,
        "title": drill.title,
        "topic": drill.topic,
        "difficulty": drill.difficulty,
        "key": drill.key,
        "tempo": drill.tempo,
        "meter": list(drill.meter),
        "steps": len(drill.steps),
        "about": drill.about,
        "listen_for": drill.listen_for,
        "move_on": drill.move_on,
        "instead": drill.instead,
        "notes": list(drill.notes),
    }


def _description(drill: Drill) -> Iterator[str]:
    yield f"{drill.title}  ({drill.name})"
    yield f"{drill.topic}, difficulty {drill.difficulty} of 5; {drill.key}, {drill.tempo:g} beats per minute"
    for title, text in (("About", drill.about), ("Listen for", drill.listen_for), ("Move on", drill.move_on)):
        if text:
            yield ""
            yield fill(f"{title}: {' '.join(text.split())}", 88)
    if drill.instead:
        yield ""
        yield fill(f"If your hand cannot reach it, play {drill.instead} instead.", 88)
    passage = None
    for step in drill.steps:
        if step.passage != passage:
            passage = step.passage
            yield ""
            chords = [str(one.wish.chord) for one in drill.steps if one.passage == passage]
            yield fill(f"{passage}: {' '.join(chords)}", 88, subsequent_indent="  ")
    if drill.notes:
        yield ""
        yield from (fill(f"Note: {note}", 88, subsequent_indent="  ") for note in drill.notes)
    yield ""
    yield f"To see the shapes: widehand plan {drill.name}    To play it: widehand play {drill.name}"
