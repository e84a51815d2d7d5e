"""Through the keys, and chance: exact transposition, sensible names, the same order everywhere."""

from __future__ import annotations

from collections import Counter
from itertools import islice

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.chance import dealt, shuffled, splitmix64
from listener.drill.drill import Drill, NoteWish, Wish
from listener.drill.drill_file import read_drill
from listener.drill.reading.keys import ROUNDS, round_of_keys
from listener.drill.room import has_room
from listener.drill.transposing import Move, fitting
from listener.music.chord import parse_chord
from listener.music.pitch import parse_pitch, parse_tone
from listener.music.scale import Key, parse_key

TONICS = st.sampled_from(["C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B"])
MODES = st.sampled_from(["major", "minor"])


def drill_of(passage: str, key: str = "C major", head: str = "") -> Drill:
    """A drill of one passage."""
    return read_drill(f'title = "t"\nkey = "{key}"\n{head}[[passage]]\n{passage}\n', "t")


def test_splitmix64_gives_the_published_numbers() -> None:
    """First numbers for the seeds 0 and 1234567 (values of the reference implementation, from memory)."""
    assert list(islice(splitmix64(0), 2)) == [0xE220A8397B1DCDAF, 0x6E789E6AA1B965F4]
    assert list(islice(splitmix64(1234567), 3)) == [6457827717110365317, 3203168211198807973, 9817491932198370423]


@given(st.lists(st.integers(), max_size=30), st.integers(0, 2**40))
def test_shuffling_loses_nothing(things: list[int], seed: int) -> None:
    """The same things in some order, the same one every time."""
    assert Counter(shuffled(things, seed)) == Counter(things)
    assert shuffled(things, seed) == shuffled(things, seed)


def test_every_order_is_as_likely() -> None:
    """Over 6,000 seeds each of the six orders of three things comes about a thousand times (within five deviations)."""
    counts = Counter("".join(shuffled("abc", seed)) for seed in range(6000))
    assert len(counts) == 6
    assert all(abs(count - 1000) < 5 * 29 for count in counts.values())


@given(st.integers(1, 6), st.integers(0, 40), st.integers(0, 99))
def test_dealing_is_fair(kinds: int, count: int, seed: int) -> None:
    """No thing is dealt twice before all were dealt once."""
    found = dealt(range(kinds), count, seed)
    assert len(found) == count
    for start in range(0, count - kinds + 1, kinds):
        assert sorted(found[start : start + kinds]) == list(range(kinds))


def test_a_shuffled_drill_never_changes() -> None:
    """This very order, written down once: if it ever differs, drills kept by players have changed under them."""
    drill = drill_of(
        'chords = "C | F"\nkind = ["close", "spread"]\nkeys = "round of fourths"\nshuffle = "keys"\nseed = 7'
    )
    keys = [step.passage.removeprefix("passage 1, in ").removesuffix(" major") for step in drill.steps[::2]]
    assert keys == shuffled(["C", "F", "Bb", "Eb", "Ab", "Db", "Gb", "B", "E", "A", "D", "G"], 7)
    assert keys == PINNED


PINNED = ["D", "G", "Db", "F", "B", "Ab", "E", "Bb", "A", "Gb", "C", "Eb"]


@given(TONICS, MODES, st.sampled_from(sorted(ROUNDS)))
def test_rounds_come_home(tonic: str, mode: str, name: str) -> None:
    """A round begins at home, has no key twice, the next key would be home, and only home may have over six signs."""
    home = parse_key(f"{tonic} {mode}")
    keys = round_of_keys(home, ROUNDS[name])
    classes = [key.tonic.pitch_class for key in keys]
    assert keys[0] == home
    assert len(set(classes)) == len(classes)
    assert (classes[-1] + ROUNDS[name]) % 12 == classes[0]
    assert all(abs(key.signature) <= 6 for key in keys[1:])


def test_the_round_of_fourths_is_the_one_on_every_wall() -> None:
    """C F Bb Eb Ab Db Gb B E A D G (common practice), and the same in minor from A."""
    major = [str(key.tonic) for key in round_of_keys(parse_key("C major"), 5)]
    minor = [str(key.tonic) for key in round_of_keys(parse_key("A minor"), 5)]
    assert " ".join(major) == "C F Bb Eb Ab Db Gb B E A D G"
    assert " ".join(minor) == "A D G C F Bb Eb G# C# F# B E"


CHORDS = st.sampled_from(["C", "Dm7", "G7/B", "F#m7b5", "Bbmaj7", "Ab", "E7#9", "C/D", "Caug"])
TOPS = st.sampled_from(["any", "1", "E4", "G4", "B4"])


@given(TONICS, TONICS, MODES, st.lists(CHORDS, min_size=1, max_size=4), TOPS)
def test_transposing_is_exact(home: str, to: str, mode: str, chords: list[str], top: str) -> None:
    """Every chord moves by the distance of the keys, every fixed pitch by one and the same interval that fits it,
    degrees stay."""
    kept = [
        chord for chord in chords if top[-1] != "4" or parse_pitch(top).midi % 12 in parse_chord(chord).pitch_classes
    ]
    if not kept:
        return
    passage = f'chords = "{" | ".join(kept)}"\ntop = "{top}"\nkeys = ["{home}", "{to}"]'
    steps = drill_of(passage, key=f"{home} {mode}").steps
    before, after = steps[: len(kept)], steps[len(kept) :]
    away = (parse_tone(to).pitch_class - parse_tone(home).pitch_class) % 12
    moves = set()
    for one, two in zip(before, after, strict=True):
        assert two.wish.chord.quality == one.wish.chord.quality
        assert {(pc + away) % 12 for pc in one.wish.chord.pitch_classes} == set(two.wish.chord.pitch_classes)
        assert two.wish.top.degree == one.wish.top.degree
        if one.wish.top.pitch is not None and two.wish.top.pitch is not None:
            moves.add(two.wish.top.pitch.midi - one.wish.top.pitch.midi)
            assert two.wish.top.pitch.tone == two.wish.chord.tone_of(two.wish.top.pitch.midi)
    assert len(moves) <= 1
    assert all(move % 12 == away for move in moves)


