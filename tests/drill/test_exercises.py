"""Laws of the exercises: bars add up, transposing shifts every wish, scale runs climb by step."""

from __future__ import annotations

from itertools import pairwise

import pytest
from hypothesis import given
from hypothesis import strategies as st

from listener.drill.drill import Step
from listener.drill.drill_file import read_drill
from listener.errors import DrillError
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.pitch import parse_tone
from listener.music.roman import parse_roman
from listener.music.scale import parse_key, parse_scale
from listener.music.voicing import inversion_of, voicings
from listener.planning.shapes.candidates import candidates
from listener.tunes.bars import read_bars


def steps_of(*passages: str, key: str = "C major", meter: str = "4/4") -> tuple[Step, ...]:
    """The steps of a drill made of these passages."""
    text = f'title = "t"\nkey = "{key}"\nmeter = "{meter}"\n'
    return read_drill(text + "".join(f"[[passage]]\n{passage}\n" for passage in passages), "t").steps


def test_bars_are_shared_as_musicians_write_them() -> None:
    """A worked example of every sign, beats worked out by hand: shares, dots, a repeat, a rest, a dot over the bar."""
    steps = steps_of('chords = "C | Am7 D7/F# | G . . C | % | N.C. | F N.C. | . Dm"')
    found = [(str(step.wish.chord), step.bar, step.beat, step.length_beats) for step in steps]
    assert found == [
        ("C", 1, 1, 4),
        ("Am7", 2, 1, 2),
        ("D7/F#", 2, 3, 2),
        ("G", 3, 1, 3),
        ("C", 3, 4, 1),
        ("G", 4, 1, 3),
        ("C", 4, 4, 1),
        ("F", 6, 1, 2),
        ("Dm", 7, 3, 2),
    ]


def test_passages_follow_one_another_on_bar_lines() -> None:
    """Bars run on through passages and repeats; a run that ends inside a bar is followed by the next bar line."""
    steps = steps_of(
        'chords = "C | G"\ntimes = 2',
        'scale = "C major"\nkind = "spread"\nsteps = 3\nbeats_each = 3',
        'name = "last"\nchords = "F"',
    )
    assert [step.bar for step in steps] == [1, 2, 3, 4, 5, 5, 6, 8]
    assert [step.beat for step in steps] == [1, 1, 1, 1, 1, 4, 3, 1]
    assert [step.index for step in steps] == list(range(8))
    assert [step.passage for step in steps] == ["passage 1"] * 4 + ["passage 2"] * 3 + ["last"]


def test_steps_know_their_lines() -> None:
    """Each step carries the line on which its chord is written, also inside a text of several lines."""
    steps = steps_of('chords = """\n  C | G\n  Am | % |\n"""\ntimes = 2')
    assert [step.line for step in steps] == [6, 6, 7, 7] * 2


WORDS = st.sampled_from(["C", "Am7", "G/B", "F#m7b5", "N.C.", "."])
BAR = st.lists(WORDS, min_size=1, max_size=6)


@given(st.lists(st.one_of(BAR, st.just(["%"])), min_size=1, max_size=8), st.sampled_from(["|", " | ", " ||\n", "\n"]))
def test_bars_add_up(bars: list[list[str]], line: str) -> None:
    """Whatever is written, every bar is filled exactly, and words follow one another without gap or overlap."""
    bars = [["C", *bars[0][1:]], *bars[1:]]
    read = read_bars(line.join(" ".join(bar) for bar in bars))
    assert not read.misprints
    assert read.count == len(bars)
    assert read.timed[0].start == 0
    assert all(one.start + one.length == two.start for one, two in pairwise(read.timed))
    assert read.timed[-1].start + read.timed[-1].length == len(bars)
    assert sum(one.length for one in read.timed) == len(bars)


