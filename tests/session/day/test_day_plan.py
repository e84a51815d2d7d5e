"""The plan for a day keeps its promises whatever is due: the minutes, the rests, the order, the mixing."""

from __future__ import annotations

from dataclasses import replace

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from listener.session.day.day import AGAIN, CHANGES, DUE, FREE, NEW, REST, WARM_UP, Choice, DueSkill, Piece
from listener.session.day.plan import REST_MINUTES, plan_day
from listener.session.rest import AT_THE_LIMIT

KEYS = [f"skill {number}" for number in range(12)]
GROUPS = ["spread", "close", "drop 2"]
PIECES = st.builds(
    Piece,
    drill=st.sampled_from([f"drill-{number}" for number in range(9)]),
    title=st.just("A drill"),
    minutes=st.floats(0.2, 30),
    tempo=st.floats(20, 200),
    group=st.sampled_from(GROUPS),
    strain=st.floats(0, 1),
    covers=st.frozensets(st.sampled_from(KEYS), max_size=6),
)
SOME = st.lists(PIECES, max_size=6, unique_by=lambda piece: piece.drill).map(tuple)
SKILLS = st.lists(
    st.builds(DueSkill, key=st.sampled_from(KEYS), urgency=st.floats(0, 1), group=st.sampled_from(GROUPS)),
    max_size=10,
    unique_by=lambda skill: skill.key,
).map(tuple)
CHOICES = st.builds(Choice, due=SKILLS, weak=SKILLS, played=SOME, fresh=SOME)
MINUTES = st.floats(5, 240)
LIMITS_S = st.floats(300, 3600)


@settings(deadline=None)
@given(CHOICES, MINUTES, LIMITS_S)
def test_never_longer_than_there_is_time(choice: Choice, minutes: float, limit_s: float) -> None:
    """All items together, rests too, fit into the minutes; there is at least one, and none is empty."""
    day = plan_day(choice, minutes, limit_s)
    assert 0 < day.minutes <= minutes
    assert all(slot.minutes > 0 and slot.minutes * 2 == int(slot.minutes * 2) for slot in day.slots)
    assert all(slot.piece is None or slot.times * slot.piece.minutes <= slot.minutes + 1e-6 for slot in day.slots)


@settings(deadline=None)
@given(CHOICES, MINUTES, LIMITS_S)
def test_the_hand_rests(choice: Choice, minutes: float, limit_s: float) -> None:
    """Between rests the hand works no longer than it may, also weighted by strain; rests stand between work only."""
    slots = plan_day(choice, minutes, limit_s).slots
    played = strained = 0.0
    for place, slot in enumerate(slots):
        if slot.what == REST:
            assert slot.minutes == REST_MINUTES
            assert 0 < place < len(slots) - 1
            assert REST not in (slots[place - 1].what, slots[place + 1].what)
            played = strained = 0.0
        else:
            played += slot.minutes
            strained += slot.minutes * (slot.piece.strain if slot.piece is not None else 0.0)
        assert max(played, strained / AT_THE_LIMIT) <= limit_s / 60 + 1e-9


@settings(deadline=None)
@given(CHOICES, MINUTES)
def test_easy_first_and_mixed(choice: Choice, minutes: float) -> None:
    """The warm-up comes first and only there. Two neighbours are of one kind only where nothing else is left."""
    work = [slot for slot in plan_day(choice, minutes).slots if slot.what != REST]
    assert [slot.what == WARM_UP for slot in work] == [True] + [False] * (len(work) - 1)
    rest = [slot for slot in work[1:] if slot.what != FREE]
    for place in range(1, len(rest)):
        if rest[place].group == rest[place - 1].group:
            assert {slot.group for slot in rest[place:]} == {rest[place].group}


