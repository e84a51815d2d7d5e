"""How the take goes: hits, nears and misses, movement score over time, early and late, and every step at a glance."""

from __future__ import annotations

from collections.abc import Mapping
from typing import Final

from rich.style import Style

from listener.judging.account import moved_score, timed_ms
from listener.judging.verdict import GRADES, Verdict
from listener.screen.rows import Part, Row, merged, row, row_width
from listener.screen.sparkline import sparkline
from listener.screen.theme import BOLD, NOW, PLAIN, QUIET, Theme
from listener.screen.words import offset_words
from listener.session.take.state import Snapshot

#: The last so many verdicts are drawn one by one, and of their timings so many.
RECENT: Final = 64
_RECENT_OFFSETS: Final = 8


def count_parts(snapshot: Snapshot, theme: Theme) -> list[Part]:
    """``● 12 hits  ◐ 3 nears  ○ 1 misses`` with the words never far from the signs."""
    parts: list[Part] = []
    for grade, many, count in zip(GRADES, ("hits", "nears", "misses"), snapshot.account.grades, strict=True):
        word = grade if count == 1 else many
        parts += [(f"{theme.signs.grade(grade)} {count}", theme.grade(grade)), f" {word}  "]
    return parts


def totals_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """Everything on one row, for small terminals; the sparkline has what room is left."""
    counts = row(*count_parts(snapshot, theme))
    mean_ms = snapshot.account.mean_ms
    timing: list[Part] = ["  timing ", (offset_words(mean_ms), BOLD)] if mean_ms is not None else []
    room = width - row_width(counts) - row_width(row(*timing)) - len("movement  mean 100")
    return [*counts, *row(*movement_parts(snapshot, max(1, min(24, room)), theme), *timing)]


def short_totals(snapshot: Snapshot, theme: Theme) -> Row:
    """Only the signs and numbers, where one row has to hold the line of talk as well."""
    account = snapshot.account
    graded = zip(GRADES, account.grades, strict=True)
    parts: list[Part] = [(f"{theme.signs.grade(grade)} {count} ", theme.grade(grade)) for grade, count in graded]
    score = account.movement_score
    mean = f" movement {score:.0f} " if score is not None else ""
    return row(*parts, mean, (f"{theme.signs.bar} ", QUIET))


def movement_parts(snapshot: Snapshot, width: int, theme: Theme) -> list[Part]:
    """The last scores as a sparkline, and the mean of all."""
    mean = snapshot.account.movement_score
    if mean is None:
        return ["movement -"]
    scores = [score for one in snapshot.verdicts[-RECENT:] if (score := moved_score(one)) is not None]
    shown = scores[-width:]
    line = sparkline(shown, len(shown), low=0, high=100, plain=theme.ascii_only)
    return ["movement ", (line, PLAIN), (f" mean {mean:.0f}", BOLD)]


def timing_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """The last strokes on a line from early to late, with the mean in words; empty without a click."""
    mean_ms = snapshot.account.mean_ms
    if mean_ms is None:
        return row(("timing   own pace, nothing to measure" if snapshot.tempo is None else "timing   -", QUIET))
    recent = [ms for one in snapshot.verdicts[-RECENT:] if (ms := timed_ms(one)) is not None]
    offsets = recent[-_RECENT_OFFSETS:]
    if not offsets:
        return row("timing   on average ", (offset_words(mean_ms), BOLD))
    room = max(11, min(41, width - 68)) | 1
    reach = max(100.0, *map(abs, offsets))
    marks = [theme.signs.line] * room
    marks[room // 2] = theme.signs.cross
    for offset in offsets:
        marks[round((offset / reach + 1) / 2 * (room - 1))] = theme.signs.earlier
    marks[round((offsets[-1] / reach + 1) / 2 * (room - 1))] = theme.signs.latest
    return row(
        "timing   ", ("early ", QUIET), "".join(marks), (" late", QUIET),
        "   last ", (offset_words(offsets[-1]), BOLD), ", on average ", (offset_words(mean_ms), BOLD),
    )  # fmt: skip


def route_row(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """One sign for each step of the drill: how it went, where we are, what is left."""
    return [*row("route    "), *route_signs(snapshot, max(1, width - 9), theme)]


def route_signs(snapshot: Snapshot, width: int, theme: Theme) -> Row:
    """The signs of the steps around the target, at most ``width`` of them."""
    newest = snapshot.newest
    total = len(snapshot.plan.steps)
    first = max(0, min(snapshot.step - width // 2, total - width))
    here = snapshot.step if snapshot.target is not None else None  # nothing is due when the take is over
    return merged(_route_sign(index, here, newest, theme) for index in range(first, min(total, first + width)))


def _route_sign(index: int, here: int | None, newest: Mapping[int, Verdict], theme: Theme) -> tuple[str, Style]:
    if index == here:
        return theme.signs.here, NOW
    verdict = newest.get(index)
    return (theme.signs.grade(verdict.grade), theme.grade(verdict.grade)) if verdict else (theme.signs.dot, QUIET)
