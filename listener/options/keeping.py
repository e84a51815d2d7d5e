"""What was kept: rejudge, progress."""

from __future__ import annotations

from listener.options.shared import Commands, whole


def rejudge(commands: Commands) -> None:
    """The options of ``widehand rejudge``."""
    rejudge = commands.add(
        "rejudge", "judge kept takes again and show what is different now", "widehand rejudge --drill mill-verse"
    )
    rejudge.add_argument("--take", type=whole(1, 2**31, "number of a take"), metavar="N", help="only this take")
    rejudge.add_argument("--drill", help="only takes of this drill")
    rejudge.add_argument("--write", action="store_true", help="keep the new verdicts beside the old ones")
    commands.store(rejudge)
    commands.json(rejudge)


def progress(commands: Commands) -> None:
    """The options of ``widehand progress``."""
    progress = commands.add("progress", "how it went over the weeks", "widehand progress --drill mill-verse")
    progress.add_argument("--drill", help="only this drill")
    commands.student(progress)
    commands.store(progress)
    commands.json(progress)
