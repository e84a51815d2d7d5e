"""Options of the commands that hand something to somebody else: export, import, students."""

from __future__ import annotations

from listener.options.shared import Commands, since, whole


def export(commands: Commands) -> None:
    """The options of ``widehand export``."""
    export = commands.add(
        "export",
        "hand drills and takes to somebody else, or their verdicts to a spreadsheet",
        "widehand export --since 2031-05-01 --bundle mara.zip --from Mara\n"
        "  widehand export my-drill --bundle for-mara.zip\n"
        "  widehand export --all --csv verdicts.csv\n\n"
        "A drill as MIDI, MusicXML, tab or a sheet to print: widehand sheet DRILL.",
    )
    export.add_argument("drills", nargs="*", metavar="DRILL", help="drills to practise: a name, or a .toml file")
    takes = export.add_argument_group("takes")
    takes.add_argument("--take", type=whole(1, 2**31), action="append", metavar="N", help="this take (may repeat)")
    takes.add_argument("--drill", metavar="NAME", help="all takes of this drill")
    since(takes, "takes from then on")
    takes.add_argument("--all", action="store_true", help="all takes")
    written = export.add_argument_group("what is written")
    written.add_argument("--bundle", metavar="FILE", help="one file to send to a teacher or a student (.zip)")
    written.add_argument("--csv", metavar="FILE", help="a row for each verdict; - for standard output")
    export.add_argument("--from", dest="name", metavar="NAME", help="your name in the bundle (also in the settings)")
    commands.store(export)
    commands.json(export)


def import_(commands: Commands) -> None:
    """The options of ``widehand import``."""
    add = commands.add(
        "import",
        "take in bundles: drills to play, takes to look at",
        "widehand import for-mara.zip\n\n"
        "Takes of somebody else stay apart from yours: widehand progress --student NAME.",
    )
    add.add_argument("files", nargs="+", metavar="FILE", help="bundles, made with widehand export")
    add.add_argument("--from", dest="name", metavar="NAME", help="whose takes they are, instead of what they say")
    add.add_argument("--mine", action="store_true", help="the takes are my own, from another computer")
    add.add_argument("--dry-run", action="store_true", help="only say what is new; write nothing")
    commands.store(add)
    commands.json(add)


def students(commands: Commands) -> None:
    """The options of ``widehand students``."""
    students = commands.add(
        "students",
        "a teacher's view of a folder with students' bundles",
        "widehand students ~/lessons --html ~/lessons/pages",
    )
    students.add_argument("folder", metavar="FOLDER", help="where the bundles lie (.zip)")
    students.add_argument("--student", metavar="NAME", help="only this one, with the whole page")
    students.add_argument("--html", metavar="FOLDER", help="also write a page for each, and one that leads to them")
    students.add_argument("--plain", action="store_true", help="a page for each as plain text")
    students.add_argument(
        "--rejudge",
        action="store_true",
        help="judge every take again from its MIDI and show what differs; keeps nothing",
    )
    commands.json(students)
