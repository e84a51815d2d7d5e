"""Patterns: how they are written, where their places fall, which voices they strike."""

from __future__ import annotations

from fractions import Fraction

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.errors import MusicError
from listener.music.pattern import OVER_BAR, OVER_CHORD, OVERS, Pattern, count_words
from listener.music.pattern_text import read_picks, read_strums

HALF = Fraction(1, 2)


def strummed(text: str, **more: object) -> Pattern:
    return Pattern(read_strums(text), **more)  # type: ignore[arg-type]


def picked(text: str, **more: object) -> Pattern:
    return Pattern(read_picks(text), **more)  # type: ignore[arg-type]


@pytest.mark.parametrize(
    "text", ["d . d u . u d u", "down . down up . up down up", "D . D U . U D U", "d.du.udu", "d . d u | . u d u |"]
)
def test_strums_are_read_however_they_are_spelled(text: str) -> None:
    """Letters or words, large or small, with or without spaces and bar lines."""
    assert str(strummed(text)) == "d . d u . u d u"


def test_accents_and_rests() -> None:
    """A > makes a place loud, - and rest stop the strings, . lets them ring."""
    places = read_strums(">d - rest . >up")
    assert [place.accent for place in places] == [True, False, False, False, True]
    assert [place.rests for place in places] == [False, True, True, False, False]
    assert [place.struck for place in places] == [True, False, False, False, True]


def test_picks_by_number_count_from_the_bass() -> None:
    """1 is the lowest voice, several are picked at once with a plus."""
    pattern = picked("1 3 2+4 .")
    assert [pattern.voices(place, 4) for place in pattern.places] == [(0,), (2,), (1, 3), ()]
    assert pattern.least_voices == 4


@pytest.mark.parametrize(
    ("text", "voices", "least"),
    [
        ("p i m a", [(0,), (2,), (3,), (4,)], 4),
        ("p i m i", [(0,), (3,), (4,), (3,)], 3),
        ("p+a i m", [(0, 4), (2,), (3,)], 4),
        ("p m", [(0,), (4,)], 2),
        ("P A", [(0,), (4,)], 2),
        ("pima", [(0,), (2,), (3,), (4,)], 4),
    ],
)
def test_fingers_take_the_bass_and_the_highest_voices(text: str, voices: list[tuple[int, ...]], least: int) -> None:
    """Of five voices the thumb has the lowest, the fingers that are used the highest, in the order i, m, a."""
    pattern = picked(text)
    assert [pattern.voices(place, 5) for place in pattern.places] == voices
    assert pattern.least_voices == least


@pytest.mark.parametrize(
    ("read", "text", "said"),
    [
        (read_strums, "", 'is empty; write for example "d . d u . u d u"'),
        (read_strums, " | ", 'is empty; write for example "d . d u . u d u"'),
        (read_strums, ". - .", 'strikes nothing; write for example "d . d u . u d u"'),
        (read_strums, "d u x u", "place 3, 'x', is not a stroke; write d (down), u (up)"),
        (read_strums, "d u 1", "place 3, '1', is not a stroke"),
        (read_strums, "d >. u", "place 2, '>.', is an accent on nothing"),
        (read_strums, "d, u", "place 2, ',', is not a stroke"),
        (read_strums, "d İ", "place 2, 'İ', is not a stroke"),
        (read_picks, "", 'is empty; write for example "1 3 2 3"'),
        (read_picks, "1 0", "place 2, '0', is not a voice; write 1 (the bass)"),
        (read_picks, "1 3+ 2", "place 3, '+', is not a voice"),
        (read_picks, "1 d", "place 2, 'd', is not a voice"),
        (read_picks, "p i 2", "place 3, '2', is a voice by number where others are fingers"),
        (read_picks, "p+1", "place 1, 'p+1', is a voice by number where others are fingers"),
        (read_picks, "1 2+2", "place 2, '2+2', is one voice twice at once"),
        (read_picks, "1 " * 5000, "has more than 500 places"),
    ],
)
def test_what_cannot_be_read_says_place_and_reason(read: object, text: str, said: str) -> None:
    """One sentence that begins with what is wrong."""
    with pytest.raises(MusicError) as caught:
        read(text)  # type: ignore[operator]
    assert said in str(caught.value)
    assert len(str(caught.value)) < 200


def test_a_long_foreign_word_is_cut_short() -> None:
    """The complaint stays one line that can be read."""
    with pytest.raises(MusicError, match=r"place 1, 'xxxxxxxxxxxxxxxxx\.\.\.', is not a stroke"):
        read_strums("x" * 100_000)


def test_the_position_is_where_reading_stopped() -> None:
    """So that the line of a long text can be found."""
    with pytest.raises(MusicError) as caught:
        read_strums("d u |\n d q u")
    assert caught.value.position == 9


@pytest.mark.parametrize(
    ("count", "words"),
    [
        ("0", "1"),
        ("1/2", "1-and"),
        ("5/4", "2-e"),
        ("7/4", "2-a"),
        ("4/3", "2-trip"),
        ("8/3", "3-let"),
        ("1/8", "1+1/8"),
    ],
)
def test_counting(count: str, words: str) -> None:
    """As players count aloud (common practice)."""
    assert count_words(Fraction(count)) == words


