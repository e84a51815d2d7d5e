"""``widehand students``: a teacher's view of a folder with students' bundles, in the terminal and as pages."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Sequence
from datetime import UTC, datetime
from pathlib import Path
from typing import Final

from rich import box
from rich.console import Console
from rich.table import Table

from listener.commands.files import read_file, write_file
from listener.commands.json_out import print_json
from listener.errors import SourceError, UsageError, WidehandError
from listener.history.exchange.bundle import MOST_FILE_BYTES, Bundle
from listener.history.exchange.students import JudgedAgain, Student, judged_again, students_of
from listener.history.exchange.unpacking import unpack
from listener.places import given
from listener.plain_words import counted
from listener.safe_text import clean, echo, person
from listener.screen.sparkline import output_wants_plain
from listener.screen.students.page import MARKER, html_page, text_page
from listener.screen.students.student_page import overview, page_file, row, student_page
from listener.screen.theme import Theme

_PIPED_WIDTH: Final = 120
_INDEX: Final = "index.html"
_MOST_FILES: Final = 2_000

#: What judging again gave, by student; None when it was not asked for.
Again = dict[str, tuple[JudgedAgain, ...]] | None


def main(arguments: Namespace) -> int:
    """Exit code 1 when there are bundles and none can be read."""
    bundles, refused = _read(given(arguments.folder))
    students = students_of(bundles)
    if arguments.student is not None:
        students = _only(students, arguments.student)
    again: Again = {one.name: judged_again(one) for one in students} if arguments.rejudge else None
    now = datetime.now(UTC)
    if arguments.html:
        _write_pages(given(arguments.html), students, refused, again, now)
    if arguments.json:
        print_json("students", _document(students, refused, again, now))
    elif arguments.plain or arguments.student is not None:
        theme = Theme(ascii_only=arguments.plain or output_wants_plain())
        for student in students:
            text = text_page(student_page(student, now, _of(again, student)))
            print("\n".join(map(theme.name, text.split("\n"))))
        _say_refused(refused, theme)
    else:
        _show(students, refused, again, now)
    return 1 if refused and not bundles else 0


def _read(folder: Path) -> tuple[list[tuple[str, Bundle]], list[str]]:
    """The bundles of a folder by their files' names, and a line for each file that was refused."""
    try:
        files = sorted(file for file in folder.iterdir() if file.suffix.lower() == ".zip" and file.is_file())
    except OSError as error:
        reason = (error.strerror or str(error)).lower()
        raise SourceError(f"{folder} cannot be read as a folder: {reason}") from None
    if len(files) > _MOST_FILES:
        raise SourceError(f"{folder} has more than {_MOST_FILES:,} bundles; sort them into folders")
    found: list[tuple[str, Bundle]] = []
    refused = []
    for file in files:
        name = clean(file.name)
        try:
            bundle = unpack(read_file(str(file), MOST_FILE_BYTES), name)
            if not bundle.takes and not bundle.student:
                raise SourceError(f"{name} holds no takes, and no name of a student")
            found.append((name, bundle))
        except WidehandError as error:
            refused.append(clean(" ".join(str(error).split())))
    return found, refused


def _only(students: Sequence[Student], name: str) -> tuple[Student, ...]:
    found = tuple(student for student in students if person(student.name) == person(name))
    if not found:
        known = ", ".join(student.name for student in students) or "nobody"
        raise UsageError(f"there is nothing from {echo(name)} in this folder; there is something from: {known}")
    return found


def _of(again: Again, student: Student) -> tuple[JudgedAgain, ...] | None:
    return None if again is None else again[student.name]


def _document(students: Sequence[Student], refused: Sequence[str], again: Again, now: datetime) -> dict[str, object]:
    rows = []
    for student in students:
        entry = student.as_json(now)
        if again is not None:
            entry["judged_again"] = [one.as_json() for one in again[student.name] if one.changes or one.trouble]
        rows.append(entry)
    return {"students": rows, "refused": list(refused)}


def _write_pages(
    folder: Path, students: Sequence[Student], refused: Sequence[str], again: Again, now: datetime
) -> None:
    pages = {page_file(student): html_page(student_page(student, now, _of(again, student))) for student in students}
    pages[_INDEX] = html_page(overview(students, now, refused))
    try:
        folder.mkdir(parents=True, exist_ok=True)
        foreign = next((name for name in pages if not _is_ours(folder / name)), None)
    except OSError as error:
        raise SourceError(f"{folder} cannot be written: {(error.strerror or str(error)).lower()}") from None
    if foreign is not None:
        raise SourceError(f"{folder / foreign} is not a page of this program; name another folder for the pages")
    for name, text in pages.items():
        write_file(folder / name, text.encode())
    print(f"written: {folder / _INDEX} and {counted(len(students), 'page')}", file=sys.stderr)


def _is_ours(file: Path) -> bool:
    """Whether the file may be written: it is not there, or this command made it."""
    if not file.exists():
        return True
    with file.open("rb") as opened:
        return MARKER.encode() in opened.read(1000)


def _show(students: Sequence[Student], refused: Sequence[str], again: Again, now: datetime) -> None:
    theme = Theme(ascii_only=output_wants_plain())
    width = None if sys.stdout.isatty() else _PIPED_WIDTH
    console = Console(file=sys.stdout, width=width, highlight=False, markup=False, emoji=False)
    if students:
        console.print(_table(students, theme))
        console.print("Hits: of first attempts. Movement: 100 where nobody could move the voices less.")
        console.print()
        console.print("What to say next", style="bold")
        for student in students:
            console.print(f"{theme.name(student.name)}: {theme.words(student.advice(now)[0])}")
    else:
        console.print("No bundles here yet. Students make one with: widehand export --all --bundle FILE --from NAME")
    if again is not None:
        console.print()
        for student in students:
            if again[student.name]:
                console.print(theme.name(_again_words(student, again[student.name])))
    _say_refused(refused, theme)


def _table(students: Sequence[Student], theme: Theme) -> Table:
    table = Table(
        box=box.ASCII_DOUBLE_HEAD if theme.ascii_only else box.SIMPLE_HEAD,
        header_style="bold",
        pad_edge=theme.ascii_only,
        collapse_padding=not theme.ascii_only,
    )
    table.add_column("student", overflow="fold", min_width=10)
    for name in ("takes", "minutes"):
        table.add_column(name, justify="right")
    table.add_column("last take", no_wrap=True)
    for name in ("hits", "movement"):
        table.add_column(name, justify="right", no_wrap=True)
    table.add_column("weakest change", overflow="fold")
    for student in students:
        name, *numbers, weakest = row(student)
        table.add_row(theme.name(name), *numbers, theme.words(weakest))
    return table


def _again_words(student: Student, again: Sequence[JudgedAgain]) -> str:
    other = [one for one in again if one.changes]
    failed = [one for one in again if one.trouble]
    text = f"{student.name}: {counted(len(again) - len(failed), 'take')} judged again, "
    count = sum(len(one.changes) for one in other)
    text += f"{counted(count, 'verdict')} of {counted(len(other), 'take')} differ" if other else "no verdict differs"
    text += f"; {counted(len(failed), 'take')} could not be ({failed[0].trouble})" if failed else ""
    return text + (f". To see them: --student '{student.name}' --rejudge" if other else ".")


def _say_refused(refused: Sequence[str], theme: Theme) -> None:
    for line in refused:
        print(f"left out: {theme.name(line)}", file=sys.stderr)
