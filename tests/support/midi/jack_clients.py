"""Clients of the running JACK server for the programs at the far end, through whichever MIDI library is installed."""

from __future__ import annotations

from listener.hearing.sources.client import INPUT, OUTPUT, Client
from listener.hearing.sources.interfaces import library


def jack_input(name: str) -> Client:
    """Others see it by this name; released by the caller."""
    return _client(INPUT, name)


def jack_output(name: str) -> Client:
    """Likewise."""
    return _client(OUTPUT, name)


def speaks_jack() -> bool:
    """Was the library built with it? SourceError without a library."""
    return any(system.is_jack for system in library().systems())


def _client(direction: str, name: str) -> Client:
    system = next(system for system in library().systems() if system.is_jack)
    return library().client(system, direction, name)


if __name__ == "__main__":  # is the server up?
    client = jack_input("probe")
    client.ports()
    client.release()
