"""Laws of the exercises beyond progressions and runs: inversions, held tones, ladders, cycles, riffs, contrasts."""

from __future__ import annotations

from itertools import pairwise
from math import gcd

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from spots import under

from listener.drill.drill import Drill, Step
from listener.drill.drill_file import read_drill
from listener.drill.exercises.cycle import EXACT, IN_THE_SCALE
from listener.drill.exercises.ladder import RUNGS, grown
from listener.errors import DrillError, PlanError
from listener.guitar.grip import fingerings
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.music.chord import parse_chord
from listener.music.scale import parse_key, parse_scale
from listener.planning.planner import plan_drill
from listener.safe_text import toml_text

METERS = st.sampled_from(["4/4", "3/4", "6/8", "5/4"])
SYMBOLS = st.sampled_from(["C", "Am", "Bdim", "Caug", "Dm7", "G7", "Fmaj7", "Bm7b5", "C#dim7", "Am6"])


def drill_of(*passages: str, key: str = "C major", meter: str = "4/4") -> Drill:
    """A drill made of these passages."""
    text = f'title = "t"\nkey = "{key}"\nmeter = "{meter}"\n'
    return read_drill(text + "".join(f"[[passage]]\n{passage}\n" for passage in passages), "t")


def symbols(steps: tuple[Step, ...]) -> list[str]:
    """The chords, as this program writes them."""
    return [step.wish.chord.symbol for step in steps]


PASSAGES = st.sampled_from(
    [
        'exercise = "inversions"\nchords = "C | Am7"\nkind = "close"\ndirection = "in turn"\nbeats_each = 3',
        'exercise = "held tones"\nchord = "Am"\nhold = "A2 E3"\nbeats_each = 2.5\ndirection = "up and down"',
        'exercise = "extension ladder"\nnumerals = "ii V | I"\ntimes = 2',
        'exercise = "cycle"\nby = "thirds"\nbeats_each = 1.5\ntimes = 3',
        'exercise = "cycle"\nby = "minor thirds"\nchord = "C7"',
        'exercise = "contrast"\nnumerals = "I | IV V"\nturns = 2\nloud = { numerals = "vi | V | I" }',
        'exercise = "riff"\nchords = "C | Am F | G"\nrhythm = "x . - x | x x . x"\ntimes = 2',
        'exercise = "weak changes"\nchanges = ["C -> Am7", "Dm7 -> G7 -> C"]\nbeats_each = 2\ntimes = 3',
        'chords = "C | N.C. | F G"\ntimes = 2',
    ]
)


@settings(deadline=None)
@given(
    st.lists(PASSAGES, min_size=1, max_size=4), METERS, st.sampled_from(["", "up in major thirds", "round of fifths"])
)
def test_bars_add_up_in_every_exercise(passages: list[str], meter: str, keys: str) -> None:
    """Steps are numbered through, never overlap, stand in the bar and on the beat that their time says, and every
    passage (in every key) begins on a bar line."""
    extra = f'\nkeys = "{keys}"' if keys else ""
    drill = drill_of(*(f'name = "p{number}"\n{passage}{extra}' for number, passage in enumerate(passages)), meter=meter)
    beats = drill.meter[0]
    assert [step.index for step in drill.steps] == list(range(len(drill.steps)))
    for step in drill.steps:
        assert (step.bar - 1) * beats + step.beat - 1 == pytest.approx(step.start_beats)
        assert 1 <= step.beat < beats + 1
        assert step.length_beats > 0
    for one, two in pairwise(drill.steps):
        assert one.start_beats + one.length_beats <= two.start_beats + 1e-9
        if one.passage != two.passage:
            assert two.beat == 1


