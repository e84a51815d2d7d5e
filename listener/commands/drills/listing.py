"""``widehand drills``: the course and the player's own drills, by topic, with how the last take went."""

from __future__ import annotations

import shutil
import sys
from argparse import Namespace
from collections.abc import Iterable, Iterator, Mapping, Sequence
from datetime import datetime
from typing import Final

from rich.cells import cell_len, set_cell_size

from listener.commands.drills.facts import DrillHistory, ago, facts, kept
from listener.commands.json_out import print_json
from listener.drill.drill import Drill
from listener.drill.drill_file import bundled_drills, load_drill
from listener.drill.own_drills import own_drill_files
from listener.errors import DrillError, UsageError
from listener.screen.theme import Theme, theme_for

NOT_YET: Final = "not yet"
_NO_TOPIC: Final = "other"
_PIPED_WIDTH: Final = 100
_LEAST_TITLE: Final = 12


def run(arguments: Namespace) -> int:
    """Print the list, or its JSON."""
    course = [load_drill(name) for name in bundled_drills()]
    own, troubles = _own()
    chosen = _chosen(course, arguments, others=own)
    chosen_own = _chosen(own, arguments, others=course)
    now = datetime.now().astimezone()
    history = kept(arguments, now)
    if arguments.json:
        rows = [_row(drill, history) for drill in chosen]
        rows += [{**_row(drill, history), "own": True} for drill in chosen_own]
        print_json("drills", {"drills": rows})
        return 0
    if not chosen and not chosen_own:
        print(f"No drill here has difficulty {arguments.difficulty}. All of them: widehand drills")
        return 0
    width = shutil.get_terminal_size((_PIPED_WIDTH, 24)).columns if sys.stdout.isatty() else _PIPED_WIDTH
    table = _Lines(history, [*chosen, *chosen_own], width, theme_for(sys.stdout.encoding), now)
    for line in table.text(_by_topic(chosen)):
        print(line)
    if chosen_own:
        for line in table.text({"your own": chosen_own}):
            print(line)
    for trouble in troubles:
        print(f"cannot be read: {trouble}")
    print("The number is the difficulty, 1 to 5; %: hits at the first attempt, last take;")
    print("8/16 instead: 8 of its 16 steps were played, not the whole drill;")
    print("due: shapes and changes to play again soon, see widehand today.")
    print("To look at one: widehand drills show NAME. To make one: widehand drills new")
    return 0


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


def _chosen(drills: Iterable[Drill], arguments: Namespace, others: Iterable[Drill]) -> list[Drill]:
    """Those of the topic and difficulty that were asked for."""
    found = list(drills)
    if arguments.topic is not None:
        wanted = " ".join(arguments.topic.split()).casefold()
        topics = [_topic(drill) for drill in (*found, *others)]
        if not any(wanted in topic.casefold() for topic in topics):
            raise UsageError(f"no drill is about '{arguments.topic}'; there are {', '.join(dict.fromkeys(topics))}")
        found = [drill for drill in found if wanted in _topic(drill).casefold()]
    if arguments.difficulty is not None:
        found = [drill for drill in found if drill.difficulty == arguments.difficulty]
    return found


def _topic(drill: Drill) -> str:
    return drill.topic or _NO_TOPIC


def _by_topic(drills: Iterable[Drill]) -> dict[str, list[Drill]]:
    """Topics in the order in which the course comes to them, the easier drills of each first."""
    topics: dict[str, list[Drill]] = {}
    for drill in drills:
        topics.setdefault(_topic(drill), []).append(drill)
    return {topic: sorted(found, key=lambda drill: drill.difficulty) for topic, found in topics.items()}


def _row(drill: Drill, history: DrillHistory) -> dict[str, object]:
    progress = history.progress.get(drill.name)
    last = progress.last if progress is not None else None
    return {
        **facts(drill),
        "takes": len(progress.takes) if progress is not None else 0,
        "last_played": last.started_at.isoformat() if last is not None else None,
        "last_hits": round(last.account.share, 4) if last is not None else None,
        "last_judged": last.account.judged if last is not None else None,
        "last_complete": last.account.complete if last is not None else None,
        "due": history.due.get(drill.name, 0),
    }


class _Lines:
    """The list as lines of text; all its parts have the same columns."""

    def __init__(self, history: DrillHistory, drills: Sequence[Drill], width: int, theme: Theme, now: datetime) -> None:
        self._history, self._theme = history, theme
        self._now = now
        self._name = max(cell_len(drill.name) for drill in drills)
        self._last = max(len(self._when(drill)) for drill in drills)
        longest = max(cell_len(theme.name(drill.title)) for drill in drills)
        self._title = min(longest, max(_LEAST_TITLE, width - self._name - self._last - 24))

    def text(self, topics: Mapping[str, Sequence[Drill]]) -> Iterator[str]:
        """A heading for each topic, a line for each drill, an empty line behind."""
        for topic, drills in topics.items():
            yield self._theme.name(topic)
            yield from map(self._line, drills)
            yield ""

    def _line(self, drill: Drill) -> str:
        title = self._theme.name(drill.title)
        if cell_len(title) > self._title:
            title = set_cell_size(title, self._title - 1).rstrip() + self._theme.signs.more
        title = set_cell_size(title, self._title)
        name = set_cell_size(self._theme.name(drill.name), self._name)
        when, hits = f"{self._when(drill):>{self._last}}", f"{self._hits(drill):>5}"
        return f"  {name}  {drill.difficulty or ' '}  {title}  {when}  {hits}  {self._due(drill)}".rstrip()

    def _when(self, drill: Drill) -> str:
        progress = self._history.progress.get(drill.name)
        return NOT_YET if progress is None else ago(progress.last.started_at, self._now)

    def _due(self, drill: Drill) -> str:
        due = self._history.due.get(drill.name, 0)
        return f"{due} due" if due else ""

    def _hits(self, drill: Drill) -> str:
        progress = self._history.progress.get(drill.name)
        if progress is None:
            return ""
        account = progress.last.account
        return f"{account.share:.0%}" if account.complete else f"{account.judged}/{account.steps}"
