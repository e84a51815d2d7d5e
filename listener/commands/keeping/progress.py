"""``widehand progress``: how it went over the weeks, as pictures in the terminal, a page of HTML, tables or JSON."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Sequence
from datetime import date, tzinfo
from pathlib import Path
from typing import Final

from rich.console import Console

from listener import __version__
from listener.commands.file_names import STDOUT, UNNAMED, check_twice, free_name
from listener.commands.files import write_file
from listener.commands.json_out import print_json
from listener.commands.setup import NOTHING_ASKED, guitar_of, hand_of, store_path
from listener.errors import UsageError, WidehandError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.history.progress.csv_pages import changes_csv, takes_csv, vocabulary_csv
from listener.history.progress.reading import read_facts
from listener.history.progress.report import ProgressReport, kept_since, report_on
from listener.history.store.folders import plain_name
from listener.history.store.store import Store
from listener.plain_words import counted
from listener.planning.shapes.cells import Cell, cells_there_are
from listener.safe_text import echo
from listener.screen.progress.page import lead_words, progress_rows, vocabulary_section
from listener.screen.progress.tables import show
from listener.screen.rows import page
from listener.screen.sparkline import output_wants_plain
from listener.screen.theme import Theme
from listener.settings import load_settings

#: Columns when the output goes into a file or another program.
_PIPED_WIDTH: Final = 100
#: What the widest table needs beside the drill's name.
_DETAIL_WIDTH: Final = 75


def run(
    place: Path | str | None,
    *,
    drill: str | None,
    as_json: bool,
    since: date | None = None,
    html: str | None = None,
    csv: str | None = None,
    csv_changes: str | None = None,
    csv_vocabulary: str | None = None,
    zone: tzinfo | None = None,
) -> int:
    """Show progress on all drills, or on one, from a day on or from the start; exit code 0.

    With files to write, nothing else is shown. Days are those of ``zone``, by default this machine's.
    :class:`StoreError` when the history cannot be read.
    """
    asked = ((csv, takes_csv), (csv_changes, changes_csv), (csv_vocabulary, vocabulary_csv))
    tables = {name: make for name, make in asked if name}
    _check_names(html, [csv, csv_changes, csv_vocabulary], as_json)
    with Store.open(place, read_only=True) as store:
        for line in store.notes:
            print(line, file=sys.stderr)
        with store.backend.reading() as db:
            facts = read_facts(db, drill, kept_since(since, zone))
        known = [] if facts.takes else [one.drill for one in store.progress().drills]
    there_are = _cells() if facts.vocabulary.chords else frozenset[Cell]()
    report = report_on(facts, zone=zone, since=since, drill=drill, there_are=there_are)
    # Everything is made before anything is written, so that a fault leaves no half of the files behind.
    files = {name: make(facts).encode("utf-8") for name, make in tables.items()}
    if html:
        files[html] = _page(report, known)
    for name, data in files.items():
        _write(name, data)
    if as_json:
        print_json("progress", report.as_json())
    elif not files:
        _print(report, known)
    return 0


def _print(report: ProgressReport, known: Sequence[str]) -> None:
    plain = output_wants_plain()
    theme = Theme(ascii_only=plain, left_handed=_left_handed())
    progress = report.facts.progress
    # A pipe is as wide as the longest name needs, so that other programs find it whole.
    longest = max((len(one.drill) for one in progress.drills), default=0)
    width = None if sys.stdout.isatty() else max(_PIPED_WIDTH, longest + _DETAIL_WIDTH)
    console = Console(file=sys.stdout, width=width, highlight=False, markup=False, emoji=False)
    wide = min(console.width, _PIPED_WIDTH) if width else console.width
    if not progress.takes:
        console.print(theme.words(nothing_yet(report, known)), soft_wrap=True)
        if free := vocabulary_section(report, wide, theme):
            console.print(page([*free, []], wide, theme))
        return
    console.print(page([*progress_rows(report, wide, theme), [], []], wide, theme))
    show(report, console, plain=plain)


def nothing_yet(report: ProgressReport, known: Sequence[str]) -> str:
    """What to do when there is nothing to show; ``known`` are the drills that have takes of the player's own."""
    left_out = report.facts.simulated
    demo = f" ({counted(left_out, 'take')} by the simulated guitarist of the demo left out)" if left_out else ""
    return f"{_nothing_yet(report, known)}{demo}"


