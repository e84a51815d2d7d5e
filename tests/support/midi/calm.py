"""Real MIDI on a machine that others use too: what went wrong while the machine was strained is tried again.

A wrong program fails on a calm machine, and there it fails at once. On a strained one a test is tried again when the
machine has calmed down. Where it never calms down, a test that fails every time is skipped, with what it said: there
is no telling whose fault it was.
"""

from __future__ import annotations

import functools
import os
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from pathlib import Path
from threading import Timer
from typing import Any, TypeVar

import pytest

#: Share of the time in which somebody waited for a processor, from which a failure may be the machine's; from the
#: second one it may be so every time. Two processes of tests on two cores come to some hundredths.
STRAINED = 0.2
OVERLOADED = 0.5
_PRESSURE = Path("/proc/pressure/cpu")
_TRIES = 4
_WAIT_S = 30.0

Test = TypeVar("Test", bound=Callable[..., Any])


class Strain:
    """How hard it was to get a processor since this was made: 0 to 1.

    From Linux's account of those who waited (pressure stall information), else from the load.
    """

    def __init__(self) -> None:
        self._begun_s, self._waited_s = time.perf_counter(), _waited_s()

    def share(self) -> float:
        """Of the time that has passed."""
        now_s, waited_s = time.perf_counter(), _waited_s()
        if waited_s is None or self._waited_s is None:
            return min(1.0, max(0.0, os.getloadavg()[0] / (os.cpu_count() or 1) - 0.75))
        return min(1.0, (waited_s - self._waited_s) / max(1e-6, now_s - self._begun_s))


def _waited_s() -> float | None:
    """Seconds in which at least one process could have run and did not get to."""
    try:
        words = _PRESSURE.read_text(encoding="ascii").split()
    except OSError:
        return None
    return int(next(word for word in words if word.startswith("total=")).removeprefix("total=")) / 1e6


def wait_for_calm() -> None:
    """Until a second has passed without strain; not for ever."""
    end_s = time.perf_counter() + _WAIT_S
    while time.perf_counter() < end_s:
        strain = Strain()
        time.sleep(1.0)
        if strain.share() < STRAINED:
            return


def patient(test: Test) -> Test:
    """A test that is tried again when it fails on a strained machine; each time in a folder of its own."""

    @functools.wraps(test)
    def tried(**given: Any) -> None:
        shares = []
        for number in range(_TRIES):
            own = dict(given)
            if "tmp_path" in own:
                own["tmp_path"] = given["tmp_path"] / f"try-{number}"
                own["tmp_path"].mkdir()
            strain = Strain()
            try:
                test(**own)
                return
            except Exception as error:
                shares.append(strain.share())
                if shares[-1] < STRAINED:
                    raise
                if number == _TRIES - 1:
                    if min(shares) < OVERLOADED:
                        raise
                    said = (str(error).splitlines() or [""])[0]
                    pytest.skip(f"others had the processors {min(shares):.0%} of the time, {_TRIES} times: {said}")
            print(f"tried again: others had the processors {shares[-1]:.0%} of the time")
            wait_for_calm()

    return tried  # type: ignore[return-value]


@contextmanager
def no_longer_than(process: Any, seconds: float = 60.0) -> Iterator[None]:
    """Whoever waits for a line of this process waits no longer: then it is killed, and its output ends."""
    timer = Timer(seconds, process.kill)
    timer.start()
    try:
        yield
    finally:
        timer.cancel()
