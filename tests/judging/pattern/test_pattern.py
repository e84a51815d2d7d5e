"""What is said about patterns: laws for every pattern, and a few by hand as a teacher would hear them."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from fractions import Fraction
from random import Random

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill import SAME_CHORD, Step, Wish
from listener.guitar.fingering import Fingering
from listener.hearing.events import NoteOn, Stroke
from listener.judging.pattern.pattern import PatternVerdict, pattern_verdict
from listener.music.chord import parse_chord
from listener.music.pattern import OVERS, UP, Pattern, Placed
from listener.music.pattern_text import read_picks, read_strums
from listener.music.voicing import voicing_of
from listener.planning.plan import PlannedStep

#: C major on all strings but the lowest, low to high; strings 5 to 1.
C: tuple[int, ...] = (48, 52, 55, 60, 64)
STRINGS = (5, 4, 3, 2, 1)
DUE_S = 10.0


def planned(pattern: Pattern, *, beats: float = 4.0, start: float = 0.0, notes: Sequence[int] = C) -> PlannedStep:
    """A chord of C with a pattern."""
    chord = parse_chord("C")
    step = Step(0, "p", 1 + int(start // 4), start % 4 + 1, start, beats, Wish(chord, ("any",)), pattern=pattern)
    strings = STRINGS[: len(notes)]
    fingering = Fingering(tuple(notes), strings, (1,) * len(notes), (1,) * len(notes), None, 0.0, 0.0, 20.0)
    return PlannedStep(step, voicing_of(chord, notes), fingering, None)


def strummed(text: str, **more: object) -> Pattern:
    return Pattern(read_strums(text), **more)  # type: ignore[arg-type]


def picked(text: str, **more: object) -> Pattern:
    return Pattern(read_picks(text), **more)  # type: ignore[arg-type]


def asked(target: PlannedStep) -> list[Placed]:
    return [one for one in target.step.placed if one.place.struck]


def burst(target: PlannedStep, one: Placed, at_s: float, *, gap_s: float = 0.008, told: bool = True) -> list[NoteOn]:
    """A place as it is meant; an up-stroke touches the three highest strings."""
    assert target.step.pattern is not None
    ranks = list(target.step.pattern.voices(one.place, len(target.voicing.midi)))
    if one.place.strum == UP:
        ranks = ranks[::-1][:3]
    return [
        NoteOn(at_s + number * gap_s, target.voicing.midi[rank], 80, STRINGS[rank] if told else None)
        for number, rank in enumerate(ranks)
    ]


def played(
    target: PlannedStep, beat_s: float, *, without: Sequence[int] = (), told: bool = True, late_s: float = 0.0
) -> list[list[NoteOn]]:
    """All places but some, exactly in time."""
    return [
        burst(target, one, DUE_S + late_s + float(one.start_beats) * beat_s, told=told)
        for number, one in enumerate(asked(target))
        if number not in without
    ]


def strokes_of(bursts: Sequence[Sequence[NoteOn]]) -> list[Stroke]:
    return [Stroke(tuple(notes), (), settled=True, closed_s=0.0) for notes in bursts if notes]


def clicked(target: PlannedStep, bursts: Sequence[Sequence[NoteOn]], beat_s: float) -> PatternVerdict:
    found = pattern_verdict(target, strokes_of(bursts), due_s=DUE_S, beat_s=beat_s)
    assert found is not None
    return found


def at_own_pace(
    target: PlannedStep, bursts: Sequence[Sequence[NoteOn]], guess_s: float | None = None
) -> PatternVerdict:
    found = pattern_verdict(target, strokes_of(bursts), due_s=None, beat_s=guess_s)
    assert found is not None
    return found


def _written(read: Callable[[str], tuple[object, ...]], signs: Sequence[str]) -> st.SearchStrategy[str]:
    return (
        st.lists(st.sampled_from(signs), min_size=1, max_size=8)
        .map(" ".join)
        .filter(lambda text: any(sign not in ".- " for sign in text))
    )


STRUMMED = st.builds(
    lambda text, over, swing: strummed(text, over=over, swing=Fraction(swing)),
    _written(read_strums, ["d", "u", ".", "-", ">d"]),
    st.sampled_from(OVERS),
    st.sampled_from(["1/2", "2/3"]),
)
PICKED = st.builds(
    lambda text, place: picked(text, place=Fraction(place)),
    _written(read_picks, ["1", "2", "3", "4", "5", "1+4", "3+5", ".", "-"]),
    st.sampled_from(["1/8", "1/16", "1/12"]),
)
PATTERNS = STRUMMED | PICKED
#: Between the slowest and quickest that anybody practises such patterns at.
BEATS_S = st.sampled_from([0.6, 0.8, 1.0])
TARGETS = st.builds(
    lambda pattern, beats, start: planned(pattern, beats=beats, start=start),
    PATTERNS,
    st.sampled_from([1.0, 2.0, 4.0, 8.0]),
    st.sampled_from([0.0, 2.0]),
).filter(lambda target: bool(asked(target)))


@given(TARGETS, BEATS_S, st.booleans())
def test_a_perfect_pattern_has_no_fault(target: PlannedStep, beat_s: float, told: bool) -> None:
    """With the click, whether or not strings are told apart; an up-stroke may leave out the low strings."""
    found = clicked(target, played(target, beat_s, told=told), beat_s)
    assert found.as_asked
    assert found.played == found.asked == len(asked(target))
    assert found.spread_ms in (None, 0.0)
    assert found.words[0].startswith("the pattern as asked")


@given(TARGETS, BEATS_S, st.booleans())
def test_a_perfect_pattern_at_own_pace(target: PlannedStep, beat_s: float, guessed: bool) -> None:
    """The tempo is found, with a guess or without."""
    found = at_own_pace(target, played(target, beat_s), 0.7 if guessed else None)
    assert found.as_asked
    assert found.spread_ms is None or found.spread_ms < 1.0


@given(TARGETS, BEATS_S, st.data())
def test_a_place_left_out_is_named(target: PlannedStep, beat_s: float, data: st.DataObject) -> None:
    """Exactly that one, and nothing else is said to be wrong."""
    left_out = data.draw(st.integers(0, len(asked(target)) - 1))
    found = clicked(target, played(target, beat_s, without=[left_out]), beat_s)
    assert found.fell_out == (left_out,)
    assert found.too_many == found.wrong_direction == found.wrong_voices == ()
    assert found.words
    if found.played:
        assert asked(target)[left_out].counted in found.words[0]
        assert found.words[0].partition(" of bar")[0].endswith(("left out", asked(target)[left_out].counted))


@given(TARGETS, BEATS_S, st.data())
def test_a_place_left_out_at_own_pace(target: PlannedStep, beat_s: float, data: st.DataObject) -> None:
    """So it is when the pace is known from before, but for the first place, which is where the player begins."""
    if len(asked(target)) < 2:
        return
    left_out = data.draw(st.integers(1, len(asked(target)) - 1))
    found = at_own_pace(target, played(target, beat_s, without=[left_out]), beat_s)
    assert found.fell_out == (left_out,)
    assert not found.too_many


@given(TARGETS, BEATS_S, st.data())
def test_a_stroke_too_many_is_named(target: PlannedStep, beat_s: float, data: st.DataObject) -> None:
    """Half-way between two places: before the one that follows."""
    places = asked(target)
    after = data.draw(st.integers(0, len(places) - 1))
    pattern = target.step.pattern
    assert pattern is not None
    at_s = DUE_S + (float(places[after].start_beats) + 0.5 * float(pattern.place_beats)) * beat_s
    bursts = [*played(target, beat_s), burst(target, places[after], at_s)]
    following = after + 1 < len(places) and float(places[after + 1].start_beats) * beat_s <= at_s - DUE_S
    found = clicked(target, bursts, beat_s)
    if not following:  # with swing, half a place later may be the next place itself
        assert found.too_many == (after + 1,)
        assert found.fell_out == ()


@given(TARGETS, BEATS_S, st.floats(-0.15, 0.15))
def test_a_steady_delay_is_no_unevenness(target: PlannedStep, beat_s: float, share: float) -> None:
    """Laid back or pushed by a seventh of a place, everything is played, and evenly."""
    assert target.step.pattern is not None
    late_s = share * float(target.step.pattern.place_beats) * beat_s
    found = clicked(target, played(target, beat_s, late_s=late_s), beat_s)
    assert found.as_asked
    assert found.spread_ms in (None, 0.0)


@given(TARGETS, BEATS_S, st.integers(0, 2**32))
def test_how_notes_were_gathered_does_not_matter(target: PlannedStep, beat_s: float, seed: int) -> None:
    """One stroke for each note, one for all, or anything between."""
    notes = [note for one in played(target, beat_s, without=[1]) for note in one]
    random = Random(seed)
    cuts = sorted(random.sample(range(len(notes) + 1), min(3, len(notes))))
    parts = [notes[first:last] for first, last in zip([0, *cuts], [*cuts, len(notes)], strict=True)]
    random.shuffle(parts)
    assert clicked(target, parts, beat_s) == clicked(target, [notes], beat_s)


@given(TARGETS, BEATS_S, st.integers(0, 2**32))
def test_uneven_playing_is_still_the_pattern(target: PlannedStep, beat_s: float, seed: int) -> None:
    """Every place a little early or late: nothing falls out, and the figure says how much."""
    random = Random(seed)
    bursts = [
        [note._replace(time_s=note.time_s + late_s) for note in one]
        for one in played(target, beat_s)
        for late_s in [random.uniform(-0.02, 0.02)]
    ]
    found = clicked(target, bursts, beat_s)
    assert found.as_asked
    assert found.spread_ms is None or found.spread_ms <= 20.0


@given(TARGETS, BEATS_S, st.data())
def test_the_other_way_is_named(target: PlannedStep, beat_s: float, data: st.DataObject) -> None:
    """Down instead of up, where strings are told apart; not where they are not."""
    if target.step.pattern is None or not target.step.pattern.is_strummed:
        return
    turned = data.draw(st.integers(0, len(asked(target)) - 1))
    bursts = played(target, beat_s)
    times = [note.time_s for note in bursts[turned]]
    bursts[turned] = [note._replace(time_s=at_s) for note, at_s in zip(reversed(bursts[turned]), times, strict=True)]
    found = clicked(target, bursts, beat_s)
    assert found.wrong_direction == (turned,)
    assert found.fell_out == found.too_many == ()
    unknown = [[note._replace(string=None) for note in one] for one in bursts]
    assert clicked(target, unknown, beat_s).as_asked


@given(TARGETS, BEATS_S, st.data())
def test_another_voice_is_named(target: PlannedStep, beat_s: float, data: st.DataObject) -> None:
    """Where something else of the chord was picked, whether or not strings are told apart."""
    pattern = target.step.pattern
    if pattern is None or pattern.is_strummed:
        return
    where = data.draw(st.integers(0, len(asked(target)) - 1))
    others = [rank for rank in range(5) if rank not in pattern.voices(asked(target)[where].place, 5)]
    rank = data.draw(st.sampled_from(others))
    told = data.draw(st.booleans())
    bursts = played(target, beat_s, told=told)
    bursts[where] = [NoteOn(bursts[where][0].time_s, C[rank], 80, STRINGS[rank] if told else None)]
    found = clicked(target, bursts, beat_s)
    assert found.wrong_voices == (where,)
    assert found.fell_out == found.too_many == ()


@given(TARGETS, BEATS_S)
def test_it_is_told_without_loss(target: PlannedStep, beat_s: float) -> None:
    """Numbers for programs add up."""
    found = clicked(target, played(target, beat_s, without=[0]), beat_s)
    row = found.as_json()
    assert row["asked"] == found.played + len(found.fell_out)
    assert list(row) == list(PatternVerdict.__dataclass_fields__)


def test_without_a_pattern_there_is_nothing_to_say() -> None:
    """A drill without a pattern accepts any."""
    target = planned(strummed("d"))
    free = replace(target, step=replace(target.step, pattern=None))
    assert pattern_verdict(free, [], due_s=0.0, beat_s=1.0) is None


def test_silence() -> None:
    """All of it fell out, with the click and without."""
    target = planned(strummed("d u"))
    for due_s in (DUE_S, None):
        found = pattern_verdict(target, [], due_s=due_s, beat_s=0.5)
        assert found is not None
        assert (found.played, found.words) == (0, ("nothing of the pattern was played",))


FOLK = "d . d u . u d u"


@pytest.mark.parametrize(
    ("pattern", "without", "words"),
    [
        (strummed(FOLK), [2], ("the up-stroke on 2-and was left out", "even to within 0 ms")),
        (
            strummed(FOLK),
            [0, 5],
            ("the down-stroke on 1 was left out", "the up-stroke on 4-and was left out", "even to within 0 ms"),
        ),
        (strummed(FOLK), [1, 2, 5], ("3 of 6 strokes were left out: 2, 2-and and 4-and", "even to within 0 ms")),
        (strummed(FOLK), [], ("the pattern as asked, even to within 0 ms",)),
        (picked("1 3 2 3+5"), [1], ("voice 3 on 1-and was left out", "even to within 0 ms")),
        (picked("1 3 2 3+5", over="chord"), [3], ("voices 3 and 5 on 2-and were left out", "even to within 0 ms")),
        (picked("p i m a"), [2], ("voice 4 on 2 was left out", "even to within 0 ms")),
    ],
)
def test_what_fell_out_in_words(pattern: Pattern, without: list[int], words: tuple[str, ...]) -> None:
    """As a teacher says it."""
    target = planned(pattern)
    assert clicked(target, played(target, 0.8, without=without), 0.8).words == words


def test_a_chord_of_two_bars_names_the_bar() -> None:
    """Where one count would not say which."""
    target = planned(strummed(FOLK), beats=8.0, start=4.0)
    assert clicked(target, played(target, 0.8, without=[8]), 0.8).words[0] == (
        "the up-stroke on 2-and of bar 3 was left out"
    )


def test_strokes_too_many_in_words() -> None:
    """One before a place, two after the last."""
    target = planned(strummed("d d d d", place=Fraction(1, 4)))
    places = asked(target)
    more = [burst(target, places[0], DUE_S + beats * 0.8) for beats in (2.5, 3.4, 3.8)]
    found = clicked(target, [*played(target, 0.8), *more], 0.8)
    assert found.words == ("one stroke too many before 4", "2 strokes too many after 4", "even to within 0 ms")


def test_a_note_too_many_in_words() -> None:
    """Picked notes are notes."""
    target = planned(picked("1 . 3 . 5 . 3 ."))
    found = clicked(target, [*played(target, 0.8), [NoteOn(DUE_S + 0.4, 60, 80, 2)]], 0.8)
    assert found.words[0] == "one note too many before 2"


def test_direction_in_words() -> None:
    """Down where up was asked."""
    target = planned(strummed(FOLK))
    bursts = played(target, 0.8)
    bursts[3] = [
        note._replace(string=string, pitch=pitch) for note, string, pitch in zip(bursts[3], STRINGS, C, strict=False)
    ]
    assert clicked(target, bursts, 0.8).words == ("down instead of up on 3-and", "even to within 0 ms")


def test_voices_in_words() -> None:
    """What was picked, and what was asked."""
    target = planned(picked("1 3 2+4 3"))
    bursts = played(target, 0.8)
    bursts[1] = [bursts[1][0]._replace(pitch=60, string=2)]
    bursts[2] = bursts[2][:1]
    assert clicked(target, bursts, 0.8).words == (
        "voice 4 instead of voice 3 on 1-and",
        "voice 2 instead of voices 2 and 4 on 2",
        "even to within 0 ms",
    )


def test_a_wrong_note_on_the_right_string_is_the_right_voice() -> None:
    """The chord's own verdict tells that it is wrong; the pattern was played."""
    target = planned(picked("1 3 2 3"))
    bursts = played(target, 0.8)
    bursts[2] = [bursts[2][0]._replace(pitch=53)]
    assert clicked(target, bursts, 0.8).as_asked


