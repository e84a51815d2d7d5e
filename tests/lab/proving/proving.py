"""Which performances the ears are proved on: every bundled kind of playing, any number of strokes, seeded."""

from __future__ import annotations

from collections.abc import Iterator, Sequence
from dataclasses import dataclass, replace
from itertools import pairwise
from typing import Final

from lab.proving.evaluate import Tally, evaluate, evaluate_freely
from lab.proving.performing import Performance, performance
from listener.hearing.pickup import Pickup
from listener.planning.plan import Plan
from listener.simulation.converter import Converter
from listener.simulation.player import Player

#: The rules were tuned on performances of these seeds; everything that is reported uses others.
TUNING_SEEDS: Final = range(1, 3_000_000)
REPORT_SEED: Final = 5_000_001

#: Nobody plays arpeggios of chords that last less (our choice: four eighth notes at 120 beats a minute).
_ARPEGGIO_S: Final = 1.0

#: Strums up to 120 ms wide, both ways; plucked chords; slips as often as in the demo.
WIDE: Final = replace(Player(), strum_spread_ms=(15.0, 120.0))


@dataclass(frozen=True)
class Playing:
    """One way to play a drill. ``step_s`` is the time of its shortest step with the click, None at own pace."""

    name: str
    step_s: float | None
    player: Player = WIDE
    arpeggio: bool = False
    #: Only drills in which the place can be known by counting alone (:func:`_is_a_count`), else only the others.
    riffs: bool = False


CHORDS: Final = (
    Playing("own pace", None),
    Playing("click, a chord every 2 s", 2.0),
    Playing("click, every 1 s", 1.0),
    Playing("click, every 0.6 s", 0.6),
    Playing("own pace, common tones held", None, replace(WIDE, hold_share=1.0)),
    Playing("click, common tones held", 1.0, replace(WIDE, hold_share=1.0)),
    Playing("own pace, chords struck again", None, replace(WIDE, repeat_share=0.3)),
    Playing("click, chords struck again", 1.2, replace(WIDE, repeat_share=0.3)),
)
ARPEGGIOS: Final = (Playing("click, arpeggios", 1.6, arpeggio=True),)
#: Kept apart: without a click and without silence between them, where one arpeggio ends is partly a guess.
OWN_PACE_ARPEGGIOS: Final = (Playing("own pace, arpeggios", None, arpeggio=True),)
#: Kept apart: the same chord is due twice and struck again at will. Without a click nobody can say which stroke was the
#: second step and which only a repeat.
OWN_PACE_RIFFS: Final = (Playing("own pace, riffs struck again", None, replace(WIDE, repeat_share=0.3), riffs=True),)


def performances(
    plans: Sequence[Plan],
    pickup: Pickup,
    converter: Converter,
    playings: Sequence[Playing],
    *,
    seed: int,
    strokes: int,
) -> Iterator[Performance]:
    """One after the other until at least so many strokes were played. Every plan comes before any comes again, and the
    seeds are ``seed``, ``seed`` + 1 and so on."""
    played, number = 0, 0
    suitable = any(_suits(plan, playing) for plan in plans for playing in playings)
    while suitable and played < strokes:
        for plan in plans:
            for playing in playings:
                if not _suits(plan, playing):
                    continue
                run = _perform(plan, pickup, converter, playing, seed + number)
                number += 1
                played += len({(pluck.step, pluck.again) for pluck in run.plucks})
                yield run
                if played >= strokes:
                    return


def _is_a_count(plan: Plan, playing: Playing) -> bool:
    """Whether the player's place can only be known by counting strokes: most changes are to the same chord, or some are
    and chords are struck again at will."""
    pitches = [planned.voicing.midi for planned in plan.steps]
    same = sum(a == b for a, b in pairwise(pitches))
    return same > 0 if playing.player.repeat_share else 2 * same > len(pitches)


def _suits(plan: Plan, playing: Playing) -> bool:
    """Whether a drill is played that way: the notes of an arpeggio need time in every step; riffs are kept apart."""
    if not playing.arpeggio:
        return playing.step_s is not None or playing.riffs == _is_a_count(plan, playing)
    if playing.step_s is not None:
        return playing.step_s >= _ARPEGGIO_S
    return min(planned.step.length_beats for planned in plan.steps) * plan.drill.seconds_per_beat >= _ARPEGGIO_S


def _perform(plan: Plan, pickup: Pickup, converter: Converter, playing: Playing, seed: int) -> Performance:
    shortest = min(planned.step.length_beats for planned in plan.steps)
    tempo = None if playing.step_s is None else 60.0 * shortest / playing.step_s
    drill = replace(plan.drill, arpeggio=playing.arpeggio)
    # What is measured is this way to play and not the drill's own.
    steps = tuple(replace(planned, step=replace(planned.step, pattern=None)) for planned in plan.steps)
    label = f"{plan.drill.name}, {playing.name},"
    return performance(
        replace(plan, drill=drill, steps=steps), pickup, converter, playing.player, seed=seed, tempo=tempo, name=label
    )


def prove(runs: Iterator[Performance]) -> tuple[Tally, Tally]:
    """Everything with the drill known, and once more without."""
    known, free = Tally(), Tally()
    for run in runs:
        known.add(evaluate(run))
        if not run.plan.drill.arpeggio:
            free.add(evaluate_freely(run))
    return known, free
