"""How far the voices go."""

from __future__ import annotations

from functools import cache
from itertools import combinations, permutations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from listener.music.movement import (
    ENTER_COST,
    LEAVE_COST,
    MERGE_COST,
    SPLIT_COST,
    least_between,
    movement,
    movement_score,
    step_word,
)

NOTES = st.lists(st.integers(40, 64), min_size=1, max_size=6)
FEW = st.lists(st.integers(40, 56), max_size=4)


def pairs(size: int) -> st.SearchStrategy[tuple[list[int], list[int]]]:
    """Two rows of notes of one size."""
    row = st.lists(st.integers(40, 76), min_size=size, max_size=size)
    return st.tuples(row, row)


SAME_SIZE = st.integers(1, 6).flatmap(pairs)


def brute_force(before: list[int], after: list[int]) -> tuple[int, int]:
    """Cheapest (cost, semitones) over every set of uncrossed links between two rows of voices.

    A voice with a second link splits or merges once for each link beyond its first; one without enters or leaves.
    """
    before, after = sorted(before), sorted(after)
    every = [(i, j) for i in range(len(before)) for j in range(len(after))]
    best = (10**6, 10**6)
    for count in range(max(1, len(before) + len(after))):
        for links in combinations(every, count):
            if any((a - c) * (b - d) < 0 for (a, b), (c, d) in combinations(links, 2)):
                continue
            left = len(before) - len({i for i, _ in links})
            entered = len(after) - len({j for _, j in links})
            # Of the links of one voice all but one are splits or merges.
            splits = count - len({i for i, _ in links})
            merges = count - len({j for _, j in links})
            semitones = sum(abs(after[j] - before[i]) for i, j in links)
            cost = semitones + left * LEAVE_COST + entered * ENTER_COST + splits * SPLIT_COST + merges * MERGE_COST
            best = min(best, (cost, semitones))
    return best


@given(FEW, FEW)
def test_unequal_sizes_are_aligned_at_least_cost(before: list[int], after: list[int]) -> None:
    """The alignment of voices of unequal number is as cheap as the best of all uncrossed ones."""
    if len(before) == len(after):
        after = after[1:]
    found = movement(before, after)
    assert (found.cost, found.semitones) == brute_force(before, after)


def plainly(before: list[int], after: list[int]) -> tuple[int, ...]:
    """The moves of the voices that go on where none splits or merges: the cheapest, of these the ones with the fewest
    semitones. Of equal ones the uppermost voices go on if they may, and below them a voice rather leaves than another
    enters, and rather enters than goes on."""

    @cache
    def least(i: int, j: int) -> tuple[int, int]:
        return min((price for price, _ in ways(i, j).values()), default=(0, 0))

    def ways(i: int, j: int) -> dict[str, tuple[tuple[int, int], tuple[int, int]]]:
        found = {}
        for way, there, cost, far in (
            ("leaves", (i - 1, j), LEAVE_COST, 0),
            ("enters", (i, j - 1), ENTER_COST, 0),
            ("goes on", (i - 1, j - 1), size(i, j), size(i, j)),
        ):
            if min(there) >= 0:
                rest = least(*there)
                found[way] = ((rest[0] + cost, rest[1] + far), there)
        return found

    def size(i: int, j: int) -> int:
        return abs(after[j - 1] - before[i - 1])

    at, order, moves = (len(before), len(after)), ("goes on", "leaves", "enters"), list[int]()
    while all(at):
        here = ways(*at)
        way = next(way for way in order if here[way][0] == least(*at))
        if way == "goes on":
            moves.append(after[at[1] - 1] - before[at[0] - 1])
        at, order = here[way][1], ("leaves", "enters", "goes on")
    return tuple(reversed(moves))


@given(st.sets(st.integers(30, 60), max_size=9), st.sets(st.integers(30, 60), max_size=9))
@example({53, 55}, {54})  # may come from below or from above at one cost
@example({50, 56}, {53})
def test_of_different_notes_none_splits_and_ties_have_a_rule(ones: set[int], others: set[int]) -> None:
    """Where no note is there twice, voices only go on, enter and leave, and which of them do is settled."""
    before, after = sorted(ones), sorted(others)
    if len(before) == len(after):
        after = after[1:]
    found = movement(before, after)
    assert found.voices == plainly(before, after)
    assert (found.split, found.merged) == (0, 0)
    assert (found.left, found.entered) == (len(before) - len(found.voices), len(after) - len(found.voices))


@given(SAME_SIZE)
def test_rank_pairing_is_the_cheapest(rows: tuple[list[int], list[int]]) -> None:
    """For equal sizes no pairing of the voices moves less than the one by rank."""
    before, after = rows[0][:5], rows[1][:5]
    best = min(sum(abs(b - a) for a, b in zip(before, order, strict=True)) for order in permutations(after))
    assert movement(before, after).semitones == best


