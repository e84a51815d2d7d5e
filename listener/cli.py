"""The command line: parse, call one function, print what went wrong. No music in it.

Every command's module is imported only when it runs, so that ``--help`` and error lines come at once.
"""

from __future__ import annotations

import argparse
import sys
from collections.abc import Sequence

from listener import __version__

_ABOUT = """\
Widehand listens to a guitar with a MIDI pickup and tells you, chord by chord, whether
what sounded is what was meant: the voicing, the note on top, and how the voices moved."""

_START = """\
start here:
  widehand demo              see the whole thing with nothing plugged in
  widehand drills            what there is to practise
  widehand plan mill-verse   look at the shapes first
  widehand play mill-verse   plug in and play; the program listens
  widehand progress          how it went over the weeks

Pain means stop. If it stays, ask a teacher or a clinician."""


def _number(low: float, high: float, what: str) -> type[float]:
    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"'{text}' is no {what}; give a number from {low:g} to {high:g}")
        return value

    return read  # type: ignore[return-value]  # argparse only calls it


def _whole(low: int, high: int, what: str) -> type[int]:
    def read(text: str) -> int:
        if not text.lstrip("-").isdecimal() or not low <= int(text) <= high:
            raise argparse.ArgumentTypeError(f"'{text}' is no {what}; give a whole number from {low} to {high}")
        return int(text)

    return read  # type: ignore[return-value]  # argparse only calls it


