"""What several actions of ``widehand drills`` say about a drill: its fields as JSON, its exercises, what is kept."""

from __future__ import annotations

import sys
import tomllib
from argparse import Namespace
from collections.abc import Mapping
from dataclasses import dataclass, field
from datetime import datetime
from typing import Any

from listener.commands.setup import store_path
from listener.drill.drill import Drill
from listener.drill.exercises.registry import likely_exercise
from listener.drill.reading.fields import Problems, Table
from listener.errors import PlaceError, StoreError
from listener.history.progress.summary import DrillProgress
from listener.history.skills.reviews import PLAYER
from listener.history.store.store import Store
from listener.toml_lines import toml_lines


def facts(drill: Drill) -> dict[str, object]:
    """The fields of the drill for other programs."""
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


def exercises_of(drill: Drill) -> dict[str, str]:
    """The exercise of each passage by the passage's name, as the drill's own text says or leaves to its fields."""
    values: dict[str, Any] = tomllib.loads(drill.text) if drill.text else {}
    report = Problems(toml_lines(""))
    found = {}
    for number, passage in enumerate(values.get("passage", []), start=1):
        name = " ".join(str(passage.get("name") or f"passage {number}").split())
        found[name] = str(passage.get("exercise") or likely_exercise(Table(passage, (), report)))
    return found


@dataclass(frozen=True)
class DrillHistory:
    """What the history says about drills, by name: how they went, and how many of their skills are due again."""

    progress: Mapping[str, DrillProgress] = field(default_factory=dict)
    due: Mapping[str, int] = field(default_factory=dict)


def kept(arguments: Namespace, now: datetime) -> DrillHistory:
    """How it went so far. A history that cannot be read is said, and the list goes without it."""
    try:
        with Store.open(store_path(arguments), read_only=True) as store:
            known = store.standpoint(PLAYER, now)
            due = {skill.key for skill in known.due}
            return DrillHistory(
                {one.drill: one for one in store.progress().drills},
                {drill.drill: len(due & drill.covers) for drill in known.drills},
            )
    except (StoreError, PlaceError) as error:
        print(f"widehand: {error}", file=sys.stderr)
        return DrillHistory()


def ago(then: datetime, now: datetime) -> str:
    """How long ago, as people say it; by calendar days in the time zone of ``now``.

    >>> from datetime import timezone
    >>> ago(datetime(2024, 1, 1, 23, tzinfo=timezone.utc), datetime(2024, 1, 2, 1, tzinfo=timezone.utc))
    'yesterday'
    """
    days = (now.date() - then.astimezone(now.tzinfo).date()).days
    if days <= 0:
        return "today"
    if days == 1:
        return "yesterday"
    if days < 14:
        return f"{days} days ago"
    if days < 61:
        return f"{days // 7} weeks ago"
    return f"{days // 30} months ago" if days < 730 else f"{days // 365} years ago"
