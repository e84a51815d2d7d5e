"""Every way of practising does what its name says, on a small drill that can be counted on the fingers."""

from __future__ import annotations

from collections.abc import Callable
from itertools import groupby, pairwise
from typing import Final

import pytest

from lab.conftest import Practiser
from lab.people.habits import ANOTHER, BASS_RUN, FILL, LEAVING, TRYING
from lab.people.hands import Plucked
from lab.people.noodling import NOODLING, STRAY, TUNING
from lab.people.own_pace import SLIP
from lab.people.patterns import CHUCK
from lab.people.scene import AGAIN, CHORD
from lab.people.take import Take
from lab.people.truth import HIT_TRUTH, NO_HIT, NOT_PLAYED, Attempt
from lab.people.ways import WAYS

SEEDS: Final = range(1, 9)
STEPS: Final = [0, 1, 2, 3, 4]
#: A check is given all takes of its way.
Check = Callable[[list[Take]], None]


def runs(take: Take) -> list[tuple[int, list[bool]]]:
    """Steps in the order in which they were attempted, each with whether its attempts in a row were hits."""
    return [(step, [a.hit for a in group]) for step, group in groupby(take.truth.attempts, key=lambda a: a.step)]


def plucks_of(take: Take, doing: str) -> list[Plucked]:
    return [pluck for pluck in take.plucks if pluck.doing == doing]


def of_attempt(take: Take, number: int) -> list[Plucked]:
    return [pluck for pluck in take.plucks if pluck.attempt == number and pluck.counts]


def due_s(take: Take, step: int) -> float:
    assert take.tempo is not None
    return 2.0 + 4 * step * 60 / take.tempo


def pitches(attempt: Attempt) -> set[int]:
    return {pitch for _, pitch in attempt.struck}


# Checks that many ways share ---------------------------------------------------------------------------------


def all_right_in_order(takes: list[Take]) -> None:
    """Each chord once, right; what sounded is the chord."""
    for take in takes:
        assert runs(take) == [(step, [True]) for step in STEPS]
        assert take.truth.first == (HIT_TRUTH,) * 5
        for attempt in take.truth.attempts:
            target = set(take.prepared.targets[attempt.step].pitches)
            sounded = pitches(attempt) | {pitch for _, pitch in attempt.held if pitch in target}
            assert sounded == target
            assert take.truth.at(attempt.onset_s + 0.001) == {attempt.step}


def some(takes: list[Take], doing: str) -> None:
    """It is done in some of the takes, and never counts."""
    found = [pluck for take in takes for pluck in plucks_of(take, doing)]
    assert found
    assert all(pluck.attempt is None and not pluck.counts for pluck in found)


def right_with(*doings: str) -> Check:
    """All right in order, and these things besides, which are no attempts."""

    def check(takes: list[Take]) -> None:
        all_right_in_order(takes)
        for doing in doings:
            some(takes, doing)

    return check


def slips_like(*patterns: list[bool]) -> Check:
    """Each step's attempts are one of these, and each of these happens."""

    def check(takes: list[Take]) -> None:
        seen = []
        for take in takes:
            assert [step for step, _ in runs(take)] == STEPS
            seen += [hits for _, hits in runs(take)]
        assert {tuple(hits) for hits in seen} == {tuple(pattern) for pattern in patterns}

    return check


def both(*checks: Check) -> Check:
    def check(takes: list[Take]) -> None:
        for one in checks:
            one(takes)

    return check


# Own pace ----------------------------------------------------------------------------------------------------


def silence(takes: list[Take]) -> None:
    all_right_in_order(takes)
    for take in takes:
        (quiet,) = take.truth.quiet
        assert 18 <= quiet.end_s - quiet.start_s <= 25
        assert not [p for p in take.plucks if quiet.start_s < p.onset_s < quiet.end_s]
        assert take.truth.at(quiet.end_s - 1) == frozenset()


def different_slips(takes: list[Take]) -> None:
    slips_like([True], [False, False, True], [False, False, False, True])(takes)
    for take in takes:
        for _, group in groupby(take.truth.attempts, key=lambda a: a.step):
            wrong = [frozenset(a.struck) for a in group if not a.hit]
            assert len(set(wrong)) == len(wrong)


