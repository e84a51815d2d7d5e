"""Whose chord a stroke is: every single way to go on, laws, and what it costs."""

from __future__ import annotations

from collections.abc import Sequence
from random import Random
from time import process_time

import pytest
from how_many import examples
from hypothesis import given, settings
from hypothesis import strategies as st
from spread_chords import AM, DM, EM, RUN, WILD, C, Chord, F, G

from listener.following.follower import AT, ELSEWHERE, FILL, WRONG, Follower, Sound, StrokePlace
from listener.following.prices import HEARD_OUT, SURE_IN_SILENCE
from listener.following.scores import Wanted

B: Chord = (47, 56, 62)
ROUND = (C, F, G, AM, DM, EM, B)
OTHER_WILD: Chord = (41, 46, 51)
STEP_MS = 2000
_SIGNS = {AT: "", WRONG: "w", FILL: "f", ELSEWHERE: ""}


def follower(chords: Sequence[Chord], due_ms: Sequence[int] | None = None, *, broken: bool = False) -> Follower:
    """For a drill of these chords, two seconds each; with the click when times are given; ``broken`` for arpeggios."""
    made = Follower([Wanted(chord) for chord in chords], [STEP_MS] * len(chords), broken=broken)
    made.with_click(due_ms)
    return made


def clicked(chords: Sequence[Chord], *, broken: bool = False) -> Follower:
    """The same, the first chord due at ten seconds."""
    return follower(chords, [10_000 + STEP_MS * step for step in range(len(chords) + 1)], broken=broken)


def every(gap_ms: int, *chords: Chord, from_ms: int = 1000, ringing: Chord = ()) -> list[Sound]:
    """Strokes in an even rhythm."""
    return [Sound(from_ms + gap_ms * number, chord, ringing) for number, chord in enumerate(chords)]


def walk(made: Follower, sounds: Sequence[Sound]) -> list[StrokePlace]:
    """Where each of them belongs, settled as soon as may be, and all of them in the end."""
    found: list[StrokePlace] = []
    for sound in sounds:
        made.feed(sound)
        found += made.settle()
    return found + made.settle(0, 0)


def written(places: Sequence[StrokePlace]) -> str:
    """Numbers of steps, ``w`` for a wrong attempt, ``f`` for a fill, ``-`` for elsewhere.

    >>> written([StrokePlace(0, AT), StrokePlace(1, WRONG), StrokePlace(1, AT), StrokePlace(None, ELSEWHERE)])
    '0 1w 1 -'
    """
    return " ".join(f"{'-' if one.step is None else one.step}{_SIGNS[one.doing]}" for one in places)


# Every single way to go on --------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("played", "places"),
    [
        ((C, F, G, AM), "0 1 2 3"),
        ((C, C, F), "0 0 1"),
        ((C, C, C, F, F, G), "0 0 0 1 1 2"),
        ((C, G, AM, DM), "0 2 3 4"),
        ((C, AM, DM, EM), "0 3 4 5"),
        ((C, F, G, F, G, AM), "0 1 2 1 2 3"),
        ((C, F, G, AM, F, G, AM, DM), "0 1 2 3 1 2 3 4"),
        ((C, F, G, AM, DM, F, G, AM), "0 1 2 3 4 1 2 3"),
        ((C, F, G, AM, DM, C, F, G), "0 1 2 3 4 0 1 2"),
        ((C, WILD, F, G), "0 1w 1 2"),
        ((C, WILD, OTHER_WILD, F, G), "0 1w 1w 1 2"),
        ((C, WILD, G, AM), "0 1w 2 3"),
        ((C, (53, 60, 70), F, G), "0 1 1 2"),
        ((C, F, (55, 62, 72), F, G, AM), "0 1 2 1 2 3"),
        ((C, DM, F, G), "0 1w 1 2"),
        ((C, EM, B), "0 5 6"),
        ((AM, DM, EM), "3 4 5"),
        ((C, (53, 60), G), "0 1 2"),
    ],
    ids=[
        "next", "again", "again and again", "one left out", "two left out", "one back", "two back", "three back",
        "the top", "wrong, then right", "wrong in two ways", "wrong, and on", "a slip, then right",
        "a slip, and one back", "another chord by mistake", "far on", "not from the top", "part of it, and on",
    ],
)  # fmt: skip
def test_each_way_to_go_on_at_own_pace(played: tuple[Chord, ...], places: str) -> None:
    """Whole chords, two seconds apart."""
    assert written(walk(follower(ROUND), every(STEP_MS, *played))) == places


