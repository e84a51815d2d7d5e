"""The pictures of progress in a terminal: they fit, they say what the numbers say, and they need no colour."""

from __future__ import annotations

import io
from collections.abc import Callable, Sequence
from datetime import UTC, datetime, timedelta
from pathlib import Path

import pytest
from hypothesis import given
from hypothesis import strategies as st
from made_up_weeks import fill
from rich.console import Console

from listener.history.progress.facts import Neck, NeckSpot
from listener.history.progress.periods import Period
from listener.history.progress.reading import read_facts
from listener.history.progress.report import ProgressReport, Reached, report_on
from listener.history.store.store import Store
from listener.judging.account import Account
from listener.screen.progress.charts import AXIS, HEIGHT, bar_chart, range_chart, share_chart
from listener.screen.progress.maps import neck_map_rows, short, tempo_rows
from listener.screen.progress.page import progress_rows
from listener.screen.rows import Row, page, row_width
from listener.screen.theme import ASCII, Theme

PLAIN = Theme(ascii_only=True)


@pytest.fixture(scope="module")
def report(tmp_path_factory: pytest.TempPathFactory) -> ProgressReport:
    """Twenty made-up weeks."""
    return report_after(tmp_path_factory.mktemp("weeks"), 20)


def report_after(folder: Path, weeks: int) -> ProgressReport:
    with Store.open(folder / "history.sqlite3") as store:
        store.backend.db.execute("PRAGMA synchronous = OFF")
        fill(store, weeks)
        with store.backend.reading() as db:
            return report_on(read_facts(db), zone=UTC)


def text(rows: Sequence[Row]) -> list[str]:
    return ["".join(segment.text for segment in cells) for cells in rows]


def periods(values: Sequence[object], make: Callable[[object], Account] = lambda value: Account()) -> list[Period]:
    start = datetime(2031, 5, 5, tzinfo=UTC).date()
    return [
        Period("week", start + timedelta(weeks=number), 1, make(value), 0.0, None)
        for number, value in enumerate(values)
    ]


@pytest.mark.parametrize("width", [40, 60, 80, 100, 140, 200])
@pytest.mark.parametrize("plain", [False, True])
def test_everything_fits(report: ProgressReport, width: int, plain: bool) -> None:
    """No row is wider than the terminal; plain is ASCII and nothing else."""
    theme = Theme(ascii_only=plain)
    rows = progress_rows(report, width, theme)
    if width >= 60:
        assert max(map(row_width, rows)) <= width
    file = io.StringIO()
    Console(file=file, width=width).print(page(rows, width, theme))
    shown = file.getvalue()
    assert max(map(len, shown.splitlines())) <= width
    assert not plain or shown.isascii()


def test_the_words_come_first(report: ProgressReport) -> None:
    """What got easier and what is next stand before the first picture, care for the hand as well."""
    lines = text(progress_rows(report, 100, Theme()))
    head = " ".join(lines[: next(place for place, line in enumerate(lines) if "Hits, whole takes" in line)])
    assert head.startswith(report.words.easier)
    for words in (report.words.next, report.words.care):
        assert words
        assert words in head.replace("♭", "b")
    for title in ("Movement score", "Top note right", "Timing to the click", "Minutes a week", "weighted by stretch",
                  "Tempo reached", "From chord to chord", "Where you have been"):  # fmt: skip
        assert any(title in line for line in lines), title


def test_a_single_sitting(tmp_path: Path) -> None:
    """One evening gives pictures already, and says from when on a trend can be seen."""
    report = report_after(tmp_path, 1)
    lines = " ".join(text(progress_rows(report, 80, PLAIN)))
    assert report.unit == "day"
    assert "A trend can be seen once there are takes in 3 different weeks" in " ".join(lines.split())
    assert "Movement score" in lines


def bar_rows(value: float | None, height: float = 100.0) -> list[str]:
    rows = text(bar_chart("t", "", [value], periods([0]), 38, Theme(), high=height))
    return [line[AXIS : AXIS + 1] for line in rows[1 : 1 + HEIGHT]]


@given(st.floats(0, 100), st.floats(0, 100))
def test_bars_grow_with_their_value(one: float, other: float) -> None:
    """A larger value is never drawn lower; nothing is nothing, something is seen, all fills the height."""

    def ink(value: float) -> int:
        return sum(" ▁▂▃▄▅▆▇█".index(cell) for cell in bar_rows(value))

    assert (ink(one) <= ink(other)) == (one <= other) or ink(one) == ink(other)
    assert ink(0) == 0
    assert ink(100) == 8 * HEIGHT
    assert ink(max(one, 0.001)) > 0
    assert bar_rows(None) == [" "] * HEIGHT


