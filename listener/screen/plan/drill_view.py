"""A drill on paper or screen: what it is for, how it is played, and its chords bar by bar between bar lines."""

from __future__ import annotations

from collections.abc import Iterator, Mapping, Sequence
from dataclasses import dataclass
from itertools import groupby
from typing import Final

from rich.cells import cell_len

from listener.drill.drill import EXACT, Drill, Step
from listener.plain_words import counted
from listener.screen.rows import Canvas, Row, cut, filled, page, row, rule, wrapped
from listener.screen.theme import BOLD, QUIET, Theme
from listener.screen.words import number

#: Bars on a line of the chart where they fit, and lines of it; a longer drill is better looked at in its file.
_BARS_ON_A_LINE: Final = 4
_MOST_LINES: Final = 24
_WIDEST_BAR: Final = 24
_WIDEST_TEXT: Final = 88
_LONGEST_TEXT: Final = 40
_REST: Final = "N.C."


@dataclass(frozen=True, slots=True)
class _Bar:
    """A bar of the chart: its number (from 1) and what begins in it."""

    number: int
    words: tuple[str, ...]


def drill_view(
    drill: Drill, *, width: int, theme: Theme, exercises: Mapping[str, str] | None = None, called: str | None = None
) -> Canvas:
    """Everything a player wants to know before playing a drill, never wider than ``width`` cells (made for 60 and up).

    ``exercises`` names the exercise of each passage, by the beginning of the passage's name; ``called`` is what stands
    for the drill on the command line, where that is not its name.
    """
    rows: list[Row] = [row((theme.name(drill.title or drill.name), BOLD)), *_facts(drill, width, theme)]
    texts = {"What it is for": drill.about, "Listen for": drill.listen_for, "Move on": drill.move_on}
    for heading, text in texts.items():
        if text:
            rows += [[], row((heading, BOLD)), *_text(text, width, theme)]
    if drill.instead:
        rows += [[], *_text(f"If your hand cannot reach it, play {drill.instead} instead.", width, theme, indent=0)]
    for passage, steps in groupby(drill.steps, key=lambda step: step.passage):
        part = tuple(steps)
        rows += [[], rule(_heading(passage, part, exercises or {}), width, theme)]
        if part[0].pattern is not None:
            rows += _text(part[0].pattern.words, width, theme)
        if asked := _touch_words(part[0]):
            rows += _text(asked, width, theme)
        rows += _chart(part, drill.meter[0], width, theme)
    for note in drill.notes:
        rows += [[], *_text(f"Note: {note}", width, theme, indent=0)]
    name = theme.name(called or drill.name)
    rows += [[], row(f"See the shapes: widehand plan {name}"), row(f"Play it: widehand play {name}")]
    return page(rows, width, theme)


def _facts(drill: Drill, width: int, theme: Theme) -> Iterator[Row]:
    about = [drill.name, drill.topic, f"difficulty {drill.difficulty} of 5" if drill.difficulty else ""]
    yield row((cut(theme.name(", ".join(filter(None, about))), width, theme), QUIET))
    meter = f"{drill.meter[0]}/{drill.meter[1]}"
    bars = drill.steps[-1].bar if drill.steps else 0
    size = f"{counted(len(drill.steps), 'chord')} in {counted(bars, 'bar')}"
    yield row((f"{theme.words(drill.key)}, {meter}, {number(drill.tempo)} beats a minute; {size}", QUIET))
    ways = [
        f"judged by {drill.steps[0].strictness}" if drill.steps and drill.steps[0].strictness != EXACT else "",
        "the notes of a chord one after the other" if drill.arpeggio else "",
        f"every chord struck together, within {number(drill.together_ms)} ms" if drill.together_ms else "",
        "over and over, the way back counts too" if drill.loop else "",
    ]
    if any(ways):
        yield row(("; ".join(filter(None, ways)), QUIET))


def _text(text: str, width: int, theme: Theme, indent: int = 2) -> Iterator[Row]:
    words = " ".join(text.split())
    for line in wrapped(theme.words(words), min(width, _WIDEST_TEXT) - indent, _LONGEST_TEXT, theme):
        yield row(" " * indent + line)


def _touch_words(step: Step) -> str:
    """What the passage asks of the touch."""
    asked = [
        "every voice held to the change" if step.ring else "",
        {"top": "the top voice stands out", "bottom": "the bass stands out"}.get(step.balance or "", ""),
        step.level or "",
    ]
    return "; ".join(filter(None, asked))


def _heading(passage: str, steps: Sequence[Step], exercises: Mapping[str, str]) -> str:
    named = max((name for name in exercises if passage.startswith(name)), key=len, default="")
    kinds = list(dict.fromkeys(" or ".join(step.wish.kinds) for step in steps))
    how = kinds[0] if len(kinds) == 1 else f"{', '.join(kinds[:3])}{' ...' if len(kinds) > 3 else ''}"
    return ", ".join(dict.fromkeys(filter(None, (passage, exercises.get(named, ""), how))))


def _chart(steps: Sequence[Step], bar_beats: int, width: int, theme: Theme) -> list[Row]:
    bars = _bars(steps, bar_beats, theme)
    label = len(str(bars[-1].number)) + 1
    widest = max((cell_len(" ".join(bar.words)) for bar in bars), default=1)
    cell = min(max(widest, 4), _WIDEST_BAR)
    across = max(1, min(_BARS_ON_A_LINE, (width - label - 2) // (cell + 3)))
    lines = [bars[first : first + across] for first in range(0, len(bars), across)]
    edge = theme.signs.bar
    rows = []
    for line in lines[:_MOST_LINES]:
        cells: list[Row] = [row((f"{line[0].number:>{label}} ", QUIET), (edge, QUIET))]
        for bar in line:
            shown = filled(cut(" ".join(bar.words), cell, theme), cell)
            cells.append(row(f" {shown} ", (edge, QUIET)))
        rows.append([segment for part in cells for segment in part])
    if len(lines) > _MOST_LINES:
        left = sum(len(line) for line in lines[_MOST_LINES:])
        rows.append(row((f"{' ' * label} and {counted(left, 'more bar')}", QUIET)))
    return rows


def _bars(steps: Sequence[Step], bar_beats: int, theme: Theme) -> list[_Bar]:
    """Every bar from the passage's first to its last. Inside a bar, a melody's steps over one chord are one chord."""
    found: dict[int, list[str]] = {number: [] for number in range(steps[0].bar, steps[-1].bar + 1)}
    before: Step | None = None
    for step in steps:
        rest = before is not None and step.start_beats - _end(before) > 1e-6
        if rest and before is not None and int(_end(before) // bar_beats) + 1 in found:
            found[int(_end(before) // bar_beats) + 1].append(_REST)
        same_bar = before is not None and not rest and before.bar == step.bar
        if before is None or not (same_bar and before.wish.chord == step.wish.chord and _is_melody(step)):
            found[step.bar].append(theme.chord(step.wish.chord))
        before = step
    return [_Bar(number, tuple(words) or (theme.signs.dot,)) for number, words in found.items()]


def _is_melody(step: Step) -> bool:
    return step.wish.added_top or step.wish.exact is not None


def _end(step: Step) -> float:
    return step.start_beats + step.length_beats
