"""What comes after a take: ladder, hard spots, the whole again, the end."""

from __future__ import annotations

from collections.abc import Callable, Sequence

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.judging.verdict import GRADES, HIT, MISS, NEAR, Verdict
from listener.planning.plan import Plan
from listener.session.ladder import RULES, Ladder
from listener.session.loop import MOST_TRIES, MOST_WHOLES, Loop
from listener.session.spots import CLEAN_TIMES
from listener.session.take.practice import TakeSettings

CHORDS = [("C", (48, 55, 64)), ("F", (53, 60, 69)), ("G", (55, 62, 71)), ("C", (48, 55, 64))] * 2


@pytest.fixture
def plan(make_plan: Callable[..., Plan]) -> Plan:
    return make_plan(CHORDS)


def take(grades: Sequence[str], first: int = 0) -> list[Verdict]:
    return [Verdict(first + n, 1, grade, (), (60,), (), float(n), 0.0) for n, grade in enumerate(grades)]


def part(loop: Loop, grade: str = HIT) -> list[Verdict]:
    """The take that the loop asks for, every step with this grade."""
    last = loop.settings.last_step
    count = (7 if last is None else last) - loop.settings.first_step + 1
    return take([grade] * count, loop.settings.first_step)


def test_without_options_there_is_one_take(plan: Plan) -> None:
    """However it went, nothing comes by itself."""
    for grade in GRADES:
        assert Loop(plan, TakeSettings(60.0)).after(take([grade] * 8)).done


def test_the_ladder_goes_up_and_says_so(plan: Plan) -> None:
    """Clean takes climb by 4 percent to the top; a clean one there is the last; the rules are told where it stays."""
    loop = Loop(plan, TakeSettings(60.0), Ladder(60, 36, 64))
    tempi = []
    while not loop.done:
        tempi.append(loop.settings.tempo)
        loop = loop.after(part(loop))
    assert tempi == [60.0, 62, 64]
    assert "top of the ladder" in loop.words
    again = Loop(plan, TakeSettings(60.0), Ladder(60, 36, 64)).after(take([NEAR] + [HIT] * 7))
    assert (again.settings.tempo, again.words.startswith(RULES)) == (60, True)
    rough = Loop(plan, TakeSettings(60.0), Ladder(60, 36, 64)).after(take([MISS] * 8))
    assert rough.settings.tempo == 56
    assert "slower" in rough.words


def test_hard_spots_until_clean_then_the_whole(plan: Plan) -> None:
    """Step 3 went wrong: steps 2 and 3 are looped until clean three times in a row, then the whole, then the end."""
    loop = Loop(plan, TakeSettings(60.0), with_spots=True).after(take([HIT, HIT, NEAR, *[HIT] * 5]))
    seen = []
    for grade in (HIT, HIT, NEAR, HIT, HIT, HIT):
        seen.append((loop.settings.first_step, loop.settings.last_step, loop.spots[0].clean))
        assert "steps 2 to 3 (F to G)" in loop.words
        loop = loop.after(part(loop, grade))
    assert seen == [(1, 2, 0), (1, 2, 1), (1, 2, 2), (1, 2, 0), (1, 2, 1), (1, 2, 2)]
    assert (loop.settings.first_step, loop.settings.last_step, loop.done) == (0, None, False)
    assert loop.words == f"clean {CLEAN_TIMES} times in a row; now the whole"
    assert loop.after(part(loop)).done


def test_a_spot_is_left_for_another_day(plan: Plan) -> None:
    """After twelve tries without success it goes on, kindly."""
    loop = Loop(plan, TakeSettings(60.0), with_spots=True).after(take([NEAR, *[HIT] * 7]))
    tries = 0
    while loop.spots:
        loop, tries = loop.after(part(loop, NEAR)), tries + 1
    assert tries == MOST_TRIES
    assert "another day" in loop.words


def test_times_counts_whole_takes(plan: Plan) -> None:
    """Three times: three whole takes, each told, and it ends on the last; with hard spots, these come between."""
    loop, wholes, told = Loop(plan, TakeSettings(60.0), times=3), 0, []
    while not loop.done:
        loop, wholes = loop.after(part(loop)), wholes + 1
        told.append(loop.words)
    assert (wholes, told) == (3, ["once more, 2 of 3", "once more, 3 of 3", ""])
    spots = Loop(plan, TakeSettings(60.0), with_spots=True, times=1).after(take([MISS] * 8))
    assert spots.done


def test_keys_change_the_course(plan: Plan) -> None:
    """Next leaves the spot; another tempo moves the ladder and its limits with it."""
    loop = Loop(plan, TakeSettings(60.0), Ladder(60, 36, 64), with_spots=True).after(take([HIT] * 7 + [NEAR]))
    assert loop.spots
    assert not loop.skipped().spots
    assert loop.skipped().words == "now the whole"
    faster = loop.at_tempo(70.0)
    assert faster.ladder is not None
    assert (faster.settings.tempo, faster.ladder.tempo, faster.ladder.highest) == (70.0, 70.0, 70.0)
    assert faster.spots == loop.spots


@given(st.lists(st.sampled_from(GRADES), min_size=1, max_size=40), st.booleans(), st.booleans())
def test_it_always_ends(make_plan: Callable[..., Plan], grades: list[str], climbs: bool, spots: bool) -> None:
    """However the chords go, the loop stays within the drill and the ladder, and comes to an end by itself."""
    plan = make_plan(CHORDS)
    ladder = Ladder(60, 36, 80) if climbs else None
    loop, takes = Loop(plan, TakeSettings(60.0), ladder, spots), 0
    position = 0
    while not loop.done:
        first, last = loop.settings.first_step, loop.settings.last_step
        last = 7 if last is None else last
        assert 0 <= first <= last <= 7
        assert loop.settings.tempo is not None
        assert 36 <= loop.settings.tempo <= 80
        played = [grades[(position + n) % len(grades)] for n in range(last - first + 1)]
        position += len(played)
        loop, takes = loop.after(take(played, first)), takes + 1
        assert takes <= MOST_WHOLES * (1 + 8 * MOST_TRIES)