@given(st.integers(0, 50), st.integers(0, 50), st.integers(0, 50))
def test_shares_fill_the_height(hits: int, nears: int, misses: int) -> None:
    """Each column has as many cells as there are rows, in the order hit, near, miss, each within half a cell."""
    account = Account(hits=hits, nears=nears, misses=misses)
    lines = text(share_chart("t", "", [account], periods([0]), 38, Theme()))[1 : 1 + HEIGHT]
    column = "".join(line[AXIS] for line in reversed(lines))
    every = hits + nears + misses
    if not every:
        assert column == " " * HEIGHT
        return
    assert column == "█" * column.count("█") + "▒" * column.count("▒") + "·" * column.count("·")
    assert abs(column.count("█") - HEIGHT * hits / every) <= 0.5
    assert abs(column.count("·") - HEIGHT * misses / every) <= 0.5


def test_early_is_below_the_click_and_late_above() -> None:
    """The dot stands on the side that the axis names; a steady player has a dot and no line."""
    rows = text(range_chart("t", "", [(-40.0, 0.0), (40.0, 20.0)], periods([0, 1]), 38, PLAIN))[1:8]
    early, late = (["o" in line, "|" in line[AXIS:]] for line in rows), [line[AXIS + 4 :] for line in rows]
    assert list(early)[5] == [True, False]
    assert [line.find("o") > 0 for line in rows] == [False, True, False, False, False, True, False]
    assert ["|" in line for line in late] == [True, False, True, False, False, False, False]
    assert rows[3].strip("0 |-") == ""
    assert rows[0].startswith(" +60|")
    assert rows[6].startswith(" -60|")


def test_tempos() -> None:
    """First and highest tempo reached on one scale; a drill without one says so. It is not called clean: that is the
    ladder's word for more."""
    first, second, legend = text(tempo_rows([Reached("walk", 60, 90, 100), Reached("run", None, None, 80)], 80, PLAIN))
    assert legend.strip() == "o first reached, O highest reached, + highest tried; 60 to 100"
    assert first.endswith("60 > 90")
    assert first.index("o") < first.index("O") < first.index("+")
    assert second.endswith("not yet")
    (only, _) = text(tempo_rows([Reached("walk", 60, 60, 60)], 80, PLAIN))
    assert "O" in only
    assert tempo_rows([], 80, PLAIN) == []


def test_the_neck_as_one_looks_down_on_it() -> None:
    """The highest string on top, counts under their fret; mirrored for left-handed players."""
    neck = Neck(("E", "B", "G", "D", "A", "E"), (NeckSpot(1, 3, 7), NeckSpot(6, 0, 1200), NeckSpot(2, 5, 3)))
    lines = text(neck_map_rows(neck, 80, PLAIN))
    assert len(lines) == 7
    assert lines[1][lines[0].index("3 ") - 2 :].startswith("  7")
    assert lines[6].split()[1] == "1kH"
    mirrored = text(neck_map_rows(neck, 80, Theme(ascii_only=True, left_handed=True)))
    assert mirrored[0].split() == lines[0].split()[::-1]
    far = Neck(("E",), (NeckSpot(1, 22, 5),))
    assert any("have no room" in line for line in text(neck_map_rows(far, 60, PLAIN)))
    assert not any("have no room" in line for line in text(neck_map_rows(far, 120, PLAIN)))


def test_weak_changes_are_seen_without_colour(report: ProgressReport) -> None:
    """Brackets tell weak from middling from good, and each number stands in its row and column."""
    lines = text(progress_rows(report, 80, PLAIN))
    start = next(place for place, line in enumerate(lines) if line.startswith("from"))
    row = next(line for line in lines[start:] if "Cmaj7 drop 2" in line)
    column = next(line for line in lines[start:] if "A7 drop 2" in line)[0]
    change = next(one for one in report.facts.changes if (one.whole.from_chord, one.whole.to_chord) == ("Cmaj7", "A7"))
    place = lines[start + 1].index(f" {column}") + 1
    assert change.whole.hit_rate < 0.6
    assert row[place - 2 : place + 2] == f"[{100 * change.whole.hit_rate:.0f}]"


@given(st.integers(1, 10**12))
def test_counts_in_three_characters(count: int) -> None:
    """Short, and right to the digits that are left."""
    shown = short(count)
    assert len(shown) <= 4 - (count < 1000)
    if shown != "...":
        value = int(shown.rstrip("kMG")) * {"k": 1e3, "M": 1e6, "G": 1e9}.get(shown[-1], 1)
        assert value == pytest.approx(count, rel=0.34)
    assert ASCII.dot not in shown or shown == "..."