def test_a_wrong_note_on_no_known_string_is_not_called_another_voice() -> None:
    """Nobody can say which voice it was meant to be."""
    target = planned(picked("1 3 2 3"))
    bursts = played(target, 0.8, told=False)
    bursts[2] = [bursts[2][0]._replace(pitch=53)]
    assert clicked(target, bursts, 0.8).as_asked


def test_another_voicing_is_counted_from_its_own_bass() -> None:
    """Where any voicing of the chord is right."""
    target = planned(picked("1 3 2 3"), notes=(48, 55, 64))
    free = replace(target, step=replace(target.step, strictness=SAME_CHORD))
    elsewhere = [
        note._replace(pitch={48: 52, 55: 60, 64: 67}[note.pitch], string=None)
        for one in played(target, 0.8)
        for note in one
    ]
    assert clicked(free, [elsewhere], 0.8).as_asked


def test_who_stays_on_a_chord_at_own_pace_repeats_it() -> None:
    """Only the first time through is judged."""
    target = planned(strummed(FOLK))
    again = [[note._replace(time_s=note.time_s + 3.2) for note in one] for one in played(target, 0.8)]
    assert at_own_pace(target, [*played(target, 0.8), *again]).as_asked


def test_quick_strums_that_almost_touch_are_kept_apart() -> None:
    """Sixteenths at 100, each strum as long as half its place: a string that comes again begins the next."""
    target = planned(strummed("d u d u d u d u d u d u d u d u", place=Fraction(1, 16)))
    bursts = [burst(target, one, DUE_S + float(one.start_beats) * 0.6, gap_s=0.02) for one in asked(target)]
    found = clicked(target, bursts, 0.6)
    assert found.as_asked
    assert found.played == 16


