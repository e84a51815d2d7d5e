"""Writes ``docs/ears.md``: how far the ears can be believed, measured on simulated pickups.

``PYTHONPATH=tests python -m lab.pages.ears_table [--strokes 10000] [--seed 5000001] [--pickup NAME ...] [--workers 2]
[--to FILE]``
"""

from __future__ import annotations

from argparse import ArgumentParser
from collections.abc import Callable, Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor, as_completed
from dataclasses import dataclass
from functools import cache
from pathlib import Path
from typing import Final

from lab.course import planned
from lab.proving.evaluate import Tally
from lab.proving.proving import (
    ARPEGGIOS,
    CHORDS,
    OWN_PACE_ARPEGGIOS,
    OWN_PACE_RIFFS,
    REPORT_SEED,
    TUNING_SEEDS,
    performances,
    prove,
)
from listener.drill.drill_file import bundled_drills
from listener.hearing.pickup import make_pickup, pickup_names
from listener.planning.plan import Plan
from listener.simulation.converter import NEVER_SENT, OCTAVE_UP, make_converter

_GRADES = ("hit", "near", "miss")
_ERRORS = ("typical", "hard")

_ABOUT = """# How far the ears can be believed

Written by `PYTHONPATH=tests python -m lab.pages.ears_table --strokes {strokes} --seed {seed}`. Everything here is
simulated: a guitarist who plays the bundled drills with slips, and a pickup that makes every error of
`listener/simulation/converter.py`, at its typical rates and at three times those ("hard"). The rules were tuned on
seeds {tuning_first} to {tuning_last}, before this table was made; the performances below have the seeds from {seed} on.
Rates of real pickups were not found in print, so these figures say how the ears do on pickups *like this*, not on
yours.

- **F1**: how many strokes were found, within 50 ms of the first pluck and with exactly the notes that were sent.
- **Agree**: the first verdict of a step is the grade of what was really played, and no other follows.
- **At most**: what any listener can reach. Sometimes a pickup sends the very same messages, byte for byte and time for
  time, for two players: one played the chord, and a note was never sent; the other left that string out, and all was
  sent. Nobody can tell the two apart, and to say "hit" to both would be a false hit. So one of them is told the wrong
  grade, and it is not the one whose pickup did nothing wrong. Such a pair is counted only where the second performance
  was made, was sent through the simulated pickup and gave the same messages, and where a large hand can play it.
- **Of that**: agree as a share of at most.
- **Told**: the steps of which the messages say what was played: each pluck was sent at its pitch, each held tone
  sounded, each damped one did not. That is read from the simulated pickup's own log, before any verdict is looked at.
- **False hits**: "hit" where the player slipped. *Told* are those that an ear could have known about; *forced* those in
  which the pickup turned the slip into exactly what it sends for a flawless chord.
- **Free F1**: strokes found without a drill to listen for.
"""

_COLUMNS = (
    "pickup", "errors", "strokes", "F1", "agree", "at most", "of that", "told", "agree, told",
    "false hits (told, forced)", "free F1",
)  # fmt: skip
_KNOWN = f"\n| {' | '.join(_COLUMNS)} |\n{'| --- ' * len(_COLUMNS)}|\n"

_LIMITS = """
## What remains

- A note that was never sent (0.5 % of notes at the typical rates) cannot be told from a string that was not reached:
  in 100 chords {lost:.1f} such notes were lost before any ear had listened.
- A note sent an octave (or a twelfth) high is taken as meant only where no hand could have played what was sent. Where
  strings are told apart that is nearly always; on one channel for all seldom, for most such chords can be played
  somewhere else on the neck.
- That notes die early and ring over, each 0.5 % of notes, is our own assumption, beyond the late ends of notes that
  every pickup has. Of {steps} steps {ends} are not told because of it (typical, the pickup where it is most).
- Arpeggios at the player's own pace: a tone left out that the next chord begins with, or a tone too many that the next
  chord has, may be put down to the wrong side of the border; in doubt the verdict is "near". All the same a hit is
  now and then given for a chord that borrowed its last tone from the next one: on the seeds that the rules were tuned
  on once in some tens of thousands of chords. With the click the time decides.
- Riffs: where a drill has the same chord again and again, a player without a click who strikes it once more is told
  from one who has gone on by the pace alone: that of the last changes of chord, and until there were some the drill's
  own tempo. A stroke of which nothing was sent shifts the count until the chord changes.
- No published rates of such errors were found. Those of the simulated pickup are assumed, and marked so.
"""

#: Headings, and the ways to play that are counted under each.
_PARTS: Final = (
    ("Chords and strums, and arpeggios with the click", CHORDS + ARPEGGIOS),
    ("Kept apart: arpeggios at the player's own pace", OWN_PACE_ARPEGGIOS),
    ("Kept apart: riffs of one chord, and chords struck again, at the player's own pace", OWN_PACE_RIFFS),
)


@dataclass(frozen=True)
class _Task:
    """One row of one part."""

    pickup: str
    errors: str
    part: int
    seed: int
    strokes: int


def main(arguments: Sequence[str] | None = None) -> int:
    """Simulate, count, write."""
    parser = ArgumentParser(prog="python -m lab.pages.ears_table", description="Write docs/ears.md.")
    parser.add_argument("--strokes", type=int, default=10_000, help="at least so many for each row of the tables")
    parser.add_argument("--seed", type=int, default=REPORT_SEED, help="of the first performance")
    parser.add_argument("--pickup", action="append", help="a profile; may be given again; all when left out")
    parser.add_argument("--workers", type=int, default=1, help="so many processes side by side")
    parser.add_argument("--to", type=Path, default=Path("docs/ears.md"), help="the file to write")
    chosen = parser.parse_args(arguments)
    if chosen.strokes < 1:
        parser.error("--strokes takes a number above 0")
    if chosen.workers < 1:
        parser.error("--workers takes a number above 0")
    names = chosen.pickup or list(pickup_names())
    page = table(names, strokes=chosen.strokes, seed=chosen.seed, workers=chosen.workers, say=_say)
    chosen.to.write_text(page, encoding="utf-8")
    print(f"{chosen.to} written: {len(names)} profiles")
    return 0


