"""Verdicts as hypothesis makes them: any that the judge could give, and many that it never would."""

from __future__ import annotations

from hypothesis import strategies as st

from listener.judging.verdict import GRADES, Fault, Verdict
from listener.music.movement import movement

#: Planned top notes of eight steps; one has none.
TOPS = (60, 62, 64, None, 65, 60, 62, 64)
_CODES = ("late", "missing", "extra", "top_note", "nothing")
_HEARD = ((), (48, 55, 60), (50, 57, 62), (52, 55, 64))
#: The judge gives offsets and movement scores in tenths.
_OFFSETS = st.none() | st.integers(-3000, 3000).map(lambda tenths: tenths / 10)
_SCORES = st.none() | st.integers(0, 1000).map(lambda tenths: tenths / 10)

#: On steps 0 to 8, of which a plan of eight has all but the last; first and later attempts in any order.
VERDICTS = st.builds(
    Verdict,
    step=st.integers(0, 8),
    attempt=st.integers(1, 3),
    grade=st.sampled_from(GRADES),
    faults=st.lists(st.sampled_from(_CODES).map(lambda code: Fault(code, code)), max_size=3).map(tuple),
    heard=st.sampled_from(_HEARD),
    held=st.just(()),
    onset_s=st.integers(0, 4000).map(lambda hundredths: hundredths / 100),
    spread_ms=st.just(0.0),
    offset_ms=_OFFSETS,
    movement=st.none() | st.sampled_from(_HEARD[1:]).map(lambda after: movement(_HEARD[1], after)),
    least=st.none() | st.integers(0, 6),
    movement_score=_SCORES,
)
