"""A console that is closed on Windows, through a stand-in for its library; and the signals that end a take."""

from __future__ import annotations

import os
import signal
from collections.abc import Callable
from types import SimpleNamespace

import pytest

from listener.session.take import closing
from listener.session.take.run import interrupts


def test_a_closed_console_ends_the_take_and_is_not_answered_too_soon(monkeypatch: pytest.MonkeyPatch) -> None:
    """Close, log-off and shutdown raise the flag and hold Windows back; Ctrl-C and Ctrl-Break are left to Python."""
    registered: list[tuple[Callable[[int], bool], bool]] = []
    slept: list[float] = []
    kernel = SimpleNamespace(SetConsoleCtrlHandler=lambda routine, add: registered.append((routine, add)))
    monkeypatch.setattr(closing, "_console", lambda: (kernel, lambda routine: routine))
    monkeypatch.setattr(closing, "time", SimpleNamespace(sleep=slept.append))
    for event in range(8):
        slept.clear()
        with interrupts() as interrupt:
            routine, added = registered[-1]
            assert added
            assert routine(event) is (event in (2, 5, 6))
            assert interrupt.raised is (event in (2, 5, 6))
            assert [seconds > 5 for seconds in slept] == ([True] if interrupt.raised else [])
        assert registered[-1] == (routine, False)


def test_elsewhere_there_is_no_such_thing() -> None:
    """Other systems have signals for it."""
    if os.name != "nt":
        assert closing._console() is None


@pytest.mark.parametrize("name", ["SIGINT", "SIGTERM", "SIGHUP", "SIGQUIT", "SIGBREAK"])
def test_signals_that_end_a_take(name: str) -> None:
    """Each that this system has raises the flag and means afterwards what it meant before."""
    number = getattr(signal, name, None)
    if number is None:
        pytest.skip(f"there is no {name} here")
    before = signal.getsignal(number)
    with interrupts() as interrupt:
        signal.raise_signal(number)
        assert interrupt.raised
        if name == "SIGQUIT":
            with pytest.raises(SystemExit, match=str(128 + number)):
                signal.raise_signal(number)
    assert signal.getsignal(number) is before