@given(SYMBOLS, st.integers(0, 2), st.sampled_from(["up", "down", "up and down"]), st.integers(2, 8))
def test_an_inversion_cycle_turns_the_chord_over(symbol: str, first: int, direction: str, count: int) -> None:
    """Inversions follow one another round the chord, the bass moving one way; all of them come when nothing else is
    said; the way back is the way there."""
    passage = f'exercise = "inversions"\nchords = "{symbol}"\nkind = "close"\nfrom_inversion = {first}\n'
    size = len(parse_chord(symbol).quality.degrees)
    whole = drill_of(passage).steps
    assert {step.wish.inversion for step in whole} == set(range(size))
    steps = drill_of(f'{passage}direction = "{direction}"\nsteps = {count}').steps
    turned = [step.wish.inversion or 0 for step in steps]
    motions = [step.bottom_motion for step in steps]
    assert (turned[0], motions[0]) == (first, None)
    for (one, two), motion in zip(pairwise(turned), motions[1:], strict=True):
        assert (two - one) % size == (1 if motion == "up" else size - 1) % size
    if direction == "up and down":
        assert turned == turned[::-1]
        assert motions[1:] == ["up"] * (count - 1) + ["down"] * (count - 1)
    else:
        assert motions[1:] == [direction] * (count - 1)


def test_a_planned_inversion_cycle_climbs() -> None:
    """On the neck the lowest note of a spread C triad climbs through E and G, and comes back (spread triads: 48-55-64,
    52-60-67, 55-64-72, from the table of spread triads)."""
    drill = drill_of('exercise = "inversions"\nchords = "C"\nkind = "spread"\ndirection = "up and down"')
    found = [one.voicing.midi for one in plan_drill(drill, make_instrument(), make_hand()).steps]
    assert found == [(48, 55, 64), (52, 60, 67), (55, 64, 72), (52, 60, 67), (48, 55, 64)]


HELD = st.sampled_from(
    [("Am", "A2 E3"), ("Am7", "1 b3"), ("Cmaj7", "E3 B3"), ("Em", "E3"), ("G7", "3 7"), ("Dm", "D3 A3")]
)
SCALES = st.sampled_from(["C major", "A harmonic minor", "D dorian", "G mixolydian"])


@given(HELD, SCALES, st.sampled_from(["small", "medium", "large"]), st.integers(2, 14), st.booleans())
def test_held_tones_really_are_in_both_steps(
    held: tuple[str, str], scale: str, hand: str, count: int, opened: bool
) -> None:
    """Every step sounds the held tones and one note of the scale above them; each change holds exactly those tones; one
    place for them on the neck serves all steps; what is missing from the scale's row is in the notes."""
    passage = (
        f'exercise = "held tones"\nchord = "{held[0]}"\nhold = "{held[1]}"\nscale = "{scale}"\nsteps = {count}\n'
        f'hand = "{hand}"\nopen_strings = {str(opened).lower()}'
    )
    try:
        drill = drill_of(passage)
    except DrillError as error:
        reason = str(error)
    else:
        reason = ""
    if reason:
        assert "'hold' cannot be met: a" in reason
        return
    low = drill.steps[0].wish.exact[:-1]  # type: ignore[index]
    assert [step.hold for step in drill.steps] == [()] + [low] * (len(drill.steps) - 1)
    tops = [(step.wish.exact or ())[-1] for step in drill.steps]
    row = [pitch.midi for pitch in parse_scale(scale).pitches(low[-1] + 1, 88)][:count]
    assert set(tops) <= set(row)
    assert tops == sorted(tops)
    assert len(drill.notes) == (tops != row)
    if drill.notes:
        named = drill.notes[0].split(") ")[1].split(" is left")[0].split(" are left")[0].split()
        assert len(named) == len(row) - len(tops)
    places = []
    for step in drill.steps:
        found = fingerings(make_instrument(), make_hand(hand), step.wish.exact or (), open_strings=opened)
        places.append(
            {
                frozenset((s, f) for s, f, p in zip(o.strings, o.frets, o.pitches, strict=True) if p in low)
                for o in found
            }
        )
    assert set.intersection(*places)


