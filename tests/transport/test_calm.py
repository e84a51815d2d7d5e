"""What is tried again, and what is not."""

from __future__ import annotations

import subprocess
import sys
import time
from collections.abc import Callable
from pathlib import Path

import calm
import pytest


@pytest.fixture
def tries() -> list[Path]:
    return []


@pytest.fixture
def failing(monkeypatch: pytest.MonkeyPatch, tries: list[Path]) -> Callable[[int, float], Callable[..., None]]:
    """A test that fails so many times, on a machine under so much strain."""
    monkeypatch.setattr(calm, "wait_for_calm", lambda: None)

    def make(times: int, share: float) -> Callable[..., None]:
        monkeypatch.setattr(calm.Strain, "share", lambda _self: share)

        @calm.patient
        def test(tmp_path: Path) -> None:
            tries.append(tmp_path)
            assert len(tries) > times

        return test

    return make


def test_on_a_calm_machine_a_failure_is_a_failure(failing, tries: list[Path], tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """At once."""
    with pytest.raises(AssertionError):
        failing(1, 0.05)(tmp_path=tmp_path)
    assert len(tries) == 1


def test_on_a_strained_machine_it_is_tried_again(failing, tries: list[Path], tmp_path: Path) -> None:  # type: ignore[no-untyped-def]
    """In another folder each time."""
    failing(2, 0.3)(tmp_path=tmp_path)
    assert len(set(tries)) == 3


@pytest.mark.parametrize(("share", "end"), [(0.3, AssertionError), (0.9, pytest.skip.Exception)])
def test_what_always_fails_is_told(failing, tries: list[Path], tmp_path: Path, share: float, end: type) -> None:  # type: ignore[no-untyped-def]
    """A failure in the end; only where nothing runs in time is it left open."""
    with pytest.raises(end):
        failing(100, share)(tmp_path=tmp_path)
    assert len(tries) == 4


def test_strain_is_a_share_and_a_line_is_not_waited_for_for_ever() -> None:
    """The real ones."""
    strain = calm.Strain()
    time.sleep(0.02)
    assert 0.0 <= strain.share() <= 1.0
    with subprocess.Popen([sys.executable, "-c", "input()"], stdin=subprocess.PIPE, stdout=subprocess.PIPE) as process:
        assert process.stdout is not None
        with calm.no_longer_than(process, 0.3):
            assert process.stdout.readline() == b""
