"""What a judged take is told as: lines of the plain screen, or the document that others may rely on."""

from __future__ import annotations

import json
from typing import Any

from listener.commands.heard_text import cleaned_json
from listener.hearing.cleaning import counted_words
from listener.hearing.take_file import AnyTake
from listener.judging.account import Account
from listener.judging.singing import singing_of
from listener.judging.take import TakeJudge
from listener.judging.take_remarks import take_remarks
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan


def tell_verdicts(
    plan: Plan, judge: TakeJudge, take: AnyTake, name: str, *, as_json: bool, extra: dict[str, Any] | None = None
) -> list[Verdict]:
    """Judge a take and say what came of it; ``extra`` are more fields of the document."""
    verdicts = judge.hear(take)
    if as_json:
        document = report(plan.drill.name, verdicts, Account.of_take(plan, verdicts), judge.cleaned)
        print(json.dumps({**document, **(extra or {})}))
    else:
        _print_verdicts(plan, verdicts, judge.cleaned, name)
    return verdicts


def report(drill: str, verdicts: list[Verdict], account: Account, cleaned: dict[str, int]) -> dict[str, object]:
    """The ``hear`` contract with a drill; ``play`` and ``demo`` report the same."""
    return {
        "drill": drill,
        "attempts": [verdict.as_json() for verdict in verdicts],
        "summary": account.as_json(),
        "singing": singing_of(verdicts).as_json(),
        "remarks": [remark.as_json() for remark in take_remarks(verdicts)],
        "cleaned": cleaned_json(cleaned),
    }


def _print_verdicts(plan: Plan, verdicts: list[Verdict], cleaned: dict[str, int], name: str) -> None:
    """One line for each verdict, then what the take comes to: the words of the plain screen."""
    from listener.screen.plain import verdict_line
    from listener.screen.summary import summary_lines
    from listener.session.so_far import SoFar
    from listener.session.state import FINISHED, Snapshot

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
        cleaned=counted_words(cleaned),
    )
    for line in (*(verdict_line(snapshot, verdict) for verdict in verdicts), *summary_lines(snapshot)):
        print(line)