@settings(deadline=None)
@given(CHOICES, MINUTES)
def test_what_is_asked_is_what_there_is(choice: Choice, minutes: float) -> None:
    """Due skills get due items, weak ones changes, new drills come in the order of the course; nothing is invented; and
    what found no room is counted."""
    day = plan_day(choice, minutes)
    due = {skill.key for skill in choice.due}
    shown: set[str] = set()
    for slot in day.slots:
        covers = slot.piece.covers if slot.piece is not None else frozenset(slot.skills)
        shown |= covers
        assert slot.what != DUE or covers & due
        assert slot.what != CHANGES or set(slot.skills) <= {skill.key for skill in choice.weak}
        assert slot.why or slot.what == REST
    new = [slot.piece.drill for slot in day.slots if slot.what == NEW and slot.piece is not None]
    order = [piece.drill for piece in choice.fresh]
    assert set(new) <= set(order)
    assert day.waiting == len(due - shown)
    assert plan_day(choice, minutes) == day


@settings(deadline=None)
@given(CHOICES, st.floats(5, 120))
def test_nothing_due_waits_while_there_is_time_for_more(choice: Choice, minutes: float) -> None:
    """Only when every due skill has its place do new drills and repetitions come in."""
    day = plan_day(choice, minutes)
    if day.waiting:
        assert not [slot for slot in day.slots if slot.what in (NEW, AGAIN)]


def piece(name: str, group: str, *covers: str, strain: float = 0.3, minutes: float = 1.2) -> Piece:
    return Piece(name, name, minutes, 60.0, group, strain, frozenset(covers))


COURSE = (piece("first", "spread", strain=0.2), piece("second", "close"), piece("third", "drop 2"))


def test_the_first_day() -> None:
    """Nothing known: the beginning of the course, its first drill slowly to warm up with."""
    day = plan_day(Choice(fresh=COURSE), 20)
    assert 18 <= day.minutes <= 20
    assert [(slot.what, slot.piece.drill) for slot in day.slots[:4] if slot.piece] == [
        (WARM_UP, "first"),
        (NEW, "first"),
        (NEW, "second"),
        (NEW, "third"),
    ]
    assert day.slots[0].tempo == 45.0
    assert day.waiting == 0


def test_what_is_played_again_says_when_it_was_played() -> None:
    """A drill of another day comes before those of today and says which day; one of today, or of the warm-up a minute
    ago, only comes once more."""
    warm, old, today = (
        replace(piece("warm", "spread", strain=0.1), ago="9 days ago"),
        replace(piece("old", "close"), ago="5 days ago"),
        piece("today", "drop 2"),
    )
    day = plan_day(Choice(played=(warm, old, today)), 30)
    again = [(slot.piece.drill, slot.why) for slot in day.slots if slot.piece is not None and slot.what == AGAIN]
    assert again[0] == ("old", "last played 5 days ago")
    assert {("warm", "once more"), ("today", "once more")} <= set(again)
    assert not [why for drill, why in again if drill != "old" and why != "once more"]


def test_a_usual_day() -> None:
    """The drill that shows most of what is due, the changes, the shapes that no drill has, the next of the course."""
    due = tuple(DueSkill(key, 0.5, "spread") for key in ("a", "b", "c", "d"))
    choice = Choice(
        due=due,
        weak=(DueSkill("x -> y", 0.4, "close"),),
        played=(piece("old", "close"), piece("rich", "spread", "a", "b", "c"), piece("poor", "spread", "a")),
        fresh=COURSE,
    )
    day = plan_day(choice, 20)
    kinds = [(slot.what, slot.piece.drill if slot.piece else slot.skills) for slot in day.slots if slot.what != AGAIN]
    assert kinds[0][0] == WARM_UP
    assert kinds[1:5] == [(DUE, "rich"), (CHANGES, ("x -> y",)), (DUE, ("d",)), (NEW, "first")]
    assert day.waiting == 0


def test_an_hour_has_a_rest_in_the_middle() -> None:
    """Not after an item that nobody plays any more, and not at the start: about half-way."""
    played = tuple(piece(f"drill-{number}", GROUPS[number % 3], strain=0.2) for number in range(12))
    day = plan_day(Choice(played=played), 40)
    (place,) = [place for place, slot in enumerate(day.slots) if slot.what == REST]
    before = sum(slot.minutes for slot in day.slots[:place])
    assert 12 <= before <= 25
    assert 38 <= day.minutes <= 40


def test_too_short_a_time() -> None:
    """Below five minutes there is no plan."""
    with pytest.raises(ValueError, match="a plan needs 5 minutes"):
        plan_day(Choice(), 4)