def _nothing_yet(report: ProgressReport, known: Sequence[str]) -> str:
    drill = echo(report.drill or "", 80)
    if report.facts.vocabulary.chords:
        return "Only free playing here so far, in which nothing is judged. This is what you played:"
    if drill and report.drill in known and report.since:
        return f"No takes of {drill} since {report.since.isoformat()}; there are older ones: leave out --since."
    if drill and known:
        return f"No takes of {drill} yet; there are some of: {', '.join(known)}. Play it with: widehand play {drill}"
    if drill:
        return f"No takes of {drill} yet. Play it with: widehand play {drill}"
    if known and report.since:
        return f"No takes since {report.since.isoformat()}; there are older ones: leave out --since to see them."
    return (
        "No takes yet. Plug in and run: widehand play paddock-gate, or with nothing plugged in: widehand demo. "
        "One take is enough for a first picture; a trend can be seen after three weeks."
    )


def _page(report: ProgressReport, known: Sequence[str]) -> bytes:
    from listener.screen.progress.figures import figures
    from listener.screen.progress.html import page as html_page

    lead = lead_words(report) if report.periods else [nothing_yet(report, known)]
    days = [report.local_day(take.summary.started_at) for take in report.facts.takes]
    span = f"Takes from {min(days).isoformat()} to {max(days).isoformat()}. " if days else ""
    foot = f"{span}Made by Widehand {__version__}. Pain means stop; if it stays, ask a teacher or a clinician."
    return html_page(report, lead, figures(report, _left_handed()), foot).encode("utf-8")


def _cells() -> frozenset[Cell]:
    """What there is on the guitar of the settings for the hand in them, or, where they have a fault, on any."""
    try:
        settings = load_settings()
        return cells_there_are(guitar_of(NOTHING_ASKED, settings), hand_of(NOTHING_ASKED, settings))
    except WidehandError:
        return cells_there_are(make_instrument(), make_hand())


def _left_handed() -> bool:
    """As the settings say; settings with a fault are told of by the commands that need them."""
    try:
        return load_settings().left_handed
    except WidehandError:
        return False


def _check_names(html: str | None, tables: Sequence[str | None], as_json: bool) -> None:
    if html == STDOUT:
        raise UsageError(
            "--html needs the name of a file; only the tables (--csv and its like) can go to standard output"
        )
    if [as_json, *(name == STDOUT for name in tables)].count(True) > 1:
        raise UsageError(
            "only one thing fits on standard output: --json, --csv -, --csv-changes - or --csv-vocabulary -; "
            "give files to others"
        )
    check_twice([name for name in (html, *tables) if name and name != STDOUT])


def _write(name: str, data: bytes) -> None:
    if name == STDOUT:
        # As bytes: the rows of a table end as RFC 4180 wants it, whatever the platform's own line ends are.
        sys.stdout.flush()
        sys.stdout.buffer.write(data)
        sys.stdout.buffer.flush()
        return
    write_file(name, data)
    print(f"written: {name}", file=sys.stderr)


def main(arguments: Namespace) -> int:
    """The command line's way in."""
    stem = plain_name(arguments.drill) if arguments.drill else "progress"
    return run(
        store_path(arguments),
        drill=arguments.drill,
        as_json=arguments.json,
        since=arguments.since,
        html=_named(arguments.html, stem, ".html"),
        csv=_named(arguments.csv, stem, ".csv"),
        csv_changes=_named(arguments.csv_changes, f"{stem}-changes", ".csv"),
        csv_vocabulary=_named(arguments.csv_vocabulary, f"{stem}-vocabulary", ".csv"),
    )


def _named(name: str | bool | None, stem: str, suffix: str) -> str | None:
    return free_name(stem, suffix) if name is UNNAMED else name or None
