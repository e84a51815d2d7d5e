"""Drill files: TOML texts that say what to practise. The vocabulary is described in ``docs/drill-file.md``.

A file with faults gives one :class:`DrillError` that names all of them with their lines. Bundled drills lie in
``drills/`` as ``NN-name.toml``: the number puts them in the order of the course, the player only sees the name.
"""

from __future__ import annotations

import re
from collections.abc import Iterator
from dataclasses import replace
from difflib import get_close_matches
from functools import cache
from pathlib import Path as FilePath
from typing import Any, Final

from listener.data import data_folder
from listener.drill.drill import (
    EXACT,
    FASTEST,
    REMARKS_AS_FAULTS,
    SLOWEST,
    STRICTNESS,
    TIMINGS,
    WITH_CLICK,
    Drill,
    Step,
)
from listener.drill.exercises.spots import MOST_STEPS, Beside, TooManySteps
from listener.drill.own_drills import own_drill_files
from listener.drill.passage import DrillDefaults, read_key, read_passage, read_seed, read_shuffle
from listener.drill.reading.attached import RememberingReader, take_attached, with_attached
from listener.drill.reading.fields import MOST_ENTRIES, Problems, Table, TooManyProblems
from listener.drill.reading.keys import read_keys
from listener.drill.reading.minding import MANNER, WEIGHTS, read_minding
from listener.drill.reading.patterns import ARPEGGIO, TOGETHER
from listener.drill.reading.touching import DRILL_TOUCH_FIELDS, check_drill
from listener.errors import DrillError, Problem
from listener.music.meter import read_meter
from listener.places import given, read_file
from listener.records import shown
from listener.toml_lines import NotToml, Path, toml_lines, toml_values, utf8_text

#: Fields of the whole drill, in the order in which a file should have them.
DRILL_FIELDS: Final = (
    "title",
    "topic",
    "difficulty",
    "about",
    "listen_for",
    "move_on",
    "instead",
    "key",
    "tempo",
    "meter",
    "strictness",
    "timing_ms",
    "timing",
    "keys",
    "shuffle",
    "seed",
    "loop",
    "least_movement",
    "arpeggio",
    "together_ms",
    "remarks",
    *DRILL_TOUCH_FIELDS,
    MANNER,
    WEIGHTS,
    "passage",
)
DEFAULT_TEMPO: Final = 60.0
LARGEST_BYTES: Final = 1_000_000
#: Characters of one text and entries of one list; only a hostile file has more.
_LONGEST_TEXT: Final = 200_000
_LONGEST_NUMBER: Final = 64  # bits
_MOST_SHOWN: Final = 100
#: Bytes of a melody file; scores of a whole evening are smaller.
_LARGEST_MELODY: Final = 10_000_000

_ORDER: Final = re.compile(r"^\d+-")


def read_drill(text: str, name: str, beside: Beside | None = None) -> Drill:
    """Read a drill from its text; ``name`` is what the drill is called. Raises :class:`DrillError`.

    ``beside`` gives the bytes of a file that lies beside the drill (a melody); without it such files are refused.
    """
    values = _parsed(text, name)
    report = Problems(toml_lines(text))
    beside = take_attached(values, report, beside)
    for path, what in _beyond_measure(values, ()):
        report.add(path, f"'{path[-1]}' {what}")
    if report.problems:  # nothing below needs to fear such values
        raise DrillError(name, _first_ones(report.problems))
    try:
        drill = _read(Table(values, (), report), name, text, beside)
    except TooManyProblems:
        more = Problem(report.problems[-1].line, "and more; reading stopped here")
        raise DrillError(name, (*_first_ones(report.problems)[:_MOST_SHOWN], more)) from None
    if report.problems:
        raise DrillError(name, _first_ones(report.problems))
    return drill


