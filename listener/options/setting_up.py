"""Options of the commands for the guitar and the computer: setup, ports, calibrate, settings."""

from __future__ import annotations

from listener.options.shared import Commands, number, whole


def setup(commands: Commands) -> None:
    """The options of ``widehand setup``."""
    setup = commands.add(
        "setup", "find the guitar, hear its strings, ask what has to be known, and keep it", "widehand setup"
    )
    setup.add_argument("--port", help="MIDI input of the guitar: its name, or a part of it, instead of being asked")
    setup.add_argument("--check", action="store_true", help="only say what works here and what does not")
    commands.json(setup)


def ports(commands: Commands) -> None:
    """The options of ``widehand ports``."""
    ports = commands.add("ports", "list the MIDI ports, or watch what arrives", "widehand ports --watch guitar")
    ports.add_argument(
        "--watch", nargs="?", const="", metavar="PORT", help="show what arrives and find out how the pickup sends"
    )
    ports.add_argument("--seconds", type=number(1, 3600), metavar="N", help="stop watching after N seconds")
    ports.add_argument("--pickup", metavar="PROFILE", help="read what arrives as this profile")
    commands.json(ports)


def calibrate(commands: Commands) -> None:
    """The options of ``widehand calibrate``."""
    calibrate = commands.add("calibrate", "measure how late a pickup's notes come", "widehand calibrate --port guitar")
    calibrate.add_argument("--port", help="MIDI input of the guitar: its name, or a part of it")
    calibrate.add_argument(
        "--out", metavar="PORT", help="measure the round trip through this output, looped back to the input"
    )
    calibrate.add_argument("--click", metavar="PORT", help="MIDI output that sounds the click")
    calibrate.add_argument("--pickup", metavar="PROFILE", help="how the pickup sends: single, per-string, ...")
    calibrate.add_argument("--plucks", type=whole(4, 200), default=16, metavar="N", help="plucks per string (16)")
    calibrate.add_argument(
        "--tempo", type=number(30, 200), default=80.0, metavar="N", help="the click to pluck to (80)"
    )
    commands.json(calibrate)


def settings(commands: Commands) -> None:
    """The options of ``widehand settings``."""
    settings = commands.add("settings", "show your own settings, or begin a file of them", "widehand settings --begin")
    settings.add_argument("--begin", action="store_true", help="write a settings file to change as you like")
    settings.add_argument("--example", action="store_true", help="only print that file")
    commands.json(settings)
