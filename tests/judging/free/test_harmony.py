"""Which chords govern in free playing: what a musician would write over it."""

from __future__ import annotations

from collections.abc import Iterable, Sequence
from dataclasses import replace
from math import inf

import pytest
from how_many import examples
from hypothesis import given
from hypothesis import strategies as st

from listener.following.harmony import FILE_S, LIVE_S, Governed, HarmonyFollower
from listener.hearing.ears import Ears
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark
from listener.judging.free.free import FreeJudge
from listener.judging.free.harmony import Harmony

#: What is written begins when it is written.
WRITTEN = replace(make_pickup("single"), delay_periods=0.0, lag_ms=0.0)
#: Start, end (seconds) and pitch of a note.
Notes = Iterable[tuple[float, float, int]]


def messages(notes: Notes) -> list[Message]:
    """Note-ons and note-offs, ends first."""
    found = []
    for start_s, end_s, pitch in notes:
        found += [(start_s, 1, (0x90, pitch, 80)), (end_s, 0, (0x80, pitch, 0))]
    return [Message(on_grid(time_s), data) for time_s, _, data in sorted(found)]


def struck(*chords: Sequence[int], each_s: float = 2.0) -> list[tuple[float, float, int]]:
    """One chord after the other, each held to the next."""
    return [(1 + n * each_s, 1 + (n + 1) * each_s - 0.02, pitch) for n, chord in enumerate(chords) for pitch in chord]


def heard(played: Iterable[Message], hindsight_s: float = FILE_S) -> list[tuple[float, str | None]]:
    """From when on which chord governs."""
    judge = FreeJudge(WRITTEN, hindsight_s=hindsight_s)
    for message in played:
        judge.feed(message)
    judge.finish()
    return [(chord.onset_s, chord.symbol) for chord in judge.harmony]


def names(notes: Notes, hindsight_s: float = FILE_S) -> list[str | None]:
    return [symbol for _, symbol in heard(messages(notes), hindsight_s)]


C, A_MINOR, F, G = (48, 55, 60, 64), (45, 52, 60, 64), (41, 53, 57, 60), (43, 50, 59, 67)


@pytest.mark.parametrize("hindsight_s", [LIVE_S, FILE_S])
def test_chords_struck_once(hindsight_s: float) -> None:
    """Four chords of one key, each from its own stroke on."""
    found = heard(messages(struck(C, A_MINOR, F, G)), hindsight_s)
    assert found == [(1.0, "C"), (3.0, "Am"), (5.0, "F"), (7.0, "G")]


def test_a_comp_on_one_chord_is_one_chord() -> None:
    """Fifths, inner voices, a bass that alternates: six names for six strokes, and one chord over them all."""
    strokes = [(51, 58), (58, 62, 67), (51, 55, 62), (46, 58), (62, 67), (51, 55, 58)]
    notes = [(1 + 0.5 * n, 1.45 + 0.5 * n, pitch) for n, chord in enumerate(strokes * 3) for pitch in chord]
    judge = FreeJudge(WRITTEN)
    for message in messages(notes):
        judge.feed(message)
    assert len({chord.chord for chord in judge.finish()}) == 6
    assert [chord.symbol for chord in judge.harmony] == ["Ebmaj7"]


@pytest.mark.parametrize(
    ("chord", "name"),
    [
        ((50, 60, 65, 69), "Dm7"), ((43, 53, 59, 65), "G7"), ((48, 59, 64, 67), "Cmaj7"), ((48, 57, 64, 67), "C6"),
        ((48, 58, 62, 64, 67), "C9"), ((50, 60, 64, 65, 69), "Dm9"), ((48, 59, 62, 64), "Cmaj9"),
        ((43, 53, 57, 60), "F/G"), ((46, 55, 60, 64), "C7/Bb"), ((50, 57, 59, 65), "Dm6"),
        ((43, 53, 60, 62), "G7sus4"), ((47, 57, 62, 65), "Bm7b5"), ((48, 52, 56, 64), "Caug"),
        ((52, 60, 67), "C/E"), ((40, 47, 52), "E5"), ((48, 55, 62, 64), "Cadd9"), ((45, 52, 57, 59, 64), "Asus2"),
    ],
)  # fmt: skip
def test_what_really_sounded_is_in_the_name(chord: tuple[int, ...], name: str) -> None:
    """Sevenths, sixths, ninths and the bass, as they lie (chord symbols: common practice)."""
    assert names(struck(chord, chord)) == [name]


def test_a_passing_tone_is_not_in_the_name() -> None:
    """A ninth of a sixth of the time passes; one that is held is written."""
    passing = [(1.0, 4.0, pitch) for pitch in C] + [(2.0, 2.4, 74)]
    held = [(1.0, 4.0, pitch) for pitch in C] + [(2.0, 4.0, 74)]
    assert names(passing) == ["C"]
    assert names(held) == ["Cadd9"]


