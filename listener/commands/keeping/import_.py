"""``widehand import``: take in bundles. All of them are read and checked before anything is written."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Sequence
from dataclasses import dataclass
from pathlib import Path

from listener.commands.files import read_file
from listener.commands.json_out import print_json
from listener.commands.setup import store_path
from listener.errors import SourceError, UsageError, WidehandError
from listener.history.exchange.bundle import MOST_FILE_BYTES, Bundle
from listener.history.exchange.filing import (
    COURSE,
    SAME,
    DrillNews,
    drill_news,
    keep_takes,
    new_takes,
    remove,
    student_place,
    write_drills,
)
from listener.history.exchange.unpacking import unpack
from listener.history.store.store import Store
from listener.plain_words import counted
from listener.safe_text import clean
from listener.screen.sparkline import output_wants_plain
from listener.screen.theme import Theme
from listener.settings import own_drills_place


@dataclass(frozen=True)
class ImportedBundle:
    """What became of one bundle. ``student`` is empty when the takes are one's own, or there are none."""

    file: str
    student: str
    store: str
    new: int
    same: int
    drills: tuple[DrillNews, ...]

    def as_json(self) -> dict[str, object]:
        """One entry of ``bundles``."""
        drills = [{"name": one.drill.name, "state": one.state, "found_as": one.name} for one in self.drills]
        return {
            "file": self.file,
            "student": self.student or None,
            "store": self.store,
            "takes": {"new": self.new, "already_there": self.same},
            "drills": drills,
        }


def main(arguments: Namespace) -> int:
    """Exit code 1, and nothing written, when one of the files is refused."""
    if arguments.mine and arguments.name:
        raise UsageError("--mine and --from NAME do not go together: whose takes are they?")
    bundles = _read(arguments.files)
    owners = [_owner(file, bundle, arguments) for file, bundle in bundles]
    outcomes = [_keep(file, bundle, owner, arguments) for (file, bundle), owner in zip(bundles, owners, strict=True)]
    if arguments.json:
        print_json("import", {"dry_run": arguments.dry_run, "bundles": [outcome.as_json() for outcome in outcomes]})
        return 0
    theme = Theme(ascii_only=output_wants_plain())
    for outcome in outcomes:
        for line in _lines(outcome, dry=arguments.dry_run):
            print(theme.name(line))
    return 0


def _read(files: Sequence[str]) -> list[tuple[str, Bundle]]:
    found, refused = [], []
    for file in files:
        try:
            found.append((file, unpack(read_file(file, MOST_FILE_BYTES), clean(Path(file).name))))
        except WidehandError as error:
            refused.append(clean(" ".join(str(error).split())))
    if refused:
        left = ("nothing was imported",) if len(files) > 1 else ()
        raise SourceError("\nwidehand: ".join((*refused, *left)))
    return found


def _owner(file: str, bundle: Bundle, arguments: Namespace) -> str:
    """Whose takes they are; empty for one's own, and where there are none."""
    if arguments.mine or not bundle.takes:
        return ""
    name = clean(arguments.name or bundle.student).strip()
    if not name:
        raise UsageError(f"{file} does not say whose takes it holds; say --from NAME, or --mine for your own")
    return name


def _keep(file: str, bundle: Bundle, owner: str, arguments: Namespace) -> ImportedBundle:
    place: Path | str | None = store_path(arguments)
    if owner:
        place = student_place(place, owner)
    folder = own_drills_place()
    news = drill_news(bundle.drills, folder)
    if arguments.dry_run or not bundle.takes:
        with Store.open(place, read_only=True) as store:
            new, shown = new_takes(store, bundle.takes), store.backend.place
        if not arguments.dry_run:
            write_drills(news, folder)
    else:
        with Store.open(place) as store:
            for note in store.notes:
                print(note, file=sys.stderr)
            new, shown = new_takes(store, bundle.takes), store.backend.place
            written = write_drills(news, folder)
            try:
                keep_takes(store, new, f"from {owner}" if owner else "")
            except BaseException:
                remove(written)
                raise
    return ImportedBundle(file, owner, shown, len(new), len(bundle.takes) - len(new), news)


def _lines(outcome: ImportedBundle, *, dry: bool) -> list[str]:
    lines = []
    total = outcome.new + outcome.same
    if total:
        whose = f"from {outcome.student}" if outcome.student else "your own"
        would = "would be new" if dry else "new"
        lines.append(
            f"{outcome.file}, {whose}: {counted(total, 'take')}, {outcome.new} {would}, {outcome.same} already there"
        )
    for news in outcome.drills:
        lines.append(f"{outcome.file}: drill {news.drill.name}: {_drill_words(news, dry=dry)}")
    if not lines:
        return [f"{outcome.file}: nothing in it to keep"]
    if outcome.student and not dry:
        lines.append(
            f'Kept apart from your own takes. To look at them: widehand progress --student "{outcome.student}"'
        )
    return lines


def _drill_words(news: DrillNews, *, dry: bool) -> str:
    if news.state == COURSE:
        return "the course has it already"
    if news.state == SAME:
        return f"already there as {news.name}"
    kept = f"{'would be ' if dry else ''}{news.state}"
    return f"{kept}; play it with: widehand play {news.name}"