def same_slips(takes: list[Take]) -> None:
    slips_like([True], [False, False, True], [False, False, False, True])(takes)
    for take in takes:
        for _, group in groupby(take.truth.attempts, key=lambda a: a.step):
            first, *rest = [frozenset(a.struck) for a in group if not a.hit] or [frozenset()]
            assert len(set(rest)) <= 1
            assert not rest or first <= rest[0]  # into the first one a tone may have been held over


def one_by_one(least_s: float, most_s: float) -> Check:
    """Right, and from string to string so many seconds."""

    def check(takes: list[Take]) -> None:
        all_right_in_order(takes)
        gaps = [
            after.onset_s - before.onset_s
            for take in takes
            for number in STEPS
            for before, after in pairwise(of_attempt(take, number))
        ]
        assert least_s <= min(gaps) <= max(gaps) <= most_s

    return check


def lazy(takes: list[Take]) -> None:
    all_right_in_order(takes)
    spreads = [a.complete_s - a.onset_s for take in takes for a in take.truth.attempts if not a.held]
    assert 0.05 < min(spreads) <= max(spreads) < 0.41
    assert max(spreads) > 0.2


def goes_back(back: Callable[[int], int]) -> Check:
    """After a slip at a step the next attempt is at ``back(step)``, and then on, one by one."""

    def check(takes: list[Take]) -> None:
        assert any(not a.hit for take in takes for a in take.truth.attempts)
        for take in takes:
            for before, after in pairwise(take.truth.attempts):
                assert after.step == (before.step + 1 if before.hit else back(before.step))
            assert take.truth.attempts[-1].step == 4
            assert take.truth.attempts[-1].hit

    return check


def left_out(takes: list[Take]) -> None:
    for take in takes:
        assert sorted(take.truth.first) == [HIT_TRUTH] * 4 + [NOT_PLAYED]
        assert take.truth.first[0] == take.truth.first[4] == HIT_TRUTH


def passage_left_out(takes: list[Take]) -> None:
    for take in takes:
        played = [step for step, outcome in enumerate(take.truth.first) if outcome == HIT_TRUTH]
        assert [step for step, _ in runs(take)] == played
        assert 0 in played
        assert 4 in played
        assert len(played) < 5


def to_and_fro(takes: list[Take]) -> None:
    for take in takes:
        order = [a.step for a in take.truth.attempts]
        assert all(a.hit for a in take.truth.attempts)
        assert len(order) > 5
        backwards = [(before, after) for before, after in pairwise(order) if after != before + 1]
        assert len(set(backwards)) == 1
        assert backwards[0][1] < backwards[0][0]


def twice(takes: list[Take]) -> None:
    for take in takes:
        assert [(a.step, a.hit) for a in take.truth.attempts] == [(step, True) for step in 2 * STEPS]


def stops_early(takes: list[Take]) -> None:
    for take in takes:
        played = [a.step for a in take.truth.attempts]
        assert played == STEPS[: len(played)]
        assert 1 <= len(played) <= 3
        assert take.truth.first == (HIT_TRUTH,) * len(played) + (NOT_PLAYED,) * (5 - len(played))


def noodles(least_s: float, most_s: float) -> Check:
    """All right, and in one place something else for so long, at which the player is away."""

    def check(takes: list[Take]) -> None:
        right_with(NOODLING)(takes)
        for take in takes:
            (quiet,) = take.truth.quiet
            assert least_s - 2 < quiet.end_s - quiet.start_s < most_s + 2
            for pluck in plucks_of(take, NOODLING):
                assert quiet.start_s <= pluck.onset_s <= quiet.end_s + 0.5
                assert take.truth.at(pluck.onset_s) == frozenset()
                assert pluck.visit is None

    return check


def strummed(least: int, most: int) -> Check:
    """Each chord so many times more; a later round that goes wrong is no attempt."""

    def check(takes: list[Take]) -> None:
        right_with(AGAIN)(takes)
        for take in takes:
            for number, attempt in enumerate(take.truth.attempts):
                later = [p for p in plucks_of(take, AGAIN) if p.visit == attempt.visit]
                strokes = sum(b.onset_s - a.onset_s > 0.15 for a, b in pairwise([*of_attempt(take, number), *later]))
                assert least <= strokes <= most

    return check