def test_a_strum_that_catches_one_string_is_a_strum() -> None:
    """Which strings a strum touches is the player's own business."""
    target = planned(strummed(FOLK))
    bursts = played(target, 0.8)
    bursts[2] = bursts[2][:1]
    bursts[0] = bursts[0][:2]
    assert clicked(target, bursts, 0.8).as_asked


@given(TARGETS, BEATS_S, st.integers(0, 2**32))
def test_a_late_place_is_late_and_not_left_out(target: PlannedStep, beat_s: float, seed: int) -> None:
    """One of them by up to two fifths of a place: still that place."""
    assert target.step.pattern is not None
    bursts = played(target, beat_s)
    random = Random(seed)
    one = random.randrange(len(bursts))
    most = 0.4 if target.step.pattern.swing == Fraction(1, 2) else 0.15  # swung places lie nearer together
    late_s = random.uniform(-most, most) * float(target.step.pattern.place_beats) * beat_s
    bursts[one] = [note._replace(time_s=note.time_s + late_s) for note in bursts[one]]
    found = clicked(target, bursts, beat_s)
    assert found.played == found.asked
    assert found.too_many == ()


@pytest.mark.parametrize("left_out", [1, 2])
def test_the_known_pace_tells_which_of_three_fell_out(left_out: int) -> None:
    """Two strokes alone could be any two."""
    target = planned(strummed("d d d . . . . ."))
    assert at_own_pace(target, played(target, 0.8, without=[left_out]), 0.8).fell_out == (left_out,)


