"""``PYTHONPATH=tests python -m lab.measure``: how well people who practise are followed.

Examples::

    python -m lab.measure --seeds 2                                   # all ways, all drills, pickup 'single'
    python -m lab.measure --ways 'own pace: noodling' --list 20       # and the first disagreements
    python -m lab.measure --ways click --drills 'four-oars; mill-verse'  # all ways whose names begin so
    python -m lab.measure --show 'own pace: noodling' four-oars 3     # one take, note by note
    python -m lab.measure --first-seed 500001 --seeds 3 --page docs/following.md
"""

from __future__ import annotations

from argparse import ArgumentParser, Namespace
from collections.abc import Iterator, Sequence
from concurrent.futures import ProcessPoolExecutor
from functools import cache
from pathlib import Path
from typing import NamedTuple

from lab.following import Disagreement, Result, compare, follow, judge
from lab.page import REPORT_SEED, TUNING_SEEDS, page, table
from lab.people.take import Take, drill, drill_names, practise
from lab.people.timeline import timeline
from lab.people.ways import WAYS
from listener.errors import WidehandError
from listener.hearing.pickup import Pickup, make_pickup
from listener.simulation.converter import HARDNESS, Converter, make_converter


class Task(NamedTuple):
    """One way, one drill, some seeds."""

    way: str
    drill: str
    seeds: range
    pickup: str
    errors: str


@cache
def _wire(pickup: str, errors: str) -> tuple[Pickup, Converter]:
    return make_pickup(pickup), make_converter(errors)


def take_of(way: str, name: str, seed: int, pickup: str, errors: str) -> Take:
    """The same for the same words, in whatever process."""
    profile, converter = _wire(pickup, errors)
    prepared = drill(name, arpeggio=WAYS[way].arpeggio)
    return practise(WAYS[way], prepared, seed, pickup=profile, converter=converter, name=name)


def work(task: Task) -> tuple[Result, list[Disagreement]]:
    """All its takes."""
    result, wrong = Result(), []
    for seed in task.seeds:
        take = take_of(task.way, task.drill, seed, task.pickup, task.errors)
        one, disagreements = follow(take, task.way, task.drill, seed)
        result.add(one)
        wrong += disagreements
    return result, wrong


def _worked(tasks: Sequence[Task], workers: int) -> Iterator[tuple[Result, list[Disagreement]]]:
    """In the order of the tasks, so that nothing depends on the number of processes."""
    if workers == 1:
        yield from map(work, tasks)
        return
    with ProcessPoolExecutor(workers) as pool:
        yield from pool.map(work, tasks, chunksize=4)


def _chosen(asked: str, known: Sequence[str], what: str) -> list[str]:
    """All, or those whose names begin with one of the words between semicolons."""
    if asked == "all":
        return list(known)
    found: list[str] = []
    for word in (word.strip() for word in asked.split(";")):
        found += [name for name in _meant(word, known, what) if name not in found]
    return found


def _meant(word: str, known: Sequence[str], what: str) -> list[str]:
    """The one of that name, or all that begin so."""
    found = [name for name in known if name == word] or [name for name in known if name.startswith(word)]
    if not found or not word:
        raise WidehandError(f"there is no {what} '{word}'; there are: {'; '.join(known)}")
    return found


def _parser() -> ArgumentParser:
    parser = ArgumentParser(prog="python -m lab.measure", description="How well people who practise are followed.")
    parser.add_argument("--ways", default="all", help="names or beginnings of names, between semicolons; or all")
    parser.add_argument("--drills", default="all", help="names of bundled drills likewise")
    parser.add_argument("--seeds", type=int, default=1, help="so many takes of each way and drill")
    parser.add_argument("--first-seed", type=int, default=TUNING_SEEDS[0], help=f"for reports {REPORT_SEED} or more")
    parser.add_argument("--workers", type=int, default=1, help="so many processes side by side")
    parser.add_argument("--errors", choices=tuple(HARDNESS), default="none", help="of the pickup")
    parser.add_argument("--pickup", default="single", help="a profile")
    parser.add_argument("--by", choices=("way", "drill"), default="way", help="a row of the table for each")
    parser.add_argument("--list", type=int, default=0, metavar="N", help="print so many disagreements of each way")
    parser.add_argument("--show", nargs=3, metavar=("WAY", "DRILL", "SEED"), help="print one take, note by note")
    parser.add_argument("--page", type=Path, help="also write the table to this file")
    return parser


def main(arguments: Sequence[str] | None = None) -> int:
    """Simulate, judge, count, print."""
    parser = _parser()
    chosen = parser.parse_args(arguments)
    if chosen.seeds < 1 or chosen.workers < 1 or chosen.list < 0 or chosen.first_seed < 0:
        parser.error("--seeds and --workers take a number above 0, --list and --first-seed one from 0")
    try:
        if chosen.show:
            way, name, seed = chosen.show
            print(show(way, name, seed, chosen.pickup, chosen.errors))
            return 0
        return _measure(chosen)
    except WidehandError as error:
        parser.error(str(error))


def show(way: str, name: str, seed: str, pickup: str, errors: str) -> str:
    """One take as a timeline; the way and the drill by their names or beginnings."""
    if not seed.isdecimal():
        raise WidehandError(f"a seed is a number, not '{seed}'")
    way, name = _meant(way, list(WAYS), "way")[0], _meant(name, drill_names(), "drill")[0]
    take = take_of(way, name, int(seed), pickup, errors)
    said = judge(take)
    _, wrong = compare(take, said, way, name, int(seed))
    return timeline(take, said, wrong)


def _measure(chosen: Namespace) -> int:
    ways = _chosen(chosen.ways, list(WAYS), "way")
    drills = _chosen(chosen.drills, drill_names(), "drill")
    _wire(chosen.pickup, chosen.errors)
    if chosen.page is not None and (chosen.page.is_dir() or not chosen.page.parent.is_dir()):
        raise WidehandError(f"'{chosen.page}' cannot be written: name a file in a folder that there is")
    for name in drills:
        drill(name)  # Made once here, and there already in processes that are forked.
    seeds = range(chosen.first_seed, chosen.first_seed + chosen.seeds)
    tasks = [Task(way, name, seeds, chosen.pickup, chosen.errors) for way in ways for name in drills]
    rows = ways if chosen.by == "way" else drills
    results = {row: Result() for row in rows}
    wrong: dict[str, list[Disagreement]] = {way: [] for way in ways}
    for task, (result, disagreements) in zip(tasks, _worked(tasks, chosen.workers), strict=True):
        results[getattr(task, chosen.by)].add(result)
        wrong[task.way] += disagreements
    text = table(results, by=chosen.by, errors=chosen.errors != "none")
    print(text, end="")
    for way in ways:
        for one in wrong[way][: chosen.list]:
            print(f"{one.what}: step {one.step} at {one.onset_s:.2f}: {one.truth}, said {one.said}; "
                  f"--show '{one.way}' {one.drill} {one.seed}")  # fmt: skip
    if chosen.page is not None:
        about = page(text, drills=len(drills), seeds=seeds, pickup=chosen.pickup, errors=chosen.errors)
        chosen.page.write_text(about, encoding="utf-8")
    return 0


if __name__ == "__main__":
    raise SystemExit(main())
