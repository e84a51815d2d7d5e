"""A take as far as it has been judged, kept up verdict by verdict: a picture after an hour costs what the first did."""

from __future__ import annotations

from collections.abc import Iterable, Mapping
from dataclasses import dataclass, field

from listener.judging.account import Account, Counting, planned_tops
from listener.judging.verdict import Verdict
from listener.planning.plan import Plan


@dataclass(frozen=True, slots=True)
class SoFar:
    """The settled verdicts of a take, oldest first; what they come to, and the newest on each step."""

    verdicts: tuple[Verdict, ...] = ()
    account: Account = field(default_factory=Account)
    newest: Mapping[int, Verdict] = field(default_factory=dict)

    @classmethod
    def of(cls, plan: Plan, verdicts: Iterable[Verdict]) -> SoFar:
        """All of these, on the steps of that plan."""
        record = TakeRecord(plan)
        for verdict in verdicts:
            record.add(verdict)
        return record.so_far


class TakeRecord:
    """Settled verdicts in, oldest first; :attr:`so_far` stays as it is when more come."""

    def __init__(self, plan: Plan) -> None:
        self._counting = Counting(len(plan.steps), planned_tops(plan))
        self._verdicts: list[Verdict] = []
        self._newest: dict[int, Verdict] = {}
        self._so_far: SoFar | None = None

    def add(self, verdict: Verdict) -> None:
        """One more."""
        self._counting.add(verdict)
        self._verdicts.append(verdict)
        self._newest[verdict.step] = verdict
        self._so_far = None

    @property
    def newest(self) -> Verdict | None:
        """The one that was added last."""
        return self._verdicts[-1] if self._verdicts else None

    @property
    def so_far(self) -> SoFar:
        """The take as it stands; the same object until the next verdict."""
        if self._so_far is None:
            self._so_far = SoFar(tuple(self._verdicts), self._counting.account, dict(self._newest))
        return self._so_far
