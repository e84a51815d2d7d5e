"""Options of the commands that show, sound or write a drill: plan, listen, sheet, name, drills."""

from __future__ import annotations

from argparse import ArgumentParser

from listener.options.shared import Commands, moment, number, whole


def plan(commands: Commands) -> None:
    """The options of ``widehand plan``."""
    plan = commands.add("plan", "show the shapes of a drill and how the voices move", "widehand plan mill-verse")
    commands.drill(plan)
    plan.add_argument(
        "--alternatives",
        type=whole(0, 20),
        default=0,
        metavar="N",
        help="also show the N best routes that sound different",
    )
    plan.add_argument("--compare", action="store_true", help="also set the plan beside everyday shapes and others")
    commands.file(plan, "--midi", "also write the planned chords as a Standard MIDI File")
    commands.guitar(plan)
    commands.json(plan)


def listen(commands: Commands) -> None:
    """The options of ``widehand listen``."""
    listen = commands.add("listen", "hear the chords of a drill", "widehand listen mill-verse --passage spread")
    commands.drill(listen)
    part = listen.add_mutually_exclusive_group()
    part.add_argument("--passage", metavar="NAME", help="only this passage; a part of its name will do")
    part.add_argument("--change", type=whole(1, 99_999), metavar="N", help="only chord N and the one after it")
    listen.add_argument("--everyday", action="store_true", help="the shapes that everybody knows, to compare")
    listen.add_argument("--tempo", type=number(20, 400), metavar="N", help="instead of the drill's own")
    where = listen.add_mutually_exclusive_group()
    where.add_argument(
        "--port", metavar="PORT", help="through this MIDI output; without it from a string computed here"
    )
    commands.file(where, "--wav", "into a WAV file, instead of playing it now")
    commands.guitar(listen)
    commands.json(listen)


def sheet(commands: Commands) -> None:
    """The options of ``widehand sheet``."""
    sheet = commands.add(
        "sheet", "put a drill on paper, or into a file for others", "widehand sheet mill-verse --tab -"
    )
    commands.drill(sheet)
    commands.file(sheet, "--tab", "plain-text tab for a message; - shows it (the usual)")
    commands.file(sheet, "--musicxml", "a score for notation programs, .musicxml or .mxl")
    commands.file(sheet, "--midi", "a Standard MIDI File")
    sheet.add_argument("--with-click", action="store_true", help="with the click, in the MIDI file")
    commands.file(sheet, "--wav", "the sound of it, from a plucked string computed here")
    commands.file(sheet, "--svg", "a practice sheet to look at")
    commands.file(sheet, "--pdf", "a practice sheet to print")
    sheet.add_argument("--paper", choices=("a4", "letter"), default="a4", help="size of the sheet (a4)")
    sheet.add_argument("--tempo", type=number(20, 400), metavar="N", help="instead of the drill's own")
    commands.guitar(sheet)
    commands.json(sheet)


def name(commands: Commands) -> None:
    """The options of ``widehand name``."""
    name = commands.add("name", "name a chord and its voicing", "widehand name 55 64 72")
    name.add_argument("notes", nargs="+", metavar="NOTE", help="notes such as G3 E4 C5, or MIDI numbers (60 is C4)")
    commands.json(name)


def drills(commands: Commands) -> None:
    """The options of ``widehand drills``."""
    drills = commands.add(
        "drills",
        "list the course, show a drill, check a drill file, make a new one",
        "widehand drills from 'C | Am7 D7/F# | G' --kind spread --name my-verse",
    )
    drills.add_argument(
        "action",
        nargs="?",
        choices=("list", "show", "check", "new", "from"),
        default="list",
        help="list (default), show, check; new asks what it should be; from makes one from chords, a tune or a take",
    )
    commands.drill(drills, "; for from: the chords, a take, or a MIDI or MusicXML file")
    commands.json(drills)
    listing = drills.add_argument_group("which are listed")
    listing.add_argument("--topic", metavar="WORDS", help="only those about this")
    listing.add_argument("--difficulty", type=whole(1, 5), metavar="N", help="only those, 1 to 5")
    commands.store(drills)
    _making(drills)
    commands.tuning_and_hand(drills, "guitar and hand, for check, new and from")
    drills.set_defaults(left_handed=False, easier=False)


def _making(drills: ArgumentParser) -> None:
    """What a new drill shall be."""
    making = drills.add_argument_group("what is made, for new and from")
    making.add_argument("--chords", metavar="LINE", help="chords or Roman numerals in bars: 'C | Am7 D7/F# | G'")
    making.add_argument("--key", help="such as G, Bb or 'F# minor' (a guess when left out)")
    making.add_argument("--kind", help="how chords are spaced: spread, close, 'drop 2', 'spread or close', any")
    making.add_argument("--top", help="the highest note: a degree such as 3, 'E4 F4 G4', up, down, keep")
    making.add_argument(
        "--tempo", type=number(20, 400), metavar="N", help="beats a minute (60, or that of the playing)"
    )
    making.add_argument("--meter", help="such as 3/4 or 6/8 (4/4, or what the file says, or found in the playing)")
    making.add_argument("--title", help="what it is called")
    making.add_argument("--name", help="the name of its file, without .toml")
    making.add_argument("--out", metavar="FILE", help="write it there, instead of among your own drills")
    making.add_argument("--force", action="store_true", help="replace a file that is there already")
    played = drills.add_argument_group("from playing: a take, or a MIDI file of somebody who plays guitar")
    played.add_argument(
        "--as",
        dest="as_",
        choices=("take", "tune"),
        help="read a MIDI file as playing, chord by chord, or as a tune (a take of this program is known as one, any "
        "other file is a tune)",
    )
    played.add_argument("--pickup", metavar="PROFILE", help="how the pickup sent (the take's own, else single)")
    played.add_argument("--from", dest="from_s", type=moment, metavar="TIME", help="only from then on, as in 1:20")
    played.add_argument("--to", dest="to_s", type=moment, metavar="TIME", help="only until then")
    tune = drills.add_argument_group("from a MIDI or MusicXML file")
    tune.add_argument(
        "--part",
        help="which part is the melody: its number, or the beginning of its name; of a take, which passage: its number",
    )
    tune.add_argument(
        "--notes",
        choices=("every", "beat", "chord"),
        help="which notes get a chord: every one (usual), those on the beats, or the first of each bar and chord",
    )
    tune.add_argument(
        "--transpose",
        type=whole(-36, 36),
        metavar="N",
        help="semitones up or down (a tune that does not fit the neck is moved anyway)",
    )