def tune_above(takes: list[Take]) -> None:
    right_with(FILL)(takes)
    for take in takes:
        for pluck in plucks_of(take, FILL):
            (step,) = take.truth.at(pluck.onset_s)
            top = take.prepared.targets[step].pitches[-1]
            assert top < pluck.pitch <= top + 9


def bass_runs(takes: list[Take]) -> None:
    """The last note is at most three semitones from the next chord's bass."""
    for take in takes:
        for before, after in pairwise(take.plucks):
            if before.doing == BASS_RUN and after.doing == CHORD:
                step = take.truth.attempts[after.attempt or 0].step
                assert 1 <= abs(before.pitch - take.prepared.targets[step].pitches[0]) <= 3


def hand_leaves(takes: list[Take]) -> None:
    """Open strings, soft and short."""
    for take in takes:
        for pluck in plucks_of(take, LEAVING):
            assert pluck.pitch == take.prepared.open_strings[pluck.string - 1]
            assert pluck.end_s - pluck.onset_s < 0.41
            assert pluck.velocity < 95


def hammered(takes: list[Take]) -> None:
    """A tone that does not count leads to one a step away on its string, within a seventh of a second."""
    all_right_in_order(takes)
    graces = [
        (pluck, next(p for p in take.plucks if p.string == pluck.string and p.onset_s > pluck.onset_s))
        for take in takes
        for pluck in take.plucks
        if pluck.attempt is not None and not pluck.counts
    ]
    assert graces
    for grace, arrived in graces:
        assert 0.04 < arrived.onset_s - grace.onset_s < 1 / 7
        assert 1 <= abs(arrived.pitch - grace.pitch) <= 2
        assert arrived.counts
        assert grace.end_s <= arrived.onset_s


def wrong_chord(takes: list[Take]) -> None:
    """Before the right chord, and an attempt at it."""
    slips_like([True], [False, True])(takes)
    for take in takes:
        wrong = {pluck.attempt for pluck in plucks_of(take, ANOTHER)}
        assert wrong == {number for number, a in enumerate(take.truth.attempts) if not a.hit}


def of_no_drill(takes: list[Take]) -> None:
    wrong_chord(takes)
    for take in takes:
        chords = {frozenset(places) for places in take.prepared.chords}
        for attempt in take.truth.attempts:
            if not attempt.hit:
                assert all({(s, p) for s, _, p in chord} != set(attempt.struck) for chord in chords)


def tunes_up(takes: list[Take]) -> None:
    right_with(TUNING)(takes)
    for take in takes:
        assert max(p.onset_s for p in plucks_of(take, TUNING)) < take.truth.attempts[0].onset_s
        assert {p.pitch for p in plucks_of(take, TUNING)} & set(take.prepared.open_strings)


def paced(least_s: float, most_s: float) -> Check:
    """From chord to chord so many seconds, human unevenness included."""

    def check(takes: list[Take]) -> None:
        slips_like([True], [False, True])(takes)
        for take in takes:
            onsets = [a.onset_s for a in take.truth.attempts]
            assert least_s < (onsets[-1] - onsets[0]) / (len(onsets) - 1) < most_s

    return check


def hesitates(takes: list[Take]) -> None:
    """First some tones of the chord together, then all of it: two attempts."""
    slips_like([True], [False, True])(takes)
    for take in takes:
        for before, after in pairwise(take.truth.attempts):
            if not before.hit:
                assert 2 <= len(before.struck) < len(after.struck)
                assert set(before.struck) < set(after.struck)


def begun_and_filled(takes: list[Take]) -> None:
    """Some strings, and a while later the others: one attempt, and right."""
    all_right_in_order(takes)
    late = [a.complete_s - a.onset_s for take in takes for a in take.truth.attempts]
    assert any(spread_s > 0.25 for spread_s in late)
    assert any(spread_s < 0.12 for spread_s in late)


