"""Makes ``docs/movement.md``: how far the voices move in our routes, in everyday shapes and with greedy choice.

Run as ``PYTHONPATH=tests python -m lab.pages.movement_table > docs/movement.md``.
"""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Final

from listener.drill.drill import Drill, Step, Wish
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.planning.planner import plan_drill
from listener.planning.report import PlanReport, Totals, VoiceLine, report

TRIADS: Final = ("spread", "spread triads")
SEVENTHS: Final = ("drop 2", "drop-2 sevenths")


@dataclass(frozen=True, slots=True)
class Progression:
    """A row of the table; ``kind`` is a voicing kind and what it is called beside the name."""

    name: str
    chords: str
    kind: tuple[str, str]
    loop: bool = False


PROGRESSIONS: Final = (
    Progression("I-IV-V-I in C", "C F G C", TRIADS),
    Progression("ii-V-I in C", "Dm7 G7 Cmaj7", SEVENTHS),
    Progression(
        "circle of fifths through all twelve dominants",
        "C7 F7 Bb7 Eb7 Ab7 Db7 Gb7 B7 E7 A7 D7 G7",
        SEVENTHS,
        loop=True,
    ),
    Progression("12-bar blues in A", "A7 D7 A7 A7 D7 D7 A7 A7 E7 D7 A7 E7", SEVENTHS, loop=True),
)

_INTRODUCTION: Final = """\
# How far the voices move

Made by `PYTHONPATH=tests python -m lab.pages.movement_table > docs/movement.md`; a test says whether this page is
current. Standard tuning, frets 0 to 15, a medium hand.

| progression | voicings | least possible | our route | greedy | everyday shapes |
| --- | --- | --- | --- | --- | --- |
"""

_READING: Final = """
## How to read it

The three routes are given as *semitones in all / semitones for each voice in each change / largest leap / common tones
kept, of those there are*.

*Least possible* is the fewest semitones that any route through these voicings can have on this neck with this hand.
*Our route* is planned with `least_movement` and nothing wished for the top or the bottom line, so it has to meet that
number. *Greedy* starts from the most comfortable first chord and always takes the nearest next one, as a player does
who does not look ahead; in a loop it may find itself far from where it began, and the way back is dear. *Everyday
shapes* are the full strummed chords that are taught first, open or barred, with the root in the bass. They have four
to six notes, so they compare by the second number, semitones for each voice in each change; and where one has more
strings than the one before it, voices enter or leave, which is not in the semitones: the planner's price for it
stands in brackets. In a loop the way back from the last chord to the first counts too, and a change between two equal
chords counts as a change.

A step is 1 or 2 semitones, a skip 3 or 4, a leap 5 or more. Few semitones, no leap and many common tones are what
singers would do with these chords. They are no rule: a strummed chorus may well want the leaps.

## How each voice of our route moves

Shares of the changes in which the voice holds, steps (1-2 semitones), skips (3-4) and leaps (5 or more).

| progression | voice | holds | steps | skips | leaps |
| --- | --- | --- | --- | --- | --- |
"""


def drill_of(progression: Progression) -> Drill:
    """A progression as a drill of one chord a bar, planned for least movement."""
    steps = tuple(
        Step(index, progression.name, index + 1, 1.0, 4.0 * index, 4.0, Wish(parse_chord(chord), progression.kind[:1]))
        for index, chord in enumerate(progression.chords.split())
    )
    return Drill(
        progression.name, progression.name, "C major", 80.0, (4, 4), steps, loop=progression.loop, least_movement=True
    )


def reports() -> list[tuple[Progression, PlanReport]]:
    """All progressions planned and measured."""
    instrument, hand = make_instrument(), make_hand()
    found = []
    for progression in PROGRESSIONS:
        drill = drill_of(progression)
        found.append((progression, report(plan_drill(drill, instrument, hand), drill, instrument, hand)))
    return found


def page(measured: Sequence[tuple[Progression, PlanReport]]) -> str:
    """The whole page as Markdown."""
    rows = [
        f"| {progression.name}{', a loop' if progression.loop else ''} | {progression.kind[1]} | {told.least} "
        f"| {_cell(told.plan)} | {_cell(told.greedy, told.greedy_note)} | {_cell(told.everyday, told.everyday_note)} |"
        for progression, told in measured
    ]
    lines = [
        f"| {progression.name} | {voice.name} | "
        + " | ".join(f"{100 * number / voice.moves:.0f} %" for number in _counts(voice))
        + " |"
        for progression, told in measured
        for voice in told.plan.voices
    ]
    return _INTRODUCTION + "\n".join(rows) + "\n" + _READING + "\n".join(lines) + "\n"


def _counts(voice: VoiceLine) -> tuple[int, int, int, int]:
    return voice.holds, voice.steps, voice.skips, voice.leaps


def _cell(totals: Totals | None, note: str = "") -> str:
    if totals is None:
        return note
    extra = totals.cost - totals.movement
    bracket = f" (+{extra})" if extra else ""
    return (
        f"**{totals.movement}**{bracket} / {totals.movement_per_voice:.2f} / {totals.largest_leap} "
        f"/ {totals.common_kept} of {totals.common_possible}"
    )


if __name__ == "__main__":
    print(page(reports()), end="")
