"""What the ports rely on, whichever MIDI library is installed, and what is said where there is none."""

from __future__ import annotations

import os
import subprocess
import sys
import time
import tomllib
from collections.abc import Iterator, Sequence
from importlib.machinery import ModuleSpec
from pathlib import Path
from types import ModuleType

import pytest
from calm import patient
from jack_clients import jack_input, jack_output
from jack_server import sender
from packaging.requirements import Requirement

from listener.errors import SourceError
from listener.hearing.sources.client import MidiError
from listener.hearing.sources.interfaces import library

TESTS = Path(__file__).parents[1]


class _Broken:
    """Finds both MIDI libraries, and fails to load them."""

    def __init__(self, error: ImportError) -> None:
        self._error = error

    def find_spec(
        self, name: str, _path: Sequence[str] | None = None, _target: ModuleType | None = None
    ) -> ModuleSpec | None:
        if name in ("rtmidi", "supriya_midi"):
            raise self._error
        return None


@pytest.fixture
def unloaded(monkeypatch: pytest.MonkeyPatch) -> Iterator[None]:
    """No MIDI library has been looked for yet, and what the test finds out is forgotten."""
    sources = "listener.hearing.sources."
    for name in ("rtmidi", "supriya_midi", f"{sources}python_rtmidi", f"{sources}supriya_midi"):
        monkeypatch.delitem(sys.modules, name, raising=False)
    library.cache_clear()
    yield
    library.cache_clear()


@pytest.mark.usefixtures("unloaded")
@pytest.mark.parametrize(
    ("error", "said"),
    [
        (
            ModuleNotFoundError("No module named 'it'"),
            "no live MIDI on this Python; install Widehand with Python 3.11 to 3.14",
        ),
        (ImportError("libasound.so.2: cannot open shared object file"), "without ALSA's library; install libasound2"),
        (ImportError("DLL load failed"), r"does not load \(DLL load failed\); install Widehand once more"),
    ],
)
def test_without_a_library_one_line_says_what_to_do(
    monkeypatch: pytest.MonkeyPatch, error: ImportError, said: str
) -> None:
    """And it sends nobody to a compiler."""
    monkeypatch.setattr(sys, "meta_path", [_Broken(error), *sys.meta_path])
    with pytest.raises(SourceError, match=said) as caught:
        library()
    assert not {"compiler", "build", "\n"} & {word.strip(",.;") for word in str(caught.value).split(" ")}


@pytest.mark.parametrize("version", ["3.11", "3.12", "3.13", "3.14"])
@pytest.mark.parametrize(
    ("system", "machine"),
    [
        ("linux", "x86_64"),
        ("linux", "aarch64"),
        ("darwin", "x86_64"),
        ("darwin", "arm64"),
        ("win32", "AMD64"),
        ("win32", "ARM64"),
    ],
)
def test_one_library_with_ready_made_builds_is_asked_for(version: str, system: str, machine: str) -> None:
    """python-rtmidi has them up to Python 3.12 and none for Windows on ARM; the other has all of these."""
    asked = tomllib.loads((TESTS.parent / "pyproject.toml").read_text(encoding="utf-8"))["project"]["dependencies"]
    place = {"python_version": version, "sys_platform": system, "platform_machine": machine}
    found = [
        wanted.name
        for wanted in map(Requirement, asked)
        if "midi" in wanted.name and (wanted.marker is None or wanted.marker.evaluate(place))
    ]
    older = version in ("3.11", "3.12") and (system, machine) != ("win32", "ARM64")
    assert found == ["python-rtmidi" if older else "supriya-midi"]


def _started(program: str, **environment: str) -> subprocess.Popen[str]:
    path = os.pathsep.join([str(TESTS / "support" / "midi"), *sys.path])
    return subprocess.Popen(
        [sys.executable, "-c", program],
        stdout=subprocess.PIPE,
        stderr=subprocess.PIPE,
        text=True,
        env={**os.environ, **environment, "PYTHONPATH": path},
    )


def _outcome(running: subprocess.Popen[str]) -> tuple[int, str, str]:
    """Exit code, output, errors; a program that hangs is ended."""
    with running:
        try:
            out, err = running.communicate(timeout=30)
        finally:
            running.kill()
    return running.returncode, out, err


_NO_SERVER = """
from jack_clients import jack_input
from listener.hearing.sources.client import MidiError
for _ in range(2):
    try:
        jack_input("x")
    except MidiError:
        print("refused")
"""


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
def test_a_system_that_does_not_answer_is_refused_and_prints_nothing() -> None:
    nowhere = _started(_NO_SERVER, JACK_DEFAULT_SERVER="widehand-nowhere")
    assert _outcome(nowhere) == (0, "refused\nrefused\n", "")


_STAYS_OPEN = """
from jack_clients import jack_input, jack_output
source, output = jack_input("x"), jack_output("y")
source.listen(lambda data: None)
source.open_virtual_port("left open")
output.open_port(next(n for n, name in enumerate(output.ports()) if "left open" in name), "out")
output.send(bytes((0x90, 60, 1)))
"""


@patient
@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
def test_what_is_still_open_at_the_end_is_given_back_in_silence() -> None:
    assert _outcome(_started(_STAYS_OPEN)) == (0, "", "")


_CLOSES = """
import sys, time
from jack_clients import jack_input
for _ in range(15):
    source = jack_input("closing")
    heard = []
    source.listen(heard.append)
    source.open_port(next(n for n, name in enumerate(source.ports()) if "flood" in name), "in")
    end_s = time.perf_counter() + 2
    while len(heard) < 20 and time.perf_counter() < end_s:
        time.sleep(0.001)
    assert len(heard) >= 20, len(heard)
    busy_s = time.perf_counter() + 0.003  # Python's lock is held: a message is on its threshold by now
    while time.perf_counter() < busy_s:
        pass
    source.release()
    count = len(heard)
    time.sleep(0.01)
    assert len(heard) == count
    source.release()
print("closed")
"""


@patient
@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
def test_a_port_closes_while_messages_come() -> None:
    """A thousand a second: it neither hangs nor falls, and nothing is heard after it."""
    with sender("flood") as flood:
        closing, end_s = _started(_CLOSES), time.monotonic() + 30
        while closing.poll() is None and time.monotonic() < end_s:
            flood.play([(n / 1000, (0xE0, n % 128, n // 128)) for n in range(1000)])
            flood.wait()
        assert _outcome(closing) == (0, "closed\n", "")


@pytest.mark.jack
@pytest.mark.usefixtures("jack_server")
def test_every_refusal_is_told_not_only_the_first() -> None:
    """And the client works after it."""
    source, output = jack_input("told"), jack_output("telling")
    try:
        for client in (source, source, output, output):
            with pytest.raises(MidiError):
                client.open_port(999, "nowhere")
        output.ports()
    finally:
        source.release()
        output.release()
