"""``widehand sheet``: a planned drill on paper, as tab for a message, or as a file for notation programs."""

from __future__ import annotations

import sys
from argparse import Namespace
from collections.abc import Iterator, Sequence
from dataclasses import replace
from pathlib import Path
from typing import Final, NamedTuple

from listener.commands.file_names import STDOUT, check_twice, find_drill, free_name, page_names
from listener.commands.files import write_file
from listener.commands.json_out import print_json
from listener.commands.setup import plan_of
from listener.errors import UsageError
from listener.planning.plan import Plan

#: What can be made, and how the name of a file ends that nobody named.
_FILES: Final = {
    "musicxml": ".musicxml",
    "midi": ".mid",
    "wav": ".wav",
    "svg": ".svg",
    "pdf": ".pdf",
    "tab": ".txt",
}


class _File(NamedTuple):
    """What is written: a kind such as ``tab``, the name that was given, the content."""

    kind: str
    name: str
    data: bytes


def main(arguments: Namespace) -> int:
    """Write every file that was asked for; the plain-text tab on standard output when none was.

    Everything is made before anything is written, so that a fault leaves no half of the files behind.
    """
    find_drill(arguments, tuple(_FILES))
    wanted: dict[str, str | bool] = {kind: name for kind in _FILES if (name := getattr(arguments, kind, None))}
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
    files = [_File(kind, *file) for kind, name in wanted.items() for file in _named(kind, name, plan, arguments)]
    check_twice([file.name for file in files])
    for file in files:
        _write(file.name, file.data)
    if arguments.json:
        print_json("sheet", _document(plan, files), indent=2)
    return 0


def _named(kind: str, name: str | bool, plan: Plan, arguments: Namespace) -> Iterator[tuple[str, bytes]]:
    """The files of one kind: their names, after the drill where none was given, and what goes into them."""
    suffix = Path(name).suffix.lower() if isinstance(name, str) else _FILES[kind]
    pages = _made(kind, suffix, plan, arguments)
    if not isinstance(name, str):
        name = free_name(plan.drill.name, suffix, len(pages))
    return zip(page_names(name, len(pages)), pages, strict=True)


def _made(kind: str, suffix: str, plan: Plan, arguments: Namespace) -> Sequence[bytes]:
    """What goes into the file, for an SVG one for each page. Each library is loaded only when it is needed."""
    if kind == "midi":
        from listener.sheets.midi_file import plan_midi

        return [plan_midi(plan, click=getattr(arguments, "with_click", False))]
    if kind == "wav":
        from listener.sheets.wav_file import plan_wav

        return [plan_wav(plan)]
    if kind == "musicxml":
        from listener.sheets.musicxml.compressed import compressed_musicxml
        from listener.sheets.musicxml.musicxml import plan_musicxml

        score = plan_musicxml(plan)
        return [compressed_musicxml(score) if suffix == ".mxl" else score]
    if kind == "tab":
        from listener.sheets.tab_text import tab_text

        return [tab_text(plan).encode("ascii")]
    from listener.sheets.printed.practice_sheet import sheet_pages

    pages = sheet_pages(plan, paper=getattr(arguments, "paper", None) or "a4")
    if kind == "pdf":
        from listener.sheets.printed.pdf import pages_pdf

        return [pages_pdf(pages, plan.drill.title or plan.drill.name)]
    return list(pages)


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


def _write(name: str, data: bytes) -> None:
    if name == STDOUT:
        sys.stdout.write(data.decode("ascii"))
        return
    write_file(name, data)
    print(f"written: {name}", file=sys.stderr)