@given(NOTES, NOTES)
def test_going_back_costs_the_same(before: list[int], after: list[int]) -> None:
    """Reversed, a change costs as much; who entered leaves."""
    there, back = movement(before, after), movement(after, before)
    assert (there.cost, there.semitones, there.common) == (back.cost, back.semitones, back.common)
    assert there.entered + there.split - there.left - there.merged == len(after) - len(before)
    assert back.entered + back.split - back.left - back.merged == len(before) - len(after)


@given(NOTES)
def test_staying_is_free(notes: list[int]) -> None:
    """From a voicing to itself nothing moves."""
    found = movement(notes, notes)
    assert (found.cost, found.largest, found.common) == (0, 0, len(notes))


@given(st.integers(1, 5).flatmap(lambda n: st.lists(st.lists(st.integers(40, 76), min_size=n, max_size=n), min_size=3)))
def test_no_way_round_is_shorter(rows: list[list[int]]) -> None:
    """Triangle inequality: a stop on the way never makes the way shorter."""
    one, other, third = rows[:3]
    assert movement(one, third).cost <= movement(one, other).cost + movement(other, third).cost


@given(NOTES, NOTES, st.integers(-12, 12))
def test_height_does_not_matter(before: list[int], after: list[int], semitones: int) -> None:
    """Transposed together, two voicings are as far apart as before."""
    moved = movement([note + semitones for note in before], [note + semitones for note in after])
    assert moved == movement(before, after)


@given(NOTES, NOTES)
def test_the_fields_agree(before: list[int], after: list[int]) -> None:
    """Semitones, common tones, largest move and cost all follow from the voices and the counts."""
    found = movement(before, after)
    assert found.semitones == sum(map(abs, found.voices))
    assert found.common == found.voices.count(0)
    assert found.largest == max(map(abs, found.voices), default=0)
    prices = (found.entered * ENTER_COST, found.left * LEAVE_COST, found.split * SPLIT_COST, found.merged * MERGE_COST)
    assert found.cost == found.semitones + sum(prices)
    assert found.as_json()["voices"] == list(found.voices)


@pytest.mark.parametrize(
    ("before", "after", "expected"),
    [
        ([48, 55, 64], [48, 57, 65], {"voices": (0, 2, 1), "common": 1, "largest": 2, "cost": 3}),
        ([48, 55, 64], [48, 55, 64, 72], {"voices": (0, 0, 0), "entered": 1, "cost": 3}),
        ([48, 55, 64, 72], [48, 55, 64], {"voices": (0, 0, 0), "left": 1, "cost": 3}),
        ([60], [60, 60], {"voices": (0, 0), "split": 1, "cost": 2}),
        ([60, 64], [62], {"cost": 5, "semitones": 2, "left": 1}),
        ([60, 60], [60], {"voices": (0, 0), "merged": 1, "cost": 2}),
        ([], [60, 64], {"voices": (), "entered": 2, "cost": 6}),
    ],
)
def test_examples(before: list[int], after: list[int], expected: dict[str, object]) -> None:
    """Changes worked out by hand."""
    found = movement(before, after)
    assert {name: getattr(found, name) for name in expected} == expected


@given(st.lists(st.integers(0, 11), min_size=1, max_size=5), st.integers(-30, 30), st.integers(-30, 30))
def test_least_between_is_no_more_than_any_voicing_moves(classes: list[int], one: int, other: int) -> None:
    """The least between two chords is symmetric, ignores octaves and bounds real movement from below."""
    target = [(pitch_class + other) % 12 for pitch_class in classes]
    least = least_between(classes, target)
    assert least == least_between(target, classes)
    assert least == least_between([note + 12 * one for note in classes], target)
    assert least <= movement([60 + note for note in classes], [60 + note for note in target]).semitones


def test_least_between_needs_equal_sizes() -> None:
    """Three tones cannot all become four."""
    with pytest.raises(ValueError, match="same number"):
        least_between([0, 4, 7], [0, 4, 7, 10])


def test_step_words() -> None:
    """A hold is 0, a step 1-2, a skip 3-4, a leap 5 or more, up or down."""
    words = [step_word(distance) for distance in (0, 1, -2, 3, -4, 5, -12)]
    assert words == ["hold", "step", "step", "skip", "skip", "leap", "leap"]


@given(st.integers(0, 60), st.integers(0, 60), st.integers(1, 6))
def test_movement_score(least: int, more: int, voices: int) -> None:
    """100 when nobody could have moved less, and less the further one went."""
    assert movement_score(least, least, voices) == 100.0
    assert movement_score(least, least + more, voices) <= 100.0
    assert movement_score(least, least + more + 1, voices) <= movement_score(least, least + more, voices)
    assert movement_score(3, 9, 3) == 50.0
    assert movement_score(0, 0, 0) == 0.0