@pytest.mark.parametrize("broken", [False, True])
def test_strings_one_by_one(broken: bool) -> None:
    """Each chord broken into its strings, up, down, and round and round."""
    strings = [(note,) for chord in (C, F[::-1], (*G, *G)) for note in chord]
    assert written(walk(follower(ROUND, broken=broken), every(500, *strings))) == "0 0 0 1 1 1 2 2 2 2 2 2"


@pytest.mark.parametrize(
    ("played", "places"),
    [
        ((C, G, AM, DM), "0 2 3 4"),
        ((C, F, G, G, AM), "0 1 2 2 3"),
        ((C, F, G, F, G, AM), "0 1 2 1 2 3"),
        ((C, F, G, AM, C, F, G), "0 1 2 3 0 1 2"),
        ((C, F[:2], G, AM), "0 1 2 3"),
        ((C, F[1:], G, AM), "0 1 2 3"),
        ((C, (53, 60, 70), G, AM), "0 1 2 3"),
    ],
    ids=["one left out", "one twice", "one back", "the top", "no top", "no bass", "a slip"],
)
@pytest.mark.parametrize("broken", [False, True])
def test_each_way_to_go_on_string_by_string(played: tuple[Chord, ...], places: str, broken: bool) -> None:
    """Each chord picked upwards, ringing until the next; where its last string belongs."""
    now_ms, sounds, lasts = 1000, list[Sound](), list[int]()
    for chord in played:
        for place, note in enumerate(chord):
            sounds.append(Sound(now_ms, (note,), chord[:place], chord[:place]))
            now_ms += 600
        lasts.append(len(sounds) - 1)
    found = walk(follower(ROUND, broken=broken), sounds)
    assert " ".join(str(found[last].step) for last in lasts) == places


def test_a_tune_above_a_chord_that_rings() -> None:
    """Fills belong to the chord beneath them; then the next."""
    tune = every(400, (67,), (70,), (67,), from_ms=1600, ringing=C)
    sounds = [Sound(1000, C), *tune, Sound(3000, F), Sound(5000, G)]
    assert written(walk(follower(ROUND), sounds)) == "0 0f 0f 0f 1 2"


def test_a_run_of_the_bass_leads_to_the_next_chord() -> None:
    """By steps below the chord that rings: no attempt at anything."""
    run = every(400, (47,), (45,), (44,), (45,), from_ms=1600, ringing=C)
    sounds = [Sound(1000, C), *run, Sound(3600, F), Sound(5600, G)]
    places = walk(follower(ROUND), sounds)
    assert all(place.doing in (FILL, ELSEWHERE) for place in places[1:-2])
    assert [place.step for place in places[-2:]] == [1, 2]


@pytest.mark.parametrize("shift", [-24, -12, -2, -1, 1, 2, 12, 24])
def test_a_whole_chord_in_the_wrong_place_is_a_wrong_attempt(shift: int) -> None:
    """A fret or two, or an octave or two, away."""
    moved = tuple(note + shift for note in F)
    assert written(walk(follower(ROUND), every(STEP_MS, C, moved, F, G))) == "0 1w 1 2"


@pytest.mark.parametrize("shift", [-12, -1, 1, 12])
def test_a_chord_picked_in_the_wrong_place_is_a_wrong_attempt(shift: int) -> None:
    """Each string as far away as the one before; then all of it where it belongs."""
    strings = [(note,) for chord in (C, tuple(note + shift for note in F), F) for note in chord]
    places = walk(follower(ROUND), every(500, *strings))
    assert [place.step for place in places] == [0, 0, 0, 1, 1, 1, 1, 1, 1]
    assert [place.doing for place in places[-3:]] == [AT, AT, AT]


