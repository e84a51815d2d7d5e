"""Judging kept takes again: with today's ears, against what the player was asked for then. Pure.

The drill is read from its kept text and planned for the kept instrument and hand. Should today's planner choose another
route, the kept one stands: nobody played what was not on the screen.
"""

from __future__ import annotations

from bisect import bisect_left, bisect_right
from collections.abc import Iterator, Mapping, Sequence
from contextlib import contextmanager
from dataclasses import dataclass, fields, replace
from typing import Any, Final

from listener.drill.drill import Drill
from listener.drill.drill_file import read_drill
from listener.errors import StoreError, WidehandError
from listener.guitar.fingering import Barre, Fingering
from listener.guitar.hand import Hand, make_hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.hearing.pickup import Pickup, make_pickup
from listener.hearing.take_file import Take
from listener.history.store.rows import TakeInfo
from listener.judging.take import TakeJudge
from listener.judging.touch.account import TouchAccount
from listener.judging.verdict import Verdict
from listener.music.movement import movement
from listener.music.voicing import voicing_of
from listener.planning.plan import Plan, PlannedStep
from listener.planning.planner import plan_drill

#: Verdicts this close in time (seconds) can be about the same stroke: nobody plucks two chords within a tenth.
_SAME_S: Final = 0.1


#: Why an attempt went, or came.
_NOT_BLAMED: Final = "silence is only counted when the player went on after it"
_NO_ATTEMPT: Final = "the same chord again, a fill, trying the grip, a stray string or noodling is no attempt"
_AN_ATTEMPT: Final = "it is an attempt of its own"
_WENT_ON: Final = "the player went on after it"


@dataclass(frozen=True)
class VerdictChange:
    """A stroke that is judged otherwise now: ``step`` counts from 0; None where there was, or is, no such stroke."""

    step: int
    before: Verdict | None
    after: Verdict | None

    @property
    def what(self) -> tuple[str, ...]:
        """The names of the fields that differ; empty when the stroke is new or gone."""
        if self.before is None or self.after is None:
            return ()
        names = [field.name for field in fields(Verdict)]
        return tuple(name for name in names if getattr(self.before, name) != getattr(self.after, name))

    @property
    def why(self) -> str:
        """What the judge goes by, where an attempt came, went or moved; empty where only its wording did."""
        before, after = self.before, self.after
        if after is None:
            silent = before is not None and not before.heard
            return _NOT_BLAMED if silent else _NO_ATTEMPT
        if before is None:
            return _AN_ATTEMPT if after.heard else _WENT_ON
        if before.step != after.step:
            return f"it belongs to step {after.step + 1} by what was played before and after"
        if before.attempt != after.attempt and before.grade == after.grade:
            return "what came before it at this step counts differently"
        if after.spread_ms > before.spread_ms and len(after.heard) > len(before.heard):
            return "a chord rolled or broken is heard out until all of it was played"
        return ""

    def as_json(self) -> dict[str, object]:
        """Both verdicts as the ``attempts`` of the ``hear`` contract."""
        return {
            "step": self.step,
            "what": list(self.what),
            "why": self.why or None,
            "before": self.before.as_json() if self.before else None,
            "after": self.after.as_json() if self.after else None,
        }


def rejudge(info: TakeInfo, plan: Plan, take: Take) -> tuple[Verdict, ...]:
    """The verdicts that today's program gives; ``plan`` comes from :func:`plan_again`.

    :class:`StoreError` when pickup, plan and take do not belong together.
    """
    return rejudged(info, plan, take)[0]


def rejudged(info: TakeInfo, plan: Plan, take: Take) -> tuple[tuple[Verdict, ...], TouchAccount]:
    """The same with what the touch of the take comes to."""
    with _belonging():
        judge = TakeJudge(plan, pickup_of(info))
        return tuple(judge.hear(take)), judge.touch.account


@contextmanager
def _belonging() -> Iterator[None]:
    """Plan, markers and drill may each be sound and yet contradict each other: those of a bundle can be made up."""
    try:
        yield
    except (ArithmeticError, LookupError, TypeError, ValueError) as error:
        raise StoreError("its plan or its markers do not belong to its drill") from error


