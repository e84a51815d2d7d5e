"""Short phrases that several panels use, so that one thing is always said in the same way."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Final

from listener.judging.verdict import HIT, Verdict
from listener.judging.words import note_name, rolled_words
from listener.music.naming_words import inversion_words
from listener.music.pitch import spell
from listener.music.voicing import OTHER
from listener.planning.plan import Plan, PlannedStep
from listener.screen.theme import Theme
from listener.session.take.state import Snapshot

#: From here on a chord was rolled and not struck (our choice; half of it is a slow strum).
ROLLED_MS: Final = 150.0


def pickup_words(said: Sequence[str]) -> str:
    """What of the pickup's errors was set right, from :func:`listener.hearing.cleaning.counted_words`."""
    return f"Pickup: {', '.join(said)}."


def spacing_word(planned: PlannedStep) -> str:
    """The kind of voicing; one that has no name is spaced freely."""
    return "free spacing" if planned.voicing.kind == OTHER else planned.voicing.kind


def lowest_words(planned: PlannedStep) -> str:
    """``first inversion``, or over a slash bass that is no tone of the chord ``G in the bass``."""
    voicing = planned.voicing
    if voicing.inversion is None:
        return f"{voicing.pitches[0].tone} in the bass"
    return inversion_words(voicing.inversion)


def kind_words(planned: PlannedStep) -> str:
    """What the voicing is called: ``drop 2, first inversion``."""
    return f"{spacing_word(planned)}, {lowest_words(planned)}"


def top_words(planned: PlannedStep, theme: Theme) -> str:
    """The top note with its degree: ``top E4, the 3``."""
    return theme.words(f"top {planned.voicing.top}, the {planned.voicing.degrees[-1]}")


def heard_name(midi: int, planned: PlannedStep | None, theme: Theme) -> str:
    """A played note as the faults name it: as the plan spells it, else as the judge does; ``?`` for what is no note."""
    if not 0 <= midi <= 127:
        return "?"
    if planned is None:
        return theme.words(str(spell(midi)))
    chord = planned.voicing.chord
    added = [pitch.tone for pitch in planned.voicing.pitches if chord.tone_of(pitch.midi) is None]
    return theme.words(note_name(chord, midi, added=added))


def offset_words(ms: float) -> str:
    """``12 ms late``, ``8 ms early``, ``on the click``."""
    rounded = round(abs(ms))
    return "on the click" if rounded == 0 else f"{rounded} ms {'late' if ms > 0 else 'early'}"


def roll_words(plan: Plan, verdict: Verdict) -> str:
    """How long a hit took from its first string to its last, where that can be heard; empty where the drill has its
    notes come one by one."""
    planned = step_of(plan, verdict)
    if verdict.grade != HIT or verdict.spread_ms < ROLLED_MS or planned is None or plan.drill.arpeggio:
        return ""
    pattern = planned.step.pattern
    return rolled_words(verdict.spread_ms) if pattern is None or pattern.is_strummed else ""


def step_of(plan: Plan, verdict: Verdict) -> PlannedStep | None:
    """The planned step that a verdict is about."""
    return plan.steps[verdict.step] if 0 <= verdict.step < len(plan.steps) else None


def pace_words(snapshot: Snapshot) -> str:
    """``own pace``, ``own pace, each chord until it is right``, ``60 beats a minute``."""
    if snapshot.tempo is not None:
        return f"{number(snapshot.tempo)} beats a minute"
    return "own pace, each chord until it is right" if snapshot.until_right else "own pace"


def number(value: float) -> str:
    """A number for people: whole ones without a point."""
    return f"{value:g}"


def or_dash(value: float | None, places: int = 0) -> str:
    """A number for a table, a dash where there is none."""
    return "-" if value is None else f"{value:.{places}f}"


def how_often(count: int) -> str:
    """``once``, ``twice``, ``3 times``."""
    return {1: "once", 2: "twice"}.get(count, f"{count} times")