def _read(table: Table, name: str, text: str, beside: Beside | None) -> Drill:
    """The drill; it is only good when nothing was reported."""
    table.check_names(DRILL_FIELDS, "a drill")
    table.text("key", needed_like='"G major"')
    key = read_key(table)
    meter = _meter(table)
    strictness = table.word("strictness", STRICTNESS) or EXACT
    read_seed(table)
    read_shuffle(table)
    read_keys(table, key)
    drill = Drill(
        name=name,
        title=table.text("title", needed_like='"First steps"'),
        key=table.text("key"),
        tempo=table.number("tempo", SLOWEST, FASTEST, "beats a minute") or DEFAULT_TEMPO,
        meter=meter,
        steps=_steps(table, DrillDefaults(key, meter, strictness, table, read_minding(table), beside)),
        topic=table.text("topic"),
        difficulty=table.whole("difficulty", 1, 5) or 1,
        about=table.text("about"),
        listen_for=table.text("listen_for"),
        move_on=table.text("move_on"),
        instead=_instead(table, name),
        timing_ms=table.number("timing_ms", 10, 500) or Drill.timing_ms,
        timing=table.word("timing", TIMINGS) or WITH_CLICK,
        loop=table.flag("loop", False),
        least_movement=table.flag("least_movement", False),
        arpeggio=table.flag("arpeggio", False),
        together_ms=_together_ms(table),
        remarks=_remarks(table),
        notes=tuple(table.report.notes),
        text=text,
    )
    check_drill(table, drill.steps)
    return drill


def _beyond_measure(value: object, path: Path) -> Iterator[tuple[Path, str]]:
    """Texts, lists and numbers that no drill has, with what is wrong with them."""
    if isinstance(value, str) and len(value) > _LONGEST_TEXT:
        yield path, f"has {len(value):,} characters; no drill needs more than {_LONGEST_TEXT:,}"
    elif isinstance(value, list) and len(value) > MOST_ENTRIES:
        yield path, f"has {len(value):,} entries; no drill needs more than {MOST_ENTRIES:,}"
    elif isinstance(value, int) and value.bit_length() > _LONGEST_NUMBER:
        yield path, "is a number far beyond what a drill needs"
    elif isinstance(value, dict | list):
        entries = value.items() if isinstance(value, dict) else enumerate(value)
        for name, entry in entries:
            yield from _beyond_measure(entry, (*path, name))


def _first_ones(problems: tuple[Problem, ...]) -> tuple[Problem, ...]:
    """All problems, or the first hundred of a file that is no drill at all."""
    if len(problems) <= _MOST_SHOWN:
        return problems
    shown_ones = sorted(problems, key=lambda problem: problem.line)[:_MOST_SHOWN]
    more = f"and {len(problems) - _MOST_SHOWN} more problems from here on"
    return (*shown_ones, Problem(shown_ones[-1].line, more))


def _parsed(text: str, name: str) -> dict[str, Any]:
    """The TOML values; a text that is none is a single problem."""
    if len(text) > LARGEST_BYTES:
        raise DrillError(name, [Problem(0, "is larger than 1 MB, which no drill needs")])
    try:
        return toml_values(text)
    except NotToml as error:
        raise DrillError(name, [Problem(error.line, str(error))]) from None


def _meter(table: Table) -> tuple[int, int]:
    text = table.text("meter", "4/4")
    meter = read_meter(text)
    if meter is not None:
        return meter
    if text and isinstance(table.values.get("meter"), str):
        table.wrong("meter", f"must be like 4/4, 3/4 or 6/8, not {shown(text)}")
    return 4, 4


def _instead(table: Table, name: str) -> str:
    """The field ``instead``: another drill, by its name in the course or the name of a file."""
    instead = table.text("instead")
    if instead and instead.removesuffix(".toml") == name:
        table.wrong("instead", "is this drill itself; name one that asks less of the hand")
    elif " " in instead:
        table.wrong("instead", f'must be the name of one drill such as "ferry-landing", not {shown(instead)}')
    return instead


def _remarks(table: Table) -> bool | str:
    """The field ``remarks``: true, false, or the word for remarks that are faults."""
    value: bool | str = table.values.get("remarks", False)
    if isinstance(value, bool) or value == REMARKS_AS_FAULTS:
        return value
    table.wrong("remarks", f'must be true, false or "{REMARKS_AS_FAULTS}", not {shown(value)}')
    return False


def _together_ms(table: Table) -> float | None:
    """The field ``together_ms``; notes that come one after the other cannot come together."""
    together_ms = table.whole(TOGETHER, 20, 2000)
    if together_ms is not None and table.values.get(ARPEGGIO) is True:
        table.wrong(TOGETHER, f"and '{ARPEGGIO}' both say how the notes of a chord follow each other; keep one of them")
    return together_ms