@given(TONICS, TONICS, CHORDS)
def test_names_stay_sensible(home: str, to: str, symbol: str) -> None:
    """No double sharp or flat roots, and no B sharp, C flat, E sharp or F flat but in a key that has it."""
    move = Move(Key(parse_tone(home)), Key(parse_tone(to)))
    for tone in filter(None, (move.chord(parse_chord(symbol)).root, move.chord(parse_chord(symbol)).bass)):
        assert abs(tone.alteration) < 2
        assert str(tone) not in ("B#", "Cb", "E#", "Fb") or tone in move.to.tones


@pytest.mark.parametrize(("to", "semitones"), [("D", 2), ("Bb", -2), ("F#", -6), ("F", 5), ("G", -5)])
def test_fixed_pitches_move_to_the_nearest_octave(to: str, semitones: int) -> None:
    """Where the neck leaves the choice, a melody moves by the smaller interval."""
    steps = drill_of(f'chords = "C | F"\ntop = "C5 A4"\nkeys = ["C", "{to}"]').steps
    assert [step.wish.top.pitch.midi for step in steps if step.wish.top.pitch] == [
        72,
        69,
        72 + semitones,
        69 + semitones,
    ]


def test_fixed_pitches_move_to_an_octave_that_fits() -> None:
    """A low bass in E cannot go down to D on six strings in standard tuning: it goes up a seventh. Both have room."""
    drill = drill_of('chords = "E | A"\nbottom = "E2 A2"\nkind = "spread"\nkeys = ["E", "D"]', key="E major")
    assert [step.wish.bottom.pitch.midi for step in drill.steps if step.wish.bottom.pitch] == [40, 45, 50, 55]
    assert all(has_room(step.wish) for step in drill.steps)
    move = fitting(Move(parse_key("E major"), parse_key("D major")), [step.wish for step in drill.steps[:2]])
    assert move.semitones == 10


@pytest.mark.parametrize(("top", "room"), [("F#4", True), ("G#4", False)])
def test_a_foreign_top_note_lies_within_an_octave_above_the_chord(top: str, room: bool) -> None:
    """C close over C3 is C3 E3 G3: F sharp above it is near enough, G sharp lies thirteen semitones above G."""
    asked, low = NoteWish(pitch=parse_pitch(top)), NoteWish(pitch=parse_pitch("C3"))
    assert has_room(Wish(parse_chord("C"), ("close",), top=asked, bottom=low, added_top=True)) == room


def test_a_scale_run_goes_through_the_keys() -> None:
    """Runs move like everything else, and stay on the strings that they were written for."""
    drill = drill_of(
        'scale = "E major"\nkind = "spread"\nstrings = [6, 5, 3]\nsteps = 2\nkeys = ["E", "F", "Eb"]', "E major"
    )
    tops = [step.wish.top.pitch.midi for step in drill.steps if step.wish.top.pitch]
    assert tops == [56, 57, 57, 58, 67, 68]
    assert [str(step.wish.chord) for step in drill.steps[4:]] == ["Eb", "Fm"]


def test_the_drill_gives_keys_to_passages_that_say_nothing() -> None:
    """Keys, seed and order at the top go for all passages; a passage can stay in its own key."""
    text = """
title = "t"
key = "C major"
keys = ["C", "G"]
[[passage]]
chords = "C"
[[passage]]
chords = "F"
keys = "own key"
"""
    assert [str(step.wish.chord) for step in read_drill(text, "t").steps] == ["C", "G", "F"]


@given(st.integers(0, 1000), st.integers(2, 4), st.integers(1, 12))
def test_shuffled_kinds_keep_their_voices(seed: int, kinds: int, chords: int) -> None:
    """Each kind keeps the number of voices that stands at its place in the list."""
    names, voices = ["spread", "close", "shell", "drop 2"][:kinds], [3, 4, 3, 4][:kinds]
    drill = drill_of(
        f'chords = "{" | ".join(["C6"] * chords)}"\nkind = {names}\nvoices = {voices}\nshuffle = "kinds"\nseed = {seed}'
        .replace("'", '"').replace("C6", "Cmaj7")
    )  # fmt: skip
    pairs = dict(zip(names, voices, strict=True))
    assert all(step.wish.size == pairs[step.wish.kinds[0]] for step in drill.steps)
    assert [step.wish.kinds[0] for step in drill.steps] == dealt(names, chords, seed)


def test_shuffled_kinds_are_dealt_anew_in_every_key() -> None:
    """Nobody learns the order of the first key by heart: it is another one in most of the twelve, and every key has
    each kind as often as every other."""
    drill = drill_of(
        'chords = "C | F | G | C"\nkind = ["close", "spread"]\nkeys = "round of fourths"\nshuffle = "kinds"\nseed = 3'
    )
    orders = [tuple(step.wish.kinds[0] for step in drill.steps[at : at + 4]) for at in range(0, 48, 4)]
    assert all(sorted(order) == ["close", "close", "spread", "spread"] for order in orders)
    assert max(map(orders.count, orders)) <= 6
