"""A drill that was played, and what it is as a drill again: both as rows of the same kind."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import sin, tau

from listener.drill.drill_file import read_drill
from listener.drill.drill_text import drill_text
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import CLICK, OWN_PACE, Take, TakeHeader, read_take, take_bytes
from listener.judging.free.keeping import KeptDrill, TakeHints, keep
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.simulation.player import FLAWLESS
from listener.simulation.simulated import simulate

GUITAR, HAND = make_instrument(), make_hand()
FIRST_BEAT_S = 2.0

#: Beats from the first bar line, and the notes: pitch and string (None where strings are not told apart).
Row = tuple[float, tuple[tuple[int, int | None], ...]]


def rows_of(plan: Plan, starts: Sequence[float], *, strings: bool) -> list[Row]:
    """The steps of a plan; a chord that is only struck again is the chord before."""
    found: list[Row] = []
    for planned, start in zip(plan.steps, starts, strict=True):
        shape = planned.fingering
        if strings:
            notes: set[tuple[int, int | None]] = set(zip(shape.pitches, shape.strings, strict=True))
        else:
            notes = {(pitch, None) for pitch in shape.pitches}
        row = tuple(sorted(notes, key=lambda note: (note[0], note[1] or 0)))
        if not found or found[-1][1] != row:
            found.append((start, row))
    return found


def written(plan: Plan) -> list[float]:
    """When the steps begin by the file."""
    return [planned.step.start_beats for planned in plan.steps]


def one_after_the_other(plan: Plan) -> list[float]:
    """When they begin at one's own pace: the simulated guitarist leaves the rests out then."""
    starts = [0.0]
    for planned in plan.steps:
        starts.append(starts[-1] + planned.step.length_beats)
    return starts[:-1]


def take_of(plan: Plan, messages: Sequence[Message], pickup: str, *, click: bool) -> Take:
    """A take as the program keeps it: written and read again. Its header names another drill, which must not matter."""
    beats, unit = plan.drill.meter
    header = TakeHeader(
        "mill-verse",
        CLICK if click else OWN_PACE,
        plan.drill.tempo,
        FIRST_BEAT_S if click else None,
        pickup,
        meter=f"{beats}/{unit}",
    )
    return read_take(take_bytes(Take(tuple(messages), (), header)), "take.mid")


def played(plan: Plan, *, seed: int, pickup: str, click: bool) -> Take:
    """The drill, played once without a slip by a pickup without errors."""
    tempo = plan.drill.tempo if click else None
    messages = simulate(
        plan, seed=seed, pickup=make_pickup(pickup), tempo=tempo, first_beat_s=FIRST_BEAT_S, player=FLAWLESS
    ).messages
    return take_of(plan, messages, pickup, click=click)


def swaying(plan: Plan, *, seed: int, pickup: str) -> Take:
    """At one's own pace, but with every rest: as with the click, only that the tempo goes up and down by six per
    cent, once in half a minute."""
    messages = simulate(
        plan,
        seed=seed,
        pickup=make_pickup(pickup),
        tempo=plan.drill.tempo,
        first_beat_s=FIRST_BEAT_S,
        player=FLAWLESS,
    ).messages

    def warped(time_s: float) -> float:
        return on_grid(time_s + 0.06 * 30 / tau * (1 + sin(tau * time_s / 30 - tau / 4)))

    moved = [message._replace(time_s=warped(message.time_s)) for message in messages]
    return take_of(plan, moved, pickup, click=False)


def kept(take: Take, asked: TakeHints | None = None) -> KeptDrill:
    """The take as a drill."""
    header = take.header
    pickup = make_pickup(header.pickup if header is not None else "single")
    return keep(take, "take.mid", pickup, GUITAR, HAND, asked or TakeHints("As I played it"))


def again(found: KeptDrill) -> Plan:
    """The drill file that comes of it, read and planned for the same guitar and hand."""
    return plan_drill(read_drill(drill_text(found.sketch), "kept"), GUITAR, HAND)


def in_bars_of(plan: Plan) -> list[tuple[int, float]]:
    """Bar and beat of every step, from 1."""
    return [(planned.step.bar, planned.step.beat) for planned in plan.steps]


def bar_and_beat(plan: Plan, rows: Sequence[Row]) -> list[tuple[int, float]]:
    """The same for rows."""
    beats = plan.drill.meter[0]
    return [(int(start // beats) + 1, start % beats + 1) for start, _ in rows]


def without_header(take: Take) -> Take:
    """The same messages from nowhere in particular."""
    return replace(take, header=None)
