"""The parser, the kinds of value, and the options that several commands share."""

from __future__ import annotations

import argparse
import os
import sys

from listener import __version__

TYPE_CHECKING = False  # typing itself takes longer to load than all options together
if TYPE_CHECKING:
    from datetime import date
    from typing import Any, NoReturn

_ABOUT = """\
Widehand listens to a guitar with a MIDI pickup and tells you, chord by chord,
whether what sounded is what was meant: the voicing, the note on top, and how
the voices moved."""

_START = """\
start here:
  widehand demo              see the whole thing with nothing plugged in
  widehand setup             plug in: your guitar and your hand, kept for good
  widehand drills            what there is to practise
  widehand plan mill-verse   look at the shapes first
  widehand play mill-verse   plug in and play; the program listens
  widehand today             what to do with twenty minutes
  widehand progress          how it went over the weeks

More about a command: widehand help COMMAND. The pages: widehand docs.
Pain means stop. If it stays, ask a teacher or a clinician."""

_USUAL_COLUMNS = 80


#: What has more digits is no number that anybody means, and Python refuses to read thousands of them.
_MOST_DIGITS = 20
#: A bound from here on is not worth telling.
_ENDLESS = 99_999


def number(low: float, high: float) -> type[float]:
    def read(text: str) -> float:
        try:
            value = float(text)
        except ValueError:
            value = float("nan")
        if not low <= value <= high:
            raise argparse.ArgumentTypeError(f"give a number from {low:g} to {high:g}, not '{text}'")
        return value

    return read  # type: ignore[return-value]  # argparse only calls it


def whole(low: int, high: int) -> type[int]:
    def read(text: str) -> int:
        is_number = text.removeprefix("-").isdecimal() and len(text) <= _MOST_DIGITS
        if not is_number or not low <= int(text) <= high:
            bounds = f"from {low} to {high}" if high < _ENDLESS else f"of {low} or more"
            raise argparse.ArgumentTypeError(f"give a whole number {bounds}, not '{text}'")
        return int(text)

    return read  # type: ignore[return-value]  # argparse only calls it


def moment(text: str) -> float:
    """A time in a take, in seconds: ``80``, ``1:20``, ``1:20.5``."""
    minutes, _, rest = text.rpartition(":")
    try:
        value = float(rest) + 60 * (int(minutes) if minutes else 0)
    except ValueError:
        value = -1.0
    if not 0 <= value <= 86_400 or len(text) > _MOST_DIGITS:
        raise argparse.ArgumentTypeError(f"'{text}' is no time in a take; write minutes and seconds, such as 1:20")
    return value


def since(parser: argparse._ActionsContainer, what: str) -> None:
    """``--since``: everything that looks back reads the same dates and spans."""
    parser.add_argument(
        "--since", type=_day, metavar="WHEN", help=f"{what}: a date (2031-09-01), or 10d, 4w, 3m, 1y ago"
    )


def _day(text: str) -> date:
    """The first day that counts, by this machine's calendar."""
    from datetime import date

    from listener.history.progress.since_day import since_day

    try:
        return since_day(text, date.today())
    except ValueError as error:
        raise argparse.ArgumentTypeError(str(error)) from None


class _NotAsked:
    """Stands for a command that this command line does not name: takes its options and keeps none.

    Making all options of all commands takes longer than everything else that ``--help`` does.
    """

    def add_argument(self, *_words: object, **_more: object) -> None: ...

    def set_defaults(self, **_more: object) -> None: ...

    def add_argument_group(self, *_words: object, **_more: object) -> _NotAsked:
        return self

    def add_mutually_exclusive_group(self, **_more: object) -> _NotAsked:
        return self


class _Parser(argparse.ArgumentParser):
    """Complains in one line, which says what to try. What was typed stands in it, and must not steer the terminal."""

    def error(self, message: str) -> NoReturn:
        from listener.options.mistyped import reworded
        from listener.safe_text import fitted

        said = reworded(message, self.prog.removeprefix("widehand "), self.epilog or "")
        self.exit(2, f"{self.prog}: {fitted(said)}\n")

    def _check_value(self, action: argparse.Action, value: Any) -> None:
        if action.choices is None or value in action.choices:
            return
        from listener.options.mistyped import no_such_choice, no_such_command

        if isinstance(action, argparse._SubParsersAction):
            raise argparse.ArgumentError(None, no_such_command(value, action.choices))
        raise argparse.ArgumentError(action if action.option_strings else None, no_such_choice(value, action.choices))


def _formatter(prog: str) -> argparse.HelpFormatter:
    """Told the width, for argparse would load half the standard library's archives to find it out."""
    return argparse.RawDescriptionHelpFormatter(prog, width=_columns() - 2)


