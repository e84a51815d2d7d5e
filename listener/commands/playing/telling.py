"""What a judged take is told as: lines of the plain screen, or the document that others may rely on."""

from __future__ import annotations

from typing import Any

from listener.commands.json_out import print_json
from listener.hearing.cleaning import counted_words
from listener.hearing.take_file import AnyTake
from listener.judging.judged import JudgedTake, judged
from listener.judging.take import TakeJudge
from listener.planning.plan import Plan


def tell_verdicts(
    plan: Plan, judge: TakeJudge, take: AnyTake, name: str, *, as_json: bool, extra: dict[str, Any] | None = None
) -> None:
    """Judge a take and say what came of it; ``extra`` are more fields of the document."""
    found = judged(plan, judge, take)
    if as_json:
        print_json("verdicts", {**found.as_json(), **(extra or {})})
    else:
        _print_verdicts(found, name)


def _print_verdicts(take: JudgedTake, name: str) -> None:
    """One line for each verdict, then what the take comes to: the words of the plain screen."""
    from listener.screen.practice.plain import verdict_line, with_asides
    from listener.screen.practice.summary import summary_lines
    from listener.session.take.so_far import SoFar
    from listener.session.take.state import FINISHED, Snapshot

    plan, verdicts = take.plan, take.verdicts
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
        cleaned=counted_words(take.cleaned),
        touch=take.touch.account,
    )
    told = [verdict_line(snapshot, verdict) for verdict in verdicts]
    for line in (*with_asides(snapshot, verdicts, told, take.asides), *summary_lines(snapshot)):
        print(line)
