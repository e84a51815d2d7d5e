"""Where in a pattern the click is: the places between beats that it sounds, and the one that is due now."""

from __future__ import annotations

from bisect import bisect_right
from collections.abc import Sequence
from typing import Final

from listener.music.pattern import exact
from listener.planning.plan import PlannedStep
from listener.session.sound.click import ClickTrack

#: A place is due when so little is left until it falls, in beats: rounding, nothing more.
_ROUNDING: Final = 1e-6
#: More beats than anybody plays in a row.
_NO_END: Final = 1e6


def between_beats(steps: Sequence[PlannedStep]) -> tuple[float, ...]:
    """Where places of patterns fall that are no beats, in beats from the beginning of the drill."""
    found = {exact(planned.step.start_beats) + one.start_beats for planned in steps for one in planned.step.placed}
    return tuple(sorted(float(place) for place in found if place.denominator > 1))


def click_for(
    steps: Sequence[PlannedStep], meter: tuple[int, int], due_s: float, tempo: float, count_in: int
) -> ClickTrack:
    """The click for these steps, the first of which is due at ``due_s`` after so many beats of count-in; ``tempo`` in
    beats a minute. Without steps it goes on as long as the player does."""
    return ClickTrack(
        anchor_s=due_s,
        tempo=tempo,
        meter=meter,
        first_beat=steps[0].step.start_beats if steps else 0.0,
        count_in=count_in,
        end_beat=steps[-1].step.start_beats + steps[-1].step.length_beats if steps else _NO_END,
        between=between_beats(steps),
    )


def place_now(steps: Sequence[PlannedStep], shown: int, beats: float | None) -> int | None:
    """The index of the place that is due in the pattern of the step that is shown.

    ``beats`` are those that have gone by since the beginning of the drill. None where the shown step has no pattern, or
    another one than the step whose time it is.
    """
    pattern = steps[shown].step.pattern if shown < len(steps) else None
    if beats is None or pattern is None:
        return None
    now = bisect_right(steps, beats + _ROUNDING, key=lambda planned: planned.step.start_beats) - 1
    if now < 0 or steps[now].step.pattern != pattern:
        return None
    step = steps[now].step
    gone = [one.number for one in step.placed if one.start_beats <= beats - step.start_beats + _ROUNDING]
    return gone[-1] if gone else None