@given(st.text(alphabet="CG7.%| \n", max_size=30))
def test_any_text_is_bars_or_misprints(text: str) -> None:
    """Reading never fails; misprints point into the text, and time never runs backwards."""
    read = read_bars(text)
    assert all(0 <= misprint.index < len(text) for misprint in read.misprints)
    assert all(one.start + one.length <= two.start for one, two in pairwise(read.timed))
    assert all(text[one.word.index] in one.word.text + "%" for one in read.timed)


TONICS = st.sampled_from(["C", "Db", "D", "Eb", "E", "F", "F#", "Gb", "G", "Ab", "A", "Bb", "B"])
NUMERALS = st.lists(
    st.sampled_from(["I", "ii7", "iii", "IV", "V7", "vi", "viio", "bVII", "V7/V", "iv", "I6"]), min_size=1, max_size=6
)


@given(TONICS, TONICS, NUMERALS, st.sampled_from(["any", "1", "3", "5"]))
def test_transposing_key_and_chords_together_shifts_every_wish(
    one: str, two: str, numerals: list[str], top: str
) -> None:
    """The same numerals in another key are the same steps with every chord moved by the distance of the keys; writing
    the chords out as symbols gives the same."""
    passage = f'top = "{top}"\nkind = "close"'
    first = steps_of(f'numerals = "{" | ".join(numerals)}"\n{passage}', key=f"{one} major")
    second = steps_of(f'numerals = "{" | ".join(numerals)}"\n{passage}', key=f"{two} major")
    symbols = [str(parse_roman(numeral, parse_key(f"{two} major"))) for numeral in numerals]
    third = steps_of(f'chords = "{" | ".join(symbols)}"\n{passage}', key=f"{two} major")
    away = parse_tone(two).pitch_class - parse_tone(one).pitch_class
    for before, after, written in zip(first, second, third, strict=True):
        moved = {(tone.pitch_class + away) % 12 for tone in before.wish.chord.tones.values()}
        assert {tone.pitch_class for tone in after.wish.chord.tones.values()} == moved
        assert after.wish.chord.quality == before.wish.chord.quality == written.wish.chord.quality
        assert after.wish.chord.root == written.wish.chord.root
        assert (after.bar, after.beat, after.wish.top, after.wish.kinds) == (
            before.bar,
            before.beat,
            before.wish.top,
            before.wish.kinds,
        )


SCALES = st.tuples(TONICS, st.sampled_from(["major", "natural minor", "harmonic minor", "dorian", "lydian"]))
SHAPES = st.sampled_from(
    [("spread", 3, 3), ("close", 3, 3), ("close", 4, 4), ("drop 2", 4, 4), ("drop 3", 4, 4), ("drop 2 & 4", 4, 4)]
)


@given(
    SCALES,
    SHAPES,
    st.integers(0, 3),
    st.integers(1, 7),
    st.sampled_from(["up", "down", "up and down"]),
    st.integers(2, 9),
)
def test_the_tops_of_a_scale_run_are_scale_steps(
    scale: tuple[str, str], shape: tuple[str, int, int], inversion: int, degree: int, direction: str, count: int
) -> None:
    """The top notes walk the scale without leaving out or repeating a step, each is a tone of its chord, and the kind
    and the inversion asked for have a voicing with exactly that top."""
    kind, size, tones = shape
    inversion %= tones
    name = " ".join(scale)
    steps = steps_of(
        f'exercise = "scale run"\nscale = "{name}"\nchord_size = {size}\nkind = "{kind}"\ninversion = {inversion}\n'
        f'from_degree = {degree}\ndirection = "{direction}"\nsteps = {count}'
    )
    tops = [step.wish.top.pitch for step in steps]
    midi = [pitch.midi for pitch in tops if pitch is not None]
    assert len(midi) == (2 * count - 1 if direction == "up and down" else count)
    row = [pitch.midi for pitch in parse_scale(name).pitches(min(midi), max(midi))]
    expected = {"up": row, "down": row[::-1], "up and down": row + row[-2::-1]}[direction]
    assert midi == expected
    assert steps[0].wish.chord.root == parse_scale(name).tones[degree - 1]
    for step in steps:
        found = voicings(step.wish.chord, kind, low=28, high=110, inversion=inversion)
        assert any(step.wish.top.allows(step.wish.chord, notes[-1]) for notes in found)


