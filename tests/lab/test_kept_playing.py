"""Whatever people do at the guitar, what is kept of it can be played: a drill that is read and planned at once, or one
line about why there is none."""

from __future__ import annotations

import pytest
from how_many import some
from played_again import GUITAR, HAND, again

from lab.measure import take_of
from lab.people.ways import WAYS
from listener.drill.drill_text import drill_text
from listener.errors import SourceError
from listener.hearing.take_file import Take
from listener.judging.free.keeping import KeptDrill, TakeHints, keep

NAMES = [way if isinstance(way, str) else way.name for way in WAYS]
#: Strums, tune notes, noodling, slips, a lesson.
A_FEW = frozenset(NAMES[::12])


def kept_of(way: str, drill: str, pickup: str) -> KeptDrill | SourceError:
    take = take_of(way, drill, 3, pickup, "typical")
    try:
        return keep(Take(take.messages), "take.mid", take.pickup, GUITAR, HAND, TakeHints("x"))
    except SourceError as error:
        return error


@pytest.mark.parametrize("way", [pytest.param(n, marks=() if n in A_FEW else pytest.mark.slow) for n in NAMES])
@pytest.mark.parametrize(
    ("drill", "pickup"),
    some(
        [("four-oars", "per-string"), ("four-oars", "single"), ("cider-fair", "per-string"), ("cider-fair", "single")],
        each=3,
    ),
)
def test_what_is_kept_can_be_played(way: str, drill: str, pickup: str) -> None:
    """As many steps as chords were heard, in order, each with the notes that it was heard with."""
    found = kept_of(way, drill, pickup)
    if isinstance(found, SourceError):
        assert "no chord was heard in it; at 0:0" in str(found)
        return
    plan = again(found)
    heard = [chord.pitches for part in found.chords for chord in part]
    assert [planned.voicing.midi for planned in plan.steps] == heard
    starts = [planned.step.start_beats for planned in plan.steps]
    assert starts == sorted(set(starts))
    assert all(one.to_s >= one.from_s >= 0 and one.text for one in found.unclear)
    assert "\n# At " in drill_text(found.sketch) or not found.unclear
