"""What is looked up and written: plan, sheet, name, drills."""

from __future__ import annotations

from listener.options.shared import Commands, number, whole


def plan(commands: Commands) -> None:
    """The options of ``widehand plan``."""
    plan = commands.add("plan", "show the shapes of a drill and how the voices move", "widehand plan mill-verse")
    plan.add_argument("drill", metavar="DRILL", help="a drill of the course, or a .toml file")
    plan.add_argument(
        "--alternatives",
        type=whole(0, 20, "number of routes"),
        default=0,
        metavar="N",
        help="also show the N best routes that sound different",
    )
    plan.add_argument("--midi", metavar="FILE", help="also write the planned chords as a Standard MIDI File")
    commands.guitar(plan)
    commands.json(plan)


def sheet(commands: Commands) -> None:
    """The options of ``widehand sheet``."""
    sheet = commands.add(
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
    sheet.add_argument("--tempo", type=number(20, 400, "tempo"), metavar="N", help="instead of the drill's own")
    commands.guitar(sheet)


def name(commands: Commands) -> None:
    """The options of ``widehand name``."""
    name = commands.add("name", "name a chord and its voicing", "widehand name 55 64 72")
    name.add_argument("notes", nargs="+", metavar="NOTE", help="notes such as G3 E4 C5, or MIDI numbers (60 is C4)")
    commands.json(name)


def drills(commands: Commands) -> None:
    """The options of ``widehand drills``."""
    drills = commands.add(
        "drills", "list the course, show a drill, check a drill file", "widehand drills check my-drill.toml"
    )
    drills.add_argument(
        "action", nargs="?", choices=("list", "show", "check"), default="list", help="list (default), show or check"
    )
    drills.add_argument("drill", nargs="?", metavar="DRILL", help="a drill of the course, or a .toml file")
    commands.json(drills)
