"""What there is to remark about a whole take, beside its verdicts: parallels, hidden octaves, wide gaps, step by step.

Never a fault, unless the drill says so (:mod:`listener.judging.remarks.faults`): a comping player may like all of it as
it is. The rules are those of :mod:`listener.judging.remarks.remarks`.
"""

from __future__ import annotations

from collections import Counter
from collections.abc import Iterable, Sequence
from dataclasses import dataclass
from typing import Final

from listener.judging.remarks.remarks import Remark, placing, remarks
from listener.judging.verdict import Verdict

#: What each is called when it came more than once.
NAMES: Final = {
    "parallel_fifths": "parallel fifths", "parallel_octaves": "parallel octaves", "contrary_fifths": "contrary fifths",
    "contrary_octaves": "contrary octaves", "hidden_octave": "a hidden octave", "crossing": "crossed voices",
    "spacing": "more than an octave between upper voices",
}  # fmt: skip


@dataclass(frozen=True, slots=True)
class StepRemark:
    """A remark on the chord of ``step`` (index from 0) and the way to it."""

    step: int
    remark: Remark

    def as_json(self) -> dict[str, object]:
        """The step and all fields of the remark."""
        return {"step": self.step, **self.remark.as_json()}


def take_remarks(verdicts: Iterable[Verdict]) -> tuple[StepRemark, ...]:
    """The remarks on what was really played, from settled verdicts in order.

    Where nobody moved from one chord to the next (the first chord, silence, a jump) only the chord itself is remarked.
    """
    found: list[StepRemark] = []
    before: tuple[int, ...] = ()
    for verdict in verdicts:
        if not verdict.settled:
            continue
        moved = bool(before) and verdict.movement is not None
        said = remarks(before, verdict.heard) if moved else placing(verdict.heard)
        found += [StepRemark(verdict.step, remark) for remark in said]
        before = verdict.heard
    return tuple(found)


def remark_words(found: Sequence[StepRemark], *, faults: bool = False) -> str:
    """``Remarks, no faults: parallel fifths (5 times, first at step 2).``, the most frequent first, at most three.

    ``faults`` says that the drill counts them as faults; the words then do not say that they are none.
    """
    if not found:
        return "Remarks: none; no parallels, no crossing, no wide gaps."
    counts = Counter(one.remark.code for one in found)
    first = {one.remark.code: one.step for one in reversed(found)}
    said = [
        f"{NAMES.get(code, code)} ({'once, at' if count == 1 else f'{count} times, first at'} step {first[code] + 1})"
        for code, count in sorted(counts.items(), key=lambda item: (-item[1], item[0]))[:3]
    ]
    return f"Remarks{'' if faults else ', no faults'}: {', '.join(said)}."
