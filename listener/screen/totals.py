"""How the take goes: hits, nears and misses, movement score over time, early and late, and every step at a glance."""

from __future__ import annotations

from rich.style import Style

from listener.judging.verdict import GRADES, Verdict
from listener.screen.rows import Part, Row, merged, row, row_width
from listener.screen.sparkline import sparkline
from listener.screen.tally import tally
from listener.screen.theme import BOLD, NOW, PLAIN, QUIET, Theme
from listener.screen.words import offset_words
from listener.session.state import Snapshot


def count_parts(snapshot: Snapshot, theme: Theme) -> list[Part]:
    """``● 12 hits  ◐ 3 nears  ○ 1 misses`` with the words never far from the signs."""
    parts: list[Part] = []
    grades = tally(snapshot.verdicts).grades
    for grade, many in zip(GRADES, ("hits", "nears", "misses"), strict=True):
        count = grades[grade]
        word = grade if count == 1 else many
        parts += [(f"{theme.signs.grade(grade)} {count}", theme.grade(grade)), f" {word}  "]
    return parts


def totals_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """Everything on one row, for small terminals; the sparkline has what room is left."""
    counts = row(*count_parts(snapshot, theme))
    mean_ms = tally(snapshot.verdicts).mean_offset_ms
    timing: list[Part] = ["  timing ", (offset_words(mean_ms), BOLD)] if mean_ms is not None else []
    room = width - row_width(counts) - row_width(row(*timing)) - len("movement  mean 100")
    return [*counts, *row(*movement_parts(snapshot, max(1, min(24, room)), theme), *timing)]


def short_totals(snapshot: Snapshot, theme: Theme) -> Row:
    """Only the signs and numbers, where one row has to hold the line of talk as well."""
    found = tally(snapshot.verdicts)
    parts: list[Part] = [(f"{theme.signs.grade(g)} {found.grades[g]} ", theme.grade(g)) for g in GRADES]
    mean = f" movement {found.mean_score:.0f} " if found.mean_score is not None else ""
    return row(*parts, mean, (f"{theme.signs.bar} ", QUIET))


def movement_parts(snapshot: Snapshot, width: int, theme: Theme) -> list[Part]:
    """The last scores as a sparkline, and the mean of all."""
    found = tally(snapshot.verdicts)
    if found.mean_score is None:
        return ["movement -"]
    shown = list(found.scores)[-width:]
    line = sparkline(shown, len(shown), low=0, high=100, plain=theme.ascii_only)
    return ["movement ", (line, PLAIN), (f" mean {found.mean_score:.0f}", BOLD)]


def timing_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """The last strokes on a line from early to late, with the mean in words; empty without a click."""
    found = tally(snapshot.verdicts)
    offsets, mean_ms = list(found.offsets_ms), found.mean_offset_ms
    if mean_ms is None:
        return row(("timing   own pace, nothing to measure" if snapshot.tempo is None else "timing   -", QUIET))
    room = max(11, min(41, width - 68)) | 1
    reach = max(100.0, *map(abs, offsets))
    marks = [theme.signs.line] * room
    marks[room // 2] = theme.signs.cross
    for offset in offsets:
        marks[round((offset / reach + 1) / 2 * (room - 1))] = theme.signs.earlier
    marks[round((offsets[-1] / reach + 1) / 2 * (room - 1))] = theme.signs.latest
    return row(
        "timing   ", ("early ", QUIET), "".join(marks), (" late", QUIET),
        "   last ", (offset_words(offsets[-1]), BOLD), ", on the mean ", (offset_words(mean_ms), BOLD),
    )  # fmt: skip


def route_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """One sign for each step of the drill: how it went, where we are, what is left."""
    return [*row("route    "), *route_signs(snapshot, max(1, width - 9), theme)]


def route_signs(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """The signs of the steps around the target, at most ``width`` of them."""
    newest = tally(snapshot.verdicts).newest
    total = len(snapshot.plan.steps)
    first = max(0, min(snapshot.step - width // 2, total - width))
    return merged(_route_sign(index, snapshot.step, newest, theme) for index in range(first, min(total, first + width)))


def _route_sign(index: int, here: int, newest: dict[int, Verdict], theme: Theme) -> tuple[str, Style]:
    if index == here:
        return theme.signs.here, NOW
    verdict = newest.get(index)
    return (theme.signs.grade(verdict.grade), theme.grade(verdict.grade)) if verdict else (theme.signs.dot, QUIET)
