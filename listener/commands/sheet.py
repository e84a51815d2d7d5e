"""``widehand sheet``: a planned drill on paper, as tab for a message, or as a file for notation programs."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

from listener.commands.files import write_file
from listener.commands.json_out import print_json
from listener.commands.setup import plan_of
from listener.errors import UsageError
from listener.planning.plan import Plan

#: Instead of a file: standard output.
STDOUT: Final = "-"
_FILES: Final = ("musicxml", "midi", "wav", "svg", "pdf", "tab")


class _File(NamedTuple):
    """What is written: a kind such as ``tab``, the name that was given, the content."""

    kind: str
    name: str
    data: bytes


def main(arguments: Namespace) -> int:
    """Write every file that was asked for; the plain-text tab on standard output when none was.

    Everything is made before anything is written, so that a fault leaves no half of the files behind.
    """
    wanted = {kind: name for kind in _FILES if (name := getattr(arguments, kind, None))}
    for kind, name in wanted.items():
        if name == STDOUT and kind != "tab":
            raise UsageError(f"--{kind} needs the name of a file; only --tab can go to standard output")
    if wanted.get("tab") == STDOUT and arguments.json:
        raise UsageError("--tab - and --json both want standard output; give the tab a file")
    if not wanted and not arguments.json:
        wanted = {"tab": STDOUT}
    plan = plan_of(arguments, arguments.drill)
    tempo = getattr(arguments, "tempo", None)
    if tempo:
        plan = replace(plan, drill=replace(plan.drill, tempo=tempo))
    files = [_File(kind, *file) for kind, name in wanted.items() for file in _made(kind, name, plan, arguments)]
    _check_names([file.name for file in files])
    for file in files:
        _write(file.name, file.data)
    if arguments.json:
        print_json("sheet", _document(plan, files), indent=2)
    return 0


def _made(kind: str, name: str, plan: Plan, arguments: Namespace) -> Iterator[tuple[str, bytes]]:
    """The files of one kind: their names and what goes into them. Each library is loaded only when it is needed."""
    if kind == "midi":
        from listener.sheets.midi_file import plan_midi

        yield name, plan_midi(plan, click=getattr(arguments, "with_click", False))
    elif kind == "wav":
        from listener.sheets.wav_file import plan_wav

        yield name, plan_wav(plan)
    elif kind == "musicxml":
        from listener.sheets.compressed import compressed_musicxml
        from listener.sheets.musicxml import plan_musicxml

        score = plan_musicxml(plan)
        yield name, compressed_musicxml(score) if Path(name).suffix.lower() == ".mxl" else score
    elif kind == "tab":
        from listener.sheets.tab_text import tab_text

        yield name, tab_text(plan).encode("ascii")
    else:
        yield from _printed(kind, name, plan, arguments)


def _printed(kind: str, name: str, plan: Plan, arguments: Namespace) -> Iterator[tuple[str, bytes]]:
    """One PDF, or one SVG for each page: the first under its own name, then NAME-2.svg and so on."""
    from listener.sheets.practice_sheet import sheet_pages

    pages = sheet_pages(plan, paper=getattr(arguments, "paper", None) or "a4")
    if kind == "pdf":
        from listener.sheets.pdf import pages_pdf

        yield name, pages_pdf(pages, plan.drill.title or plan.drill.name)
        return
    path = Path(name)
    for number, page in enumerate(pages, start=1):
        yield name if number == 1 else str(path.with_name(f"{path.stem}-{number}{path.suffix}")), page


def _document(plan: Plan, files: Sequence[_File]) -> dict[str, object]:
    """What is on the sheet in words, and the files that it went into."""
    from listener.sheets.tab_text import tab_text

    head = ("drill", "title", "key", "tempo", "meter", "tuning", "capo", "hand")
    facts = plan.as_json()
    return {
        **{name: facts[name] for name in head},
        "chords": len(plan.steps),
        "files": [{"kind": file.kind, "file": file.name, "bytes": len(file.data)} for file in files],
        "tab": tab_text(plan),
    }


def _check_names(names: list[str]) -> None:
    twice = next((name for index, name in enumerate(names) if name in names[:index]), None)
    if twice is not None:
        raise UsageError(f"{twice} is asked for twice; give each file its own name")


def _write(name: str, data: bytes) -> None:
    if name == STDOUT:
        sys.stdout.write(data.decode("ascii"))
        return
    write_file(name, data)
    print(f"written: {name}", file=sys.stderr)
