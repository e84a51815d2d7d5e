"""How long ``widehand plan`` takes on big chords: plan, report and picture, from nothing, against importing its parts.

Run with ``pytest tests/bench/test_plan_command.py --benchmark-enable -s`` to see the ratios. Nothing passes or fails on
time. Every run is a process of its own; whole command and bare import take turns.
"""

from __future__ import annotations

import math
import os
import subprocess
import sys
from pathlib import Path
from random import Random
from statistics import median
from typing import Any

import numpy as np
import pytest

RUNS = 5
ROOTS = ("C", "Db", "D", "Eb", "E", "F", "Gb", "G", "Ab", "A", "Bb", "B")
QUALITIES = ("13", "m13", "maj13")
IMPORT = "import numpy, listener.cli, listener.commands.looking.plan, listener.screen.plan.plan_view"
COMMAND = "import sys; from listener.cli import main; sys.exit(main(sys.argv[1:]))"
#: Says what a process took: seconds by the clock and of the processor, megabytes at its peak (Linux only).
MEASURED = """
import resource, subprocess, sys, time
start = time.perf_counter()
done = subprocess.run([sys.executable, "-c", *sys.argv[1:]], capture_output=True, text=True)
used = resource.getrusage(resource.RUSAGE_CHILDREN)
print(time.perf_counter() - start, used.ru_utime + used.ru_stime, used.ru_maxrss / 1024, done.returncode)
print(done.stderr)
"""


def drill(place: Path, kind: str, chords: int) -> str:
    """A drill of thirteenths in mixed order, written to a file; its path."""
    random = Random(3)
    row = [random.choice(ROOTS) + random.choice(QUALITIES) for _ in range(chords)]
    lines = "\n".join(" | ".join(row[at : at + 8]) for at in range(0, chords, 8))
    path = place / f"{chords}-{kind.replace(' ', '-')}.toml"
    head = f'title = "Thirteenths"\nkey = "C major"\n[[passage]]\nkind = "{kind}"\n'
    path.write_text(f'{head}chords = """\n{lines}\n"""\n')
    return str(path)


def measured(place: Path, *command: str) -> tuple[float, float, float, int, str]:
    """Seconds, seconds of the processor, megabytes, exit code and what was said on standard error."""
    home = {"XDG_CONFIG_HOME": str(place), "XDG_DATA_HOME": str(place), "HOME": str(place)}
    done = subprocess.run(
        [sys.executable, "-c", MEASURED, *command], capture_output=True, text=True, check=True, env=os.environ | home
    )
    numbers, said = done.stdout.split("\n", 1)
    spent, worked, peak, code = numbers.split()
    return float(spent), float(worked), float(peak), int(code), said


@pytest.mark.parametrize("kind", ["any", "any or full", "full"])
def test_thirteenths(benchmark: Any, tmp_path: Path, kind: str) -> None:
    """Thirty-two thirteenths, the whole command over bare import, and what it takes above that."""
    path = drill(tmp_path, kind, 32 if benchmark.enabled else 2)
    runs: dict[str, list[tuple[float, float]]] = {"import": [], "plan": []}

    def in_turns() -> None:
        for _ in range(RUNS if benchmark.enabled else 1):
            for name, command in {"import": (IMPORT,), "plan": (COMMAND, "plan", path)}.items():
                spent, worked, _, code, said = measured(tmp_path, *command)
                assert code == 0, said
                runs[name].append((spent, worked))

    benchmark.pedantic(in_turns, rounds=1, iterations=1)
    clock, processor = ({name: median(run[at] for run in found) for name, found in runs.items()} for at in (0, 1))
    benchmark.extra_info.update(
        over_import=round(clock["plan"] / clock["import"], 2),
        above_import_s=round(clock["plan"] - clock["import"], 2),
        processor_above_import_s=round(processor["plan"] - processor["import"], 2),
    )
    print(f"\nplan, {kind}: {benchmark.extra_info}")


def test_growth(benchmark: Any, tmp_path: Path) -> None:
    """From 8 to 512 thirteenths: seconds of the processor above import, memory, and the slope.

    The slope is that between the logarithms of chords and seconds (1: linear). Up to some forty chords hardly one comes
    twice; beyond, candidates are known already, and the slope falls.
    """
    counts = [8, 16, 32, 64, 128, 256, 512] if benchmark.enabled else [2]
    bare = measured(tmp_path, IMPORT)[1]
    taken: dict[int, float] = {}

    def all_sizes() -> None:
        for count in counts:
            _, worked, peak, code, said = measured(tmp_path, COMMAND, "plan", drill(tmp_path, "any", count))
            assert code == 0, said
            taken[count] = max(worked - bare, 1e-3)
            benchmark.extra_info[f"{count} chords"] = {"s": round(worked - bare, 2), "peak_mb": round(peak)}

    benchmark.pedantic(all_sizes, rounds=1, iterations=1)
    if len(counts) > 1:
        logs = [(math.log2(count), math.log2(spent)) for count, spent in taken.items()]
        benchmark.extra_info["slope"] = round(float(np.polyfit(*zip(*logs, strict=True), 1)[0]), 2)
    print(f"\ngrowth: {benchmark.extra_info}")


def test_more_strings(benchmark: Any, tmp_path: Path) -> None:
    """Thirty-two thirteenths on seven and eight strings: planned, or told in one line what to narrow, and how soon."""
    cases = [
        ("seven string", "any"),
        ("seven string", "full"),
        ("eight string", "any"),
        ("eight string", "any or full"),
    ]
    count = 32 if benchmark.enabled else 1

    def all_cases() -> None:
        for tuning, kind in cases if benchmark.enabled else cases[:1]:
            path = drill(tmp_path, kind, count)
            spent, _, peak, code, said = measured(tmp_path, COMMAND, "plan", path, "--tuning", tuning)
            assert code == 0 or ("fewer strings" in said and len(said.strip().splitlines()) == 1)
            told = "planned" if code == 0 else "rejected"
            benchmark.extra_info[f"{tuning}, {kind}"] = {"s": round(spent, 1), "peak_mb": round(peak), "end": told}

    benchmark.pedantic(all_cases, rounds=1, iterations=1)
    print(f"\nmore strings: {benchmark.extra_info}")
