"""The panel of what was heard."""

from __future__ import annotations

import re
from collections.abc import Callable
from typing import Any

from listener.judging.verdict import MISS, Fault
from listener.planning.plan import Plan
from listener.screen.dashboard import dashboard
from listener.screen.theme import Theme
from listener.session.state import FINISHED


def test_silence_is_told_once(
    verse: Plan, moment: Callable[..., Any], verdict_on: Callable[..., Any], printed: Callable[..., list[str]]
) -> None:
    """Where nothing was heard one line says so, not two."""
    silent = verdict_on(verse, 1, MISS, (Fault("nothing", "nothing was heard"),), heard=())
    for width, height in ((80, 24), (140, 40)):
        picture = dashboard(moment(verse, verdict=silent, verdicts=()), width=width, height=height, theme=Theme())
        assert sum("nothing" in line for line in printed(picture, width)) == 1


def test_a_take_that_ended_in_the_middle_shows_how_it_went(
    verse: Plan, moment: Callable[..., Any], printed: Callable[..., list[str]]
) -> None:
    """Whoever skips the last passage sees the summary, not a chord that nobody waits for."""
    for width, height in ((80, 24), (140, 40)):
        over = moment(verse, phase=FINISHED, step=3)
        assert over.target is None
        text = "\n".join(printed(dashboard(over, width=width, height=height, theme=Theme()), width))
        assert "this take" in text
        assert "─ play " not in text
        assert re.search(r"miss(es)?: 2 of 8 steps, then broken off\.", text)
