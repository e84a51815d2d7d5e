"""What a judged take is told as: lines of the plain screen, or the document that others may rely on."""

from __future__ import annotations

from collections.abc import Sequence
from typing import Any

from listener.commands.json_out import print_json
from listener.commands.playing.heard_text import cleaned_json
from listener.hearing.cleaning import counted_words
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


def tell_verdicts(
    plan: Plan, judge: TakeJudge, take: AnyTake, name: str, *, as_json: bool, extra: dict[str, Any] | None = None
) -> list[Verdict]:
    """Judge a take and say what came of it; ``extra`` are more fields of the document."""
    verdicts = judge.hear(take)
    if as_json:
        document = report(plan, verdicts, Account.of_take(plan, verdicts), judge.asides, judge.cleaned, judge.touch)
        print_json("verdicts", {**document, **(extra or {})})
    else:
        _print_verdicts(plan, verdicts, judge, name)
    return verdicts


def report(
    plan: Plan,
    verdicts: Sequence[Verdict],
    account: Account,
    asides: Sequence[Aside],
    cleaned: dict[str, int],
    touch: TouchLog,
) -> dict[str, object]:
    """The ``hear`` contract with a drill; ``play`` and ``demo`` report the same. ``patterns`` stand in it where the
    drill has any, ``fills`` where there was one."""
    patterns = [{"step": step, **aside.as_json()} for step, aside in asides if isinstance(aside, PatternVerdict)]
    fills = [{"step": step, **aside.as_json()} for step, aside in asides if isinstance(aside, Fill)]
    return {
        "drill": plan.drill.name,
        "attempts": [verdict.as_json() for verdict in verdicts],
        **({"patterns": patterns} if any(planned.step.pattern is not None for planned in plan.steps) else {}),
        **({"fills": fills} if fills else {}),
        "summary": account.as_json(),
        "touch": {**touch.account.as_json(), "chords": [_touched(plan, one) for one in touch.touches]},
        "singing": singing_of(verdicts).as_json(),
        "remarks": [remark.as_json() for remark in take_remarks(verdicts)],
        "cleaned": cleaned_json(cleaned),
    }


def _touched(plan: Plan, touch: StepTouch) -> dict[str, object]:
    """How a chord was touched, and what is to be said of that where its drill asks for it."""
    said = touch_verdict(plan.steps[touch.step].step, touch)
    return {**touch.as_json(), "verdict": said.as_json() if said is not None else None}


def _print_verdicts(plan: Plan, verdicts: list[Verdict], judge: TakeJudge, name: str) -> None:
    """One line for each verdict, then what the take comes to: the words of the plain screen."""
    from listener.screen.practice.plain import verdict_line, with_asides
    from listener.screen.practice.summary import summary_lines
    from listener.session.take.so_far import SoFar
    from listener.session.take.state import FINISHED, Snapshot

    snapshot = Snapshot(
        plan=plan,
        phase=FINISHED,
        step=len(plan.steps),
        verdict=None,
        so_far=SoFar.of(plan, verdicts),
        sounding=(),
        now_s=0.0,
        tempo=None,
        bar=0,
        beat=0,
        source=name,
        cleaned=counted_words(judge.cleaned),
        touch=judge.touch.account,
    )
    told = [verdict_line(snapshot, verdict) for verdict in verdicts]
    for line in (*with_asides(snapshot, verdicts, told, judge.asides), *summary_lines(snapshot)):
        print(line)