def plan_again(info: TakeInfo) -> Plan:
    """The plan of a kept take, with everything that judging needs.

    :class:`WidehandError` when its drill cannot be read or planned any more, or means something else now.
    """
    if not info.drill_text:
        raise StoreError("its drill's text was not kept")
    with _belonging():
        return _plan_again(info)


def _plan_again(info: TakeInfo) -> Plan:
    drill = read_drill(info.drill_text, info.drill)
    plan = plan_drill(drill, _instrument(info), _hand(info))
    kept: Sequence[Mapping[str, Any]] = info.plan.get("steps", [])
    if [str(step.wish.chord) for step in drill.steps] != [row["chord"] for row in kept]:
        raise StoreError(
            f"its drill has {len(drill.steps)} steps now and had {len(kept)} then, or other chords; "
            "this program reads its text differently"
        )
    same = all(_same_shape(planned, row) for planned, row in zip(plan.steps, kept, strict=True))
    return plan if same else replace(plan, steps=_kept_steps(drill, plan, kept))


def changes(before: Sequence[Verdict], after: Sequence[Verdict]) -> tuple[VerdictChange, ...]:
    """What differs, in the order of playing.

    Verdicts belong together when their strokes began at the same time (an onset may be reckoned a little otherwise
    now), those about the same step first.
    """
    old, new = sorted(before, key=_onset), sorted(after, key=_onset)
    partner: dict[int, int] = {}
    taken: set[int] = set()
    for same_step in (True, False):
        onsets = [verdict.onset_s for verdict in new]
        for place, verdict in enumerate(old):
            first = bisect_left(onsets, verdict.onset_s - _SAME_S)
            last = bisect_right(onsets, verdict.onset_s + _SAME_S)
            free = [
                other
                for other in range(first, last)
                if place not in partner and other not in taken and (new[other].step == verdict.step or not same_step)
            ]
            if free:
                partner[place] = free[0]
                taken.add(free[0])
    pairs = [(one, new[partner[place]] if place in partner else None) for place, one in enumerate(old)]
    found = [(one, VerdictChange(one.step, one, other)) for one, other in pairs if one != other]
    found += [(one, VerdictChange(one.step, None, one)) for place, one in enumerate(new) if place not in taken]
    return tuple(change for _, change in sorted(found, key=lambda pair: pair[0].onset_s))


def _onset(verdict: Verdict) -> float:
    return verdict.onset_s


def _instrument(info: TakeInfo) -> Instrument:
    # Programs that did not keep the whole instrument had no way to change anything but these two.
    return info.instrument or make_instrument(" ".join(info.tuning), capo=info.capo)


def _hand(info: TakeInfo) -> Hand:
    return info.hand_model or make_hand(info.hand)


def pickup_of(info: TakeInfo) -> Pickup:
    """Today's profile of that name: how its signals are cleaned is a part of the ears. The kept one if it is gone."""
    try:
        return make_pickup(info.pickup)
    except WidehandError:
        if info.pickup_profile is None:
            raise
        return info.pickup_profile


def _same_shape(planned: PlannedStep, row: Mapping[str, Any]) -> bool:
    mine = planned.as_json()
    return all(mine[name] == row[name] for name in ("pitches", "strings", "frets"))


def _kept_steps(drill: Drill, plan: Plan, kept: Sequence[Mapping[str, Any]]) -> tuple[PlannedStep, ...]:
    steps: list[PlannedStep] = []
    for step, planned, row in zip(drill.steps, plan.steps, kept, strict=True):
        pitches = tuple(int(pitch) for pitch in row["pitches"])
        change = movement(steps[-1].voicing.midi, pitches) if steps else None
        added = (*step.wish.spelling, *(pitch.tone for pitch in planned.voicing.pitches))
        voicing = voicing_of(step.wish.chord, pitches, added=added)
        steps.append(PlannedStep(step, replace(voicing, kind=row["kind"]), _fingering(row), change))
    return tuple(steps)


def _fingering(row: Mapping[str, Any]) -> Fingering:
    """The shape that was on the screen; where the hand lay is not needed for judging."""
    return Fingering(
        pitches=tuple(row["pitches"]),
        strings=tuple(row["strings"]),
        frets=tuple(row["frets"]),
        fingers=tuple(row["fingers"]),
        barre=Barre(**row["barre"]) if row["barre"] else None,
        stretch_mm=row["stretch_mm"],
        strain=row["strain"],
        centre_mm=None,
    )