class _Commands:
    """Builds the parser: one method for a group of options that several commands share."""

    def __init__(self) -> None:
        self.parser = argparse.ArgumentParser(
            prog="widehand", description=_ABOUT, epilog=_START, formatter_class=argparse.RawDescriptionHelpFormatter
        )
        self.parser.add_argument("--version", action="version", version=f"widehand {__version__}")
        self._sub = self.parser.add_subparsers(title="commands", metavar="COMMAND", dest="command")

    def add(self, name: str, about: str, example: str) -> argparse.ArgumentParser:
        return self._sub.add_parser(
            name,
            help=about,
            description=about[0].upper() + about[1:] + ".",
            epilog="example:\n  " + example,
            formatter_class=argparse.RawDescriptionHelpFormatter,
        )

    @staticmethod
    def json(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="one JSON document on standard output, nothing else")

    @staticmethod
    def guitar(parser: argparse.ArgumentParser) -> None:
        group = parser.add_argument_group("guitar and hand")
        group.add_argument("--tuning", help="a name, or open strings low to high: 'D2 A2 D3 G3 B3 E4'")
        group.add_argument("--capo", type=_whole(0, 12, "fret for a capo"), metavar="FRET", help="capo at this fret")
        group.add_argument("--hand", help="small, medium (default) or large")
        group.add_argument("--easier", action="store_true", help="plan shapes that stay well within the hand's reach")
        group.add_argument("--left-handed", action="store_true", help="draw the neck for a left-handed player")

    @staticmethod
    def take(parser: argparse.ArgumentParser) -> None:
        group = parser.add_argument_group("how it is played")
        pace = group.add_mutually_exclusive_group()
        pace.add_argument(
            "--tempo", type=_number(20, 400, "tempo"), metavar="N", help="with the click, N beats per minute"
        )
        pace.add_argument("--own-pace", action="store_true", help="without a click: every chord when you are ready")
        group.add_argument(
            "--count-in",
            type=_whole(0, 8, "number of bars"),
            default=1,
            metavar="BARS",
            help="bars counted in before the click (1)",
        )
        group.add_argument("--click", metavar="PORT", help="MIDI output port that makes the click heard")
        group.add_argument(
            "--plain", action="store_true", help="plain lines instead of the dashboard, one for each verdict"
        )
        loop = parser.add_argument_group("practising")
        loop.add_argument("--ladder", action="store_true", help="take after take: faster when clean, slower when rough")
        loop.add_argument(
            "--up-to", type=_number(20, 400, "tempo"), metavar="N", help="the top of the ladder, in beats per minute"
        )
        loop.add_argument(
            "--hard-spots",
            action="store_true",
            help="loop what went wrong until it is clean, then play the whole again",
        )
        loop.add_argument("--times", type=_whole(1, 999, "number of takes"), metavar="N", help="play it N times")
        loop.add_argument("--sound", metavar="PORT", help="MIDI output on which the key t sounds the chord to play")
        loop.add_argument("--roll", action="store_true", help="sound it one note after another")
        loop.add_argument("--backing", action="store_true", help="bass notes with the click, on the click's port")
        loop.add_argument(
            "--rest-after",
            type=_number(5, 60, "number of minutes"),
            metavar="MINUTES",
            help="remind me of a rest after this long (25)",
        )

    @staticmethod
    def store(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--store", metavar="FILE", help="where the history is kept (also: WIDEHAND_STORE)")

    def build(self) -> argparse.ArgumentParser:
        self._playing()
        self._looking()
        return self.parser

    def _playing(self) -> None:
        demo = self.add("demo", "the main job with nothing plugged in", "widehand demo --fast")
        demo.add_argument("drill", nargs="?", metavar="DRILL", help="a drill of the course, or a .toml file")
        demo.add_argument("--fast", action="store_true", help="do not wait: the whole take at once")
        demo.add_argument("--seed", type=_whole(0, 2**31, "seed"), default=7, help="which simulated performance (7)")
        demo.add_argument("--picture", metavar="FILE", help="write the last screen as an SVG picture")
        self.take(demo)
        self.guitar(demo)
        self.store(demo)
        self.json(demo)

        play = self.add("play", "listen to a port and judge live", "widehand play mill-verse --port guitar --tempo 60")
        play.add_argument(
            "drill",
            nargs="?",
            metavar="DRILL",
            help="a drill of the course, or a .toml file; without one every chord is named",
        )
        play.add_argument("--port", help="name of the MIDI input port, or a part of it")
        play.add_argument("--pickup", metavar="PROFILE", help="how the pickup sends: single (default), per-string, ...")
        self.take(play)
        self.guitar(play)
        self.store(play)
        self.json(play)

        hear = self.add("hear", "the same ears on a MIDI file", "widehand hear take.mid --drill mill-verse")
        hear.add_argument("file", metavar="FILE.mid", help="a Standard MIDI File, such as a kept take")
        hear.add_argument(
            "--drill", metavar="DRILL", help="judge it against this drill; without one every chord is named"
        )
        hear.add_argument("--pickup", metavar="PROFILE", help="how the pickup sends (the take's own, else single)")
        hear.add_argument(
            "--tempo",
            type=_number(20, 400, "tempo"),
            metavar="N",
            help="judge timing: the drill begins with the first chord, N beats per minute",
        )
        self.guitar(hear)
        self.json(hear)

    def _looking(self) -> None:
        plan = self.add("plan", "show the shapes of a drill and how the voices move", "widehand plan mill-verse")
        plan.add_argument("drill", metavar="DRILL", help="a drill of the course, or a .toml file")
        plan.add_argument(
            "--alternatives",
            type=_whole(0, 20, "number of routes"),
            default=0,
            metavar="N",
            help="also show the N best routes that sound different",
        )
        plan.add_argument("--midi", metavar="FILE", help="also write the planned chords as a Standard MIDI File")
        self.guitar(plan)
        self.json(plan)

        sheet = self.add(
            "sheet", "put a drill on paper, or into a file for others", "widehand sheet mill-verse --tab -"
        )
        sheet.add_argument("drill", metavar="DRILL", help="a drill of the course, or a .toml file")
        sheet.add_argument("--tab", metavar="FILE", help="plain-text tab for a message; - shows it (the usual)")
        sheet.add_argument("--musicxml", metavar="FILE", help="a score for notation programs, .musicxml or .mxl")
        sheet.add_argument("--midi", metavar="FILE", help="a Standard MIDI File")
        sheet.add_argument("--with-click", action="store_true", help="with the click, in the MIDI file")
        sheet.add_argument("--svg", metavar="FILE", help="a practice sheet to look at")
        sheet.add_argument("--pdf", metavar="FILE", help="a practice sheet to print")
        sheet.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the sheet (a4)")
        sheet.add_argument("--tempo", type=_number(20, 400, "tempo"), metavar="N", help="instead of the drill's own")
        self.guitar(sheet)

        name = self.add("name", "name a chord and its voicing", "widehand name 55 64 72")
        name.add_argument("notes", nargs="+", metavar="NOTE", help="notes such as G3 E4 C5, or MIDI numbers (60 is C4)")
        self.json(name)

        drills = self.add(
            "drills", "list the course, show a drill, check a drill file", "widehand drills check my-drill.toml"
        )
        drills.add_argument(
            "action", nargs="?", choices=("list", "show", "check"), default="list", help="list (default), show or check"
        )
        drills.add_argument("drill", nargs="?", metavar="DRILL", help="a drill of the course, or a .toml file")
        self.json(drills)

        ports = self.add("ports", "list the MIDI ports, or watch what arrives", "widehand ports --watch guitar")
        ports.add_argument(
            "--watch", nargs="?", const="", metavar="PORT", help="show what arrives and find the pickup's profile"
        )
        ports.add_argument(
            "--seconds", type=_number(1, 3600, "number of seconds"), metavar="N", help="stop watching after N seconds"
        )
        ports.add_argument("--pickup", metavar="PROFILE", help="read what arrives as this profile")
        self.json(ports)

        calibrate = self.add("calibrate", "measure the delay of a pickup", "widehand calibrate --port guitar")
        calibrate.add_argument("--port", help="name of the MIDI input port, or a part of it")
        calibrate.add_argument(
            "--out", metavar="PORT", help="measure the round trip through this output, looped back to the input"
        )
        calibrate.add_argument("--click", metavar="PORT", help="MIDI output port that makes the click heard")
        calibrate.add_argument("--pickup", metavar="PROFILE", help="how the pickup sends: single, per-string, ...")
        calibrate.add_argument(
            "--plucks", type=_whole(4, 200, "number of plucks"), default=16, metavar="N", help="plucks per string (16)"
        )
        calibrate.add_argument(
            "--tempo", type=_number(30, 200, "tempo"), default=80.0, metavar="N", help="the click to pluck to (80)"
        )
        self.json(calibrate)

        settings = self.add("settings", "show your own settings, or an example of them", "widehand settings --example")
        settings.add_argument("--example", action="store_true", help="print a settings file to begin with")
        self.json(settings)

        rejudge = self.add(
            "rejudge", "judge kept takes again and show what is different now", "widehand rejudge --drill mill-verse"
        )
        rejudge.add_argument("--take", type=_whole(1, 2**31, "number of a take"), metavar="N", help="only this take")
        rejudge.add_argument("--drill", help="only takes of this drill")
        rejudge.add_argument("--write", action="store_true", help="keep the new verdicts beside the old ones")
        self.store(rejudge)
        self.json(rejudge)

        progress = self.add("progress", "how it went over the weeks", "widehand progress --drill mill-verse")
        progress.add_argument("--drill", help="only this drill")
        self.store(progress)
        self.json(progress)


def _call(arguments: argparse.Namespace) -> int:
    from importlib import import_module

    return int(import_module(f"listener.commands.{arguments.command}").main(arguments))


def main(argv: Sequence[str] | None = None) -> int:
    """Run one command; the exit code is 0 done, 1 could not, 2 wrong usage, 130 interrupted with everything saved."""
    parser = _Commands().build()
    arguments = parser.parse_args(argv)
    if arguments.command is None:
        parser.print_help()
        return 0
    try:
        return _call(arguments)
    except KeyboardInterrupt:
        print("widehand: interrupted", file=sys.stderr)
        return 130
    except BrokenPipeError:
        # The reader of our output has gone, as in `widehand drills | head -1`; nobody is left to be told.
        sys.stderr.close()
        return 0
    except Exception as error:
        from listener.errors import WidehandError

        if not isinstance(error, WidehandError):
            raise
        print(f"widehand: {error}", file=sys.stderr)
        return error.exit_code
