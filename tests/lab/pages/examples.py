"""Examples for every option, for the page about the commands; a test runs each of them.

They stand apart from the options themselves so that ``--help`` need not load them.
"""

from __future__ import annotations

from typing import Final, NamedTuple


class Example(NamedTuple):
    """A line to type, and what it is good for. One that is ``live`` waits for somebody to play."""

    line: str
    what: str
    live: bool = False


EXAMPLES: Final[dict[str, tuple[Example, ...]]] = {
    "demo": (
        Example("widehand demo", "the simulated guitarist, as long as the tune lasts", live=True),
        Example("widehand demo ferry-landing --fast --seed 3", "another drill, another performance, without waiting"),
        Example("widehand demo --fast --tempo 72 --count-in 2 --plain", "with the click, a line for each verdict"),
        Example("widehand demo --fast --own-pace --times 2 --json", "two takes, for another program to read"),
        Example(
            "widehand demo --fast --tempo 60 --ladder --up-to 66 --times 3", "how the tempo ladder goes up and down"
        ),
        Example("widehand demo --fast --tempo 60 --hard-spots --times 2", "how hard spots are looped"),
        Example("widehand demo --tempo 80 --click synth --backing", "click and bass on a MIDI output", live=True),
        Example("widehand demo --sound synth --roll", "the key t rolls the chord that is meant", live=True),
        Example("widehand demo --fast --rest-after 5", "reminded of a rest after five minutes"),
        Example("widehand demo --fast --tuning 'D2 A2 D3 G3 B3 E4' --capo 2", "another tuning, with a capo"),
        Example("widehand demo --fast --hand small --easier --left-handed", "shapes for another hand"),
        Example("widehand demo --fast --store trial.sqlite3", "kept in a history of its own"),
        Example("widehand demo --picture dashboard.svg", "the last screen as a picture"),
        Example(
            "widehand demo --fast --pickup-errors hard --remarks", "a pickup that is often wrong; parallels remarked on"
        ),
    ),
    "play": (
        Example("widehand play mill-verse", "at your own pace, on the only guitar there is", live=True),
        Example("widehand play", "no drill: every chord is named", live=True),
        Example("widehand play --tempo 92 --meter 3/4", "the same with a click: the harmony in its bars", live=True),
        Example(
            "widehand play mill-verse --port guitar --pickup per-string", "on this port, string by string", live=True
        ),
        Example(
            "widehand play mill-verse --port guitar --tempo 60 --count-in 2 --click synth",
            "with a click that is heard",
            live=True,
        ),
        Example("widehand play mill-verse --tempo 60 --on-strum", "the click starts when you do", live=True),
        Example("widehand play mill-verse --own-pace --plain", "a line for each verdict", live=True),
        Example("widehand play mill-verse --until-right", "each chord until it is right, then the next", live=True),
        Example("widehand play mill-verse --tempo 60 --ladder --up-to 90", "faster when it is clean", live=True),
        Example(
            "widehand play mill-verse --tempo 60 --hard-spots --times 4", "what went wrong until it is clean", live=True
        ),
        Example("widehand play mill-verse --port guitar --tempo 60 --click synth --backing", "with a bass", live=True),
        Example(
            "widehand play mill-verse --port guitar --sound synth --roll",
            "the key t rolls the chord that is meant",
            live=True,
        ),
        Example("widehand play mill-verse --rest-after 15", "reminded of a rest sooner", live=True),
        Example("widehand play mill-verse --tuning 'drop D' --capo 2", "another tuning, with a capo", live=True),
        Example("widehand play mill-verse --hand small --easier --left-handed", "shapes for another hand", live=True),
        Example("widehand play mill-verse --store lessons.sqlite3 --json", "kept apart, read by a program", live=True),
        Example("widehand play mill-verse --remarks", "parallels and crossings remarked on at the end", live=True),
    ),
    "hear": (
        Example("widehand hear take.mid", "every chord in it gets its name"),
        Example("widehand hear take.mid --drill mill-verse", "judged against a drill"),
        Example(
            "widehand hear recording.mid --drill mill-verse --tempo 60 --json", "a file from elsewhere, its timing too"
        ),
        Example("widehand hear take.mid --pickup per-string", "read as another profile"),
        Example("widehand hear take.mid --drill mill-verse --tuning 'drop D' --capo 2", "played in another tuning"),
        Example("widehand hear take.mid --drill mill-verse --hand large --easier --left-handed", "with another hand"),
        Example("widehand hear take.mid --remarks", "with a smoother voicing where there is one"),
        Example(
            "widehand hear --simulate --drill mill-verse --seed 5 --pickup-errors typical --out try.mid",
            "without a guitar",
        ),
    ),
    "plan": (
        Example("widehand plan mill-verse", "shapes, tab, moving voices, totals"),
        Example("widehand plan mill-verse --alternatives 3 --json", "three more routes, for another program"),
        Example("widehand plan mill-verse --compare", "how far the voices move beside everyday shapes"),
        Example("widehand plan mill-verse --midi", "the planned chords to listen to: mill-verse.mid"),
        Example("widehand plan mill-verse --tuning 'open G' --capo 3 --hand small", "for another guitar and hand"),
        Example("widehand plan mill-verse --easier --left-handed", "easier shapes, drawn the other way round"),
    ),
    "listen": (
        Example("widehand listen mill-verse", "all of it, by the computer itself", live=True),
        Example("widehand listen mill-verse --passage spread --wav spread.wav", "one passage, into a file"),
        Example("widehand listen mill-verse --change 3 --tempo 50 --wav change.wav", "chord 3 and the one after it"),
        Example(
            "widehand listen mill-verse --change 3 --everyday --wav everyday.wav --json",
            "the same as everybody plays it",
        ),
        Example("widehand listen mill-verse --port synth", "through a MIDI output", live=True),
        Example("widehand listen mill-verse --tuning 'drop D' --capo 2 --wav capo.wav", "on another guitar"),
        Example("widehand listen mill-verse --hand small --easier --left-handed --wav small.wav", "for another hand"),
    ),
    "sheet": (
        Example("widehand sheet mill-verse", "tab to read or to copy into a message"),
        Example("widehand sheet mill-verse --tab mill-verse.txt", "the same in a file"),
        Example("widehand sheet mill-verse --musicxml mill-verse.mxl", "for notation programs"),
        Example("widehand sheet mill-verse --midi mill-verse.mid --with-click --tempo 72", "to play along"),
        Example("widehand sheet mill-verse --wav mill-verse.wav", "to send to somebody who has no MIDI"),
        Example("widehand sheet mill-verse --pdf --paper letter", "for the music stand: mill-verse.pdf in this folder"),
        Example("widehand sheet mill-verse --svg look.svg", "to look at, under a name of your own"),
        Example("widehand sheet mill-verse --tuning 'drop D' --capo 2 --tab -", "for another guitar"),
        Example("widehand sheet mill-verse --hand small --easier --left-handed", "for another hand"),
        Example("widehand sheet mill-verse --json", "for another program"),
    ),
    "name": (
        Example("widehand name G3 E4 C5", "from the names of its notes, low to high"),
        Example("widehand name 55 64 72 --json", "from MIDI numbers, for another program"),
    ),
    "drills": (
        Example("widehand drills", "the course"),
        Example("widehand drills show mill-verse", "what one is for"),
        Example("widehand drills check my-drill.toml", "everything that is wrong with a file, with line numbers"),
        Example("widehand drills list --json", "for another program"),
        Example("widehand drills --topic 'top line' --difficulty 2 --store lessons.sqlite3", "only some of it"),
        Example("widehand drills new", "make one by answering questions", live=True),
        Example(
            "widehand drills new my-verse --chords 'I | vi | IV | V' --key G --kind 'spread or close' --top 3 "
            "--tempo 66 --meter 3/4 --title 'Rainy verse'",
            "make one by options",
        ),
        Example(
            "widehand drills from 'C | Am7 D7/F# | G' --name evening-line --force",
            "make one from a line of chords; then: widehand play evening-line",
        ),
        Example(
            "widehand drills from recording.mid --part 1 --notes beat --transpose -2 --out evening.toml", "from a tune"
        ),
        Example("widehand drills from take.mid --name my-line --force", "what you played in a take, as a drill"),
        Example(
            "widehand drills from recording.mid --as take --pickup single --from 0:00 --to 0:20 --name my-line --force",
            "from somebody's playing, its first 20 seconds",
        ),
        Example(
            "widehand drills check mill-verse --tuning 'drop D' --capo 2 --hand small", "for another guitar and hand"
        ),
    ),
    "setup": (
        Example("widehand setup", "the whole of it: two minutes with the guitar plugged in", live=True),
        Example("widehand setup --port guitar", "on this port", live=True),
        Example("widehand setup --check", "what works here and what does not", live=True),
        Example("widehand setup --check --json", "for another program", live=True),
    ),
    "ports": (
        Example("widehand ports", "what is connected", live=True),
        Example("widehand ports --json", "for another program", live=True),
        Example("widehand ports --watch guitar --seconds 5", "what arrives, and which profile fits", live=True),
        Example("widehand ports --watch guitar --pickup per-string --seconds 5", "read as this profile", live=True),
    ),
    "calibrate": (
        Example("widehand calibrate --port cable --out cable", "the round trip through a cable", live=True),
        Example("widehand calibrate --port cable --out cable --json", "for another program", live=True),
        Example(
            "widehand calibrate --port guitar --pickup per-string --plucks 8 --tempo 90 --click synth",
            "the strings, plucked with a click that is heard",
            live=True,
        ),
    ),
    "settings": (
        Example("widehand settings", "what holds now, and where it is written"),
        Example("widehand settings --begin", "a file to begin with, put where it is looked for"),
        Example("widehand settings --example > settings.toml", "the same, only printed"),
        Example("widehand settings --json", "for another program"),
    ),
    "export": (
        Example("widehand export --drill mill-verse --from 'Mara Lind' --bundle mara.zip", "takes for the teacher"),
        Example("widehand export my-drill.toml --bundle for-mara.zip", "a drill to practise"),
        Example("widehand export --since 2026-01-01 --csv verdicts.csv", "verdicts for a spreadsheet"),
        Example("widehand export --since 4w --from 'Mara Lind' --bundle mara.zip", "what was played in the last weeks"),
        Example("widehand export --take 1 --store lessons.sqlite3 --json", "one take, for another program"),
        Example("widehand export --all --csv -", "every verdict of every take"),
    ),
    "import": (
        Example("widehand import mara.zip --dry-run", "what would be new"),
        Example("widehand import mara.zip", "a student's takes, kept apart from your own"),
        Example("widehand import mara.zip --from 'Mara L.' --json", "under another name"),
        Example("widehand import mara.zip --mine --store laptop.sqlite3", "your own, on another computer"),
    ),
    "students": (
        Example("widehand students .", "how each student gets on, and what to say next"),
        Example("widehand students . --html pages", "a page for each"),
        Example("widehand students . --student 'Mara Lind' --plain --rejudge", "one page, judged again, as text"),
        Example("widehand students . --json", "for another program"),
    ),
    "rejudge": (
        Example("widehand rejudge", "what today's ears say differently"),
        Example("widehand rejudge --drill mill-verse --write", "and keep it, for one drill"),
        Example("widehand rejudge --student 'Mara Lind' --write", "what a student handed in and was imported"),
        Example("widehand rejudge --rebuild", "the history is gone, its takes are there: make it again"),
        Example("widehand rejudge --take 1 --store lessons.sqlite3 --json", "one take of another history"),
    ),
    "progress": (
        Example("widehand progress", "over the weeks"),
        Example("widehand progress --student 'Mara Lind'", "of a student whose takes were imported"),
        Example("widehand progress --drill mill-verse --store lessons.sqlite3 --json", "one drill of another history"),
        Example("widehand progress --since 3m --html progress.html", "a page with pictures"),
        Example("widehand progress --csv takes.csv --csv-changes changes.csv", "for a spreadsheet"),
        Example("widehand progress --csv-vocabulary voicings.csv", "which voicings you use"),
    ),
    "today": (
        Example("widehand today", "what to practise in twenty minutes"),
        Example("widehand today --minutes 45 --why --plain", "three quarters of an hour, with reasons, as plain lines"),
        Example("widehand today --start --port guitar --pickup per-string --click synth", "and play it", live=True),
        Example("widehand today --start --own-pace --rest-after 15", "without a click, a rest sooner", live=True),
        Example("widehand today --start --demo --fast --minutes 5", "the simulated guitarist's day"),
        Example("widehand today --tuning 'drop D' --capo 2 --hand small --easier --left-handed", "for another hand"),
        Example("widehand today --store lessons.sqlite3 --json", "from another history, for another program"),
    ),
    "docs": (
        Example("widehand docs", "which pages there are"),
        Example("widehand docs troubleshooting", "one of them"),
        Example("widehand docs verdicts --plain > verdicts.md", "as it is written"),
        Example("widehand docs --schema plan > plan.schema.json", "what 'widehand plan --json' says, for programs"),
    ),
    "help": (
        Example("widehand help", "all commands"),
        Example("widehand help plan", "what one of them can do"),
    ),
    "completion": (
        Example("widehand completion bash > widehand.bash", "the Tab key completes commands, options and drills"),
    ),
}
