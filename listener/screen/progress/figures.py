"""The pictures of the progress page, what each says in words to whoever cannot see it, and its numbers."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from functools import partial
from typing import Final

from rich.cells import set_cell_size

from listener.history.progress.facts import ChangeTotals
from listener.history.progress.map import change_map, key
from listener.history.progress.report import ProgressReport
from listener.history.progress.trend import change_words
from listener.plain_words import counted
from listener.safe_text import printable
from listener.screen.progress import plots
from listener.screen.progress.html import Picture
from listener.screen.progress.maps import short
from listener.screen.progress.plots import Alt, drawn
from listener.screen.progress.shown import (
    MOVEMENT,
    REACHED_WORDS,
    TOP,
    ChangesMap,
    Course,
    Hits,
    Minutes,
    Places,
    Shown,
    Tempos,
    Timing,
    frets_shown,
    last_known,
    pictures_of,
)
from listener.screen.progress.vocabulary_figures import vocabulary_figures
from listener.screen.theme import with_signs
from listener.screen.words import offset_words, or_dash

_MAP: Final = 10
_DRILLS: Final = 14
#: The marker of each line, and how to read it.
_LINES: Final = {
    MOVEMENT: ("o", "100 means that nobody could have moved the voices less from chord to chord."),
    TOP: ("s", "How often the highest note heard was the planned one."),
}


def figures(report: ProgressReport, left_handed: bool = False) -> list[Picture]:
    """The pictures that this report has something for, in order."""
    found = (_picture(one, report, left_handed) for one in pictures_of(report))
    return [*(picture for picture in found if picture is not None), *vocabulary_figures(report)]


def _picture(one: Shown, report: ProgressReport, left_handed: bool) -> Picture | None:
    if isinstance(one, Hits):
        return _shares(one, report)
    if isinstance(one, Course):
        return _line(one, report)
    if isinstance(one, Timing):
        return _timing(one, report)
    if isinstance(one, Minutes):
        return _minutes(one, report)
    if isinstance(one, Tempos):
        return _tempos(one)
    return _changes(one) if isinstance(one, ChangesMap) else _neck(one, left_handed)


def _labels(report: ProgressReport) -> list[str]:
    return [period.label for period in report.periods]


def _rows(report: ProgressReport, *columns: Iterable[str]) -> tuple[tuple[str, ...], ...]:
    """A row for each period with a take, the newest first; ``columns`` have a cell for each period."""
    rows = list(zip(report.periods, *columns, strict=True))
    return tuple((period.start.isoformat(), *cells) for period, *cells in reversed(rows) if period.takes)


def _newest(report: ProgressReport, values: Sequence[float | None], unit: str) -> str:
    """The newest value and how far all of them range: the first beside the last would look like a trend."""
    known = [(period.label, value) for period, value in zip(report.periods, values, strict=True) if value is not None]
    if len(known) == 1:
        return f"{known[0][1]:.0f}{unit} in the {report.unit} of {known[0][0]}."
    newest, now = known[-1]
    least, most = (pick(value for _, value in known) for pick in (min, max))
    over = f"over {len(known)} {report.unit}s with takes"
    return f"Newest {now:.0f}{unit} ({newest}); between {least:.0f} and {most:.0f}{unit} {over}."


def _shares(shown: Hits, report: ProgressReport) -> Picture | None:
    if last_known(shown.values) is None:
        return None
    accounts = shown.accounts
    columns = [
        (100 * one.share, 100 * one.nears / one.judged, 100 * one.misses / one.judged) if one.judged else None
        for one in accounts
    ]
    title = "Hits, nears and misses"
    alt = Alt(title, "Share of hits. " + _newest(report, shown.values, " %"))
    return Picture(
        title,
        drawn(225, alt, "shares", partial(plots.shares, labels=_labels(report), columns=columns)),
        f"First attempts in percent, {_of(shown)}. Solid is a hit, hatched a near, empty a miss.",
        (report.unit, "chords", "hits", "near", "missed", "hits %"),
        _rows(
            report,
            (str(one.judged) for one in accounts),
            (str(one.hits) for one in accounts),
            (str(one.nears) for one in accounts),
            (str(one.misses) for one in accounts),
            map(or_dash, shown.values),
        ),
    )


def _of(shown: Hits) -> str:
    return "of parts of drills, as no take was whole yet" if shown.only_parts else "of whole takes"


def _line(shown: Course, report: ProgressReport) -> Picture | None:
    if last_known(shown.values) is None:
        return None
    marker, note = _LINES[shown.name]
    alt = Alt(shown.title, _newest(report, shown.values, shown.unit))
    draw = partial(plots.line, labels=_labels(report), values=shown.values, marker=marker, unit=shown.unit)
    columns = (report.unit, (shown.name + shown.unit).strip())
    rows = _rows(report, map(or_dash, shown.values))
    return Picture(shown.title, drawn(200, alt, shown.name, draw), note, columns, rows)


def _timing(shown: Timing, report: ProgressReport) -> Picture:
    known = [value for value in shown.values if value is not None]
    mean, spread = known[-1]
    words = f"At the end {offset_words(mean)} on average, with a spread of {spread:.0f} ms."
    least, most = (pick(spread for _, spread in known) for pick in (min, max))
    accounts = [period.account for period in report.periods]
    alt = Alt(shown.title, f"{words} The spread lay between {least:.0f} and {most:.0f} ms.")
    return Picture(
        alt.title,
        drawn(215, alt, "timing", partial(plots.ranges, labels=_labels(report), values=shown.values)),
        "The dot is your average: ahead of the click or behind may well be meant. The bar is the spread: how steady.",
        (report.unit, "mean ms", "spread ms", "chords"),
        _rows(
            report,
            ("-" if one.mean_ms is None else f"{one.mean_ms:+.1f}" for one in accounts),
            (or_dash(one.spread_ms, 1) for one in accounts),
            (str(one.onsets) for one in accounts),
        ),
    )


def _minutes(shown: Minutes, report: ProgressReport) -> Picture:
    whole = shown.whole
    title = f"Minutes and stretch in each {report.unit}"
    words = f"{sum(whole):.0f} minutes in all, {whole[-1]:.0f} in the newest {report.unit}. {report.words.care}"
    note = (
        "Time from chord to chord, without pauses; the hatched part is that time weighted by how far the hand reached."
    )
    return Picture(
        title,
        drawn(225, Alt(title, words.strip()), "minutes",
              partial(plots.minutes, labels=_labels(report), whole=whole, stretch=shown.stretch, marked=shown.jumps)),
        f"{note} An arrow marks a jump over the weeks before." if any(shown.jumps) else note,
        (report.unit, "takes", "minutes", "weighted"),
        _rows(
            report,
            (str(one.takes) for one in report.periods),
            (or_dash(one, 1) for one in whole),
            (or_dash(one, 1) for one in shown.stretch),
        ),
    )  # fmt: skip


def _tempos(shown: Tempos) -> Picture:
    found = shown.drills
    rows = [(_short(one.drill), one.first, one.highest, one.tried or 0.0) for one in found[:_DRILLS]]
    best = "; ".join(f"{one.drill} {one.words() or 'none yet'}" for one in found[:_DRILLS])
    return Picture(
        shown.title,
        drawn(80 + 34 * len(rows), Alt(shown.title, f"First and highest tempo reached: {best}."), "tempo",
              partial(plots.tempos, rows=rows)),
        f"{REACHED_WORDS} Ring: the first that was reached. Dot: the highest. Cross: the highest that was tried.",
        ("drill", "first reached", "highest reached", "highest tried"),
        tuple((one.drill, *(or_dash(tempo) for tempo in (one.first, one.highest, one.tried))) for one in found),
    )  # fmt: skip


def _changes(shown: ChangesMap) -> Picture:
    changes = shown.changes
    found = change_map(changes, _MAP)
    cells = {
        place: (f"{100 * change.whole.hit_rate:.0f}", min(1.0, 2.2 * (1 - change.whole.hit_rate)))
        for place, change in found.cells.items()
    }
    rows = [f"{key(place)}  {_short(with_signs(name), 18)}" for place, name in enumerate(found.names)]
    columns = [key(place) for place in range(len(rows))]
    weak = sorted(changes, key=lambda one: (one.whole.hit_rate, -one.whole.attempts))
    told = "; ".join(f"{_change(one)} {100 * one.whole.hit_rate:.0f} %" for one in weak[:3])
    note = "Row: the chord before; column: the chord after; number: hits in percent. Full: much to gain."
    more = f" {counted(found.left_out, 'more change')} in the table." if found.left_out else ""
    return Picture(
        shown.title,
        drawn(70 + 31 * len(rows), Alt("Map of changes", f"The changes with fewest hits: {told}."), "changes",
              partial(plots.squares, rows=rows, columns=columns, cells=cells)),
        note + more,
        ("change", "tried", "hits", "hits %", "lately"),
        tuple(
            (_change(one), str(one.whole.attempts), str(one.whole.hits), f"{100 * one.whole.hit_rate:.0f}",
             f"{one.late_hits} of {one.late_attempts}")
            for one in weak
        ),
    )  # fmt: skip


def _neck(shown: Places, left_handed: bool) -> Picture:
    neck = shown.neck
    most = max(spot.strokes for spot in neck.spots)
    count = len(neck.strings)
    # As in a chord diagram: the nut on top, the lowest string on the left; mirrored for left-handed players.
    column = {string: string - 1 if left_handed else count - string for string in range(1, count + 1)}
    cells = {(spot.fret, column[spot.string]): (_fitting(spot.strokes), spot.strokes / most) for spot in neck.spots}
    names = [neck.strings[string - 1] for string in sorted(column, key=lambda string: column[string])]
    busiest = max(neck.spots, key=lambda spot: (spot.strokes, -spot.string, -spot.fret))
    alt = Alt(
        "Map of the neck",
        f"{len(neck.spots)} places from fret {min(spot.fret for spot in neck.spots)} to "
        f"{max(spot.fret for spot in neck.spots)}; most often string {busiest.string}, fret {busiest.fret}: "
        f"{busiest.strokes} chords.",
    )
    rows = ["open" if fret == 0 else str(fret) for fret in frets_shown(neck)]
    return Picture(
        shown.title,
        drawn(50 + 27 * len(rows), alt, "neck", partial(plots.squares, rows=rows, columns=names, cells=cells)),
        "Chords (hits and nears) with a note at that fret in the plan; the nut is on top, as in a chord diagram.",
        ("string", "fret", "chords"),
        tuple((str(spot.string), str(spot.fret), str(spot.strokes)) for spot in neck.spots),
    )


def _change(change: ChangeTotals) -> str:
    return with_signs(printable(change_words(change.whole)))


def _short(name: str, most: int = 20) -> str:
    shown = printable(name)
    return shown if len(shown) <= most else set_cell_size(shown, most - 1) + "…"


def _fitting(count: int) -> str:
    """In full as long as it fits into its square."""
    return str(count) if count < 100_000 else short(count)
