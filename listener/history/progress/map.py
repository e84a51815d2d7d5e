"""The map of changes: from which chord (rows) to which (columns), and how well it went. Pure."""

from __future__ import annotations

from collections import Counter
from collections.abc import Mapping, Sequence
from dataclasses import dataclass

from listener.history.progress.facts import ChangeTotals


@dataclass(frozen=True, slots=True)
class ChangeMap:
    """``names`` of chords and kinds stand for rows and columns alike; ``cells`` by row and column. ``left_out`` changes
    are between chords that have no room here."""

    names: tuple[str, ...]
    cells: Mapping[tuple[int, int], ChangeTotals]
    left_out: int


def change_map(changes: Sequence[ChangeTotals], most: int) -> ChangeMap:
    """At most so many chords: those around which most went amiss, and among equals those that were played most."""
    weight: Counter[str] = Counter()
    amiss: Counter[str] = Counter()
    for change in changes:
        for name in {_source(change), _goal(change)}:
            weight[name] += change.whole.attempts
            amiss[name] += change.whole.attempts - change.whole.hits
    names = sorted(weight, key=lambda name: (-amiss[name], -weight[name], name))[:most]
    place = {name: index for index, name in enumerate(names)}
    cells = {
        (place[_source(change)], place[_goal(change)]): change
        for change in changes
        if _source(change) in place and _goal(change) in place
    }
    return ChangeMap(tuple(names), cells, len(changes) - len(cells))


def _source(change: ChangeTotals) -> str:
    return f"{change.whole.from_chord} {change.whole.from_kind}"


def _goal(change: ChangeTotals) -> str:
    return f"{change.whole.to_chord} {change.whole.to_kind}"


def key(index: int) -> str:
    """A letter for a row and its column: a to z, then a2 and so on."""
    letter = chr(ord("a") + index % 26)
    return letter if index < 26 else f"{letter}{index // 26 + 1}"