def test_held_tones_stay_on_their_strings_in_the_plan() -> None:
    """The planner keeps the held tones on one string and fret each, all through the exercise."""
    drill = drill_of('exercise = "held tones"\nchord = "Am"\nhold = "A2 E3"\nscale = "A dorian"', key="A minor")
    plan = plan_drill(drill, make_instrument(), make_hand())
    places = {
        frozenset(
            (string, fret)
            for string, fret, pitch in zip(one.fingering.strings, one.fingering.frets, one.voicing.midi, strict=True)
            if pitch in (45, 52)
        )
        for one in plan.steps
    }
    assert len(places) == 1
    assert all(one.voicing.pitches[-1].tone in parse_scale("A dorian").tones for one in plan.steps)


#: How many tones each rung gives a chord (common practice: a tone for every third).
RUNG_SIZES = {"triad": 3, "7": 4, "9": 5, "11": 6, "13": 7}


@given(SYMBOLS, st.sampled_from(RUNGS), st.sampled_from(["C major", "A minor", "Eb major", "F# minor"]))
def test_each_rung_adds_one_tone(symbol: str, rung: str, key: str) -> None:
    """A triad has three tones, a seventh four, and so on to thirteenths with seven; no two of them sound the same, and
    what the chord was on the rung below is still there."""
    chord = parse_chord(symbol)
    here = grown(chord, rung, parse_key(key))
    assert len(here.quality.degrees) == RUNG_SIZES[rung]
    assert len(here.pitch_classes) == RUNG_SIZES[rung]
    assert here.root == chord.root
    below = RUNGS[max(0, RUNGS.index(rung) - 1)]
    before = set(grown(chord, below, parse_key(key)).quality.degrees)
    assert before - {"#11"} <= set(here.quality.degrees)


def test_a_ladder_in_c_is_what_players_write() -> None:
    """Two, five, one in C through the five rungs, as lead sheets write them (common practice)."""
    steps = drill_of('exercise = "extension ladder"\nnumerals = "ii | V | I"').steps
    assert symbols(steps) == (
        [
            "Dm",
            "G",
            "C",
            "Dm7",
            "G7",
            "Cmaj7",
            "Dm9",
            "G9",
            "Cmaj9",
            "Dm11",
            "G9#11",
            "Cmaj9#11",
            "Dm13",
            "G13",
            "Cmaj13",
        ]
    )
    assert [step.wish.without for step in steps[-3:]] == [(), ("11",), ("11",)]


def test_a_ladder_without_key_help_takes_what_the_chord_says() -> None:
    """A seventh that is written stays; a secondary dominant gets the thirteenth of the key (V7 of ii: flat 13)."""
    steps = drill_of('exercise = "extension ladder"\nchords = "Fm7 | A7 | Bm7b5"\nladder = ["triad", 7, "9", 13]').steps
    assert symbols(steps[:6]) == ["Fm", "A", "Bdim", "Fm7", "A7", "Bm7b5"]
    assert steps[10].wish.chord.quality.degrees == ("1", "3", "5", "b7", "9", "11", "b13")


@given(st.sampled_from(sorted(IN_THE_SCALE)), st.sampled_from(["up", "down"]), st.integers(1, 7), st.integers(3, 5))
def test_cycles_in_a_scale_take_in_all_seven(by: str, direction: str, first: int, size: int) -> None:
    """Whatever the interval, seven chords come and then the first again, and up is down backwards."""
    passage = f'exercise = "cycle"\nby = "{by}"\ndirection = "{direction}"\nfrom_degree = {first}\nchord_size = {size}'
    steps = drill_of(passage).steps
    assert len(steps) == len(set(symbols(steps))) == 7
    longer = symbols(drill_of(f"{passage}\nsteps = 8").steps)
    assert longer[-1] == longer[0]
    other = passage.replace(f'direction = "{direction}"', f'direction = "{"down" if direction == "up" else "up"}"')
    assert symbols(drill_of(f"{other}\nsteps = 8").steps) == longer[::-1]