def noodles_around(takes: list[Take]) -> None:
    right_with(NOODLING)(takes)
    for take in takes:
        onsets = [p.onset_s for p in plucks_of(take, NOODLING)]
        assert min(onsets) < take.truth.attempts[0].onset_s
        assert max(onsets) > take.truth.attempts[-1].onset_s


# With the click ----------------------------------------------------------------------------------------------


def on_time(takes: list[Take]) -> None:
    """First attempts are timed by their first note against when they are due, and judged by it."""
    for take in takes:
        for step in STEPS:
            attempt = take.truth.first_attempt(step)
            if attempt is not None:
                assert attempt.late_ms is not None
                assert attempt.late_ms == pytest.approx(1000 * (attempt.onset_s - due_s(take, step)), abs=0.01)
                assert abs(attempt.late_ms) <= 80 or not attempt.hit


def clicked(takes: list[Take]) -> None:
    """Every step is attempted on time: right, or wrong, or wrong and then right but late."""
    on_time(takes)
    seen = set()
    for take in takes:
        assert [step for step, _ in runs(take)] == STEPS
        for step, hits in runs(take):
            attempt = take.truth.first_attempt(step)
            assert attempt is not None
            assert attempt.late_ms is not None
            # A slip may have kept the first string from sounding.
            assert abs(attempt.late_ms) < 50 or (take.truth.first[step] == NO_HIT and attempt.late_ms > 0)
            seen.add(tuple(hits))
        for number, attempt in enumerate(take.truth.attempts):
            target = set(take.prepared.targets[attempt.step].pitches)
            sounded = pitches(attempt) | {pitch for _, pitch in attempt.held if pitch in target}
            assert attempt.hit == (sounded == target and abs(attempt.late_ms or 0) <= 80)
            if sounded != target:
                assert SLIP in {p.doing for p in take.plucks if p.attempt == number}
    assert seen <= {(True,), (False,), (False, False)}
    assert (True,) in seen


def with_again(*parts: float) -> Check:
    """Strums go on in eighths, whose second half comes at one of these parts of a beat."""

    def check(takes: list[Take]) -> None:
        clicked(takes)
        some(takes, AGAIN)
        for take in takes:
            assert take.tempo is not None
            beat_s = 60 / take.tempo
            starts = [b.onset_s for a, b in pairwise(take.plucks) if b.onset_s - a.onset_s > 0.135]
            wide_s = 0.06 / beat_s
            for start_s in starts:
                part = (start_s - 2.0) / beat_s % 1.0
                low, high = min(parts), max(parts)
                assert part < wide_s or part > 1 - wide_s or low - wide_s < part < high + wide_s, start_s

    return check


def top_strings(takes: list[Take]) -> None:
    clicked(takes)
    some(takes, AGAIN)


def open_at_the_change(takes: list[Take]) -> None:
    top_strings(takes)
    for take in takes:
        beat_s = 60 / (take.tempo or 60)
        for step in STEPS:
            last = [
                p for p in take.plucks if due_s(take, step) + 3.4 * beat_s < p.onset_s < due_s(take, step + 1) - 0.1
            ]
            assert last
            assert all(p.pitch == take.prepared.open_strings[p.string - 1] and p.doing == AGAIN for p in last)


def picked_on(takes: list[Take]) -> None:
    """One string at a time; the first round is the attempt, later ones are not."""
    clicked(takes)
    some(takes, AGAIN)
    for take in takes:
        slipped = {pluck.visit for pluck in plucks_of(take, SLIP)}  # a string too many is brushed along
        rest = [pluck for pluck in take.plucks if pluck.visit not in slipped]
        assert all(b.onset_s - a.onset_s > 0.025 for a, b in pairwise(rest))


def tune_with_click(takes: list[Take]) -> None:
    clicked(takes)
    some(takes, FILL)


def drops(takes: list[Take]) -> None:
    on_time(takes)
    for take in takes:
        missing = [step for step, outcome in enumerate(take.truth.first) if outcome == NOT_PLAYED]
        assert len(missing) == 1  # a third of five chords
        assert take.truth.at(due_s(take, missing[0]) + 1.0) == frozenset()


