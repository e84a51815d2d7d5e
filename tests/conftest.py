"""What all tests share: how many examples a law has, nobody's settings, the JACK server, a browser."""

from __future__ import annotations

import os
from collections.abc import Iterator

import chromium
import pytest
from how_many import USUAL, examples
from hypothesis import settings
from jack_server import Unavailable, running_jack

# A busy machine must not fail a law for being slow; where changes land, the same examples are tried each time, so that
# a rare counter-example is found by people at work and not by somebody else's change.
settings.register_profile("work", deadline=None, max_examples=examples(USUAL))
settings.register_profile("landing", deadline=None, derandomize=True, max_examples=examples(USUAL))
settings.load_profile("landing" if os.environ.get("CI") else "work")


@pytest.fixture(autouse=True)
def _nobodys_settings(monkeypatch: pytest.MonkeyPatch) -> None:
    """A developer's own settings and drills must not leak into a test."""
    monkeypatch.setenv("WIDEHAND_SETTINGS", os.devnull)
    monkeypatch.setenv("WIDEHAND_DRILLS", os.devnull)


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
