"""A take that was judged against a drill: what came of it, whole."""

from __future__ import annotations

from collections.abc import Mapping
from dataclasses import dataclass, field

from listener.hearing.cleaning import cleaned_json
from listener.hearing.take_file import AnyTake
from listener.judging.account import Account
from listener.judging.fill import Aside, Fill
from listener.judging.pattern.pattern import PatternVerdict
from listener.judging.remarks.take_remarks import take_remarks
from listener.judging.singing import singing_of
from listener.judging.take import TakeJudge
from listener.judging.touch.log import TouchLog
from listener.judging.touch.touch import StepTouch
from listener.judging.touch.words import touch_verdict
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan


@dataclass(frozen=True)
class JudgedTake:
    """``plan`` is what was meant, ``verdicts`` say what became of it, in the order of playing, and ``account`` is what
    they come to. ``cleaned`` is how often each kind of the pickup's errors was set right; ``asides`` and ``touch`` are
    what else :class:`listener.judging.take.TakeJudge` has to say.
    """

    plan: Plan
    verdicts: tuple[Verdict, ...]
    account: Account
    cleaned: Mapping[str, int]
    asides: tuple[Aside, ...] = field(repr=False)
    touch: TouchLog = field(repr=False)

    def as_json(self) -> dict[str, object]:
        """The ``hear`` contract with a drill; ``play`` and ``demo`` report the same. ``patterns`` stand in it where the
        drill has any, ``fills`` where there was one."""
        plan, touch = self.plan, self.touch
        patterns = [{"step": step, **said.as_json()} for step, said in self.asides if isinstance(said, PatternVerdict)]
        fills = [{"step": step, **said.as_json()} for step, said in self.asides if isinstance(said, Fill)]
        return {
            "drill": plan.drill.name,
            "attempts": [verdict.as_json() for verdict in self.verdicts],
            **({"patterns": patterns} if any(planned.step.pattern is not None for planned in plan.steps) else {}),
            **({"fills": fills} if fills else {}),
            "summary": self.account.as_json(),
            "touch": {**touch.account.as_json(), "chords": [_touched(plan, one) for one in touch.touches]},
            "singing": singing_of(self.verdicts).as_json(),
            "remarks": [remark.as_json() for remark in take_remarks(self.verdicts)],
            "cleaned": cleaned_json(self.cleaned),
        }


def judged(plan: Plan, judge: TakeJudge, take: AnyTake) -> JudgedTake:
    """A whole take, to its end, by a judge of this plan who has heard nothing yet."""
    verdicts = tuple(judge.hear(take))
    account = Account.of_take(plan, verdicts)
    return JudgedTake(plan, verdicts, account, judge.cleaned, tuple(judge.asides), judge.touch)


def _touched(plan: Plan, touch: StepTouch) -> dict[str, object]:
    """How a chord was touched, and what is to be said of that where its drill asks for it."""
    said = touch_verdict(plan.steps[touch.step].step, touch)
    return {**touch.as_json(), "verdict": said.as_json() if said is not None else None}