def gap(first: bool, last: bool) -> Check:
    """Some steps in a row are not played: at the beginning, in the middle, to the end."""

    def check(takes: list[Take]) -> None:
        on_time(takes)
        for take in takes:
            played = [outcome != NOT_PLAYED for outcome in take.truth.first]
            shape = [kind for kind, _ in groupby(played)]
            assert shape in ([False, True], [True, False, True], [True, False])
            assert first or played[0]
            assert not first or not played[0]
            assert not last or not played[-1]
            assert take.truth.quiet

    return check


def late(takes: list[Take]) -> None:
    on_time(takes)
    assert {a.hit for take in takes for a in take.truth.attempts} == {True, False}
    assert any(100 < (a.late_ms or 0) < 260 for take in takes for a in take.truth.attempts)


def pushed(least_ms: float) -> Check:
    def check(takes: list[Take]) -> None:
        on_time(takes)
        early = [a for take in takes for a in take.truth.attempts if (a.late_ms or 0) < -least_ms]
        assert early
        assert all(not a.hit for a in early if (a.late_ms or 0) < -80)
        near = [abs(abs(a.late_ms or 0) - 80) for take in takes for a in take.truth.attempts]
        assert min(near) > 11

    return check


def bass_and_chord(takes: list[Take]) -> None:
    clicked(takes)
    for take in takes:
        for attempt in take.truth.attempts:
            if attempt.hit and not attempt.held:
                first, *rest = attempt.struck
                assert first[0] == max(string for string, _ in attempt.struck)
                assert rest
                assert attempt.complete_s - attempt.onset_s > 0.4


def chucks(takes: list[Take]) -> None:
    clicked(takes)
    some(takes, CHUCK)
    assert all(p.end_s - p.onset_s < 0.08 for take in takes for p in plucks_of(take, CHUCK))


def loses(takes: list[Take]) -> None:
    """Some chords in a row a beat behind: attempts at their own steps, and not right."""
    on_time(takes)
    for take in takes:
        firsts = [attempt for step in STEPS if (attempt := take.truth.first_attempt(step))]
        behind = [attempt.step for attempt in firsts if (attempt.late_ms or 0) > 300]
        assert behind
        assert behind == list(range(behind[0], behind[-1] + 1))
        assert all(take.truth.first[step] == NO_HIT for step in behind)


def hardly(takes: list[Take]) -> None:
    on_time(takes)
    wrong = sum(outcome == NO_HIT for take in takes for outcome in take.truth.first)
    assert wrong > len(takes)


def several(takes: list[Take]) -> None:
    """Whatever it was: takes differ, and attempts are of the chord that the player was at."""
    assert len({tuple(pluck.pitch for pluck in take.plucks) for take in takes}) > 2
    for take in takes:
        for attempt in take.truth.attempts:
            assert attempt.step in take.truth.near(attempt.onset_s, 0.01)