@given(st.sampled_from(sorted(EXACT)), st.sampled_from(["up", "down"]), SYMBOLS)
def test_exact_cycles_close_after_twelve_over_the_common_divisor(by: str, direction: str, symbol: str) -> None:
    """Roots move by the interval each time, and as many chords come as there are different roots (arithmetic: 12
    divided by the greatest common divisor of 12 and the interval)."""
    steps = drill_of(f'exercise = "cycle"\nby = "{by}"\ndirection = "{direction}"\nchord = "{symbol}"').steps
    roots = [step.wish.chord.root.pitch_class for step in steps]
    away = EXACT[by] if direction == "up" else -EXACT[by]
    assert len(roots) == len(set(roots)) == 12 // gcd(12, EXACT[by])
    assert all((two - one) % 12 == away % 12 for one, two in pairwise([*roots, roots[0]]))
    assert {step.wish.chord.quality for step in steps} == {parse_chord(symbol).quality}


def test_known_cycles() -> None:
    """The circle-of-fifths sequence I IV vii iii vi ii V, falling thirds, and minor thirds, the tritone and all fourths
    from one dominant (common practice, in every harmony book)."""
    assert symbols(drill_of('by = "fourths"').steps) == ["C", "F", "Bdim", "Em", "Am", "Dm", "G"]
    assert symbols(drill_of('by = "thirds"\ndirection = "down"').steps) == ["C", "Am", "F", "Dm", "Bdim", "G", "Em"]
    assert symbols(drill_of('by = "minor thirds"\nchord = "C7"').steps) == ["C7", "Eb7", "Gb7", "A7"]
    assert symbols(drill_of('by = "tritones"\nchord = "C7"').steps) == ["C7", "Gb7"]
    assert symbols(drill_of('by = "perfect fourths"\nchord = "C7"').steps) == (
        ["C7", "F7", "Bb7", "Eb7", "Ab7", "Db7", "Gb7", "B7", "E7", "A7", "D7", "G7"]
    )


def test_a_contrast_is_two_progressions_in_turn() -> None:
    """Quiet is spread, loud is full; each has its own changes, name and strictness, and both come as often as asked."""
    drill = drill_of(
        'exercise = "contrast"\nname = "song"\nnumerals = "I | IV"\nturns = 2\nquiet = { top = "3" }\n'
        'loud = { name = "chorus", numerals = "V", strictness = "same chord", frets = [0, 5] }'
    )
    assert symbols(drill.steps) == ["C", "F", "G"] * 2
    assert [step.passage for step in drill.steps[:3]] == ["song, quiet and picked"] * 2 + ["chorus"]
    assert [step.wish.kinds for step in drill.steps[:3]] == [("spread", "drop 2")] * 2 + [("full",)]
    assert [str(step.wish.top) for step in drill.steps[:3]] == ["the 3", "the 3", "any note"]
    assert [step.strictness for step in drill.steps[1:3]] == ["exact pitches", "same chord"]
    assert [step.wish.frets for step in drill.steps[1:3]] == [None, (0, 5)]


def test_a_riff_repeats_its_rhythm() -> None:
    """Strokes and rests as written, worked out by hand; the top note of a chord stays for all its strokes."""
    steps = drill_of(
        'exercise = "riff"\nchords = "C | Am F"\nrhythm = "x . - x | x x x ."\ntop = ["G4", "up", "down"]'
    ).steps
    found = [
        (symbol, s.bar, s.beat, s.length_beats, s.top_motion) for symbol, s in zip(symbols(steps), steps, strict=True)
    ]
    assert found == [
        ("C", 1, 1, 2, None),
        ("C", 1, 4, 1, None),
        ("Am", 2, 1, 1, "up"),
        ("Am", 2, 2, 1, "same"),
        ("F", 2, 3, 2, "down"),
    ]
    assert [str(step.wish.top) for step in steps[:2]] == ["G4", "G4"]
    assert {step.wish.size for step in steps} == {3}


def test_a_riff_takes_a_top_note_for_each_stroke() -> None:
    """As many entries as strokes are one for each stroke."""
    steps = drill_of('exercise = "riff"\nchords = "C | F"\nrhythm = "x x"\ntop = "E4 G4 A4 C5"').steps
    assert [str(step.wish.top) for step in steps] == ["E4", "G4", "A4", "C5"]


