"""The page about the fields of drill files says what the code reads: the same fields, limits, defaults, examples."""

from __future__ import annotations

import re
from collections.abc import Mapping
from pathlib import Path
from typing import Any

import pytest

from lab.pages.drill_reference import code_fields, page, sections, told_fields
from listener.drill.drill_file import read_drill
from listener.drill.exercises.registry import EXERCISES
from listener.errors import DrillError

ROOT = Path(__file__).parents[3]
TOLD = [section for section in sections() if "fields_of" in section]
FIELDS = [(section["fields_of"], field) for section in TOLD for field in section.get("field", ())]
#: What a passage of each exercise cannot do without.
NEEDED = {
    "progression": 'chords = "C"',
    "inversions": 'chords = "C"',
    "held tones": 'chord = "Am"\nhold = "A2 E3"\nscale = "A dorian"\nfrets = [0, 4]',
    "extension ladder": 'numerals = "ii | V | I"',
    "cycle": 'by = "fourths"',
    "contrast": 'chords = "C | G"',
    "riff": 'chords = "C"\nrhythm = "x . x ."',
    "weak changes": 'changes = ["C -> G"]',
    "everyday and wide": 'chords = "C"',
    "scale run": 'kind = "spread"',
}


def named(owner: str, field: Mapping[str, Any]) -> str:
    return f"{owner}: {', '.join(field['names'])}"


def drill_with(owner: str, line: str) -> str:
    """A small drill with one more line in its right place; the line goes before another with the same field."""
    field = line.partition(" = ")[0]
    head, passage = ['title = "T"', 'key = "C major"'], NEEDED["progression"].split("\n")
    weights: list[str] = []
    pattern: list[str] = []
    if owner == "drill":
        head = [each for each in head if not each.startswith(f"{field} = ")] + [line]
    elif owner == "weights":
        weights = ["[weights]", line]
    elif owner == "pattern":
        strums = [] if field in ("strum", "pick") else ['strum = "d u"']
        pattern = ["[passage.pattern]", *strums, line]
    else:
        exercise = owner if owner in EXERCISES else "progression"
        passage = [each for each in NEEDED[exercise].split("\n") if not each.startswith(f"{field} = ")]
        if field != "exercise":
            passage = [f'exercise = "{exercise}"', *passage]
        passage.append(line)
    return "\n".join([*head, *weights, "[[passage]]", *passage, *pattern])


def complaints(owner: str, line: str) -> list[str]:
    """What the reader says about this line's field."""
    field = line.partition(" = ")[0]
    try:
        read_drill(drill_with(owner, line), "t")
    except DrillError as error:
        return [problem.text for problem in error.problems if f"'{field}'" in problem.text]
    return []


def test_the_page_is_current() -> None:
    """docs/drill-file.md is what ``PYTHONPATH=tests python -m lab.pages.drill_reference`` prints."""
    assert (ROOT / "docs" / "drill-file.md").read_text(encoding="utf-8") == page()


def test_every_place_and_every_exercise_has_its_section() -> None:
    """The drill, its weights, the passage, the voicing, the pattern, and each exercise, which `exercise` names, too."""
    assert {section["fields_of"] for section in TOLD} == {
        "drill",
        "weights",
        "passage",
        "voicing",
        "pattern",
        *EXERCISES,
    }
    told = next(
        field["meaning"] for section in TOLD for field in section.get("field", ()) if field["names"] == ["exercise"]
    )
    assert all(f"`{name}`" in told for name in EXERCISES)


@pytest.mark.parametrize("section", TOLD, ids=lambda section: str(section["heading"]))
def test_no_field_is_told_that_the_code_does_not_read(section: Mapping[str, Any]) -> None:
    """Words without a field behind them would mislead."""
    assert set(told_fields(section)) <= set(code_fields(section["fields_of"]))


def test_every_field_that_the_code_reads_is_told() -> None:
    """In its own section, or in another one that the page points to."""
    told = {name for section in TOLD for name in told_fields(section)}
    for section in TOLD:
        assert set(code_fields(section["fields_of"])) <= told


@pytest.mark.parametrize(("owner", "field"), FIELDS, ids=[named(*each) for each in FIELDS])
def test_the_example_is_taken(owner: str, field: Mapping[str, Any]) -> None:
    """The reader has nothing to say against the example's own field. (A melody's file does not lie here.)"""
    if "example" in field and field["names"] != ["melody"]:
        assert field["example"].partition(" = ")[0] in field["names"]
        assert [text for text in complaints(owner, field["example"]) if "unknown" in text or "must be" in text] == []


LIMITS = [
    (owner, field["names"][0], int(found[1]), int(found[2]))
    for owner, field in FIELDS
    for found in [re.search(r"(?<![\d.])(\d+)(?: \([^)]*\))? to (\d+)(?![\d]|\.\d)", field["meaning"])]
    if found
]


@pytest.mark.parametrize(("owner", "name", "least", "most"), LIMITS, ids=[f"{row[0]}: {row[1]}" for row in LIMITS])
def test_the_limits_are_those_of_the_reader(owner: str, name: str, least: int, most: int) -> None:
    """Both ends are taken; one less and one more are not."""
    for value in (least, most):
        assert not [text for text in complaints(owner, f"{name} = {value}") if "must be" in text]
    for value in (least - 1, most + 1):
        assert [text for text in complaints(owner, f"{name} = {value}") if "must be" in text]


def test_limits_are_found() -> None:
    """The check above is not empty."""
    assert len(LIMITS) >= 8
