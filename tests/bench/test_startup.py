"""How long the program takes to say something, against Python itself doing nothing, in one run."""

from __future__ import annotations

import subprocess
import sys
import time
from statistics import median
from typing import Any

RUNS = 9


def seconds(*command: str) -> float:
    start = time.perf_counter()
    subprocess.run([sys.executable, *command], capture_output=True, check=True)
    return time.perf_counter() - start


def test_help(benchmark: Any) -> None:
    """``widehand --help``, bare Python and argparse alone, in turns; the ratios of the medians are reported."""
    calls = {
        "bare": ("-c", "pass"),
        "argparse": ("-c", "import argparse; argparse.ArgumentParser().parse_args([])"),
        "help": ("-c", "import sys; from listener.cli import main; main(['--help'])"),
    }
    spent: dict[str, list[float]] = {name: [] for name in calls}

    def in_turns() -> None:
        for _ in range(RUNS):
            for name, command in calls.items():
                spent[name].append(seconds(*command))

    benchmark.pedantic(in_turns, rounds=1, iterations=1)
    bare = median(spent["bare"])
    benchmark.extra_info.update(
        help_over_bare=round(median(spent["help"]) / bare, 2),
        argparse_over_bare=round(median(spent["argparse"]) / bare, 2),
    )
    print("\nstart-up:", dict(benchmark.extra_info))