CHECKS: Final[dict[str, Check]] = {
    "click: one stroke a chord": both(clicked, hardly),
    "click: chords dropped": drops,
    "click: late chords": late,
    "click: eighths straight": with_again(0.5),
    "click: eighths swung": with_again(0.6, 0.7),
    "click: up strokes on top strings": top_strings,
    "click: eighths, open strings at the change": open_at_the_change,
    "click: eighths with gaps": top_strings,
    "click: syncopated": with_again(0.5),
    "click: picked from the bass": picked_on,
    "click: p i m a": picked_on,
    "click: tune notes above": tune_with_click,
    "click: many tune notes above": tune_with_click,
    "click: pushed a little": pushed(40),
    "click: pushed an eighth": pushed(300),
    "click: bass, then the rest": bass_and_chord,
    "click: chucks": chucks,
    "click: stray strings": both(clicked, lambda takes: some(takes, STRAY)),
    "click: bass runs": both(clicked, lambda takes: some(takes, BASS_RUN), bass_runs),
    "click: strums and bass runs": both(clicked, lambda takes: some(takes, BASS_RUN), bass_runs),
    "click: loses the beat": loses,
    "click: hardly anything right": hardly,
    "click: rolled": clicked,
    "click: tones hammered on": clicked,
    "click: comes in late": gap(first=True, last=False),
    "click: stops and comes back": gap(first=False, last=False),
    "click: noodles and comes back": both(gap(first=False, last=False), lambda takes: some(takes, NOODLING)),
    "click: stops for good": gap(first=False, last=True),
    "click: strums, comes in late, pushed": several,
    "click: swung strums, stops and comes back, slips": several,
    "click: picked, dropped, slips": several,
    "click: tune notes, pushed, slips": several,
    "click: several things at once": several,
    "click: arpeggio drill": clicked,
    "click: arpeggio drill, picked on": picked_on,
    "own pace: clean": all_right_in_order,
    "own pace: silence in the middle": silence,
    "own pace: a slip, then right": slips_like([True], [False, True]),
    "own pace: slips in a row": different_slips,
    "own pace: the same slip again": same_slips,
    "own pace: slips, and on": slips_like([True], [False]),
    "own pace: rolled slowly": one_by_one(0.06, 0.45),
    "own pace: lazy strums": lazy,
    "own pace: the grip tried": right_with(TRYING),
    "own pace: two back": goes_back(lambda step: max(0, step - 2)),
    "own pace: from the top": goes_back(lambda step: 0),
    "own pace: one left out": left_out,
    "own pace: a passage left out": passage_left_out,
    "own pace: a change to and fro": to_and_fro,
    "own pace: twice through": twice,
    "own pace: stops early": stops_early,
    "own pace: noodling": noodles(5, 9),
    "own pace: noodling for long": noodles(15, 40),
    "own pace: strummed again": strummed(1, 4),
    "own pace: strummed, with slips": slips_like([True], [False, True]),
    "own pace: strummed on and on": strummed(5, 9),
    "own pace: picked": one_by_one(0.09, 0.9),
    "own pace: picked, two rounds": right_with(AGAIN),
    "own pace: picked on and on": right_with(AGAIN),
    "own pace: bass first": begun_and_filled,
    "own pace: filled up": begun_and_filled,
    "own pace: tune notes above": tune_above,
    "own pace: runs above": tune_above,
    "own pace: bass runs": both(right_with(BASS_RUN), bass_runs),
    "own pace: one string again": right_with(AGAIN),
    "own pace: strings sound when the hand leaves": both(right_with(LEAVING), hand_leaves),
    "own pace: tones hammered on": hammered,
    "own pace: stray strings": right_with(STRAY),
    "own pace: another chord of the drill": wrong_chord,
    "own pace: a chord of no drill": of_no_drill,
    "own pace: tuning up first": tunes_up,
    "own pace: noodling before and after": noodles_around,
    "own pace: very slow": paced(2.5, 9.0),
    "own pace: very fast": paced(0.35, 1.3),
    "own pace: hesitating": hesitates,
    "own pace: arpeggio drill": one_by_one(0.1, 0.9),
    "own pace: arpeggio drill, slips": slips_like([True], [False, True]),
    "own pace: tuning, noodling, slips": several,
    "own pace: strums, tune notes, strays": both(right_with(AGAIN, FILL, STRAY), several),
    "own pace: rolled, slips, two back": several,
    "own pace: trying, slips, a break": several,
    "own pace: picked, slips, strays": several,
    "own pace: several things at once": several,
    "own pace: a lesson": several,
    "own pace: from the top, left out, strummed": several,
    "own pace: wrong chords, slips in a row, noodling": several,
}


def test_every_way_is_checked() -> None:
    assert set(CHECKS) == set(WAYS)


@pytest.mark.parametrize("way", WAYS)
def test_what_the_name_says(way: str, practise_small: Practiser) -> None:
    CHECKS[way]([practise_small(way, seed) for seed in SEEDS])


def test_chords_are_words_of_the_truth() -> None:
    """The words that plucks are marked with are all different."""
    words = [ANOTHER, BASS_RUN, LEAVING, FILL, TRYING, NOODLING, STRAY, TUNING, SLIP, CHUCK, AGAIN, CHORD]
    assert len(set(words)) == len(words)
