"""Plans for the tests of sheets: made by hand from a few shapes, and those of the whole course."""

from __future__ import annotations

from collections.abc import Sequence
from fractions import Fraction
from functools import cache

import pytest
from lab.course import planned

from listener.drill.drill import Drill, Step, Wish
from listener.drill.drill_file import bundled_drills, load_drill, read_drill
from listener.guitar.fingering import Fingering
from listener.guitar.hand import make_hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.music.chord import parse_chord
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep
from listener.planning.planner import plan_drill

#: (MIDI pitch, fret, string, finger) of each note, low to high, in standard tuning.
SHAPES = {
    "C": ((48, 3, 5, 2), (55, 5, 4, 4), (64, 5, 2, 3)),
    "F": ((48, 3, 5, 1), (57, 2, 3, 1), (65, 6, 2, 4)),
    "Cmaj7": ((48, 3, 5, 1), (55, 5, 4, 3), (59, 4, 3, 2), (64, 5, 2, 4)),
    "G7/B": ((47, 2, 5, 1), (53, 3, 4, 2), (55, 0, 3, 0), (62, 3, 2, 4)),
    "Ebm": ((51, 1, 4, 1), (58, 3, 3, 3), (66, 2, 1, 2)),
    "Em": ((40, 0, 6, 0), (47, 2, 5, 2), (52, 2, 4, 3), (55, 0, 3, 0), (59, 0, 2, 0), (64, 0, 1, 0)),
}
COURSE = bundled_drills()
#: For parametrize: every eighth drill of the course at once, the others when slow tests are asked for.
COURSE_IN_PARTS = [
    pytest.param(name, marks=() if number % 8 == 0 else pytest.mark.slow) for number, name in enumerate(COURSE)
]

Timed = tuple[str, Fraction | float, Fraction | float]


def make_plan(
    chords: Sequence[Timed],
    *,
    tempo: float = 90.0,
    meter: tuple[int, int] = (4, 4),
    key: str = "C major",
    title: str = "Über den Hof",
    loop: bool = False,
    passages: Sequence[str] = (),
) -> Plan:
    """A plan of (chord, start, length in beats); ``passages`` names the passage of each step, "verse" by default."""
    planned = []
    for index, (symbol, start, length) in enumerate(chords):
        chord = parse_chord(symbol)
        pitches, frets, strings, fingers = zip(*SHAPES[symbol], strict=True)
        passage = passages[index] if passages else "verse"
        bar = int(float(start) // meter[0]) + 1
        step = Step(index, passage, bar, 1.0, float(start), float(length), Wish(chord, ("any",)))
        fingering = Fingering(pitches, strings, frets, fingers, None, 0.0, 0.0, None)
        planned.append(PlannedStep(step, voicing_of(chord, pitches), fingering, None))
    drill = Drill("yard", title, key, tempo, meter, tuple(one.step for one in planned), loop=loop)
    return Plan(drill, tuple(planned), ("E2", "A2", "D3", "G3", "B3", "E4"), 6, 0, "medium", 0.0)


@cache
def course_plan(name: str, capo: int = 0) -> Plan:
    """A drill of the course, planned for standard tuning and a medium hand."""
    if not capo:
        return planned(name)
    return plan_drill(load_drill(name), make_instrument(capo=capo), make_hand())


def planned_on(instrument: Instrument, chords: str, *, fields: str = "", more: str = "") -> Plan:
    """A progression in C major on any instrument; ``fields`` are lines of the passage, ``more`` of the drill."""
    text = f'title = "T"\nkey = "C major"\n{more}\n[[passage]]\nchords = "{chords}"\n{fields}\n'
    return plan_drill(read_drill(text, "t"), instrument, make_hand())


def in_turn(shares: Sequence[int], meter: tuple[int, int], gaps: Sequence[bool] = ()) -> list[Timed]:
    """Chords (rests where a gap is true) that share one bar in the ratio of ``shares``, each bar's last ends on its
    bar line."""
    names = sorted(SHAPES)
    total, start, found = sum(shares), Fraction(0), []
    for index, share in enumerate(shares):
        length = Fraction(meter[0] * share, total)
        if not (index < len(gaps) and gaps[index]):
            found.append((names[index % len(names)], start, length))
        start += length
    return found
