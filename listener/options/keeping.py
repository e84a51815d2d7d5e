"""What was kept: rejudge, progress."""

from __future__ import annotations

from argparse import ArgumentTypeError

from listener.options.shared import Commands, whole

TYPE_CHECKING = False  # typing itself takes longer to load than all options together
if TYPE_CHECKING:
    from datetime import date


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
    progress = commands.add(
        "progress", "how it went over the weeks", "widehand progress --since 3m --html progress.html"
    )
    progress.add_argument("--drill", help="only this drill")
    progress.add_argument(
        "--since", type=_day, metavar="WHEN", help="only from then on: a date (2031-09-01), or 10d, 4w, 3m, 1y ago"
    )
    files = progress.add_argument_group("files instead of pictures here")
    files.add_argument(
        "--html", metavar="FILE", help="one page with pictures that opens anywhere (needs the extra 'report')"
    )
    files.add_argument("--csv", metavar="FILE", help="a table with one row for each take; - is standard output")
    files.add_argument("--csv-changes", metavar="FILE", help="a table with one row for each change of chord")
    commands.student(progress)
    commands.store(progress)
    commands.json(progress)


def _day(text: str) -> date:
    """The first day that counts, by this machine's calendar."""
    from datetime import date

    from listener.history.progress_since import since_date

    try:
        return since_date(text, date.today())
    except ValueError as error:
        raise ArgumentTypeError(str(error)) from None