@given(st.lists(st.lists(SYMBOLS, min_size=2, max_size=4), min_size=1, max_size=5), st.integers(1, 5))
def test_weak_changes_come_again_and_again(changes: list[list[str]], times: int) -> None:
    """Each change of the list is played as often as asked, in order."""
    listed = ", ".join(toml_text(" -> ".join(change)) for change in changes)
    drill = drill_of(f'exercise = "weak changes"\nchanges = [{listed}]\ntimes = {times}\nbeats_each = 2')
    expected = [parse_chord(symbol).symbol for change in changes for _ in range(times) for symbol in change]
    assert symbols(drill.steps) == expected
    assert {step.length_beats for step in drill.steps} == {2}


def test_a_line_goes_on_through_the_repetitions_of_a_change() -> None:
    """The way back is a change, too: only to a change's first chord of all no line leads."""
    steps = drill_of('exercise = "weak changes"\nchanges = ["C -> F", "G -> C"]\ntimes = 2\ntop = "up down"').steps
    assert [step.top_motion for step in steps] == [None, "down", "up", "down", None, "down", "up", "down"]


def test_a_passage_may_leave_its_exercise_to_be_told() -> None:
    """The fields give the exercise away: a passage that names it and one that does not are the same."""
    for exercise, fields in (
        ("cycle", 'by = "thirds"'),
        ("held tones", 'chord = "Am"\nhold = "A2 E3"\nscale = "A dorian"'),
        ("extension ladder", 'numerals = "I | V"\nladder = ["triad", 7]'),
        ("riff", 'numerals = "I | V"\nrhythm = "x x"'),
        ("weak changes", 'changes = ["C -> F"]'),
        ("contrast", 'numerals = "I | V"\nloud = { kind = "full" }'),
        ("inversions", 'numerals = "I | V"\nfrom_inversion = 1'),
    ):
        told, named = drill_of(fields).steps, drill_of(f'exercise = "{exercise}"\n{fields}').steps
        assert [(s.wish, s.start_beats) for s in told] == [(s.wish, s.start_beats) for s in named]


TUNE = 'exercise = "held tones"\nchord = "Am"\nhold = "A2 E3"\ntune = "A3 . C4 | B3 . G#3 | C4 D4 E4"'


def test_a_tune_over_held_tones() -> None:
    """Every note of the tune is a step with its own length, over the held tones, which stay on their strings."""
    steps = drill_of(TUNE, meter="3/4").steps
    assert [step.wish.exact for step in steps] == [(45, 52, top) for top in (57, 60, 59, 56, 60, 62, 64)]
    assert [step.length_beats for step in steps] == [2, 1, 2, 1, 1, 1, 1]
    assert [step.hold for step in steps] == [(), *[(45, 52)] * 6]
    plan = plan_drill(drill_of(TUNE, meter="3/4"), make_instrument(), make_hand())
    places = [
        {place for place, note in zip(zip(f.strings, f.frets, strict=True), f.pitches, strict=True) if note < 56}
        for f in (planned.fingering for planned in plan.steps)
    ]
    assert len(set(map(frozenset, places))) == 1
    assert plan.steps[3].voicing.names == ("A2", "E3", "G#3")


def test_a_tune_goes_through_the_keys() -> None:
    """In other keys it is the same tune, a note foreign to the chord spelled along."""
    steps = drill_of(f'{TUNE}\nkeys = ["A minor", "C minor"]', key="A minor", meter="3/4").steps
    here, there = steps[:7], steps[7:]
    moved = {
        b - a
        for one, other in zip(here, there, strict=True)
        for a, b in zip(one.wish.exact or (), other.wish.exact or (), strict=True)
    }
    assert len(moved) == 1
    assert moved.pop() % 12 == 3
    assert [str(tone) for tone in there[3].wish.spelling if tone.pitch_class == 11] == ["B"]


