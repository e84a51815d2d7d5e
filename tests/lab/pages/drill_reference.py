"""Makes ``docs/drill-file.md``: every field of a drill file, from the code that reads drills and the words for it.

Run as ``PYTHONPATH=tests python -m lab.pages.drill_reference > docs/drill-file.md``. Which fields there are, the code
says; what they mean, ``shared/drill_fields.toml``.
"""

from __future__ import annotations

from collections.abc import Iterator, Mapping
from typing import Any, Final

from listener.data import shared_table
from listener.drill.drill_file import DRILL_FIELDS
from listener.drill.exercises.registry import EXERCISES
from listener.drill.manners import PRICES
from listener.drill.passage import OWN_FIELDS
from listener.drill.reading.minding import WEIGHTS
from listener.drill.reading.patterns import PATTERN_FIELDS
from listener.drill.reading.wish_fields import WISH_FIELDS

_INTRODUCTION: Final = """\
# The fields of a drill file

Made by `PYTHONPATH=tests python -m lab.pages.drill_reference > docs/drill-file.md`; a test says whether this page is
current. How a drill file looks, and the course: [../drills/README.md](../drills/README.md).
`widehand drills check FILE` says what is wrong with one, line by line.
"""
_TABLE: Final = "| field | meaning | default | example |\n| --- | --- | --- | --- |"


def main() -> None:
    """Print the page."""
    print(page(), end="")


def page() -> str:
    """The whole page as Markdown."""
    return "\n".join([_INTRODUCTION, *(line for section in sections() for line in _section(section))])


def sections() -> list[Mapping[str, Any]]:
    """What ``shared/drill_fields.toml`` says, in its order."""
    return list(shared_table("drill_fields")["section"])


def code_fields(owner: str) -> tuple[str, ...]:
    """The fields that the reader takes in one place of a drill file; ``owner`` as in the table of words."""
    places = {
        "drill": tuple(name for name in DRILL_FIELDS if name != "passage"),
        WEIGHTS: PRICES,
        "passage": OWN_FIELDS,
        "pattern": PATTERN_FIELDS,
        "voicing": WISH_FIELDS,
    }
    return places[owner] if owner in places else EXERCISES[owner].fields


def told_fields(section: Mapping[str, Any]) -> list[str]:
    """The fields that a section describes; prices are described in ``shared/manners.toml``."""
    if section.get("fields_of") == WEIGHTS:
        return list(PRICES)
    return [name for field in section.get("field", ()) for name in field["names"]]


def _section(section: Mapping[str, Any]) -> Iterator[str]:
    yield f"{'###' if section.get('under') else '##'} {section['heading']}\n"
    if "about" in section:
        yield section["about"]
    if "field" in section:
        yield _TABLE
        yield from map(_row, section["field"])
        yield ""
        yield from _elsewhere(section)
    if section.get("fields_of") == WEIGHTS:
        yield from _manners()
    if "more" in section:
        yield section["more"]


def _manners() -> Iterator[str]:
    """The manners, and what each of them minds how much."""
    table = shared_table("manners")
    yield from (f"- `{name}`: {about['about']}." for name, about in table["manner"].items())
    yield ""
    yield f"| price | for | {' | '.join(table['manner'])} | why |"
    yield f"| --- | --- |{' ---: |' * len(table['manner'])} --- |"
    for name in PRICES:
        row = table["price"][name]
        prices = [f"{row[manner]:g}" for manner in table["manner"]]
        yield "| " + " | ".join([f"`{name}`", row["counts"], *prices, row["why"]]) + " |"
    yield ""


def _row(field: Mapping[str, Any]) -> str:
    names = ", ".join(f"`[{name}]`" if name == "weights" else f"`{name}`" for name in field["names"])
    example = f"`{field['example']}`" if "example" in field else ""
    cells = (names, field["meaning"], field.get("default", ""), example)
    return "| " + " | ".join(cell.replace("|", "\\|") for cell in cells) + " |"


def _elsewhere(section: Mapping[str, Any]) -> Iterator[str]:
    """Fields that the code takes here and the words describe elsewhere, and those that the exercise settles."""
    owner = section["fields_of"]
    others = [name for name in code_fields(owner) if name not in told_fields(section)]
    if others:
        yield f"Also, as elsewhere: {_listed(others)}.\n"
    if owner in EXERCISES and EXERCISES[owner].settles:
        yield f"Settled by the exercise itself: {_listed(EXERCISES[owner].settles)}.\n"


def _listed(names: tuple[str, ...] | list[str]) -> str:
    return ", ".join(f"`{name}`" for name in names)


if __name__ == "__main__":
    main()