def test_an_alternating_bass_is_no_slash_chord() -> None:
    """Root and fifth by turns under a chord: C. The third held in the bass: C over E."""
    turns = [(1.0 + n, 1.95 + n, pitch) for n in range(4) for pitch in ((48, 43)[n % 2], 60, 64, 67)]
    assert names(turns) == ["C"]


@pytest.mark.parametrize(
    ("chords", "expected"),
    [
        (((51, 58, 67), (44, 60, 63), (46, 62, 65)), ["Eb", "Ab", "Bb"]),
        (((52, 59, 68), (49, 56, 64), (44, 59, 63), (47, 63, 66)), ["E", "C#m", "G#m", "B"]),
        (((45, 60, 64), (44, 53, 59, 62), (45, 60, 64), (40, 56, 62)), ["Am", "G#dim7", "Am", "E7"]),
    ],
)
def test_roots_are_spelled_as_the_key_has_them(chords: Sequence[Sequence[int]], expected: list[str]) -> None:
    """A flat in E flat major, G sharp minor in E major, G sharp diminished in A minor."""
    assert names(struck(*chords, *chords))[len(chords) :] == expected


def test_a_third_that_comes_late_is_the_chords_from_its_beginning() -> None:
    """A fifth on A, and seconds later its third: A minor from the first note on."""
    late = [(1.0, 6.0, 45), (1.0, 6.0, 52), (3.0, 6.0, 60)]
    assert heard(messages(late), LIVE_S) == [(1.0, "Am")]


def test_live_a_chord_has_its_name_after_a_second() -> None:
    """Whatever comes later: what is told of a stroke's root and kind does not change any more."""
    played = messages(struck(C, A_MINOR, F, G))
    for last_s in (1.99, 3.99, 5.99, 7.99):
        judge = FreeJudge(WRITTEN)
        for message in played:
            if message.time_s <= last_s:
                judge.feed(message)
        judge.tick(last_s)
        told = [(chord.onset_s, chord.symbol) for chord in judge.harmony]
        assert told == heard(played, LIVE_S)[: len(told)]
        assert len(told) == int(last_s + 1) // 2


@pytest.mark.parametrize(
    ("notes", "what"),
    [
        ([(1.0, 3.0, 48)], "one note"),
        ([(1.0 + 0.25 * n, 1.23 + 0.25 * n, p) for n, p in enumerate((48, 50, 52, 53, 55, 57, 59, 60) * 3)], "a scale"),
        ([(1.0 + 0.2 * n, 1.19 + 0.2 * n, 48 + n) for n in range(24)], "a chromatic run"),
        ([(1.0, 3.0, 48 + n) for n in range(12)], "twelve tones at once"),
    ],
)
def test_where_there_is_no_chord_none_is_named(notes: Notes, what: str) -> None:
    """One note, noodling, a cluster: an honest answer."""
    assert names(notes) == [None], what


def test_silence_has_no_harmony() -> None:
    """Nothing in, nothing out, and time that passes says nothing either."""
    assert heard([]) == []
    judge = FreeJudge(WRITTEN)
    judge.tick(100.0)
    assert judge.harmony == ()


def test_keys_let_go_under_a_pedal_say_nothing_more() -> None:
    """Two chords with the pedal down all the time: the first rings into the second, but nobody plays it any more."""
    low = [(1.0 + 0.02 * n, 1.9, pitch) for n, pitch in enumerate((48, 52, 55))]
    after = [(3.0, 8.0, 50), (3.5, 8.0, 53), (4.0, 8.0, 57)]
    played = [Message(0.5, (0xB0, 64, 127)), *messages(low + after)]
    assert heard(played) == [(1.0, "C"), (3.0, "Dm")]


def test_a_string_that_never_ends_is_forgotten() -> None:
    """A note-off that was lost: the harmony goes on without that string after a while."""
    played = [m for m in messages(struck(*(C, A_MINOR) * 8)) if m.data != (0x80, 48, 0) or m.time_s > 30]
    assert [symbol for _, symbol in heard(played)][-6:] == ["C", "Am"] * 3