@pytest.mark.parametrize(
    ("tune", "said"),
    [
        ('tune = "A3 X4"', "'tune', bar 1: 'X4' is not a pitch; write a note name and an octave, such as E4"),
        ('tune = "A3 | D3"', "'tune', bar 2: D3 does not lie above the held E3"),
        ('tune = ". A3"', "'tune', bar 1: '.' has no note before it to make longer"),
        ('tune = "A3 | | C4 |% D4"', "'%' repeats a whole bar"),
        ('tune = "A3 | | C4"', "'tune', bar 2 is empty; write a dot to let the note before it ring on"),
        ('tune = ""', "'tune' is empty; write for example"),
        ("tune = 3", "'tune' must be a text in quotes, not 3"),
        ('tune = "A3"\nscale = "A minor"', "'scale' and 'tune' both say what moves above; keep one of them"),
        ('tune = "A3 G5"', "does not reach G5 above A2 and E3, only A3; put the tune or the held tones elsewhere"),
        ('tune = "G6"', "does not reach G6 above A2 and E3; put the tune or the held tones elsewhere"),
    ],
)
def test_a_tune_that_cannot_be(tune: str, said: str) -> None:
    """One line says what is wrong and where."""
    with pytest.raises(DrillError) as told:
        drill_of(f'exercise = "held tones"\nchord = "Am"\nhold = "A2 E3"\n{tune}')
    texts = [problem.text for problem in told.value.problems]
    assert any(said in text for text in texts), texts


def test_everyday_and_wide() -> None:
    """Each chord twice in its own time: the shape that everybody knows, then the wide one, which is not led to."""
    drill = drill_of('exercise = "everyday and wide"\nchords = "F | Gm C"', key="F major")
    assert symbols(drill.steps) == ["F", "F", "Gm", "Gm", "C", "C"]
    assert [step.wish.kinds for step in drill.steps] == [("full",), ("spread",)] * 3
    assert [step.length_beats for step in drill.steps] == [2, 2, 1, 1, 1, 1]
    plan = plan_drill(drill, make_instrument(), make_hand())
    shapes = [
        " ".join(str(dict(zip(f.strings, f.frets, strict=True)).get(string, "x")) for string in range(6, 0, -1))
        for f in (planned.fingering for planned in plan.steps)
    ]
    assert shapes == ["1 3 3 2 1 1", "1 3 x 2 x x", "3 5 5 3 3 3", "3 5 x 3 x x", "x 3 2 0 1 0", "x 3 x 0 x 0"]


def test_everyday_and_wide_in_other_kinds() -> None:
    """The wide kinds come in turn, and a top line counts for them alone."""
    fields = 'exercise = "everyday and wide"\nchords = "C7 | F7"\nkind = ["drop 2", "drop 3"]\ntop = "5 b7"'
    drill = drill_of(fields)
    assert [step.wish.kinds for step in drill.steps] == [("full",), ("drop 2",), ("full",), ("drop 3",)]
    assert [step.wish.top.degree for step in drill.steps] == [None, "5", None, "b7"]


def test_a_riff_passes_through_notes_that_the_chord_has_not() -> None:
    """While a chord lasts, everything under the top stays as it lies, and the top line is the one that was written."""
    top = "C#5 B4 A4 | D5 C#5 B4 | G#4 A4 B4"
    drill = drill_of(f'exercise = "riff"\nchords = "A | D | E7"\nrhythm = "x . x x"\ntop = "{top}"', key="A major")
    plan = plan_drill(drill, make_instrument(), make_hand())
    assert " ".join(str(planned.voicing.pitches[-1]) for planned in plan.steps) == top.replace(" |", "")
    assert [planned.step.under for planned in plan.steps] == [False, True, True] * 3
    for before, after in pairwise(plan.steps):
        if after.step.under:
            assert under(before.fingering) == under(after.fingering)
            assert before.fingering.fingers[:-1] == after.fingering.fingers[:-1]


def test_a_top_note_out_of_reach_over_a_chord_that_stays() -> None:
    """The step, what is asked, and why, in one line."""
    drill = drill_of('exercise = "riff"\nchords = "A"\nrhythm = "x x"\ntop = "C#5 C#7"', key="A major")
    with pytest.raises(
        PlanError, match=r"^step 2 .*C#7.*no hand reaches it on top while the notes under it stay"
    ) as told:
        plan_drill(drill, make_instrument(), make_hand())
    assert told.value.step == 2
    assert "\n" not in str(told.value)
