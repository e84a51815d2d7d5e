"""What only the pickup can have sent: notes too high for any hand that plays the rest of the chord."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace

import pytest
from hypothesis import assume, given
from hypothesis import strategies as st

from listener.drill.drill import SAME_CHORD
from listener.drill.drill_file import load_drill
from listener.guitar.fingering import Fingering
from listener.guitar.grip import fingerings, grip
from listener.guitar.hand import make_hand
from listener.guitar.instrument import Instrument, make_instrument
from listener.hearing.cleaning import OCTAVE_HIGH
from listener.hearing.events import Message, NoteOn, Stroke, on_grid
from listener.hearing.pickup import make_pickup
from listener.judging.doubt import Raised, as_meant, can_be_held, can_be_played, neck, still_ringing
from listener.judging.take import TakeJudge
from listener.judging.verdict import HIT, NEAR
from listener.planning.plan import Plan, PlannedStep
from listener.planning.planner import plan_drill

GUITAR = make_instrument()
LARGE = make_hand("large")
OPEN = GUITAR.open_midi
STRINGS = replace(make_pickup("per-string"), delay_periods=0.0)
SINGLE = replace(make_pickup("single"), delay_periods=0.0)

#: Triads by their pitch classes.
CHORDS = {"C": {0, 4, 7}, "F": {5, 9, 0}, "G": {7, 11, 2}, "Bm": {11, 2, 6}}
#: (string, fret), strings 6 to 1.
Shape = Sequence[tuple[int, int]]


@pytest.fixture
def step(make_plan: Callable[..., Plan]) -> Callable[[Shape], PlannedStep]:
    """One step of these places."""

    def make(shape: Shape) -> PlannedStep:
        places = sorted((OPEN[string - 1] + fret, string, fret) for string, fret in shape)
        pitches, strings, frets = zip(*places, strict=True)
        classes = {pitch % 12 for pitch in pitches}
        symbol = next(name for name, tones in CHORDS.items() if classes <= tones)
        planned = make_plan([(symbol, tuple(sorted(set(pitches))))]).steps[0]
        return replace(planned, fingering=Fingering(pitches, strings, frets, (0,) * len(frets), None, 0.0, 0.0, 20.0))

    return make


def stroke(notes: Sequence[tuple[int | None, int]], held: Sequence[tuple[int | None, int]] = ()) -> Stroke:
    def note(string: int | None, pitch: int) -> NoteOn:
        return NoteOn(1.0, pitch, 80, string)

    return Stroke(tuple(note(*n) for n in notes), tuple(note(*n) for n in held), settled=True, closed_s=1.1)


TWO = ((6, 3), (3, 5))  # G2 C4
OPEN_G = ((6, 3), (4, 0), (2, 0))  # G2 D3 B3
F_SHAPE = ((5, 8), (4, 7), (2, 6), (1, 8))  # F3 A3 F4 C5
SIX = ((6, 3), (5, 2), (4, 0), (3, 0), (2, 0), (1, 3))


@pytest.mark.parametrize(
    ("shape", "notes", "found"),
    [
        # Two notes: fret 17 over fret 3.
        (TWO, [(6, 43), (3, 72)], Raised(3, 72, 60)),
        (TWO, [(6, 62), (3, 60)], Raised(6, 62, 43)),
        # One alone: fret 17 is on the neck, fret 27 is on none.
        (TWO, [(3, 72)], None),
        (((1, 15),), [(1, 91)], Raised(1, 91, 79)),
        # Open strings ask for no finger: fret 15 under the hand.
        (OPEN_G, [(6, 55), (4, 50), (2, 59)], None),
        # An octave that is another planned tone: fret 20 over fret 7.
        (F_SHAPE, [(5, 65), (4, 57), (2, 65), (1, 72)], Raised(5, 65, 53)),
        # With a string too many, and with one missing.
        (F_SHAPE, [(6, 40), (5, 65), (4, 57), (2, 65), (1, 72)], Raised(5, 65, 53)),
        (F_SHAPE, [(5, 53), (2, 77)], Raised(2, 77, 65)),
        # Right pitches that nobody can hold on these strings: another note was played (47 50 54 for 47 54 62).
        (((5, 2), (4, 4), (2, 3)), [(6, 47), (5, 62), (4, 54)], Raised(5, 62, 50)),
        # Right pitches on other strings that can be held are right.
        (((5, 2), (4, 4), (2, 3)), [(6, 7 + 40), (5, 9 + 45), (3, 7 + 55)], None),
        # Not on the neck as it is known, or a string that it has not: nothing is believed to be known.
        (TWO, [(6, 30), (3, 72)], None),
        (TWO, [(7, 43), (3, 72)], None),
    ],
)
def test_on_strings(
    step: Callable[[Shape], PlannedStep], shape: Shape, notes: list[tuple[int, int]], found: Raised | None
) -> None:
    """Where strings are told apart the frets decide."""
    before = stroke(notes)
    after, raised = as_meant(before, step(shape), neck_of())
    assert raised == found
    if found is None:
        assert after == before
    else:
        moved = [(s, found.meant if (s, p) == (found.string, found.sent) else p) for s, p in notes]
        assert [(note.string, note.pitch) for note in after.struck] == moved


def neck_of() -> Instrument:
    return replace(GUITAR, fret_count=24)


@pytest.mark.parametrize(
    ("shape", "pitches", "found"),
    [
        # The bass raised by a twelfth could be the player's: all six lie under one hand at frets 3 to 7.
        (SIX, [62, 47, 50, 55, 59, 67], None),
        (((6, 1), (1, 1)), [41, 77], Raised(None, 77, 65)),
        (((6, 1), (1, 1)), [53, 65], None),
        (((6, 1), (5, 3), (4, 3), (3, 2), (2, 1), (1, 1)), [41, 48, 53, 57, 72, 65], Raised(None, 72, 60)),
        # Two that could each be the raised one, and a note that is no octave of what is missing.
        (((6, 1), (1, 1)), [53, 77], None),
        (((6, 1), (1, 1)), [41, 76], None),
    ],
)
def test_by_pitch(step: Callable[[Shape], PlannedStep], shape: Shape, pitches: list[int], found: Raised | None) -> None:
    """Where strings are not told apart every place on the neck is tried."""
    _, raised = as_meant(stroke([(None, pitch) for pitch in pitches]), step(shape), neck_of())
    assert raised == found


@given(data=st.data())
def test_what_a_large_hand_holds_is_believed(data: st.DataObject) -> None:
    """On strings and by pitch: no note of a shape that a hand can hold is put elsewhere, whatever was planned."""
    planned = data.draw(st.sampled_from(COURSE))
    base = data.draw(st.integers(1, 18))
    strings = data.draw(st.lists(st.integers(1, 6), min_size=1, max_size=6, unique=True))
    frets = data.draw(st.tuples(*(st.sampled_from((0, base, base + 1, base + 2, base + 3, base + 4)) for _ in strings)))
    assume(grip(GUITAR, LARGE, list(zip(strings, frets, strict=True))) is not None)
    notes = [(string, OPEN[string - 1] + fret) for string, fret in zip(strings, frets, strict=True)]
    for heard in (stroke(notes), stroke([(None, pitch) for pitch in sorted({pitch for _, pitch in notes})])):
        assert as_meant(heard, planned, neck_of()) == (heard, None)


def _course() -> list[PlannedStep]:
    plans = [plan_drill(load_drill(name), GUITAR, make_hand("medium")) for name in ("mill-verse", "grey-heron")]
    return [planned for plan in plans for planned in plan.steps]


COURSE = _course()


@given(
    pitches=st.frozensets(st.integers(40, 84), min_size=1, max_size=4),
)
def test_what_can_be_fingered_can_be_played(pitches: frozenset[int]) -> None:
    """The quick question says yes wherever the search for fingerings finds one for the large hand."""
    if fingerings(GUITAR, LARGE, sorted(pitches), frets=(0, 22)):
        assert can_be_played(neck_of(), pitches)


def test_how_far_fingers_reach() -> None:
    """Five frets from the first, seven from the ninth, 12 nowhere; open strings and strings off the neck always."""
    instrument = neck_of()

    def held(*shape: tuple[int, int]) -> bool:
        return can_be_held(instrument, {string: OPEN[string - 1] + fret for string, fret in shape})

    assert held((6, 1), (1, 4))
    assert not held((6, 1), (1, 7))
    assert held((6, 9), (1, 15))
    assert not any(held((6, fret), (1, fret + 12)) for fret in range(1, 13))
    assert held((6, 0), (1, 24))
    assert not held((1, 25))
    assert held((6, -3), (1, 20))


def test_other_strictness_and_rests_are_left_alone(step: Callable[[Shape], PlannedStep]) -> None:
    """Where any voicing will do, the planned frets prove nothing."""
    planned = step(TWO)
    free = replace(planned, step=replace(planned.step, strictness=SAME_CHORD))
    before = stroke([(6, 43), (3, 72)])
    assert as_meant(before, free, neck_of()) == (before, None)


def test_what_was_put_right_is_remembered_while_it_rings(step: Callable[[Shape], PlannedStep]) -> None:
    """Held into the next chord it is still the planned tone; once it is gone nothing is remembered."""
    raised = Raised(3, 72, 60)
    held_on = stroke([(6, 45)], held=[(3, 72), (1, 64)])
    after, found = as_meant(held_on, step(((6, 5), (3, 5))), neck_of(), (raised,))
    assert ([note.pitch for note in after.held], found) == ([60, 64], None)
    assert still_ringing((raised,), held_on) == (raised,)
    assert still_ringing((raised,), stroke([(3, 72)], held=[(1, 64)])) == ()


def test_a_raised_tone_that_is_held_over_counts_in_every_chord(make_plan: Callable[..., Plan]) -> None:
    """From messages: C4 sent as C5 on string 3, then held while the bass moves twice: three hits, one octave mended."""
    plan = make_plan([("C", (43, 60)), ("F", (45, 60)), ("C", (48, 60))])
    shapes = (((43, 60), (6, 3), (3, 5)), ((45, 60), (6, 3), (5, 5)), ((48, 60), (6, 3), (8, 5)))
    steps = tuple(
        replace(planned, fingering=Fingering(pitches, strings, frets, (1, 3), None, 0.0, 0.0, 20.0))
        for planned, (pitches, strings, frets) in zip(plan.steps, shapes, strict=True)
    )
    judge = TakeJudge(replace(plan, steps=steps), STRINGS)
    low, high = STRINGS.channel_of(6) - 1, STRINGS.channel_of(3) - 1
    messages = [
        (1.0, 0x90 | low, 43), (1.01, 0x90 | high, 72), (2.0, 0x80 | low, 43), (2.4, 0x90 | low, 45),
        (3.4, 0x80 | low, 45), (3.8, 0x90 | low, 48),
    ]  # fmt: skip
    sent = [Message(on_grid(time_s), (status, pitch, 80)) for time_s, status, pitch in messages]
    found = [verdict for message in sent for verdict in judge.feed(message)] + judge.finish()
    assert [(v.step, v.grade) for v in found if v.settled] == [(0, HIT), (1, HIT), (2, HIT)]
    assert judge.cleaned[OCTAVE_HIGH] == 1


def test_one_channel_for_all_strings(make_plan: Callable[..., Plan]) -> None:
    """From messages: F2 and F4, sent as F2 and F5, is a hit; sent as F3 and F4, which can be played, near."""
    for sent, grade in (((41, 77), HIT), ((53, 65), NEAR)):
        plan = make_plan([("F", (41, 65))])
        judge = TakeJudge(plan, SINGLE)
        notes = [Message(on_grid(1 + 0.004 * n), (0x90, pitch, 80)) for n, pitch in enumerate(sent)]
        found = [verdict for message in notes for verdict in judge.feed(message)] + judge.finish()
        assert [v.grade for v in found if v.settled] == [grade]


def test_the_neck_is_the_plans_with_all_frets_it_might_have(make_plan: Callable[..., Plan]) -> None:
    """At least 24, whatever was said; of a plan without an instrument the tuning and the capo tell."""
    assert neck(replace(make_plan([("C", (48, 55))]), instrument=GUITAR)) == replace(GUITAR, fret_count=24)
    made = neck(replace(make_plan([("C", (48, 55))]), instrument=None, capo=2))
    assert (made.open_midi, made.highest_fret) == (tuple(pitch + 2 for pitch in OPEN), 22)


def test_the_same_strings_struck_again_are_known_though_one_had_been_sent_high(make_plan: Callable[..., Plan]) -> None:
    """From messages, at own pace: C4 sent as C5 over a held G3, then the two strings again, sent as they were, when the
    G3 is gone. That is no attempt at the next chord."""
    chords = (
        ("C", (48, 55, 64), (5, 4, 2), (3, 5, 5)), ("C", (52, 55, 60), (5, 4, 3), (7, 5, 5)),
        ("F", (53, 60, 69), (5, 4, 2), (8, 10, 10)),
    )  # fmt: skip
    plan = make_plan([(symbol, pitches) for symbol, pitches, _, _ in chords])
    steps = tuple(
        replace(planned, fingering=Fingering(pitches, strings, frets, (1, 2, 3), None, 0.0, 0.0, 20.0))
        for planned, (_, pitches, strings, frets) in zip(plan.steps, chords, strict=True)
    )
    judge = TakeJudge(replace(plan, steps=steps), STRINGS)
    sent = [
        *((1.0, 0x90, string, pitch) for string, pitch in ((5, 48), (4, 55), (2, 64))),
        (1.9, 0x80, 5, 48), (1.9, 0x80, 2, 64),
        (2.0, 0x90, 5, 52), (2.0, 0x90, 3, 72),
        (2.5, 0x80, 4, 55), (2.9, 0x80, 5, 52), (2.9, 0x80, 3, 72),
        (3.0, 0x90, 5, 52), (3.0, 0x90, 3, 60), (3.8, 0x80, 5, 52), (3.8, 0x80, 3, 60),
        *((4.5, 0x90, string, pitch) for string, pitch in ((5, 53), (4, 60), (2, 69))),
    ]  # fmt: skip
    found = []
    for time_s, status, string, pitch in sent:
        message = Message(on_grid(time_s), (status | STRINGS.channel_of(string) - 1, pitch, 80))
        found += judge.feed(message)
    found += judge.finish()
    assert [(v.step, v.attempt, v.grade) for v in found if v.settled] == [(0, 1, HIT), (1, 1, HIT), (2, 1, HIT)]
    assert judge.cleaned[OCTAVE_HIGH] == 1