def test_what_is_played_in_a_pause_is_no_harmony() -> None:
    """Chords before and after a pause; what is tried out meanwhile, and what still rang then, are not heard."""
    judge = FreeJudge(WRITTEN)
    before, tried = messages(struck(C)), messages((s + 4, e + 4, p) for s, e, p in struck((49, 56, 61, 65)))
    after = messages((s + 8, e + 8, p) for s, e, p in struck(G))
    for message in before[:4]:
        judge.feed(message)
    judge.mark(Mark(2.5, "pause"))
    for message in [*before[4:], *tried]:
        judge.feed(message)
    judge.mark(Mark(8.5, "step 1"))
    for message in after:
        judge.feed(message)
    judge.mark(Mark(12.0, "end"))
    assert [(chord.onset_s, chord.symbol) for chord in judge.harmony] == [(1.0, "C"), (9.0, "G")]


def test_a_chord_that_nobody_damped_before_a_pause_is_over() -> None:
    """Its strings may ring on, or their ends be lost: what comes after the pause is a chord by itself."""
    judge = FreeJudge(WRITTEN)
    for pitch in G:
        judge.feed(Message(1.0, (0x90, pitch, 80)))
    judge.mark(Mark(2.5, "pause"))
    judge.mark(Mark(3.0, "step 0"))
    for message in messages((3.5, 5.5, pitch) for pitch in C):
        judge.feed(message)
    judge.mark(Mark(7.0, "end"))
    assert [(chord.onset_s, chord.symbol) for chord in judge.harmony] == [(1.0, "G"), (3.5, "C")]


# Laws ----------------------------------------------------------------------------------------------------------

_playing = st.lists(
    st.tuples(st.floats(0.02, 1.5), st.floats(0.05, 3.0), st.integers(40, 76)), min_size=1, max_size=24
).map(lambda rows: _in_time(rows))


def _in_time(rows: Sequence[tuple[float, float, int]]) -> list[tuple[float, float, int]]:
    """Waits to times."""
    now, found = 1.0, []
    for wait_s, length_s, pitch in rows:
        now += wait_s
        found.append((now, now + length_s, pitch))
    return found


def followed(played: Sequence[Message], looks: Sequence[float]) -> list[Governed]:
    """What the follower gives out when it is also asked at other times."""
    ears, follower, found = Ears(WRITTEN, keep_notes=True), HarmonyFollower(LIVE_S), []
    moments = sorted(
        [(m.time_s, 1, m) for m in played] + [(time_s, 0, None) for time_s in looks], key=lambda at: at[:2]
    )
    for time_s, _, message in moments:
        strokes = ears.tick(time_s) if message is None else ears.feed(message)
        found += follower.hear(ears.notes(), strokes, ears.known_s(time_s))
    strokes = ears.flush()
    return found + follower.hear(ears.notes(), strokes, inf)


@given(_playing, st.lists(st.floats(0.0, 40.0), max_size=20))
def test_looking_changes_nothing(notes: list[tuple[float, float, int]], looks: list[float]) -> None:
    """However often the clock ticks: the same governs, and as long."""
    played = messages(notes)
    assert followed(played, looks) == followed(played, [])


@given(_playing, st.integers(1, 11))
def test_what_is_given_out_is_whole(notes: list[tuple[float, float, int]], shift: int) -> None:
    """Every stroke is given out once, in order, and what sounded in it adds up: no pitch class longer than the bass."""
    given_out = followed(messages(notes), [])
    onsets = [governed.onset_s for governed in given_out]
    ears = Ears(WRITTEN)
    strokes = [stroke for message in messages(notes) for stroke in ears.feed(message)] + ears.flush()
    assert onsets == [stroke.onset_s for stroke in strokes]
    for governed in given_out:
        assert max(governed.sounded) <= sum(governed.bass) <= sum(governed.sounded)


_triads = st.lists(st.tuples(st.integers(0, 11), st.sampled_from([(0, 7, 16), (0, 7, 15)])), min_size=1, max_size=8)


@given(_triads, st.integers(1, 11))
def test_another_key_is_the_same_music(chords: list[tuple[int, tuple[int, ...]]], shift: int) -> None:
    """Spread triads a number of semitones higher: the same chords that much higher."""

    def roots(by: int) -> list[tuple[int | None, str | None]]:
        played = struck(*([43 + root + by + tone for tone in tones] for root, tones in chords))
        return [
            (None if one.root is None else (one.root - by) % 12, one.kind.name if one.kind else None)
            for one in followed(messages(played), [])
        ]

    assert roots(shift) == roots(0)


@pytest.mark.parametrize("count", [examples(400)])
def test_nothing_grows_but_the_line(count: int) -> None:
    """After so many strokes what is kept for the search is as much as after a few dozen."""
    ears, harmony = Ears(WRITTEN, keep_notes=True), Harmony()
    sizes = []
    for message in messages(struck(*(C, A_MINOR, F, G) * count, each_s=0.5)):
        harmony.hear(ears.notes(), ears.feed(message), ears.known_s(message.time_s))
        sizes.append(len(harmony._follower._segments))
    assert max(sizes) < 100
