"""Options of the command that says what to practise: today."""

from __future__ import annotations

from listener.options.shared import Commands, number, whole


def today(commands: Commands) -> None:
    """The options of ``widehand today``."""
    today = commands.add(
        "today", "what to practise today with the minutes you have", "widehand today --minutes 20 --start"
    )
    today.add_argument("--minutes", type=whole(5, 240), default=20, metavar="N", help="how long you have (20)")
    today.add_argument("--start", action="store_true", help="play it now, one after the other")
    today.add_argument("--why", action="store_true", help="also say how the plan comes about")
    today.add_argument("--demo", action="store_true", help="plan and play for the simulated guitarist instead")
    today.add_argument("--fast", action="store_true", help="with --start --demo: do not wait")
    today.add_argument("--plain", action="store_true", help="plain lines, also while playing")
    today.add_argument("--own-pace", action="store_true", help="with --start: without a click")
    today.add_argument("--port", help="with --start: MIDI input of the guitar: its name, or a part of it")
    today.add_argument("--pickup", metavar="PROFILE", help="with --start: how the pickup sends")
    today.add_argument("--click", metavar="PORT", help="with --start: MIDI output that sounds the click")
    today.add_argument(
        "--rest-after",
        type=number(5, 60),
        metavar="MINUTES",
        help="plan a rest after this long (25)",
    )
    commands.guitar(today)
    commands.store(today)
    commands.json(today)
