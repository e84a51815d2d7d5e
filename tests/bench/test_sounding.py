"""How long a minute of music takes to be computed, in strums and in chords that ring.

Run with ``pytest tests/bench/test_sounding.py -m bench --benchmark-enable -s``. Nothing passes or fails on time.
"""

from __future__ import annotations

import time
from typing import Any

import pytest

from listener.drill.drill_file import load_drill
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.planning.excerpt import in_everyday_shapes
from listener.planning.planner import plan_drill
from listener.sheets.wav_file import plan_wav
from listener.sounding.plucked import RATE
from listener.sounding.wav import BYTES


@pytest.mark.parametrize("name", ["cider-fair", "mill-verse"])
def test_a_minute_of_music(benchmark: Any, name: str) -> None:
    """From a plan in everyday shapes to the bytes of the file."""
    plan, _ = in_everyday_shapes(plan_drill(load_drill(name), make_instrument(), make_hand()))
    start_s = time.perf_counter()
    data = benchmark(lambda: plan_wav(plan))
    spent_s = benchmark.stats.stats.median if benchmark.stats else time.perf_counter() - start_s
    benchmark.extra_info["s_a_minute"] = round(60 * spent_s / (len(data) / (RATE * BYTES)), 3)
    print(f"\n{name}: {benchmark.extra_info}")
