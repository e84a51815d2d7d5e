"""Options of the commands that play and listen: demo, play, hear."""

from __future__ import annotations

import argparse

from listener.options.shared import Commands, number, whole


def demo(commands: Commands) -> None:
    """The options of ``widehand demo``."""
    demo = commands.add("demo", "a simulated guitarist plays: nothing to plug in", "widehand demo --fast")
    commands.drill(demo)
    demo.add_argument("--fast", action="store_true", help="no waiting: the whole take at once")
    demo.add_argument("--seed", type=whole(0, 2**31), default=7, help="which simulated performance (7)")
    _pickup_errors(demo, default="none", usual="none")
    _remarks(demo)
    demo.add_argument("--picture", metavar="FILE", help="write the last screen as an SVG picture")
    _keys(demo)
    commands.take(demo)
    commands.guitar(demo)
    commands.store(demo)
    commands.json(demo)


def play(commands: Commands) -> None:
    """The options of ``widehand play``."""
    play = commands.add(
        "play",
        "play a drill; the program listens and says what was right",
        "widehand play mill-verse --port guitar --tempo 60",
    )
    commands.drill(play, "; without one every chord is named")
    play.add_argument("--port", help="MIDI input of the guitar: its name, or a part of it")
    play.add_argument("--pickup", metavar="PROFILE", help="how the pickup sends: single (default), per-string, ...")
    play.add_argument(
        "--until-right", action="store_true", help="stay at each chord until it is right, at your own pace"
    )
    play.add_argument(
        "--on-strum", action="store_true", help="the click starts with your first strum, without a count-in"
    )
    play.add_argument("--meter", help="beats in a bar of the click when you play freely, such as 3/4 (4/4)")
    _remarks(play)
    _keys(play)
    commands.take(play)
    commands.guitar(play)
    commands.store(play)
    commands.json(play)


def hear(commands: Commands) -> None:
    """The options of ``widehand hear``."""
    hear = commands.add(
        "hear",
        "judge a MIDI file, or name the chords in it",
        "widehand hear take.mid --drill mill-verse\n  widehand hear --simulate --drill mill-verse",
    )
    hear.add_argument("file", nargs="?", metavar="FILE.mid", help="a Standard MIDI File, such as a kept take")
    hear.add_argument("--drill", metavar="DRILL", help="judge it against this drill; without one every chord is named")
    hear.add_argument("--pickup", metavar="PROFILE", help="how the pickup sends (the take's own, else single)")
    hear.add_argument(
        "--tempo",
        type=number(20, 400),
        metavar="N",
        help="judge timing: the drill begins with the first chord, N beats per minute",
    )
    _remarks(hear, "; without a drill, suggest a smoother voicing where there is one")
    group = hear.add_argument_group("a simulated player instead of a file")
    group.add_argument("--simulate", action="store_true", help="play the drill with simulated hands and pickup")
    group.add_argument("--seed", type=whole(0, 2**31), metavar="N", help="which performance (7)")
    _pickup_errors(group, default=None, usual="typical")
    group.add_argument("--out", metavar="FILE.mid", help="keep what was played as a take")
    commands.guitar(hear)
    commands.json(hear)


def _remarks(parser: argparse._ActionsContainer, more: str = "") -> None:
    parser.add_argument(
        "--remarks",
        action="store_true",
        help=f"also say where voices went in parallel, crossed or stood far apart; never a fault{more}",
    )


def _keys(parser: argparse.ArgumentParser) -> None:
    parser.add_argument_group(
        "keys while you play",
        "space          pause, and go on          a, left arrow   the take again\n"
        "b              back a passage            n, right arrow  the next passage\n"
        "-, down arrow  slower                    +, up arrow     faster\n"
        "t              hear the chord that is due (with --sound)\n"
        "k              keep what you just played as a drill (without a drill)\n"
        "m              more about the take that is over\n"
        "?              what signs and keys mean\n"
        "q              quit; everything is kept\n"
        "Page up and page down do as left and right: a page turner's pedal works too.",
    )


def _pickup_errors(parser: argparse._ActionsContainer, *, default: str | None, usual: str) -> None:
    parser.add_argument(
        "--pickup-errors",
        choices=("none", "typical", "hard"),
        default=default,
        help=f"how often the simulated pickup gets it wrong: ghost notes, double triggers ... ({usual})",
    )
