"""Laws that every take keeps, whoever plays what."""

from __future__ import annotations

from collections import defaultdict

from how_many import THOROUGH, examples, some
from hypothesis import given, settings
from hypothesis import strategies as st

from lab.following import told_steps
from lab.measure import take_of
from lab.people.hands import Plucked
from lab.people.slips import SLIPS, draw_slip
from lab.people.take import Take, drill, drill_names
from lab.people.truth import HIT_TRUTH, NO_HIT, NOT_PLAYED
from lab.people.ways import WAYS
from listener.hearing.events import on_grid
from listener.hearing.pickup import make_pickup

_DRILLS = st.sampled_from(["paddock-gate", "ferry-landing", "barn-waltz", "grey-heron", "far-shore", "boat-builders"])
_SEEDS = st.integers(0, 10**6)


@st.composite
def takes(draw: st.DrawFn, errors: tuple[str, ...] = ("none", "typical", "hard")) -> Take:
    way, name = draw(st.sampled_from(list(WAYS))), draw(_DRILLS)
    pickup = draw(st.sampled_from(["single", "per-string"]))
    return take_of(way, name, draw(_SEEDS), pickup, draw(st.sampled_from(errors)))


@given(takes())
@settings(max_examples=examples(80), deadline=None)
def test_messages_are_what_a_pickup_sends(take: Take) -> None:
    """In order, on the grid; every note that begins ends, and none ends that did not begin."""
    times = [message.time_s for message in take.messages]
    assert times == sorted(times)
    assert all(time_s == on_grid(time_s) >= 0 for time_s in times)
    sounding: dict[tuple[int, int], int] = defaultdict(int)
    for message in take.messages:
        kind, place = message.data[0] & 0xF0, (message.data[0] & 0x0F, message.data[1])
        if kind == 0x90:
            assert 1 <= message.data[2] <= 127
            sounding[place] += 1
        elif kind == 0x80:
            sounding[place] -= 1
            assert sounding[place] >= 0
    assert not any(sounding.values())


@given(takes())
@settings(max_examples=examples(80), deadline=None)
def test_one_string_sounds_one_note(take: Take) -> None:
    """Plucks in order; each ends when its string is plucked again, at the latest; no two at once."""
    last: dict[int, tuple[float, float]] = {}
    for pluck in take.plucks:
        assert 0 <= pluck.onset_s < pluck.end_s <= pluck.dies_s
        if pluck.string in last:
            onset_s, end_s = last[pluck.string]
            assert onset_s < pluck.onset_s
            assert end_s <= pluck.onset_s
        last[pluck.string] = (pluck.onset_s, pluck.end_s)
    onsets = [pluck.onset_s for pluck in take.plucks]
    assert onsets == sorted(onsets)


@given(takes())
@settings(max_examples=examples(80), deadline=None)
def test_the_truth_is_made_of_plucks(take: Take) -> None:
    """Attempts are plucked; each first one is the step's outcome; the player is at its step; what is no attempt is
    none's."""
    truth = take.truth
    struck: dict[int, list[Plucked]] = {number: [] for number in range(len(truth.attempts))}
    for pluck in take.plucks:
        if pluck.attempt is not None:
            struck[pluck.attempt].append(pluck)
            assert pluck.visit is not None
        else:
            assert not pluck.counts
    for number, attempt in enumerate(truth.attempts):
        counted = [pluck for pluck in struck[number] if pluck.counts]
        assert attempt.struck == tuple((pluck.string, pluck.pitch) for pluck in counted)
        assert attempt.from_s <= attempt.onset_s <= attempt.complete_s
        assert attempt.onset_s == struck[number][0].onset_s
        assert attempt.step in truth.near(attempt.onset_s, 1e-6)
        if attempt.late_ms is not None:
            assert not attempt.hit or abs(attempt.late_ms) <= take.prepared.plan.drill.timing_ms
    for step, outcome in enumerate(truth.first):
        first = truth.first_attempt(step)
        assert outcome == (NOT_PLAYED if first is None else HIT_TRUTH if first.hit else NO_HIT)
    starts = [span.start_s for span in truth.spans]
    assert starts == sorted(starts)
    assert all(quiet.start_s <= quiet.end_s for quiet in truth.quiet)


@given(takes(errors=("none",)))
@settings(max_examples=examples(30), deadline=None)
def test_without_errors_everything_is_told(take: Take) -> None:
    """But for ends that a pickup sends late."""
    told = told_steps(take)
    assert sum(told) >= len(told) - max(3, len(told) // 5)
    assert all(sent.pitch == pluck.pitch for sent, pluck in zip(take.sent, take.plucks, strict=True))


@given(st.sampled_from(list(WAYS)), _DRILLS, _SEEDS, st.sampled_from(["typical", "hard"]))
@settings(max_examples=examples(25), deadline=None)
def test_the_same_seed_is_the_same_take(way: str, name: str, seed: int, errors: str) -> None:
    """And neither pickup nor errors change what was played."""
    one, again = take_of(way, name, seed, "single", errors), take_of(way, name, seed, "single", errors)
    assert one.messages == again.messages
    assert one.truth == again.truth
    other = take_of(way, name, seed, "per-string", "none")
    assert [(p.onset_s, p.string, p.pitch, p.end_s) for p in one.plucks] == [
        (p.onset_s, p.string, p.pitch, p.end_s) for p in other.plucks
    ]
    assert one.truth == other.truth


@given(_DRILLS, st.randoms(use_true_random=False), st.data())
@settings(max_examples=examples(60), deadline=None)
def test_slips_are_slips(name: str, random: object, data: st.DataObject) -> None:
    """Each one is of strings that there are, one note on each, at frets that there are, and is not the chord."""
    from random import Random

    assert isinstance(random, Random)
    prepared = drill(name)
    meant = data.draw(st.sampled_from(prepared.chords))
    opens = prepared.open_strings
    for slip in SLIPS.values():
        places = slip(meant, opens, random)
        if places is None:
            continue
        assert len({string for string, _, _ in places}) == len(places)
        assert all(0 <= fret <= 20 and pitch == opens[string - 1] + fret for string, fret, pitch in places)
        assert {(s, p) for s, _, p in places} != {(s, p) for s, _, p in meant}
    drawn = draw_slip(meant, opens, random, lambda places: len(places) == len(meant))
    assert drawn is None or len(drawn) != len(meant)


def test_every_drill_can_be_practised_in_every_way() -> None:
    """One take each, of a few ways that ask much (while at work, of some drills, one way in turn): none fails, and
    something is played."""
    ways = ["click: p i m a", "click: bass, then the rest", "click: several things at once", "own pace: a lesson"]
    for number, name in enumerate(some(drill_names())):
        for way in ways if THOROUGH else [ways[number % len(ways)]]:
            take = take_of(way, name, 1, "single", "none")
            assert len(take.truth.attempts) >= 1
            assert len(take.truth.first) == len(take.prepared.plan.steps)


def test_pickups_used_here_exist() -> None:
    assert make_pickup("single").tells_strings is False
    assert make_pickup("per-string").tells_strings is True
