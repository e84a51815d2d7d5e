"""All exercises: what each is called, the fields it has, and what reads it."""

from __future__ import annotations

from collections.abc import Callable
from dataclasses import dataclass
from typing import Final

from listener.drill.exercises import contrast, cycle, held_tones, inversions, ladder
from listener.drill.exercises import progression as plain
from listener.drill.exercises import riff as riffs
from listener.drill.exercises import scale_run as runs
from listener.drill.exercises import weak_changes as weak
from listener.drill.exercises import widths as two
from listener.drill.exercises.spots import PassageFrame, Round
from listener.drill.reading.fields import Table
from listener.drill.reading.patterns import PATTERN
from listener.drill.reading.wish_fields import WishFields

PROGRESSION: Final = "progression"
SCALE_RUN: Final = "scale run"
CONTRAST: Final = "contrast"


#: Kinds of voicing in turn, each with its alternatives.
Kinds = tuple[tuple[str, ...], ...]


@dataclass(frozen=True, slots=True)
class Exercise:
    """``settles`` are fields for voicings that the exercise does not take, ``tells`` one that gives it away when a
    passage does not name its exercise. Those that ``moves_itself`` look at every key anew; ``kinds`` makes the kinds in
    turn from those that the passage names."""

    read: Callable[[Table, WishFields, PassageFrame], Round]
    fields: tuple[str, ...]
    tells: tuple[str, ...] = ()
    settles: tuple[str, ...] = ()
    moves_itself: bool = False
    kinds: Callable[[Kinds], Kinds] | None = None


_HELD_SETTLES: Final = ("kind", "top", "bottom", "inversion", "without", "voices")

EXERCISES: Final = {
    PROGRESSION: Exercise(plain.progression, plain.FIELDS),
    SCALE_RUN: Exercise(runs.scale_run, runs.FIELDS, tells=("scale",)),
    "inversions": Exercise(
        inversions.inversions, inversions.FIELDS, tells=("from_inversion",), settles=("inversion", "bottom")
    ),
    "held tones": Exercise(
        held_tones.held_tones, held_tones.FIELDS, tells=("hold",), settles=_HELD_SETTLES, moves_itself=True
    ),
    "extension ladder": Exercise(ladder.ladder, ladder.FIELDS, tells=("ladder",)),
    "cycle": Exercise(cycle.cycle, cycle.FIELDS, tells=("by",)),
    # A contrast is read as two progressions.
    CONTRAST: Exercise(plain.progression, contrast.FIELDS, tells=("quiet", "loud")),
    "riff": Exercise(riffs.riff, riffs.FIELDS, tells=("rhythm",), settles=(PATTERN,)),
    "weak changes": Exercise(weak.weak_changes, weak.FIELDS, tells=("changes",)),
    "everyday and wide": Exercise(
        two.widths, two.FIELDS, settles=("bottom", "inversion", "voices"), kinds=two.everyday_between
    ),
}


def likely_exercise(table: Table) -> str:
    """The exercise of a passage that does not name one (or names an unknown one), told by its fields."""
    if table.has("chords") or table.has("numerals"):
        told = [name for name in EXERCISES if name != SCALE_RUN and any(map(table.has, EXERCISES[name].tells))]
    else:
        told = [name for name in reversed(EXERCISES) if any(map(table.has, EXERCISES[name].tells))]
    return told[0] if told else PROGRESSION


def check_names(table: Table, exercise: str, common: tuple[str, ...]) -> None:
    """Complain about unknown fields, about those of other exercises, and about what the exercise itself settles."""
    own = EXERCISES[exercise]
    strangers = []
    for name in table.values:
        if name in own.settles:
            table.wrong(name, f"is settled by the exercise '{exercise}' itself; leave it out")
        elif name not in own.fields and name not in common:
            owners = [f"'{other}'" for other, one in EXERCISES.items() if name in one.fields]
            if owners:
                table.wrong(name, _belongs(owners, exercise))
                strangers.append(name)
    table.check_names((*common, *own.fields, *strangers), f"a {exercise}")


def _belongs(owners: list[str], exercise: str) -> str:
    if len(owners) == 1:
        return f"belongs to the exercise {owners[0]}, but this passage is a '{exercise}'"
    others = " and others" if len(owners) > 3 else ""
    return f"goes with {', '.join(owners[:3])}{others}, but this passage is a '{exercise}'"
