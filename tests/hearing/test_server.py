"""Whether a MIDI server is still there, by the sockets of this process; a local server named like JACK's stands in."""

from __future__ import annotations

import os
import socket
from collections.abc import Iterator
from pathlib import Path

import pytest

from listener.hearing.sources.client import INPUT, MidiSystem
from listener.hearing.sources.server import Server

pytestmark = pytest.mark.skipif(not Path("/dev/fd").exists(), reason="needs the list of a process's open files")


@pytest.fixture
def connected(tmp_path: Path) -> Iterator[tuple[socket.socket, socket.socket]]:
    """This program's end and the server's end of a connection to a socket with JACK in its name."""
    with socket.socket(socket.AF_UNIX) as door:
        door.bind(str(tmp_path / "jack_made_up_0"))
        door.listen(1)
        with socket.socket(socket.AF_UNIX) as ours:
            ours.connect(str(tmp_path / "jack_made_up_0"))
            theirs, _ = door.accept()
            with theirs:
                yield ours, theirs


def _open_files() -> set[str]:
    return set(os.listdir("/dev/fd"))


def test_a_server_is_there_until_it_hangs_up(connected: tuple[socket.socket, socket.socket]) -> None:
    """Also while it talks to us, and without taking a byte of what it says."""
    ours, theirs = connected
    server = Server(MidiSystem(3, "JACK", is_jack=True), INPUT)
    assert not server.gone()
    theirs.sendall(b"hello")
    assert not server.gone()
    assert ours.recv(5) == b"hello"
    theirs.close()
    assert server.gone()


def test_our_end_closed_and_its_number_used_again_is_gone(connected: tuple[socket.socket, socket.socket]) -> None:
    ours, _ = connected
    server = Server(MidiSystem(3, "JACK", is_jack=True), INPUT)
    number = ours.fileno()
    with socket.socket(socket.AF_UNIX) as other:
        os.dup2(other.fileno(), number)
        assert server.gone()


def test_looking_leaves_nothing_open(connected: tuple[socket.socket, socket.socket]) -> None:
    """A pipe whose end had a copy here would never end for whoever reads it."""
    reader, writer = os.pipe()
    try:
        before = _open_files()
        server = Server(MidiSystem(3, "JACK", is_jack=True), INPUT)
        assert not server.gone()
        server.renew()
        assert not server.gone()
        assert _open_files() == before
        os.close(writer)
        assert os.read(reader, 1) == b""
    finally:
        os.close(reader)
