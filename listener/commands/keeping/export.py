"""``widehand export``: drills and takes for somebody else as a bundle, verdicts as a table or as JSON."""

from __future__ import annotations

import hashlib
import sys
from argparse import Namespace
from collections.abc import Iterator, Sequence
from pathlib import Path
from typing import Final

from listener.commands.file_names import STDOUT
from listener.commands.files import is_folder, write_file
from listener.commands.json_out import print_json
from listener.commands.setup import store_path
from listener.drill.drill import Drill
from listener.drill.drill_file import load_drill
from listener.errors import StoreError, UsageError
from listener.history.exchange.selecting import handed_over, selected
from listener.history.progress.csv_table import csv_table
from listener.history.store.rows import KeptTake
from listener.history.store.store import Store
from listener.judging.verdict import Verdict
from listener.plain_words import counted
from listener.safe_text import clean
from listener.settings import load_settings

_COLUMNS: Final = (
    *("take", "drill", "started_at", "tempo", "step", "chord", "kind", "planned", "attempt", "grade", "faults"),
    *("heard", "onset_s", "spread_ms", "offset_ms", "movement_semitones", "least", "movement_score"),
)

#: A take with its verdicts.
Judged = tuple[KeptTake, tuple[Verdict, ...]]


def main(arguments: Namespace) -> int:
    """Write what was asked for; everything is made before anything is written."""
    _check(arguments)
    drills = [load_drill(name) for name in arguments.drills]
    with Store.open(store_path(arguments), read_only=True) as store:
        for line in store.notes:
            print(line, file=sys.stderr)
        kept = selected(store, arguments.take or (), arguments.drill, arguments.since, every=arguments.all)
        if not kept and (arguments.take or arguments.drill or arguments.since):
            raise StoreError(_nothing(store))
        bundle, left = _bundle(store, kept, drills, arguments) if arguments.bundle else (b"", ())
        judged = [(take, store.verdicts(take.id)) for take in kept] if arguments.csv or arguments.json else []
    table = _csv(judged) if arguments.csv else ""
    if arguments.bundle:
        write_file(arguments.bundle, bundle)
    if arguments.csv == STDOUT:
        sys.stdout.write(table)
    elif arguments.csv:
        write_file(arguments.csv, table.encode())
    for line in left:
        print(line, file=sys.stderr)
    _report(arguments, len(kept) - len(left), drills, bundle, judged)
    return 0


def _check(arguments: Namespace) -> None:
    """UsageError for options that do not go together."""
    if not (arguments.bundle or arguments.csv or arguments.json):
        raise UsageError("say what to write: --bundle FILE, --csv FILE or --json (a sheet: widehand sheet)")
    if not (arguments.drills or arguments.take or arguments.drill or arguments.since or arguments.all):
        raise UsageError("say what to hand over: a DRILL, --take N, --drill NAME, --since WHEN or --all")
    if arguments.drills and not arguments.bundle:
        raise UsageError("a drill goes into a bundle: add --bundle FILE (or did you mean its takes, --drill NAME?)")
    if arguments.bundle == STDOUT:
        raise UsageError("--bundle needs the name of a file")
    if arguments.bundle and not arguments.bundle.lower().endswith(".zip") and not is_folder(Path(arguments.bundle)):
        raise UsageError(f"a bundle's name ends in .zip, or nobody finds it; write --bundle {arguments.bundle}.zip")
    if arguments.csv == STDOUT and arguments.json:
        raise UsageError("--csv - and --json both want standard output; give the table a file")


def _nothing(store: Store) -> str:
    known = ", ".join(store.drills())
    return f"there are no such takes; there are some of: {known}" if known else _NO_TAKES


_NO_TAKES: Final = "no takes yet, so there is nothing to hand over; play one, or try: widehand demo"


def _bundle(
    store: Store, kept: Sequence[KeptTake], drills: Sequence[Drill], arguments: Namespace
) -> tuple[bytes, tuple[str, ...]]:
    if not kept and not drills:
        raise StoreError(_NO_TAKES)
    # Who names a take wants that one; who asks for all wants what there is.
    return handed_over(store, kept, drills, _name(arguments), leave_out=not arguments.take)


def _name(arguments: Namespace) -> str:
    return clean(arguments.name if arguments.name is not None else load_settings().name).strip()


def _csv(judged: Sequence[Judged]) -> str:
    return csv_table(_COLUMNS, (row for take, verdicts in judged for row in _rows(take, verdicts)))


def _rows(take: KeptTake, verdicts: Sequence[Verdict]) -> Iterator[list[object]]:
    steps = take.info.plan.get("steps", ())
    for verdict in verdicts:
        step = steps[verdict.step] if verdict.step < len(steps) else {}
        yield [
            take.id,
            take.info.drill,
            take.info.started_at.isoformat(),
            take.info.tempo,
            verdict.step + 1,
            str(step.get("chord", "")),
            str(step.get("kind", "")),
            " ".join(map(str, step.get("pitches", ()))),
            verdict.attempt,
            verdict.grade,
            "; ".join(fault.text for fault in verdict.faults),
            " ".join(map(str, verdict.heard)),
            verdict.onset_s,
            verdict.spread_ms,
            verdict.offset_ms,
            verdict.movement_semitones,
            verdict.least,
            verdict.movement_score,
        ]


def _report(
    arguments: Namespace,
    takes: int,
    drills: Sequence[Drill],
    bundle: bytes,
    judged: Sequence[Judged],
) -> None:
    if arguments.json:
        digest = hashlib.sha256(bundle).hexdigest()
        about = {"file": arguments.bundle, "student": _name(arguments), "bytes": len(bundle), "sha256": digest}
        document = {
            "bundle": about if arguments.bundle else None,
            "csv": arguments.csv,
            "drills": [drill.name for drill in drills],
            "takes": [_take(take, verdicts) for take, verdicts in judged],
        }
        print_json("export", document)
        return
    what = [counted(takes, "take")] if takes else []
    what += [counted(len(drills), "drill")] if drills else []
    for file in (arguments.bundle, arguments.csv if arguments.csv != STDOUT else None):
        if file:
            print(f"written: {file} ({' and '.join(what) or 'no takes'})", file=sys.stderr)
    if arguments.bundle and takes and not _name(arguments):
        print("It does not say who played; add --from NAME, or put your name into the settings.", file=sys.stderr)


def _take(take: KeptTake, verdicts: Sequence[Verdict]) -> dict[str, object]:
    info = take.info
    return {
        "take": take.id,
        "drill": info.drill,
        "started_at": info.started_at.isoformat(),
        "pace": info.pace,
        "tempo": info.tempo,
        "source": info.source,
        "judged_by": take.judged_by,
        "attempts": [verdict.as_json() for verdict in verdicts],
        "summary": take.account.as_json() if take.account is not None else None,
    }
