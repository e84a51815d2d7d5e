"""The panel of what was heard."""

from __future__ import annotations

import re
from collections.abc import Callable
from dataclasses import replace
from typing import Any

import pytest

from listener.judging.fill import Fill
from listener.judging.pattern.pattern import PatternVerdict
from listener.judging.touch.words import TouchVerdict
from listener.judging.verdict import HIT, MISS, NEAR, Fault
from listener.planning.plan import Plan
from listener.screen.practice.dashboard import dashboard
from listener.screen.practice.heard import heard_rows
from listener.screen.theme import ASCII, UNICODE, Theme
from listener.session.take.state import FINISHED, PAUSED

SIZES = ((80, 24), (140, 40))
THEMES = (Theme(), Theme(ascii_only=True), Theme(hues=False))


def test_silence_is_told_once(
    verse: Plan, moment: Callable[..., Any], verdict_on: Callable[..., Any], printed: Callable[..., list[str]]
) -> None:
    """Where nothing was heard one line says so, not two."""
    silent = verdict_on(verse, 1, MISS, (Fault("nothing", "nothing was heard"),), heard=())
    for width, height in SIZES:
        picture = dashboard(moment(verse, verdict=silent, verdicts=()), width=width, height=height, theme=Theme())
        assert sum("nothing" in line for line in printed(picture, width)) == 1


def test_a_take_that_ended_in_the_middle_shows_how_it_went(
    verse: Plan, moment: Callable[..., Any], printed: Callable[..., list[str]]
) -> None:
    """Whoever skips the last passage sees the summary, not a chord that nobody waits for."""
    for width, height in SIZES:
        over = moment(verse, phase=FINISHED, step=3)
        assert over.target is None
        text = "\n".join(printed(dashboard(over, width=width, height=height, theme=Theme()), width))
        assert "this take" in text
        assert "─ play " not in text
        assert re.search(r"miss(es)?: 2 of 8 steps, then broken off\.", text)


@pytest.mark.parametrize("theme", THEMES)
@pytest.mark.parametrize("height", [5, 9])
def test_what_may_still_change(
    verse: Plan, moment: Callable[..., Any], verdict_on: Callable[..., Any], theme: Theme, height: int
) -> None:
    """It says "so far" and is dim, nothing of it bold; the settled one is not. A hit looks as ever, but for dots."""
    for grade in (NEAR, MISS):
        verdict = verdict_on(verse, 1, grade, (Fault("top_note", "top note is D4, the plan says E4"),))
        settled = heard_rows(moment(verse, verdict=verdict), 41, height, theme)
        unsettled = heard_rows(moment(verse, verdict=replace(verdict, settled=False)), 41, height, theme)
        assert "so far" in _text(unsettled)
        assert "so far" not in _text(settled)
        sign = theme.signs.grade(grade)
        bar, quiet = (next(row for row in rows if sign in _text([row])) for rows in (settled, unsettled))
        assert all(part.style.dim and not part.style.bold for part in quiet)
        assert not any(part.style and part.style.dim for part in bar)
        assert _text(settled).startswith("top note is D4")
    hit = verdict_on(verse, 1, HIT)
    settled = heard_rows(moment(verse, verdict=hit), 41, height, theme)
    unsettled = heard_rows(moment(verse, verdict=replace(hit, settled=False)), 41, height, theme)
    assert [[part.style for part in row] for row in settled] == [[part.style for part in row] for row in unsettled]
    assert _text(unsettled).replace("...", "   ") == _text(settled)


def test_counts_are_of_what_is_settled(
    verse: Plan, moment: Callable[..., Any], verdict_on: Callable[..., Any], printed: Callable[..., list[str]]
) -> None:
    """A verdict that may still change is in no count, whatever it says."""
    near = replace(verdict_on(verse, 2, NEAR), settled=False)
    for width, height in SIZES:
        for shown in (moment(verse, verdict=near), moment(verse, verdict=replace(near, grade=HIT))):
            text = "\n".join(printed(dashboard(shown, width=width, height=height, theme=Theme()), width))
            assert f"{UNICODE.hit} 1 hit " in text
            assert f"{UNICODE.near} 1 near " in text


def test_a_roll_and_a_pattern_stand_beneath_the_verdict(
    verse: Plan, moment: Callable[..., Any], verdict_on: Callable[..., Any], printed: Callable[..., list[str]]
) -> None:
    """How long the roll took, and what became of the pattern of the chord that was left, by its name."""
    rolled = verdict_on(verse, 2, HIT, spread_ms=612.0)
    pattern = PatternVerdict(4, 3, (3,), words=("the up-stroke on 2-and was left out", "even to within 20 ms"))
    shown = moment(verse, verdict=rolled, step=3, asides=((0, pattern), (1, pattern)))
    for width, height in SIZES:
        text = "\n".join(printed(dashboard(shown, width=width, height=height, theme=Theme(ascii_only=True)), width))
        assert "rolled over 0.6 s" in text
        assert "D7: the up-stroke on 2-and was left out" in text
        assert "Am7: " not in text
        assert ASCII.hit in text
    tune = (1, Fill(("B4", "C5")))
    for asides, said in (((tune,), True), ((tune, (0, pattern)), False), (((0, Fill(("B4",))),), False)):
        text = "\n".join(printed(dashboard(replace(shown, asides=asides), width=80, height=24, theme=Theme()), 80))
        assert ("D7: over it you played B4 C5" in text) == said
        assert "Am7: over it" not in text
    touch = (1, TouchVerdict(False, None, ("the 3rd was let go half a beat before the change",)))
    for asides in ((touch,), ((0, pattern), touch), ((1, pattern), touch)):
        text = "\n".join(printed(dashboard(replace(shown, asides=asides), width=140, height=40, theme=Theme()), 140))
        assert "the 3rd was let go half a beat before the change" in text
        assert ("left out" in text) == (asides[0] == (1, pattern))
    stale = replace(shown, asides=((0, touch[1]),))
    assert "let go" not in "\n".join(printed(dashboard(stale, width=80, height=24, theme=Theme()), 80))
    large = "\n".join(printed(dashboard(shown, width=140, height=40, theme=Theme()), 140))
    assert "D7: the up-stroke on 2-and was left out; even to within 20 ms" in large
    over = moment(verse, phase=FINISHED, step=8, verdict=rolled, asides=((7, pattern),))
    text = "\n".join(printed(dashboard(over, width=80, height=24, theme=Theme()), 80))
    assert "E♭maj7♯11: the up-stroke" in text


def test_a_pause_by_itself_is_told_and_cut_by_nothing(
    verse: Plan, moment: Callable[..., Any], printed: Callable[..., list[str]]
) -> None:
    """At the foot, before a word of care, at every size; PAUSED stands on top and the key goes on."""
    words, care = "Paused while you play something else. Play Gmaj7 to go on.", "time for a rest: put the guitar down"
    for theme in THEMES:
        for width, height in SIZES:
            shown = moment(verse, phase=PAUSED, away=words, note=care)
            lines = printed(dashboard(shown, width=width, height=height, theme=theme), width)
            text = "\n".join(lines)
            assert words in text
            assert text.index(words) < text.index(care)
            assert "PAUSED" in lines[1]
            assert "go on" in lines[-1]
    waiting = moment(verse, phase=PAUSED, away=words, verdict=None, verdicts=())
    assert "play on, or press space" in "\n".join(printed(dashboard(waiting, width=80, height=24, theme=Theme()), 80))


def _text(rows: Any) -> str:
    return "\n".join("".join(part.text for part in row) for row in rows)