def test_three_strings_together_are_no_tune() -> None:
    """Nothing of the chord below rings, and they are none of its notes: the next one gone wrong."""
    assert written(walk(follower((C, F)), [*every(STEP_MS, C, (65, 70, 74)), *every(STEP_MS, F, from_ms=5000)])) == (
        "0 1w 1"
    )


def test_two_back_from_a_roll_whose_top_was_like_a_tune() -> None:
    """Its last note was a tone too high; then the player goes two back and on."""
    rolls = [(note,) for chord in (C, F, (*G[:2], G[2] + 2), C, F, G) for note in chord]
    sounds = [Sound(1000 + 150 * at + 1500 * (at // 3), notes) for at, notes in enumerate(rolls)]
    places = [place.step for place in walk(follower(ROUND), sounds)]
    assert places[9:] == [0, 0, 0, 1, 1, 1, 2, 2, 2]


@pytest.mark.parametrize("at", range(5))
def test_noodling_is_elsewhere_and_the_player_comes_back(at: int) -> None:
    """A run, and on with the chord after the one that was left."""
    before = every(STEP_MS, *ROUND[: at + 1])
    run = every(300, *RUN, from_ms=before[-1].onset_ms + 1500)
    after = every(STEP_MS, *ROUND[at + 1 :], from_ms=run[-1].onset_ms + 1500)
    found = walk(follower(ROUND), [*before, *run, *after])
    assert [one.step for one in found] == [*range(at + 1), *(None for _ in RUN), *range(at + 1, len(ROUND))]


@pytest.mark.parametrize(("left", "places"), [(C, (1, 2)), (C[:2], (0, 1, 2))])
def test_after_noodling_a_chord_that_was_not_complete_comes_again(left: Chord, places: tuple[int, ...]) -> None:
    """Where the next chord is the same, what was left decides: a whole one was played, half of one is still due."""
    before = every(STEP_MS, left)
    run = every(300, *RUN, from_ms=before[-1].onset_ms + 1500)
    after = every(STEP_MS, *((C, C, F)[step] for step in places), from_ms=run[-1].onset_ms + 1500)
    found = walk(follower((C, C, F, G)), [*before, *run, *after])
    assert [one.step for one in found] == [0, *(None for _ in RUN), *places]


def test_noodling_before_the_first_chord() -> None:
    """Warming up."""
    run = every(300, *RUN)
    found = walk(follower(ROUND), [*run, *every(STEP_MS, C, F, from_ms=run[-1].onset_ms + 1500)])
    assert written(found) == "- " * len(RUN) + "0 1"


def test_from_elsewhere_to_somewhere_else() -> None:
    """After a run the player may go on wherever they like."""
    run = every(300, *RUN, from_ms=4500)
    sounds = [*every(STEP_MS, C, F), *run, *every(STEP_MS, DM, EM, B, from_ms=9000)]
    assert [one.step for one in walk(follower(ROUND), sounds)][-3:] == [4, 5, 6]


@pytest.mark.parametrize(
    ("played", "places"),
    [
        ([(0, C), (2000, F), (4000, G)], "0 1 2"),
        ([(0, C), (1900, C), (2000, F), (3900, F), (4000, G)], "0 0 1 1 2"),
        ([(0, C), (1750, C), (2000, F)], "0 0 1"),
        ([(0, C), (1700, F), (3700, G)], "0 1 2"),
        ([(-300, C), (1900, F), (4000, G)], "0 1 2"),
        ([(0, C), (2400, F), (4400, G)], "0 1 2"),
        ([(0, C), (3500, F), (4000, G)], "0 1 2"),
        ([(500 * eighth, ROUND[eighth // 4]) for eighth in range(12)], "0 0 0 0 1 1 1 1 2 2 2 2"),
        ([(0, C), (2000, WILD), (4000, G)], "0 1w 2"),
        ([(0, C), (2000, WILD), (3000, F), (4000, G)], "0 1w 1 2"),
        ([(0, C), (8000, DM), (10000, EM)], "0 4 5"),
        ([(500 * eighth, (ROUND[eighth // 4][(0, 1, 2, 1)[eighth % 4]],)) for eighth in range(8)], "0 0 0 0 1 1 1 1"),
    ],
    ids=[
        "in time", "the old chord just before the change", "and an eighth before", "early", "a little early", "late",
        "very late", "strummed in eighths", "wrong", "wrong, then right", "three lost", "picked in eighths",
    ],
)  # fmt: skip
def test_each_way_to_go_on_with_the_click(played: list[tuple[int, Chord]], places: str) -> None:
    """Times from the first beat on."""
    sounds = [Sound(10_000 + at_ms, chord) for at_ms, chord in played]
    assert written(walk(clicked(ROUND), sounds)) == places


# Equal chords and equal passages --------------------------------------------------------------------------------


@pytest.mark.parametrize("length", [2, 3, 5])
@pytest.mark.parametrize("times", [2, 3])
def test_equal_passages_are_gone_on_with(length: int, times: int) -> None:
    """Whoever comes to the same chords again has rather gone on than back, all the way through."""
    drill = ROUND[:length] * times
    assert [one.step for one in walk(follower(drill), every(STEP_MS, *drill))] == list(range(len(drill)))


def test_at_the_end_of_equal_passages_one_may_still_go_back() -> None:
    """After the last of them there is nowhere to go on to."""
    found = walk(follower((C, F, G, C, F, G)), every(STEP_MS, C, F, G, C, F, G, C, F, G))
    assert [one.step for one in found][:6] == [0, 1, 2, 3, 4, 5]
    assert [one.step for one in found][6:] in ([0, 1, 2], [3, 4, 5])


def test_a_jump_says_which_of_equal_passages() -> None:
    """What was before no longer matters."""
    made = follower((C, F, G, C, F, G))
    assert written(walk(made, every(STEP_MS, C, F))) == "0 1"
    made.go_to(3)
    assert written(walk(made, every(STEP_MS, C, F, from_ms=9000))) == "3 4"
    made.go_to(0)
    assert written(walk(made, every(STEP_MS, C, F, from_ms=15000))) == "0 1"


@pytest.mark.parametrize("click", [False, True])
def test_the_same_chord_due_again_and_again(click: bool) -> None:
    """In the drill's own rhythm each stroke is the next step; twice as quick, every other one is only struck again."""
    drill = (C, C, C, F, F, F, G)
    made = clicked(drill) if click else follower(drill)
    assert written(walk(made, every(STEP_MS, *drill, from_ms=10_000))) == "0 1 2 3 4 5 6"
    made = clicked(drill) if click else follower(drill)
    twice = [chord for chord in drill for _ in range(2)]
    found = walk(made, every(STEP_MS // 2, *twice, from_ms=10_000))
    assert written(found) == "0 0 1 1 2 2 3 3 4 4 5 5 6 6"


# Any voicing ------------------------------------------------------------------------------------------------------


def test_where_any_voicing_will_do_any_octave_is_at_the_step() -> None:
    """C and F in shapes that nobody planned, then G as planned."""
    wanted = [Wanted(chord, any_octave=True) for chord in (C, F, G)]
    made = Follower(wanted, [STEP_MS] * 3)
    assert written(walk(made, every(STEP_MS, (52, 60, 67), (57, 65, 72), G))) == "0 1 2"


# Until it is right ------------------------------------------------------------------------------------------------


def test_only_some_steps_are_allowed() -> None:
    """Exactly the next chord is wrong for who may not go on."""
    made = follower(ROUND)
    made.only(0, 0)
    assert {one.step for one in walk(made, every(STEP_MS, WILD, F, G, C))} <= {0, None}
    made.only(0, 1)
    assert walk(made, every(STEP_MS, F, from_ms=10_000)) == [StrokePlace(1, AT)]


# Laws -------------------------------------------------------------------------------------------------------------

NOTES = st.integers(40, 84)
WHATEVER = st.one_of(
    st.sampled_from(ROUND),
    st.sampled_from([(note,) for chord in ROUND for note in chord]),
    st.sets(NOTES, min_size=1, max_size=5).map(lambda notes: tuple(sorted(notes))),
)


@st.composite
def takes(draw: st.DrawFn, max_size: int = 24) -> list[Sound]:
    """Chords of the round, single strings of them, and anything else, at any time; some of it rings on."""
    now_ms, found = 10_000, []
    for _ in range(draw(st.integers(1, max_size))):
        now_ms += draw(st.integers(70, 3000))
        ringing = draw(st.sampled_from([(), (), C, (64,), (40,)]))
        struck = draw(WHATEVER)
        rang = draw(st.sampled_from([(), ringing]))
        found.append(Sound(now_ms, struck, tuple(note for note in ringing if note not in struck), rang))
    return found


def any_follower(click: bool, broken: bool = False) -> Follower:
    return clicked(ROUND, broken=broken) if click else follower(ROUND, broken=broken)


@given(takes(), st.booleans(), st.booleans())
def test_what_is_settled_was_said_before_and_stays(sounds: list[Sound], click: bool, broken: bool) -> None:
    """What settles is the oldest of what was known, just as it was known, and changes nothing of the rest; silence
    settles more of it. All strokes are settled once, in their order, and none waits for ever."""
    made = any_follower(click, broken)
    settled = 0
    for number, sound in enumerate(sounds, 1):
        made.feed(sound)
        assert made.pending == number - settled
        for margins in ((), (SURE_IN_SILENCE,)):
            known = made.places()
            found = made.settle(*margins)
            assert found == known[: len(found)]
            assert made.places() == known[len(found) :]
            settled += len(found)
        assert made.pending <= HEARD_OUT
    assert len(made.settle(0, 0)) == len(sounds) - settled
    assert made.pending == 0
    assert made.places() == made.settle() == []


@given(takes(), st.booleans(), st.booleans(), st.data())
def test_peeking_changes_nothing(sounds: list[Sound], click: bool, broken: bool, data: st.DataObject) -> None:
    """However often anybody asks what a stroke would be, of those that come and of those that never do."""
    made, asked = any_follower(click, broken), any_follower(click, broken)
    for sound in sounds:
        for _ in range(data.draw(st.integers(0, 2))):
            asked.peek(Sound(sound.onset_ms, data.draw(WHATEVER)))
        said = asked.peek(sound)
        assert asked.peek(sound) == said
        assert asked.places() == made.places()
        made.feed(sound)
        asked.feed(sound)
        assert asked.places()[-1] == said
        assert asked.places() == made.places()
        assert asked.settle() == made.settle()
    assert asked.settle(0, 0) == made.settle(0, 0)


@given(takes(), st.integers(-11, 11), st.booleans(), st.booleans())
def test_in_another_key_it_is_the_same(sounds: list[Sound], shift: int, click: bool, broken: bool) -> None:
    """Drill and strokes moved together."""

    def moved(chord: Chord) -> Chord:
        return tuple(note + shift for note in chord)

    here = any_follower(click, broken)
    drill = [moved(chord) for chord in ROUND]
    there = clicked(drill, broken=broken) if click else follower(drill, broken=broken)
    away = [Sound(one.onset_ms, moved(one.struck), moved(one.ringing), moved(one.rang)) for one in sounds]
    assert walk(there, away) == walk(here, sounds)


@given(takes(), st.integers(0, 10**7), st.booleans())
def test_the_hour_does_not_matter(sounds: list[Sound], later_ms: int, broken: bool) -> None:
    """The same an hour later, where no click says what is due."""
    later = [Sound(one.onset_ms + later_ms, one.struck, one.ringing, one.rang) for one in sounds]
    assert walk(follower(ROUND, broken=broken), later) == walk(follower(ROUND, broken=broken), sounds)


@given(takes(), st.integers(0, 6), st.integers(0, 6), st.booleans())
def test_nobody_is_where_they_may_not_be(sounds: list[Sound], first: int, more: int, click: bool) -> None:
    """At the steps that are allowed, or elsewhere."""
    made = any_follower(click)
    made.only(first, first + more)
    allowed = {None, *range(first, first + more + 1)}
    for sound in sounds:
        assert made.peek(sound).step in allowed
        made.feed(sound)
        assert {one.step for one in made.places()} <= allowed
        assert {one.step for one in made.settle()} <= allowed


CHORDS = st.sets(NOTES, min_size=3, max_size=6).map(lambda notes: tuple(sorted(notes)))


@given(st.lists(CHORDS, min_size=1, max_size=12), st.booleans())
def test_whoever_plays_the_drill_is_followed(drill: list[Chord], click: bool) -> None:
    """Any chords at all, as planned and in time, equal ones and parts of each other among them: each its own step, and
    at once."""
    made = clicked(drill) if click else follower(drill)
    for step, sound in enumerate(every(STEP_MS, *drill, from_ms=10_000)):
        assert made.peek(sound) == StrokePlace(step, AT)
        made.feed(sound)
        made.settle()
    assert all(one.doing == AT for one in made.settle(0, 0))


@given(st.lists(CHORDS, min_size=1, max_size=8), st.booleans())
def test_whoever_plays_a_drill_of_arpeggios_is_followed(drill: list[Chord], click: bool) -> None:
    """Any chords, each picked upwards in its time, its strings ringing until the next: at the end of each the player is
    at its step."""
    made = clicked(drill, broken=True) if click else follower(drill, broken=True)
    found: list[StrokePlace] = []
    for step, chord in enumerate(drill):
        for place, note in enumerate(chord):
            at_ms = 10_000 + STEP_MS * step + STEP_MS * place // len(chord)
            made.feed(Sound(at_ms, (note,), chord[:place], chord[:place]))
        found.append(made.places()[-1])
        made.settle()
    assert found == [StrokePlace(step, AT) for step in range(len(drill))]


@settings(max_examples=examples(50))
@given(takes(max_size=40), st.integers(0, 3), st.booleans())
def test_after_whatever_was_played_the_player_is_found_again(noise: list[Sound], step: int, click: bool) -> None:
    """Four chords in a row as planned, and with the click when they are due: the last of them is where it is."""
    made = follower(ROUND)
    from_ms = noise[-1].onset_ms + 2000
    if click:
        made = follower(ROUND, [from_ms + STEP_MS * (one - step) for one in range(len(ROUND) + 1)])
    found = walk(made, [*noise, *every(STEP_MS, *ROUND[step : step + 4], from_ms=from_ms)])
    assert found[-1] == StrokePlace(step + 3, AT)


# What it costs ----------------------------------------------------------------------------------------------------


def _seconds_a_stroke(made: Follower, sounds: Sequence[Sound]) -> float:
    """The least of three runs, which disturbs the measurement least."""
    least = float("inf")
    for _ in range(3):
        made.go_to(0)
        began_s = process_time()
        for sound in sounds:
            made.peek(sound)
            made.feed(sound)
            made.settle()
        least = min(least, process_time() - began_s)
        assert made.pending <= HEARD_OUT
        made.settle(0, 0)
    return least / len(sounds)


@pytest.mark.parametrize(("steps", "equal"), [(10_000, True), (2_000, False)])
def test_a_long_drill_costs_in_proportion(steps: int, equal: bool) -> None:
    """Thousands of equal chords, or of different ones, and notes at random against them: ten times as many steps take
    no more than twenty times as long."""
    random = Random(3)
    sounds = every(600, *(tuple(sorted(random.sample(range(40, 80), random.randint(1, 5)))) for _ in range(60)))
    drill = [C if equal else tuple(sorted(random.sample(range(40, 80), 3))) for _ in range(steps)]
    short, long = follower(drill[: steps // 10]), follower(drill)
    assert _seconds_a_stroke(long, sounds) <= 20 * _seconds_a_stroke(short, sounds)


def test_a_long_take_is_no_dearer_at_its_end() -> None:
    """Three thousand strokes at random against a small drill: the last are found as quickly as the first, and whoever
    plays the drill then is followed."""
    random = Random(5)
    noise = every(600, *(tuple(sorted(random.sample(range(40, 80), random.randint(1, 4)))) for _ in range(3000)))
    made = follower(ROUND)
    halves = []
    for part in (noise[:1500], noise[1500:]):
        began_s = process_time()
        for sound in part:
            made.feed(sound)
            made.settle()
        halves.append(process_time() - began_s)
    assert halves[1] <= 3 * halves[0]
    after = walk(made, every(STEP_MS, *ROUND, from_ms=noise[-1].onset_ms + 3000))
    assert [one.step for one in after][-len(ROUND) + 2 :] == list(range(2, len(ROUND)))


def test_a_drill_of_one_chord() -> None:
    """Nowhere to go is no error."""
    places = walk(follower((C,)), every(STEP_MS, C, WILD, F, C, (83,)))
    assert places[0] == StrokePlace(0, AT)
    assert {one.step for one in places} <= {0, None}


# What is learnt from the player ---------------------------------------------------------------------------------

HOOK = (C, F, C, G)


@pytest.mark.parametrize(("to", "place"), [(0, "0"), (2, "2")])
def test_what_the_player_did_after_other_wrong_chords(to: int, place: str) -> None:
    """C, a wrong F, and C: back to the first, or on to the third? Whoever went back ten times has gone back."""
    made = follower(HOOK)
    for _ in range(10):
        made.learn_after_wrong(1, to)
    assert written(walk(made, every(1500, C, WILD, C))).split()[-1] == place


def test_a_few_chords_back_is_nearer_than_the_top() -> None:
    """Where both are the same chords."""
    verse = (C, F, G, AM)
    assert written(walk(follower(verse * 2), every(1500, *verse, C, F, WILD, C, F, G, AM))) == "0 1 2 3 4 5 6w 4 5 6 7"


@pytest.mark.parametrize(("leaves", "places"), [(True, "0 1 1 2"), (False, "0 0 1 2")])
def test_who_strikes_each_chord_once_has_gone_on(leaves: bool, places: str) -> None:
    """The same chord is due twice and comes three times, the second time rather soon."""
    made = follower((C, C, F))
    for _ in range(20):
        made.learn_after_right(1, one=False, leaves=leaves)
    found = walk(made, [Sound(1000, C), Sound(2200, C), Sound(3000, C), Sound(5000, F)])
    assert written(found) == places


def test_who_leaves_a_run_of_equal_chords_is_believed() -> None:
    """Three times the first of four equal chords, quickly, and on: that one was struck again."""
    drill = (C, C, C, C, F, G, AM, DM)
    sounds = [*every(400, C, C, C), *every(1500, F, G, AM, DM, from_ms=3700)]
    assert written(walk(follower(drill), sounds)) == "0 0 0 4 5 6 7"


# Where somebody goes on who has lost the place -------------------------------------------------------------------


def test_whoever_lost_the_place_goes_on_where_they_had_come_to() -> None:
    """The same chords twice over: the first round was right, and two from farther on came by mistake. What follows is
    also how it all began, and that was done."""
    lost = follower(ROUND * 2)
    walk(lost, every(STEP_MS, *ROUND))
    for step in range(len(ROUND)):
        lost.learn_right(step)
    assert written(walk(lost, every(STEP_MS, DM, EM, C, F, G, from_ms=20_000))).endswith("7 8 9")


def test_a_chord_that_stood_just_before_is_rather_that_one_than_the_top() -> None:
    """The top begins with it too."""
    drill = (C, F, G, C, AM, DM)
    assert written(walk(follower(drill), every(STEP_MS, C, F, G, C, AM, C, AM, DM))) == "0 1 2 3 4 3 4 5"


def test_a_roll_is_of_one_chord() -> None:
    """A string too many, and one that the chord before has, that come in it while the others ring."""
    for rolled in ((53, 60, 69, 71), (52, 53, 60, 69)):
        roll = [Sound(3000 + 150 * n, (note,), rolled[:n], rolled[:n]) for n, note in enumerate(rolled)]
        places = walk(follower(ROUND), [Sound(1000, C), *roll, Sound(6000, F), Sound(8000, G)])
        assert {place.step for place in places[1:5]} == {1}, rolled


def test_a_tune_is_above_what_rings() -> None:
    """When the chord has died away, the same notes are no longer its tune."""
    for ringing, doing in ((C, FILL), ((), WRONG)):
        tune = every(400, (67,), (70,), (67,), from_ms=1600, ringing=ringing)
        places = walk(follower(ROUND), [Sound(1000, C), *tune, Sound(3000, F), Sound(5000, G)])
        assert [place.doing for place in places] == [AT, *[doing] * 3, AT, AT]