@pytest.mark.parametrize("left_out", [1, 2])
def test_the_direction_tells_which_of_three_fell_out(left_out: int) -> None:
    """Where no pace is known: two down-strokes are the first and the third, down and up the first two."""
    target = planned(strummed("d u d . . . . ."))
    assert at_own_pace(target, played(target, 0.8, without=[left_out])).fell_out == (left_out,)


def test_a_slow_up_stroke_that_almost_touches_the_next_down_stroke() -> None:
    """The string that both touch comes late in the second: they are cut where the gap is, and both keep their way."""
    target = planned(strummed("d u d u d u d u d u d u d u d u", place=Fraction(1, 16)))
    gaps_s = {"down": 0.01, "up": 0.045}
    bursts = [
        burst(target, one, DUE_S + float(one.start_beats) * 0.6, gap_s=gaps_s[one.place.strum]) for one in asked(target)
    ]
    found = clicked(target, bursts, 0.6)
    assert found.as_asked
    assert found.spread_ms == 0.0


def test_quick_strums_on_different_strings_are_two() -> None:
    """Down on the low strings, up on the high ones, sixteenths at 150."""
    target = planned(strummed("d u d u", place=Fraction(1, 16)), beats=1.0)
    ranks = {"down": (0, 1), "up": (4, 3)}
    bursts = [
        [
            NoteOn(DUE_S + float(one.start_beats) * 0.4 + 0.01 * n, C[rank], 80, STRINGS[rank])
            for n, rank in enumerate(found)
        ]
        for one in asked(target)
        for found in [ranks[one.place.strum]]
    ]
    assert clicked(target, bursts, 0.4).as_asked
