"""Which pictures the progress page has, what each says in words to whoever cannot see it, and its numbers."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from functools import partial
from typing import Final

from rich.cells import set_cell_size

from listener.history.progress.facts import Change
from listener.history.progress.map import change_map, key
from listener.history.progress.periods import Period
from listener.history.progress.report import Report
from listener.history.progress.trend import change_words
from listener.safe_text import printable
from listener.screen.progress import plots
from listener.screen.progress.html import Picture
from listener.screen.progress.maps import short
from listener.screen.progress.plots import Alt, drawn
from listener.screen.progress.vocabulary_figures import vocabulary_figures
from listener.screen.theme import with_signs

_MAP: Final = 10
_DRILLS: Final = 14
_LEAST_FRETS: Final = 12


def figures(report: Report, left_handed: bool = False) -> list[Picture]:
    """The pictures that this report has something for, in order."""
    if not report.periods:
        return vocabulary_figures(report)
    found = [_shares(report), _scores(report), _tops(report), _timing(report), _minutes(report), _tempos(report)]
    found += [_changes(report), _neck(report, left_handed)]
    return [*(picture for picture in found if picture is not None), *vocabulary_figures(report)]


def _labels(report: Report) -> list[str]:
    return [period.label for period in report.periods]


def _rows(report: Report, *cells: Callable[[Period], str]) -> tuple[tuple[str, ...], ...]:
    """A row for each period in which something was played, the newest first."""
    played = [period for period in reversed(report.periods) if period.takes]
    return tuple((period.start.isoformat(), *(cell(period) for cell in cells)) for period in played)


def _newest(report: Report, values: Sequence[float | None], unit: str) -> str:
    """The newest value and how far all of them range: the first beside the last would look like a trend."""
    known = [(period.label, value) for period, value in zip(report.periods, values, strict=True) if value is not None]
    if len(known) == 1:
        return f"{known[0][1]:.0f}{unit} in the {report.unit} of {known[0][0]}."
    newest, now = known[-1]
    least, most = (pick(value for _, value in known) for pick in (min, max))
    over = f"over {len(known)} {report.unit}s with takes"
    return f"Newest {now:.0f}{unit} ({newest}); between {least:.0f} and {most:.0f}{unit} {over}."


def _shares(report: Report) -> Picture:
    accounts = [report.account(period) for period in report.periods]
    columns = [
        (100 * one.share, 100 * one.nears / one.judged, 100 * one.misses / one.judged) if one.judged else None
        for one in accounts
    ]
    title = "Hits, nears and misses"
    alt = Alt(title, "Share of hits. " + _newest(report, [column[0] if column else None for column in columns], " %"))
    return Picture(
        title,
        drawn(225, alt, "shares", partial(plots.shares, labels=_labels(report), columns=columns)),
        f"First attempts in percent, {_of(report)}. Solid is a hit, hatched a near, empty a miss.",
        (report.unit, "chords", "hits", "near", "missed", "hits %"),
        _rows(
            report,
            lambda one: str(report.account(one).judged),
            lambda one: str(report.account(one).hits),
            lambda one: str(report.account(one).nears),
            lambda one: str(report.account(one).misses),
            lambda one: f"{100 * report.account(one).share:.0f}" if report.account(one).judged else "-",
        ),
    )


def _of(report: Report) -> str:
    return "of parts of drills, as no take was whole yet" if report.only_parts else "of whole takes"


def _line(report: Report, name: str, title: str, note: str, value: Callable[[Period], float | None], marker: str,
          unit: str) -> Picture | None:  # fmt: skip
    values = [value(period) for period in report.periods]
    if all(one is None for one in values):
        return None
    alt = Alt(title, _newest(report, values, unit))
    svg = drawn(200, alt, name, partial(plots.line, labels=_labels(report), values=values, marker=marker, unit=unit))
    rows = _rows(report, lambda one: _number(value(one)))
    return Picture(title, svg, note, (report.unit, (name + unit).strip()), rows)


def _scores(report: Report) -> Picture | None:
    note = "100 means that nobody could have moved the voices less from chord to chord."
    return _line(report, "movement", "Movement score", note, lambda one: report.account(one).movement_score, "o", "")


def _tops(report: Report) -> Picture | None:
    note = "How often the highest note heard was the planned one."

    def share(period: Period) -> float | None:
        found = report.account(period).top_accuracy
        return None if found is None else 100 * found

    return _line(report, "top", "Top note right", note, share, "s", " %")


def _timing(report: Report) -> Picture | None:
    values = [period.timing_ms for period in report.periods]
    known = [value for value in values if value is not None]
    if not known:
        return None
    mean, spread = known[-1]
    side = "late" if mean > 0 else "early"
    words = f"At the end {abs(mean):.0f} ms {side} on average, with a spread of {spread:.0f} ms."
    least, most = (pick(spread for _, spread in known) for pick in (min, max))
    alt = Alt("Timing to the click", f"{words} The spread lay between {least:.0f} and {most:.0f} ms.")
    return Picture(
        alt.title,
        drawn(215, alt, "timing", partial(plots.ranges, labels=_labels(report), values=values)),
        "The dot is your average: ahead of the click or behind may well be meant. The bar is the spread: how steady.",
        (report.unit, "mean ms", "spread ms", "chords"),
        _rows(
            report,
            lambda one: "-" if one.account.mean_ms is None else f"{one.account.mean_ms:+.1f}",
            lambda one: _number(one.account.spread_ms, 1),
            lambda one: str(one.account.onsets),
        ),
    )


def _minutes(report: Report) -> Picture:
    whole = [period.playing_s / 60 for period in report.periods]
    stretch = [None if period.stretch_s is None else period.stretch_s / 60 for period in report.periods]
    jumps = [report.unit == "week" and period.start in report.words.jumps for period in report.periods]
    title = f"Minutes and stretch in each {report.unit}"
    words = f"{sum(whole):.0f} minutes in all, {whole[-1]:.0f} in the newest {report.unit}. {report.words.care}"
    note = (
        "Time from chord to chord, without pauses; the hatched part is that time weighted by how far the hand reached."
    )
    return Picture(
        title,
        drawn(225, Alt(title, words.strip()), "minutes",
              partial(plots.minutes, labels=_labels(report), whole=whole, stretch=stretch, marked=jumps)),
        f"{note} An arrow marks a jump over the weeks before." if any(jumps) else note,
        (report.unit, "takes", "minutes", "weighted"),
        _rows(
            report,
            lambda one: str(one.takes),
            lambda one: f"{one.playing_s / 60:.1f}",
            lambda one: _number(None if one.stretch_s is None else one.stretch_s / 60, 1),
        ),
    )  # fmt: skip


def _tempos(report: Report) -> Picture | None:
    found = report.tempos
    if not found:
        return None
    shown = [(_short(one.drill), one.first, one.highest, one.tried or 0.0) for one in found[:_DRILLS]]
    best = "; ".join(
        f"{one.drill} {one.first:g} to {one.highest:g}" if one.first and one.highest else f"{one.drill} none yet"
        for one in found[:_DRILLS]
    )
    return Picture(
        "Tempo reached",
        drawn(80 + 34 * len(shown), Alt("Tempo reached", f"First and highest tempo reached: {best}."), "tempo",
              partial(plots.tempos, rows=shown)),
        "A tempo is reached with a take in which every step was tried and at least 90 % were hits. Ring: the first "
        "that was reached. Dot: the highest. Cross: the highest that was tried.",
        ("drill", "first reached", "highest reached", "highest tried"),
        tuple((one.drill, *(_number(tempo) for tempo in (one.first, one.highest, one.tried))) for one in found),
    )  # fmt: skip


def _changes(report: Report) -> Picture | None:
    changes = report.facts.changes
    if not changes:
        return None
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
    more = f" {found.left_out} more changes are in the table." if found.left_out else ""
    return Picture(
        "From chord to chord",
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


def _neck(report: Report, left_handed: bool) -> Picture | None:
    neck = report.facts.neck
    if not neck.spots:
        return None
    most = max(spot.strokes for spot in neck.spots)
    count = len(neck.strings)
    frets = max(_LEAST_FRETS, *(spot.fret for spot in neck.spots))
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
    rows = ["open" if fret == 0 else str(fret) for fret in range(frets + 1)]
    return Picture(
        "Where you have been on the neck",
        drawn(50 + 27 * len(rows), alt, "neck", partial(plots.squares, rows=rows, columns=names, cells=cells)),
        "Chords (hits and nears) with a note at that fret in the plan; the nut is on top, as in a chord diagram.",
        ("string", "fret", "chords"),
        tuple((str(spot.string), str(spot.fret), str(spot.strokes)) for spot in neck.spots),
    )


def _change(change: Change) -> str:
    return with_signs(printable(change_words(change.whole)))


def _short(name: str, most: int = 20) -> str:
    shown = printable(name)
    return shown if len(shown) <= most else set_cell_size(shown, most - 1) + "…"


def _number(value: float | None, places: int = 0) -> str:
    return "-" if value is None else f"{value:.{places}f}"


def _fitting(count: int) -> str:
    """In full as long as it fits into its square."""
    return str(count) if count < 100_000 else short(count)
