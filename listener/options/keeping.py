"""Options of the commands for what was kept: rejudge, progress."""

from __future__ import annotations

from listener.options.shared import Commands, since, whole


def rejudge(commands: Commands) -> None:
    """The options of ``widehand rejudge``."""
    rejudge = commands.add(
        "rejudge", "judge kept takes again and show what is different now", "widehand rejudge --drill mill-verse"
    )
    rejudge.add_argument("--take", type=whole(1, 2**31), metavar="N", help="only this take")
    rejudge.add_argument("--drill", help="only takes of this drill")
    rejudge.add_argument("--write", action="store_true", help="keep the new verdicts beside the old ones")
    rejudge.add_argument(
        "--rebuild", action="store_true", help="make a lost history again from the takes that lie beside it"
    )
    commands.student(rejudge)
    commands.store(rejudge)
    commands.json(rejudge)


def progress(commands: Commands) -> None:
    """The options of ``widehand progress``."""
    progress = commands.add(
        "progress", "how it went over the weeks", "widehand progress --since 3m --html progress.html"
    )
    progress.add_argument("--drill", help="only this drill")
    since(progress, "only from then on")
    files = progress.add_argument_group("files instead of pictures here")
    commands.file(files, "--html", "one page with pictures that opens anywhere (needs the extra 'report')")
    commands.file(files, "--csv", "a table with one row for each take; - is standard output")
    commands.file(files, "--csv-changes", "a table with one row for each change of chord")
    commands.file(files, "--csv-vocabulary", "a table with one row for each voicing that was used, root by root")
    commands.student(progress)
    commands.store(progress)
    commands.json(progress)