def _steps(table: Table, setting: DrillDefaults) -> tuple[Step, ...]:
    passages = table.values.get("passage")
    if passages is None or passages == []:
        table.report.add((), "the drill has no passage; begin one with [[passage]]")
        return ()
    if not isinstance(passages, list) or not all(isinstance(entry, dict) for entry in passages):
        found = "[passage]" if isinstance(passages, dict) else shown(passages)
        table.wrong("passage", f"must be written [[passage]], in double brackets, not {found}")
        return ()
    steps: list[Step] = []
    bars = 0
    for index, values in enumerate(passages):
        path = ("passage", index)
        try:
            part = read_passage(Table(values, path, table.report), index + 1, setting, len(steps), bars)
        except TooManySteps:
            table.report.add(path, f"the drill has more than {MOST_STEPS:,} steps from here on; make it shorter")
            break
        steps += part.steps
        bars += part.bars
    return tuple(steps)


@cache
def _course() -> dict[str, FilePath]:
    """The bundled drills in the order of the course: name and file."""
    return {_ORDER.sub("", path.stem): path for path in sorted(data_folder("drills").glob("*.toml"))}


def bundled_drills() -> tuple[str, ...]:
    """The names of the drills that come with the program, in the order of the course."""
    return tuple(_course())


def is_bundled(name: str) -> bool:
    """Whether this name means a drill of the course, whatever else is called so."""
    return _ORDER.sub("", name) in _course()


def load_drill(name_or_path: str) -> Drill:
    """A bundled drill by its name, one of the player's own by its name, or a drill file by its path.

    A drill from a file is called by the file's name without ``.toml``. Raises :class:`DrillError`.
    """
    course = _course()
    bundled = course.get(_ORDER.sub("", name_or_path))
    if bundled is not None:
        return _load(bundled, str(bundled), _ORDER.sub("", bundled.stem))
    own = own_drill_files()
    if name_or_path in own:
        return _load(own[name_or_path], str(own[name_or_path]), name_or_path)
    path = given(name_or_path)
    try:
        there = path.exists() and not path.is_dir()
    except (OSError, ValueError):
        there = False
    if there:
        return _load(path, name_or_path, path.stem)
    raise DrillError(shown(name_or_path), [Problem(0, _not_there(name_or_path, path, (*course, *own)))])


def _not_there(name: str, path: FilePath, names: tuple[str, ...]) -> str:
    if path.suffix == ".toml" or len(path.parts) > 1:
        try:
            is_folder = path.is_dir()
        except (OSError, ValueError):
            is_folder = False
        return "is a folder; name one drill file in it" if is_folder else "there is no such file"
    near = get_close_matches(name.lower(), names, n=3, cutoff=0.5)
    near += [known for known in names if name and name.lower() in known and known not in near]
    hint = f"did you mean {' or '.join(near[:3])}?" if near else "widehand drills lists those there are"
    return f"there is no drill of this name; {hint} (or give the path of a .toml file)"


def _load(path: FilePath, shown_as: str, name: str) -> Drill:
    try:
        data = read_file(path, LARGEST_BYTES)
    except OSError as error:
        raise DrillError(shown_as, [Problem(0, f"cannot be opened: {error.strerror or error}")]) from None
    if len(data) > LARGEST_BYTES:
        raise DrillError(shown_as, [Problem(0, "is larger than 1 MB, which no drill needs")])
    try:
        text = utf8_text(data)
    except NotToml as error:
        raise DrillError(shown_as, [Problem(error.line, str(error))]) from None
    try:
        files = RememberingReader(_beside(path.parent))
        drill = read_drill(text, name, files)
    except DrillError as error:
        raise DrillError(shown_as, error.problems) from None
    return replace(drill, text=with_attached(text, files.files))


def _beside(folder: FilePath) -> Beside:
    """Reads files of one folder, by names that do not lead out of it."""

    def read(name: str) -> bytes:
        path = FilePath(name)
        if path.is_absolute() or path.drive or ".." in path.parts:
            raise OSError(0, "give the name of a file beside the drill, not a path from elsewhere")
        whole = folder / path
        if not whole.is_file():
            raise OSError(0, "there is no such file beside the drill")
        data = read_file(whole, _LARGEST_MELODY)
        if len(data) > _LARGEST_MELODY:
            raise OSError(0, f"is larger than {_LARGEST_MELODY // 1_000_000} MB, more than any melody needs")
        return data

    return read
