"""Our count of matching strokes against mir_eval's (C. Raffel and others, ISMIR 2014; 0.8.2 run here)."""

from __future__ import annotations

import pytest
from how_many import examples
from hypothesis import given
from hypothesis import strategies as st
from lab.proving.evaluate import WINDOW_S, matches

from listener.hearing.events import on_grid

mir_eval_util = pytest.importorskip("mir_eval.util")
mir_eval_onset = pytest.importorskip("mir_eval.onset")

#: Onsets on the take's grid, none within a grid step of the tolerance from another: mir_eval rounds at the boundary.
onsets = st.lists(st.integers(0, 400).map(lambda tick: on_grid(tick * 0.0137)), max_size=30, unique=True).map(sorted)


@given(onsets, onsets)
def test_matched_onsets_are_as_many_as_mir_eval_finds(played: list[float], heard: list[float]) -> None:
    """Maximum bipartite matching there, one pass in order of time here."""
    import numpy as np

    ours, _ = matches([(time_s, frozenset()) for time_s in played], [(time_s, frozenset()) for time_s in heard])
    theirs = mir_eval_util.match_events(np.array(played), np.array(heard), WINDOW_S)
    assert ours == len(theirs)


def test_f1_of_onsets_is_mir_evals() -> None:
    """On a simulated performance with all errors on, with the drill and without."""
    import numpy as np
    from lab.course import planned
    from lab.proving.evaluate import evaluate_freely, groups_heard, groups_played
    from lab.proving.proving import CHORDS, REPORT_SEED, performances

    from listener.drill.drill_file import bundled_drills
    from listener.hearing.ears import Ears
    from listener.hearing.pickup import make_pickup
    from listener.simulation.converter import make_converter

    runs = performances(
        [planned(name) for name in bundled_drills()[:4]],
        make_pickup("per-string"),
        make_converter("hard"),
        CHORDS,
        seed=REPORT_SEED,
        strokes=examples(400),
    )
    for run in runs:
        ears = Ears(run.pickup)
        strokes = [stroke for message in run.messages for stroke in ears.feed(message)] + ears.flush()
        heard = groups_heard(strokes)
        played = groups_played(run)
        theirs, _, _ = mir_eval_onset.f_measure(
            np.array([time_s for time_s, _ in played]), np.array([time_s for time_s, _ in heard]), window=WINDOW_S
        )
        assert evaluate_freely(run).onset_f1 == pytest.approx(theirs, abs=1e-9)