def test_a_spread_run_in_c_is_the_published_table() -> None:
    """From E4 the first wish of a run in root position is the C spread triad 48-55-64 and nothing else; the triad's
    pitches are the table of spread triads (close triad, middle note up an octave)."""
    steps = steps_of('scale = "C major"\nkind = "spread"\ninversion = 0\nstart = "E4"')
    found = candidates(steps[0].wish, make_instrument(), make_hand("medium"))
    assert {candidate.fingering.pitches for candidate in found} == {(48, 55, 64)}
    assert [str(step.wish.chord) for step in steps] == ["C", "Dm", "Em", "F", "G", "Am", "Bdim", "C"]


def test_a_run_lies_as_low_as_its_strings_allow() -> None:
    """Without a start the run begins with the lowest voicing on the strings asked for, in standard tuning."""
    low = steps_of('scale = "E major"\nkind = "spread"\nstrings = [6, 5, 3]')[0].wish
    high = steps_of('scale = "E major"\nkind = "spread"\nfrom_degree = 4\nstrings = [5, 4, 2]')[0].wish
    instrument, hand = make_instrument(), make_hand("medium")
    assert {one.fingering.pitches for one in candidates(low, instrument, hand)} == {(40, 47, 56)}
    assert {one.fingering.pitches for one in candidates(high, instrument, hand)} == {(45, 52, 61)}


@pytest.mark.parametrize(
    ("kind", "inversion", "symbol"), [("spread", 0, "C"), ("spread", 1, "C"), ("spread", 2, "C"), ("drop 2", 1, "C7")]
)
def test_a_top_degree_and_the_inversion_it_means_are_the_same_run(kind: str, inversion: int, symbol: str) -> None:
    """Asking for the degree that an inversion has on top gives the very same top notes."""
    chord = parse_chord(symbol)
    notes = next(
        notes for notes in voicings(chord, kind, low=48, high=84) if inversion_of(chord, notes[0]) == inversion
    )
    top = (chord.degree_of(notes[-1]) or "").lstrip("b#")
    size = len(notes)
    shape = f'scale = "F major"\nchord_size = {size}\nkind = "{kind}"\nfrom_degree = 5\n'
    by_inversion = steps_of(f"{shape}inversion = {inversion}\nstart = {str(chord.tone_of(notes[-1])) + '4'!r}")
    by_top = steps_of(f'{shape}top = "{top}"\nstart = {str(chord.tone_of(notes[-1])) + "4"!r}')
    assert [step.wish.top for step in by_inversion] == [step.wish.top for step in by_top]


@pytest.mark.parametrize(
    ("passage", "problem"),
    [
        ('scale = "C major"\nkind = "full"\ntop = "1"', "'start' is missing"),
        ('scale = "C major"\nkind = "any"', "'top' is missing"),
        ('scale = "C blues"\nkind = "spread"', "must have seven notes"),
        ('scale = "C major"\nkind = "spread"\nstart = "Z"', "'start' cannot be read"),
        ('scale = "C major"\nkind = "spread"\nstart = ""', "'start' is empty"),
        ('scale = "C major"\nkind = "spread"\nstart = "E9"', "beyond any guitar"),
        ('scale = "C major"\nkind = "spread"\ntop = "7"', "'top' does not fit a scale run"),
        ('scale = "C major"\nkind = "spread"\ninversion = 3', "'inversion' is 3, but C has only 0 to 2"),
        ('scale = ""\nkind = "spread"', "'scale' is empty"),
        ('scale = "C major"\nkind = "close or spread"', "'top' is missing"),
    ],
)
def test_runs_that_cannot_be(passage: str, problem: str) -> None:
    """Ten scale runs that make no sense, each told what is wrong with it."""
    with pytest.raises(DrillError) as caught:
        steps_of(passage)
    assert problem in str(caught.value)
