"""Somebody who practises is there, however they do it; who noodles is away (simulated people, tests/lab)."""

from __future__ import annotations

import pytest
from lab.measure import take_of
from lab.people.own_pace import OwnPace
from lab.people.take import Take, Way, drill, practise
from lab.people.ways import NOODLING, Bars, Noodling, Once, WithClick

from listener.hearing.pickup import make_pickup
from listener.session.take.away import OWN_PACE_S
from listener.session.take.practice import Practice, TakeSettings
from listener.session.take.presence import Presence
from listener.session.take.state import PAUSED

LONG_NOODLING = (
    Way("own pace", OwnPace(before=(Once(Noodling((70.0, 80.0))),))),
    Way("click", WithClick(gaps=Bars((10, 12), NOODLING))),
)


def paused_at_s(take: Take) -> list[tuple[float, float]]:
    """From when to when a take with this player was paused, in the player's seconds."""
    practice = Practice(take.prepared.plan, take.pickup, TakeSettings(tempo=take.tempo))
    timetable, anchor = practice.timetable, take.anchor
    later_s = timetable.due_s[0] - anchor.time_s if timetable is not None and anchor is not None else 0.0
    found: list[tuple[float, float]] = []
    since_s: float | None = None
    pending = [message._replace(time_s=message.time_s + later_s) for message in take.messages]
    end_s, now_s, fed = pending[-1].time_s + 2.0, 0.0, 0
    while now_s < end_s and not practice.ended:
        now_s += 0.05
        while fed < len(pending) and pending[fed].time_s <= now_s:
            practice.feed(pending[fed])
            fed += 1
        practice.tick(now_s)
        is_paused = practice.snapshot(now_s).phase == PAUSED
        if is_paused and since_s is None:
            since_s = now_s
        elif not is_paused and since_s is not None:
            found.append((since_s - later_s, now_s - later_s))
            since_s = None
    return found if since_s is None else [*found, (since_s - later_s, now_s - later_s)]


@pytest.mark.parametrize(
    "way",
    [
        "click: eighths straight", "click: picked from the bass", "click: many tune notes above",
        "click: stray strings", "click: hardly anything right", "own pace: strummed on and on",
        "own pace: runs above", "own pace: very slow", "own pace: the grip tried",
        "own pace: slips in a row", "own pace: from the top", "own pace: hesitating",
    ],
)  # fmt: skip
def test_who_practises_is_never_away(way: str) -> None:
    """Whatever they play, right or wrong, slowly or with a tune above: nothing pauses."""
    assert paused_at_s(take_of(way, "four-oars", 5, "single", "none")) == []


@pytest.mark.parametrize("way", LONG_NOODLING)
def test_who_noodles_is_away(way: Way) -> None:
    """It pauses while they noodle, after four bars or half a minute at the soonest: in three takes of four at least,
    for now and then noodling is a chord of the drill. At own pace it goes on again soon after they have come back;
    these people do not hear that the click has stopped."""
    count = 0
    for seed in range(1, 5):
        take = practise(way, drill("four-oars"), seed, pickup=make_pickup("single"))
        (quiet,) = take.truth.quiet
        away_s = OWN_PACE_S if take.tempo is None else 4 * take.prepared.plan.drill.meter[0] * 60 / take.tempo
        paused = paused_at_s(take)[: None if take.tempo is None else 1]
        count += bool(paused)
        assert all(quiet.start_s + away_s - 5.0 < since_s < quiet.end_s + 1.0 for since_s, _ in paused)
        assert take.tempo is not None or all(until_s < quiet.end_s + 8.0 for _, until_s in paused)
    assert count >= 3


def test_half_of_what_is_played() -> None:
    """One stroke in three that looks like somebody is nobody, nor is a single one; one in two is."""
    here, away = Presence(), Presence()
    for number in range(30):
        here.note(0.5 * number)
        away.note(0.5 * number)
        if number % 2 == 0:
            here.found(0.5 * number)
        if number % 3 == 2:
            away.found(0.5 * number)
    once = Presence()
    once.note(1.0)
    once.found(1.0)
    assert once.last_s is None
    assert here.last_s == 14.0
    assert away.last_s is None
    away.judged(20.0)
    assert away.last_s == 20.0
    away.found(None)
    assert away.last_s is None