def _say(line: str) -> None:
    print(line, flush=True)


@cache
def bundled_plans() -> list[Plan]:
    """The course on a guitar in standard tuning, under a medium hand."""
    return [planned(name) for name in bundled_drills()]


def table(
    names: Sequence[str], *, strokes: int, seed: int, workers: int = 1, say: Callable[[str], None] = lambda _: None
) -> str:
    """The whole page; ``say`` is told of each row that is done. The number of workers does not change a letter."""
    bundled_plans()  # Made once here, and there already in processes that are forked.
    tasks = [
        _Task(name, errors, part, seed, strokes) for part in range(len(_PARTS)) for name in names for errors in _ERRORS
    ]
    done = {}
    for number, (task, tallies) in enumerate(_worked(tasks, workers), start=1):
        done[task] = tallies
        say(f"{number} of {len(tasks)}: {task.pickup}, {task.errors}. {_PARTS[task.part][0]}")
    first = [(task, *done[task]) for task in tasks if task.part == 0]
    about = _ABOUT.format(strokes=strokes, seed=seed, tuning_first=TUNING_SEEDS[0], tuning_last=TUNING_SEEDS[-1])
    sections = [
        f"\n## {heading}\n{_KNOWN}" + "".join(_row(task, *done[task]) for task in tasks if task.part == part)
        for part, (heading, _) in enumerate(_PARTS)
    ]
    limits = _limits([known for task, known, _ in first if task.errors == "typical"])
    confusions = _confusions([(task, known) for task, known, _ in first])
    return "".join((about, *sections, limits, "\n## Really played, and judged\n", *confusions))


def _worked(tasks: Sequence[_Task], workers: int) -> Iterator[tuple[_Task, tuple[Tally, Tally]]]:
    """Each task with its counts, with the drill and without, in any order."""
    if workers == 1:
        for task in tasks:
            yield task, _work(task)
        return
    with ProcessPoolExecutor(workers) as pool:
        waiting = {pool.submit(_work, task): task for task in tasks}
        for future in as_completed(waiting):
            yield waiting[future], future.result()


def _work(task: _Task) -> tuple[Tally, Tally]:
    runs = performances(
        bundled_plans(), make_pickup(task.pickup), make_converter(task.errors), _PARTS[task.part][1],
        seed=task.seed, strokes=task.strokes,
    )  # fmt: skip
    return prove(runs)


def _limits(typical: Sequence[Tally]) -> str:
    def by_ends(known: Tally) -> int:
        return sum(
            count for (why, _), count in known.lost.items() if not {NEVER_SENT, OCTAVE_UP} & {*why.split(" and ")}
        )

    most = max(typical, key=by_ends)
    lost = max(100 * known.made[NEVER_SENT] / max(1, known.verdicts) for known in typical)
    return _LIMITS.format(lost=lost, steps=most.verdicts, ends=by_ends(most))


def _row(task: _Task, known: Tally, free: Tally) -> str:
    without = f"{free.f1:.4f}" if free.played else "none"
    false_hits = str(known.false_hits)
    if known.false_hits:
        false_hits += f" ({known.told_hits}, {known.twin_hits})"
    cells = (
        task.pickup, task.errors, known.played, f"{known.f1:.4f}", _percent(known.agreement), _percent(known.reachable),
        _percent(known.agreement / known.reachable if known.reachable else 1.0),
        f"{known.told} of {known.verdicts}", _percent(known.agreement_told), false_hits, without,
    )  # fmt: skip
    return "| " + " | ".join(map(str, cells)) + " |\n"


def _percent(share: float) -> str:
    return f"{100 * share:.2f} %"


def _confusions(rows: Sequence[tuple[_Task, Tally]]) -> list[str]:
    """One for each degree of errors, and for all profiles together that come out the same to the last count."""
    together: dict[str, list[_Task]] = {}
    for task, known in sorted(rows, key=lambda row: _ERRORS.index(row[0].errors)):
        together.setdefault(f"{task.errors}\n\n{_confusion(known)}", []).append(task)
    return [f"\n### {', '.join(task.pickup for task in tasks)}: {text}" for text, tasks in together.items()]


def _confusion(known: Tally) -> str:
    """Rows are what was really played, columns what was said; below, what the ears set right."""
    columns = (*_GRADES, "none")
    lines = ["| | " + " | ".join(columns) + " |", "| --- " * (len(columns) + 1) + "|"]
    for really in _GRADES:
        counts = (str(known.confusion[really, said]) for said in columns)
        lines.append(f"| {really} | " + " | ".join(counts) + " |")
    made = ", ".join(f"{count} {kind}" for kind, count in sorted(known.made.items()))
    right = ", ".join(f"{count} {kind}" for kind, count in sorted(known.cleaned.items()) if count)
    whys = sorted({why for why, _ in known.lost})
    lost = ", ".join(
        f"{known.lost[why, True] + known.lost[why, False]} {why} ({known.lost[why, True]})" for why in whys
    )
    return "\n".join((
        *lines, "", f"Errors of plucked notes: {made}.", f"Set right: {right or 'nothing'}.",
        f"Steps not told, and how many of them were judged as played all the same: {lost or 'none'}.", "",
    ))  # fmt: skip


if __name__ == "__main__":
    raise SystemExit(main())