def _columns() -> int:
    """Those of the terminal, or what COLUMNS says."""
    try:
        said = int(os.environ.get("COLUMNS", ""))
    except ValueError:
        said = 0
    if said > 0:
        return said
    try:
        return os.get_terminal_size(sys.__stdout__.fileno()).columns or _USUAL_COLUMNS  # type: ignore[union-attr]
    except (AttributeError, ValueError, OSError):  # closed, a pipe, or none at all
        return _USUAL_COLUMNS


class Commands:
    """Builds the parser: one method for a group of options that several commands share.

    With ``asked``, only that command gets its options; the others are listed by name.
    """

    def __init__(self, asked: str | None = None) -> None:
        self._asked = asked
        self.parser = _Parser(prog="widehand", description=_ABOUT, epilog=_START, formatter_class=_formatter)
        self.parser.add_argument("-V", "--version", action="version", version=f"widehand {__version__}")
        self._sub = self.parser.add_subparsers(title="commands", metavar="COMMAND", dest="command")

    def add(self, name: str, about: str, example: str) -> argparse.ArgumentParser:
        if self._asked not in (None, name):
            self._sub.add_parser(name, help=about, add_help=False)
            return _NotAsked()  # type: ignore[return-value]  # all that is ever done with it
        parser = self._sub.add_parser(
            name,
            help=about,
            description=about[0].upper() + about[1:] + ".",
            epilog="example:\n  " + example,
            formatter_class=_formatter,
        )
        parser._positionals.title = "arguments"  # nobody says "positional"
        return parser

    @property
    def names(self) -> list[str]:
        """The commands so far, in their order."""
        return list(self._sub.choices)

    @staticmethod
    def json(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--json", action="store_true", help="one JSON document on standard output, nothing else")

    @staticmethod
    def file(parser: argparse._ActionsContainer, option: str, what: str) -> None:
        """A file to write; without a name (the value is then True) it is called after the drill, in this folder."""
        parser.add_argument(option, nargs="?", const=True, metavar="FILE", help=what)

    @staticmethod
    def drill(parser: argparse.ArgumentParser, more: str = "") -> None:
        """The drill; ``more`` goes on after what it may be."""
        what = f"a drill of the course, or a .toml file{more}"
        parser.add_argument("drill", nargs="?", metavar="DRILL", help=what)

    @staticmethod
    def tuning_and_hand(parser: argparse.ArgumentParser, title: str) -> argparse._ArgumentGroup:
        """What a plan needs to know; gives the group of these options."""
        group = parser.add_argument_group(title)
        group.add_argument("--tuning", help="a name, or open strings low to high: 'D2 A2 D3 G3 B3 E4'")
        group.add_argument("--capo", type=whole(0, 12), metavar="FRET", help="capo at this fret")
        group.add_argument("--hand", help="small, medium (default) or large")
        return group

    @staticmethod
    def guitar(parser: argparse.ArgumentParser) -> None:
        group = Commands.tuning_and_hand(parser, "guitar and hand")
        group.add_argument("--easier", action="store_true", help="plan shapes that ask less of the hand")
        group.add_argument("--left-handed", action="store_true", help="draw the neck for a left-handed player")

    @staticmethod
    def take(parser: argparse.ArgumentParser) -> None:
        group = parser.add_argument_group("how it is played")
        pace = group.add_mutually_exclusive_group()
        pace.add_argument("--tempo", type=number(20, 400), metavar="N", help="with the click, N beats per minute")
        pace.add_argument("--own-pace", action="store_true", help="without a click: every chord when you are ready")
        group.add_argument(
            "--count-in",
            type=whole(0, 8),
            default=1,
            metavar="BARS",
            help="bars counted in before the click (1)",
        )
        group.add_argument("--click", metavar="PORT", help="MIDI output that sounds the click")
        group.add_argument(
            "--plain", action="store_true", help="plain lines instead of the dashboard, one for each verdict"
        )
        loop = parser.add_argument_group("practising")
        loop.add_argument("--ladder", action="store_true", help="take after take: faster when clean, slower when rough")
        loop.add_argument(
            "--up-to", type=number(20, 400), metavar="N", help="the top of the ladder, in beats per minute"
        )
        loop.add_argument(
            "--hard-spots",
            action="store_true",
            help="loop what went wrong until it is clean, then play the whole again",
        )
        loop.add_argument("--times", type=whole(1, 999), metavar="N", help="play it N times")
        loop.add_argument("--sound", metavar="PORT", help="MIDI output on which the key t sounds the chord to play")
        loop.add_argument("--roll", action="store_true", help="with --sound: one note after another")
        loop.add_argument("--backing", action="store_true", help="bass notes with the click, on the click's port")
        loop.add_argument(
            "--rest-after",
            type=number(5, 60),
            metavar="MINUTES",
            help="remind me of a rest after this long (25)",
        )

    @staticmethod
    def store(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--store", metavar="FILE", help="where the history is kept (also: WIDEHAND_STORE)")

    @staticmethod
    def student(parser: argparse.ArgumentParser) -> None:
        parser.add_argument("--student", metavar="NAME", help="takes of this student, from an imported bundle")
