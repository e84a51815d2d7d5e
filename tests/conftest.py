"""What all tests share: how many examples a law has, nobody's settings, the JACK server, a browser."""

from __future__ import annotations

import gc
import os
import signal
import sys
from collections.abc import Generator, Iterator
from pathlib import Path

import chromium
import pytest
from how_many import USUAL, examples
from hypothesis import settings
from jack_server import Unavailable, running_jack

# Where Python is told to write no compiled files, the suite keeps its own, in a folder of its own: hundreds of programs
# that tests start would compile ours anew, half a second each, and every worker the tests.
if sys.dont_write_bytecode:
    sys.dont_write_bytecode = False
    sys.pycache_prefix = os.environ["PYTHONPYCACHEPREFIX"] = str(Path(__file__).parents[1] / ".pytest_cache/compiled")
    os.environ.pop("PYTHONDONTWRITEBYTECODE", None)

# Whoever is started in the background may have been told to take no Ctrl-C, and so would be what the tests start.
signal.signal(signal.SIGINT, signal.default_int_handler)

# A busy machine must not fail a law for being slow; where changes land, the same examples are tried each time, so that
# a rare counter-example is found by people at work and not by somebody else's change.
settings.register_profile("work", deadline=None, max_examples=examples(USUAL))
settings.register_profile("landing", deadline=None, derandomize=True, max_examples=examples(USUAL))
settings.load_profile("landing" if os.environ.get("CI") else "work")


@pytest.hookimpl(wrapper=True)
def pytest_collection() -> Generator[None, object, object]:
    """Thousands of tests are found and none of them goes away: Python's garbage collector would look at all of them
    again and again, for a quarter of the time that finding them takes."""
    gc.disable()
    try:
        return (yield)
    finally:
        gc.enable()


@pytest.fixture(autouse=True, scope="session")
def _nobodys_settings() -> Iterator[None]:
    """A developer's own settings and drills must not leak into a test."""
    with pytest.MonkeyPatch.context() as patch:
        patch.setenv("WIDEHAND_SETTINGS", os.devnull)
        patch.setenv("WIDEHAND_DRILLS", os.devnull)
        yield


@pytest.fixture(scope="session")
def jack_server() -> Iterator[str]:
    """The name of a JACK server that runs while the tests do; the test is skipped, with the reason, without one."""
    try:
        with running_jack() as name:
            yield name
    except Unavailable as reason:
        pytest.skip(str(reason))


@pytest.fixture(scope="module")
def browser() -> Iterator[chromium.Browser]:
    """A headless browser without a network; the test is skipped, with the reason, without one."""
    try:
        with chromium.browser() as found:
            yield found
    except chromium.Unavailable as reason:
        pytest.skip(str(reason))