def test_places_over_a_bar() -> None:
    """Eighths over four quarters, counted from the chord and from the bar."""
    found = strummed("d . d u . u d u").placed(8, 4)
    assert [str(one.place) for one in found] == ["d", ".", "d", "u", ".", "u", "d", "u"]
    assert [one.start_beats for one in found] == [index * HALF for index in range(8)]
    assert [one.counted for one in found] == ["1", "1-and", "2", "2-and", "3", "3-and", "4", "4-and"]
    assert {one.length_beats for one in found} == {HALF}


def test_a_chord_in_the_middle_goes_on_with_the_pattern_of_the_bar() -> None:
    """Or begins it anew where it goes with the chords."""
    text = "d . d u d u d u"
    over_bar, over_chord = strummed(text), strummed(text, over=OVER_CHORD)
    assert [str(one.place) for one in over_bar.placed(6, 2)] == ["d", "u", "d", "u"]
    assert [str(one.place) for one in over_chord.placed(6, 2)] == ["d", ".", "d", "u"]
    assert [one.counted for one in over_chord.placed(6, 2)] == ["3", "3-and", "4", "4-and"]


def test_a_short_pattern_goes_round_and_a_bar_begins_it_anew() -> None:
    """Three places in a bar of eight: 3 + 3 + 2, in each of two bars."""
    found = picked("1 2 3").placed(0, 8)
    assert [str(one.place) for one in found] == ["1", "2", "3", "1", "2", "3", "1", "2"] * 2
    assert [one.bar for one in found] == [0] * 8 + [1] * 8


def test_over_the_chord_it_goes_on_over_the_bar_line() -> None:
    """Nothing begins anew within a chord."""
    found = picked("1 2 3", over=OVER_CHORD).placed(0, 8)
    assert [str(one.place) for one in found] == ("1 2 3 " * 6).split()[:16]


def test_swing_makes_every_second_place_late() -> None:
    """Two to one: triplets; written straight on request."""
    pattern = strummed("d u d u", swing=Fraction(2, 3))
    third = Fraction(1, 3)
    assert [one.start_beats for one in pattern.placed(0, 2)] == [0, 2 * third, 1, 1 + 2 * third]
    assert [one.length_beats for one in pattern.placed(0, 2)] == [2 * third, third] * 2
    assert [one.start_beats for one in pattern.placed(0, 2, straight=True)] == [0, HALF, 1, 1 + HALF]
    assert [one.counted for one in pattern.placed(0, 2)] == ["1", "1-and", "2", "2-and"]


def test_compound_time() -> None:
    """In 6/8 a beat is an eighth."""
    found = picked("p i m a m i", meter=(6, 8)).placed(6, 6)
    assert [one.start_beats for one in found] == list(range(6))
    assert [one.counted for one in found] == ["1", "2", "3", "4", "5", "6"]


def test_words() -> None:
    """What players read, and what a program reads."""
    pattern = strummed(">d . d u", swing=Fraction(2, 3))
    assert pattern.words == "strummed in eighths, swung 67 to 33, anew in each bar: down (accent), let ring, down, up"
    assert picked("p i+m -", place=Fraction(1, 16), over=OVER_CHORD).words == (
        "picked in sixteenths, anew with each chord: p, i+m, rest"
    )
    assert pattern.as_json() == {"strum": ">d . d u", "place": "1/8", "over": "bar", "swing": 0.6667}


SIGNS = st.lists(st.sampled_from(["d", "u", ".", "-", ">d", ">u"]), min_size=1, max_size=12).filter(
    lambda signs: any(sign[-1] in "du" for sign in signs)
)
PATTERNS = st.builds(
    lambda signs, place, beats, over, swing: Pattern(
        read_strums(" ".join(signs)), Fraction(place), (beats, 4), over, swing
    ),
    SIGNS,
    st.sampled_from(["1/4", "1/8", "1/16", "1/12"]),
    st.integers(2, 7),
    st.sampled_from(OVERS),
    st.sampled_from([HALF, Fraction(3, 5), Fraction(2, 3), Fraction(3, 4)]),
)


@given(PATTERNS, st.integers(0, 40), st.integers(1, 32))
def test_places_fill_the_chord(pattern: Pattern, start: int, length: int) -> None:
    """From the first to the end without a gap or an overlap, all of them inside the chord."""
    found = pattern.placed(Fraction(start, 2), Fraction(length, 2))
    now = found[0].start_beats if found else Fraction(0)
    for one in found:
        assert one.start_beats == now
        assert one.length_beats > 0
        assert 0 <= one.count < pattern.meter[0]
        now = one.end_beats
    if found:
        assert now == Fraction(length, 2)


@given(PATTERNS, st.integers(0, 40), st.integers(1, 16), st.integers(1, 16))
def test_over_the_bar_nobody_hears_where_a_chord_ends(pattern: Pattern, start: int, first: int, second: int) -> None:
    """Two chords have the places of one that is as long as both (the hand goes on)."""
    if pattern.over != OVER_BAR:
        return

    def moments(start_beats: int, length_beats: int) -> list[tuple[Fraction, int]]:
        found = pattern.placed(start_beats, length_beats, straight=True)
        return [(start_beats + one.start_beats, one.number) for one in found]

    assert moments(start, first) + moments(start + first, second) == moments(start, first + second)


@given(PATTERNS)
def test_what_is_written_is_read_again(pattern: Pattern) -> None:
    """The text of a pattern gives the same places."""
    assert read_strums(str(pattern)) == pattern.places
