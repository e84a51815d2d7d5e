"""What counts as an attempt at one step: each sentence of the rules as a small table, and laws for whatever comes."""

from __future__ import annotations

from collections.abc import Sequence
from dataclasses import replace
from math import inf

import pytest
from hypothesis import example, given
from hypothesis import strategies as st
from spread_chords import C, Chord

from listener.hearing.events import NoteOn, Stroke, on_grid
from listener.judging.attempts import GRACE_S, IsRight, Visit, dropped
from listener.judging.joining import ORNAMENT_S, rung_on, without_graces

#: When, in seconds, and what was plucked (MIDI), and what rang on.
Played = tuple[float, Chord] | tuple[float, Chord, Chord]

#: C with a wrong top note, and with another one.
SLIP: Chord = (48, 55, 65)
OTHER_SLIP: Chord = (48, 55, 62)
OPENS = frozenset({40, 45, 50, 55, 59, 64})
VISIT = Visit(0, frozenset(C), len(C))
#: The same of somebody who breaks most chords into their notes.
PICKED = replace(VISIT, picks=True)


def stroke(at_s: float, struck: Chord, held: Chord = (), *, gap_s: float = 0.004) -> Stroke:
    """Plucked one after the other; what is held rang when it began."""
    notes = tuple(NoteOn(on_grid(at_s + gap_s * place), pitch, 80) for place, pitch in enumerate(struck))
    ringing = tuple(NoteOn(0.0, pitch, 80) for pitch in held)
    return Stroke(notes, ringing, settled=True, closed_s=at_s + 0.1, rang=held)


def is_right(one: Stroke) -> bool:
    """All tones of C, plucked or rung on, and no other plucked."""
    struck = set(one.struck_pitches)
    return struck <= set(C) and struck | (set(one.held_pitches) & set(C)) == set(C)


def played(*strokes: Played, visit: Visit = VISIT) -> Visit:
    """One after the other."""
    for at_s, struck, *held in strokes:
        visit = visit.after(stroke(at_s, struck, *held), is_right)
    return visit


def told(visit: Visit) -> list[tuple[Chord, bool]]:
    """What is told of when the player leaves: the notes of each attempt, and whether it was right."""
    left = visit.left()
    found = [(one.struck_pitches, False) for one in left.over]
    if left.sure and left.attempt is not None:
        found.append((left.attempt.struck_pitches, True))
    return found


def one_by_one(*notes: int, from_s: float = 0.0, gap_s: float = 0.5) -> list[Played]:
    """Single strings, nothing of them ringing on."""
    return [(from_s + gap_s * place, (note,)) for place, note in enumerate(notes)]


RIGHT = [(C, True)]


@pytest.mark.parametrize("gap_s", [0.1, 0.3, 0.6, 2.0])
@pytest.mark.parametrize("order", [(48, 55, 64), (64, 55, 48), (55, 48, 64)])
def test_a_chord_rolled_or_broken_until_all_of_it_was_played(order: Chord, gap_s: float) -> None:
    """In any order and however slowly; it is right with its last string, and told of once no string can spoil it."""
    visit = played(*one_by_one(*order, gap_s=gap_s))
    assert visit.right
    assert visit.over == ()
    assert told(visit) == RIGHT


@pytest.mark.parametrize("gap_s", [0.1, 0.3, 0.6])
@pytest.mark.parametrize("order", [(48, 55, 48, 64), (48, 64, 48, 55), (48, 55, 48, 55, 64)])
def test_a_string_that_comes_again_while_the_others_ring(order: Chord, gap_s: float) -> None:
    """An alternating bass: one attempt, and its time is that of the first string."""
    strings = [(gap_s * place, (note,), tuple(sorted({*order[:place]} - {note}))) for place, note in enumerate(order)]
    visit = played(*strings)
    assert (visit.right, visit.over, visit.broken) == (True, (), ())
    assert visit.attempt is not None
    assert visit.attempt.onset_s == 0.0


@pytest.mark.parametrize(
    ("strokes", "attempts"),
    [
        # The 55 had not come out: its place in the rhythm was empty.
        ([(0.0, (48,)), (1.0, (64,)), *one_by_one(48, 55, 64, from_s=1.5)], [((48, 64), False), (C, True)]),
        ([(0.0, (64,)), (0.5, (55,)), *one_by_one(64, 55, 48, from_s=1.4)], [((55, 64), False), (C, True)]),
        # Evenly, or not all of it by itself: an alternating bass.
        (one_by_one(48, 64, 48, 55, 64), RIGHT),
        ([(0.0, (48,)), (1.0, (64,)), *one_by_one(48, 55, 48, 64, from_s=1.5)], RIGHT),
    ],
)
@pytest.mark.parametrize("due_s", [-inf, -0.08])
def test_a_round_out_of_whose_rhythm_a_string_fell(
    strokes: list[Played], attempts: list[tuple[Chord, bool]], due_s: float
) -> None:
    """Begun anew and now in full by somebody who picks, it is the next attempt; what rings on makes no difference to a
    round in full."""
    assert told(played(*strokes, visit=replace(PICKED, due_s=due_s))) == attempts


def test_two_wrong_strings_together_and_single_ones_after_them() -> None:
    """With the click that is a try at the chord that is due, not nothing."""
    strokes = [(10.0, (45, 53)), *one_by_one(64, 55, from_s=10.5)]
    assert told(played(*strokes, visit=replace(VISIT, due_s=9.9))) == [((45, 53, 64), False)]


def test_where_arpeggios_are_asked_for_a_round_in_full_is_an_attempt() -> None:
    """However evenly, and at whichever string it is begun anew."""
    asked = replace(VISIT, one_by_one=True)
    for first, second in (((48, 64), C), ((64, 55), (64, 55, 48)), ((64, 55), (55, 64, 48)), ((48, 55), (55, 64, 48))):
        visit = played(*one_by_one(*first, *second), visit=asked)
        assert told(visit) == [(tuple(sorted(first)), False), (C, True)]


@pytest.mark.parametrize(("pair", "attempts"), [((55, 64), [((55, 64), False)]), (C, RIGHT)])
def test_a_grip_tried_and_then_struck_with_a_string_missing(pair: Chord, attempts: list[tuple[Chord, bool]]) -> None:
    """String by string it was only tried; what is struck when that has died away is the attempt."""
    assert told(played(*one_by_one(48, 55, 64), (3.0, pair))) == attempts
    assert told(played(*one_by_one(48, 55, 64), (3.0, pair, (48,)))) == [(pair, True)]


@pytest.mark.parametrize(
    ("struck", "counts"), [((48,), False), ((48, 64), False), (C, True), ((46, 55, 64), True), ((47, 58, 66), True)]
)
def test_the_end_of_noodling_is_no_attempt(struck: Chord, counts: bool) -> None:
    """One note or two, just after the player was elsewhere; a handful is one, and so are two in order."""
    wandered = replace(VISIT, wandered=True)
    assert bool(told(played((0.0, struck), visit=wandered))) == counts
    assert told(played((0.0, (48, 64)))) == [((48, 64), False)]


def test_surely() -> None:
    """Nothing spoils it any more."""
    visit = played(*one_by_one(*C))
    assert not visit.sure
    assert played((2.0, SLIP), visit=visit.surely()) == visit.surely()


@pytest.mark.parametrize(
    ("strokes", "attempts"),
    [
        (one_by_one(48, 50, 55, 64), [((48, 50, 55, 64), False)]),
        (one_by_one(48, 55, 58, 64), [((48, 55, 58, 64), False)]),
        (one_by_one(48, 55, 64, 58), [((48, 55, 58, 64), False)]),
        (one_by_one(48, 55, 65), [(SLIP, False)]),
        (one_by_one(48, 55), [((48, 55), False)]),
        ([(0.0, (48, 55, 58, 64))], [((48, 55, 58, 64), False)]),
        ([(0.0, (48, 55))], [((48, 55), False)]),
        ([(0.0, (48,)), (0.5, (55, 64), (48,))], RIGHT),
        ([(0.0, (48, 55)), (0.6, (64,), (48, 55))], RIGHT),
        ([(0.0, (64,), (48, 55))], [((64,), True)]),
    ],
)
def test_and_nothing_else(strokes: list[Played], attempts: list[tuple[Chord, bool]]) -> None:
    """A string too many, wrong or missing is one attempt that is not right; what rings on counts, and so does what is
    added while the rest rings."""
    assert told(played(*strokes)) == attempts


@pytest.mark.parametrize(
    ("strokes", "attempts"),
    [
        # A tone is missing, all is silent, and it is begun anew: that was trying the grip.
        ([*one_by_one(48, 55), *one_by_one(*C, from_s=2.5)], RIGHT),
        ([*one_by_one(48, 55), *one_by_one(64, 55, 48, from_s=2.5)], RIGHT),
        ([*one_by_one(48, 54, 55), *one_by_one(*C, from_s=2.5)], RIGHT),
        # Mended after some thought, and all of it struck.
        ([(0.0, (48,)), (0.3, (54,)), (1.2, (55,)), (2.5, C)], RIGHT),
        ([(0.0, (48,)), (0.3, (54,)), (1.2, (55,)), (1.6, (64,)), *one_by_one(*C, from_s=3.5)], RIGHT),
        # Not so a wrong tone that was not mended, and strings that no hand finds in that order.
        ([*one_by_one(48, 54, 64), *one_by_one(*C, from_s=3.5)], [((48, 54, 64), False), (C, True)]),
        ([*one_by_one(48, 54), *one_by_one(*C, from_s=3.5)], [((48, 54), False), (C, True)]),
        # The tones still ring: the rest is added.
        ([*one_by_one(48, 55), (2.5, (64,), (48, 55))], RIGHT),
        # So fast that it is one movement of the hand: that was meant, though it came out as it did.
        ([*one_by_one(48, 55, gap_s=0.1), (2.5, C)], [((48, 55), False), (C, True)]),
        ([*one_by_one(48, 54, 64, gap_s=0.2), (2.5, C)], [((48, 54, 64), False), (C, True)]),
        ([*one_by_one(*C, gap_s=0.2), (1.0, SLIP)], RIGHT),
        ([*one_by_one(*C, 70, gap_s=0.2)], [((48, 55, 64, 70), False)]),
        # More slowly, string by string, it was trying the grip.
        ([*one_by_one(48, 55, gap_s=0.4), (2.5, C)], RIGHT),
        ([*one_by_one(48, 54, 64, gap_s=0.4), (2.5, C)], RIGHT),
    ],
)
def test_a_broken_chord_that_stopped(strokes: list[Played], attempts: list[tuple[Chord, bool]]) -> None:
    """It is over when the player waits longer than from string to string and it has died away."""
    assert told(played(*strokes)) == attempts


@pytest.mark.parametrize(("gone", "right"), [(True, True), (False, False)])
def test_an_open_string_that_sounds_as_the_hand_comes(gone: bool, right: bool) -> None:
    """It has gone by the time the chord is there; one that rings on is one note too many."""
    came = stroke(0.0, (40, *C))
    came = replace(came, gone=came.struck[:1] if gone else ())
    assert replace(VISIT, opens=OPENS).after(came, is_right).right == right


@pytest.mark.parametrize(
    ("strokes", "attempts"),
    [
        ([(0.0, C), (0.5, C), (1.0, C)], RIGHT),
        ([(0.0, C), (0.5, (48, 55))], RIGHT),
        ([(0.0, C), (0.5, (55,)), (1.0, (64,)), (1.5, (48,))], RIGHT),
        ([(0.0, C), (0.5, SLIP)], RIGHT),
        ([*one_by_one(*C), *one_by_one(*C, from_s=1.5)], RIGHT),
        ([(0.0, SLIP), (0.5, SLIP)], [(SLIP, False)]),
        ([(0.0, SLIP), (0.5, (48, 65))], [(SLIP, False)]),
        ([(0.0, SLIP), (0.5, SLIP), (1.5, C)], [(SLIP, False), (C, True)]),
        ([(0.0, SLIP), (0.5, SLIP), (1.0, OTHER_SLIP)], [(SLIP, False), (OTHER_SLIP, False)]),
    ],
)
def test_struck_again_it_is_the_same_chord(strokes: list[Played], attempts: list[tuple[Chord, bool]]) -> None:
    """Or picked on, with a string less or with a slip in a later round; and so is a wrong one."""
    assert told(played(*strokes)) == attempts


@pytest.mark.parametrize(
    ("strokes", "attempts"),
    [
        ([*one_by_one(48, 55), (2.0, C)], RIGHT),
        ([*one_by_one(48, 50, 55), (2.0, C)], RIGHT),
        ([*one_by_one(64, 63, 64, 48), (3.0, C)], RIGHT),
        ([*one_by_one(48, 50), (2.0, SLIP)], [(SLIP, False)]),
        ([*one_by_one(48, 50), (2.0, SLIP), (3.0, C)], [(SLIP, False), (C, True)]),
        ([*one_by_one(58), *one_by_one(*C, from_s=2.0)], RIGHT),
        ([*one_by_one(*C[::-1], gap_s=0.2), (0.65, (70,))], RIGHT),
        ([*one_by_one(*C[::-1], gap_s=0.2), (0.6, (45,))], [((45, 48, 55, 64), False)]),
        ([*one_by_one(47, 54, 63, gap_s=0.2), (2.5, C)], [((47, 54, 63), False), (C, True)]),
        ([(0.0, (48,)), (0.2, (54,)), (0.46, (64,)), (2.5, C)], [((48, 54, 64), False), (C, True)]),
        ([*one_by_one(58), (0.7, C)], RIGHT),
        ([(0.0, (58,))], []),
        ([(0.0, (58,)), (1.0, (70,))], []),
        ([(0.0, (48, 55)), (2.0, C)], [((48, 55), False), (C, True)]),
    ],
)
def test_trying_the_grip_and_strays_are_no_attempts(strokes: list[Played], attempts: list[tuple[Chord, bool]]) -> None:
    """Single strings before a whole chord, right or wrong; a foreign string before the first tone; and single foreign
    strings alone. Two tones struck together, and a pause, are an attempt."""
    assert told(played(*strokes)) == attempts


@pytest.mark.parametrize(
    ("strokes", "attempts"),
    [
        ([(9.5, (48, 55)), (10.0, C)], RIGHT),
        ([(9.2, SLIP), (10.0, C)], RIGHT),
        ([(9.5, (50,)), (9.7, (48,)), (10.0, C)], RIGHT),
        ([(9.2, C), (10.0, C)], RIGHT),
        ([(9.2, SLIP), (9.8, OTHER_SLIP)], [(SLIP, False), (OTHER_SLIP, False)]),
        ([(10.0, SLIP), (10.5, C)], [(SLIP, False), (C, True)]),
    ],
)
def test_with_the_click_what_leads_in_is_no_attempt(strokes: list[Played], attempts: list[tuple[Chord, bool]]) -> None:
    """Before the chord may begin, at ten seconds, and not right; a chord follows that comes in time."""
    assert told(played(*strokes, visit=replace(VISIT, due_s=10.0))) == attempts


@pytest.mark.parametrize(("later_s", "attempts"), [(0.3, RIGHT), (0.5, [((50, 55, 64), False), (C, True)])])
def test_open_strings_on_the_way_to_a_right_chord(later_s: float, attempts: list[tuple[Chord, bool]]) -> None:
    """A hand that lets go sounds them; for less than four tenths of a second."""
    assert told(played((0.0, (50, 55, 64)), (later_s, C), visit=replace(VISIT, opens=OPENS))) == attempts


@pytest.mark.parametrize(
    ("strokes", "attempts"),
    [
        ([(0.0, SLIP), (1.0, OTHER_SLIP), (2.0, C)], [(SLIP, False), (OTHER_SLIP, False), (C, True)]),
        ([(0.0, SLIP), (1.0, (41, 46, 51))], [(SLIP, False), ((41, 46, 51), False)]),
        pytest.param(
            [(0.0, SLIP), *one_by_one(*C, from_s=2.0)],
            [(SLIP, False), (C, True)],
            marks=pytest.mark.xfail(
                strict=True, reason="single strings after a wrong chord are heard after a silence only"
            ),
        ),
        ([*one_by_one(*SLIP), *one_by_one(*C, from_s=4.0)], [(SLIP, False), (C, True)]),
        ([(0.0, SLIP), (0.19, C)], RIGHT),
        ([(0.0, SLIP), (0.19, (64,), (48, 55))], [((64,), True)]),
        ([(0.0, SLIP), (0.19, C), (1.5, SLIP)], RIGHT),
        pytest.param(
            [(0.0, SLIP), (0.19, (64,), (48, 55)), (1.5, SLIP)],
            [((64,), True)],
            marks=pytest.mark.xfail(strict=True, reason="a finger mended by itself can be spoilt by a later round"),
        ),
        ([(0.0, SLIP), (0.30, C)], [(SLIP, False), (C, True)]),
        ([(0.0, SLIP), (0.30, (64,), (48, 55))], [(SLIP, False), ((64,), True)]),
    ],
)
def test_another_chord_after_a_wrong_one_is_the_next_attempt(
    strokes: list[Played], attempts: list[tuple[Chord, bool]]
) -> None:
    """However it is played; put right within a fifth of a second it was right at once."""
    assert told(played(*strokes)) == attempts


def test_a_chord_put_right_at_once_is_timed_by_most_of_it() -> None:
    """By the stroke that had most of the chord, not by the finger that was mended."""
    for mended in ((0.15, (64,), (48, 55)), (0.15, C)):
        attempt = played((0.0, SLIP), mended).attempt
        assert attempt is not None
        assert attempt.onset_s == 0.0
    more = played((0.0, (48, 65)), (0.15, C)).attempt
    assert more is not None
    assert more.onset_s == pytest.approx(0.15)


@pytest.mark.parametrize(("later_s", "arrives"), [(0.1, True), (0.17, True), (0.25, False), (1.0, False)])
@pytest.mark.parametrize("grace", [62, 63, 65, 66])
def test_a_tone_hammered_on_is_the_tone_that_it_arrives_at(grace: int, later_s: float, arrives: bool) -> None:
    """A fret or two away on its string, within 0.18 s; the attempt keeps the time of what it began with."""
    visit = played((0.0, (48, 55, grace)), (0.008 + later_s, (64,), (48, 55)))
    whole = [one for one, right in told(visit) if right and one == C]
    assert bool(whole) == arrives
    if arrives:
        assert told(visit) == RIGHT
        assert visit.attempt is not None
        assert visit.attempt.struck[-1].time_s == on_grid(0.008)


@pytest.mark.parametrize(
    ("grace", "later_s", "held", "string"),
    [(61, 0.1, (48, 55), None), (62, ORNAMENT_S + 0.008, (48, 55), None), (62, 0.1, (48, 55), 2)],
    ids=["three frets", "too late", "another string"],
)
def test_what_is_no_ornament(grace: int, later_s: float, held: Chord, string: int | None) -> None:
    """What does not give way to it is not what it arrives at."""
    begun = stroke(0.0, (48, 55, grace))
    on_top = begun.struck[-1]._replace(string=1) if string else begun.struck[-1]
    begun = replace(begun, struck=(*begun.struck[:-1], on_top))
    later = stroke(0.008 + later_s, (64,), held)
    later = replace(later, struck=(later.struck[0]._replace(string=string),))
    visit = VISIT.after(begun, is_right).after(later, is_right)
    assert (C, True) not in told(visit)


def test_tones_hammered_on_within_a_stroke() -> None:
    """A note that has gone, and the one on its string that came soon after: one tone, with the time of the first. Those
    on other strings, and those that only ended, are what they are."""
    low, grace, tone = NoteOn(1.0, 48, 80, 5), NoteOn(1.004, 62, 80, 1), NoteOn(1.064, 64, 80, 1)
    one = Stroke((low, grace, tone), (), settled=True, closed_s=1.2, gone=(grace,))
    assert without_graces(one).struck == (low, tone._replace(time_s=1.004))
    assert without_graces(one).gone == ()
    assert without_graces(replace(one, gone=())) == replace(one, gone=())
    assert without_graces(replace(one, gone=(low,))) == replace(one, gone=(low,))
    twice = NoteOn(1.124, 65, 80, 1)
    trill = Stroke((low, grace, tone, twice), (), settled=True, closed_s=1.2, gone=(grace, tone))
    assert [note.pitch for note in without_graces(trill).struck] == [48, 65]
    elsewhere = replace(one, struck=(low, grace, tone._replace(string=2)))
    assert without_graces(elsewhere) == elsewhere


# After it was right -----------------------------------------------------------------------------------------------


@pytest.mark.parametrize(
    ("later", "asked", "attempts"),
    [
        ((1.5, (58,)), False, [((48, 55, 58, 64), False)]),
        ((1.5, (67,)), False, RIGHT),
        ((1.5, (67,)), True, [((48, 55, 64, 67), False)]),
        ((2.5, (58,)), False, RIGHT),
        ((1.5, (45,)), False, RIGHT),
        ((1.5, (45,)), True, [((45, 48, 55, 64), False)]),
        ((2.5, (67,)), True, RIGHT),
        ((1.5, (55,)), True, RIGHT),
        ((2.5, C), False, RIGHT),
        ((2.5, SLIP), False, [(SLIP, False)]),
    ],
    ids=[
        "a lower string in its rhythm", "a tune above", "a string above where one by one is asked",
        "later than its rhythm", "one below the bass that came first", "the same where one by one is asked",
        "above, and later", "one of its own", "then struck together",
        "then struck together, and wrong",
    ],
)  # fmt: skip
def test_a_broken_chord_may_still_be_spoilt(later: Played, asked: bool, attempts: list[tuple[Chord, bool]]) -> None:
    """By a string that comes in its rhythm; and it is no more than trying the grip when another chord follows."""
    visit = played(*one_by_one(*C), later, visit=replace(VISIT, one_by_one=asked))
    assert told(visit) == attempts


def test_with_the_click_a_broken_chord_is_not_begun_anew() -> None:
    """Its time is that of its first string, though it is struck together later."""
    visit = played(*one_by_one(*C, from_s=10.0), (12.0, C), visit=replace(VISIT, due_s=10.0))
    assert visit.attempt is not None
    assert visit.attempt.onset_s == 10.0
    attempt = played(*one_by_one(*C), (2.0, C)).attempt
    assert attempt is not None
    assert attempt.onset_s == 2.0


@pytest.mark.parametrize("later", [(0.5, (58,)), (0.5, SLIP), (0.1, (58,)), (3.0, (41, 46, 51))])
def test_a_chord_struck_together_cannot_be_spoilt(later: Played) -> None:
    """What was right is right, and told of at once."""
    visit = played((0.0, C))
    assert visit.sure
    assert played(later, visit=visit) == visit


# Each of its methods ----------------------------------------------------------------------------------------------


def test_ended() -> None:
    """What was an attempt is over: struck together it is told of, single strings may still be trying the grip; what was
    none is dropped, and so is the same wrong chord once more."""
    assert [one.struck_pitches for one in played((0.0, SLIP)).ended().over] == [SLIP]
    strings = played(*one_by_one(48, 55)).ended()
    assert (strings.over, [one.struck_pitches for one in strings.broken]) == ((), [(48, 55)])
    for none in (VISIT, played((0.0, (58,)))):
        assert (none.ended().over, none.ended().broken, none.ended().attempt) == ((), (), None)
    once = played((0.0, SLIP)).ended()
    assert once.wrong == set(SLIP)
    assert played((1.0, SLIP), visit=once).ended().over == once.over


def test_left_and_told() -> None:
    """Who goes on leaves attempts of single strings too; what was told of is not told again, but an attempt that is
    being made is still being made."""
    left = played(*one_by_one(48, 55)).left()
    assert ([one.struck_pitches for one in left.over], left.broken) == ([(48, 55)], ())
    assert left.told().over == ()
    making = played((0.0, SLIP), (1.0, OTHER_SLIP))
    assert [one.struck_pitches for one in making.over] == [SLIP]
    assert making.told() == replace(making, over=())
    right = played((0.0, C))
    assert right.told().attempt is None
    assert right.told().left().over == ()
    assert told(right.told()) == []


def test_lone_and_part() -> None:
    """One string; and not even as many as the chord has."""
    cases = [
        ((), False, True),
        ([(0.0, (48,))], True, True),
        ([(0.0, (48, 55))], False, True),
        ([(0.0, C)], False, False),
    ]
    for strokes, lone, part in cases:
        assert (played(*strokes).lone, played(*strokes).is_part) == (lone, part)


def test_a_single_string_that_the_chord_before_has_too() -> None:
    """Picked on before the change, and again as the first of this chord: it was the other one's."""
    visit = replace(VISIT, shared=frozenset({48}))
    assert told(played(*one_by_one(48, 48, 55, 64), visit=visit)) == RIGHT
    assert told(played(*one_by_one(48, 55, 48, 64), visit=visit)) == RIGHT


def test_rung_on() -> None:
    """A broken chord without its first notes that the chord before has too; never without all of them."""
    one = stroke(0.0, (48, 55, 64), gap_s=0.5)
    assert [note.pitch for note in rung_on(one, frozenset({48})).struck] == [55, 64]
    assert rung_on(one, frozenset({48})).held_pitches == (48,)
    assert rung_on(one, frozenset({55})) == one
    assert rung_on(one, frozenset(C)) == one


@pytest.mark.parametrize(
    ("strokes", "lost"),
    [
        ([(0.0, (58,)), (2.0, C)], [(58,)]),
        ([*one_by_one(48, 50), (2.0, C)], [(48,), (50,)]),
        ([(0.0, SLIP), (0.5, SLIP)], [SLIP]),
        ([(0.0, SLIP), (1.0, C)], []),
        ([(0.0, C), (1.0, SLIP)], [SLIP]),
        (one_by_one(*C), []),
    ],
)
def test_what_is_in_no_attempt_was_dropped(strokes: list[Played], lost: list[Chord]) -> None:
    """So that whoever keeps what was heard has all of it: strays, trying the grip, and what only came again."""
    heard = [stroke(at_s, struck) for at_s, struck in strokes]
    visit = VISIT
    for one in heard:
        visit = visit.after(one, is_right)
    found = dropped(VISIT, visit.left(), heard)
    assert [one.struck_pitches for one in found] == lost


# Laws -------------------------------------------------------------------------------------------------------------

POOL = st.one_of(
    st.sampled_from([C, SLIP, OTHER_SLIP, (48, 55), (55, 64), (50, 55, 64), (41, 46, 51)]),
    st.sampled_from([*C, 40, 45, 58, 62, 65, 67]).map(lambda note: (note,)),
    st.sets(st.integers(40, 72), min_size=1, max_size=4).map(lambda notes: tuple(sorted(notes))),
)
STROKES = st.lists(
    st.tuples(st.integers(20, 1500), POOL, st.sampled_from([(), (), (48,), (48, 55), C, (65,), (40,)])), max_size=12
)
VISITS = st.builds(
    lambda due_s, shared, opens, asked: replace(VISIT, due_s=due_s, shared=shared, opens=opens, one_by_one=asked),
    st.sampled_from([-float("inf"), 2.0]),
    st.sampled_from([frozenset[int](), frozenset({48}), frozenset({55, 64})]),
    st.sampled_from([frozenset[int](), OPENS]),
    st.booleans(),
)


def in_time(moments: Sequence[tuple[float, Chord, Chord]], from_ms: float = 1000) -> list[Stroke]:
    """One after the other, at the given times after each other."""
    found, now_ms = [], float(from_ms)
    for wait_ms, struck, held in moments:
        now_ms += wait_ms
        found.append(stroke(now_ms / 1000, struck, tuple(note for note in held if note not in struck)))
        now_ms += 4 * (len(struck) - 1)
    return found


@given(VISITS, STROKES)
@example(VISIT, [(20, (48,), ()), (20, (55,), ()), (20, (55, 64), ()), (20, SLIP, ())])
def test_over_only_grows_until_it_is_told(visit: Visit, moments: list[tuple[int, Chord, Chord]]) -> None:
    """What is over stays over, oldest first, and was not right; after it was told of nothing of it is left."""
    for one in in_time(moments):
        before = visit.over
        visit = visit.after(one, is_right)
        assert set(before) <= set(visit.over)
        onsets = [attempt.onset_s for attempt in visit.over]
        assert onsets == sorted(onsets)
        assert not any(map(is_right, visit.over))
        assert visit.told().over == ()
        left = visit.left()
        assert set(visit.over) <= set(left.over)
        assert left.broken == ()


@given(VISITS, STROKES)
@example(VISIT, [(20, (48,), ()), (20, (64,), ()), (20, (48, 55), ())])
def test_right_is_all_of_it_and_nothing_else(visit: Visit, moments: list[tuple[int, Chord, Chord]]) -> None:
    """All tones, plucked in the attempt or ringing, nothing foreign plucked in it; and only what is right is sure."""
    for one in in_time(moments):
        visit = visit.after(one, is_right)
        assert visit.right == (visit.attempt is not None and is_right(visit.attempt))
        assert visit.right or not visit.sure


@given(VISITS, STROKES, STROKES)
def test_what_is_sure_stays(
    visit: Visit, moments: list[tuple[int, Chord, Chord]], more: list[tuple[int, Chord, Chord]]
) -> None:
    """No stroke changes a visit that is surely right, told of or not."""
    strokes = in_time(moments)
    for one in strokes:
        visit = visit.after(one, is_right)
    if not visit.sure:
        return
    later = in_time(more, 20_000)
    for known in (visit, visit.told()):
        found = known
        for one in later:
            found = found.after(one, is_right)
        assert found == known


@given(VISITS, STROKES)
def test_no_attempt_is_a_single_foreign_string_over_nothing(
    visit: Visit, moments: list[tuple[int, Chord, Chord]]
) -> None:
    """What is told of when the player leaves has a tone of the chord, or over one that rings, or is more than one."""
    for one in in_time(moments):
        visit = visit.after(one, is_right)
        for attempt in visit.left().over:
            sounding = {*attempt.struck_pitches, *attempt.held_pitches}
            assert len(attempt.struck_pitches) > 1 or not sounding.isdisjoint(C)


@given(STROKES, st.integers(0, 10**6))
def test_the_hour_does_not_matter(moments: list[tuple[int, Chord, Chord]], later_ms: int) -> None:
    """The same attempts, whenever they were made. (Nothing comes exactly at a bound: seconds are no whole numbers.)"""
    here = there = VISIT
    apart = [(wait_ms + 0.3, struck, held) for wait_ms, struck, held in moments[:8]]
    for one, other in zip(in_time(apart), in_time(apart, 1000 + later_ms), strict=True):
        here, there = here.after(one, is_right), there.after(other, is_right)
    assert told(there) == told(here)


@given(st.permutations(C), st.floats(0.05, 3.0), st.booleans())
def test_any_roll_is_right(order: list[int], gap_s: float, asked: bool) -> None:
    """At any pace, in any order."""
    visit = replace(VISIT, one_by_one=asked)
    assert told(played(*one_by_one(*order, gap_s=gap_s), visit=visit)) == RIGHT


def test_the_grace_is_shorter_than_an_ear_is_quick() -> None:
    """Both are shorter than the quarter of a second in which a player hears a slip and acts on it (our choice)."""
    assert ORNAMENT_S <= GRACE_S < 0.25


#: C and its seventh, for what needs more strings, and how each note of it is right.
SEVENTH: Chord = (48, 55, 58, 64)


def _all_of(*chord: int, lax: bool = False) -> IsRight:
    """All of these, plucked or ringing on, and no other; with ``lax`` in any octave."""
    octave = 12 if lax else 128

    def right(one: Stroke) -> bool:
        struck, held = ({note % octave for note in notes} for notes in (one.struck_pitches, one.held_pitches))
        wanted = {note % octave for note in chord}
        return struck <= wanted <= struck | held

    return right


def _told_of(visit: Visit, right: IsRight, *strokes: Stroke) -> list[tuple[Chord, bool]]:
    for one in strokes:
        visit = visit.after(one, right)
    return told(visit)


@pytest.mark.parametrize(
    ("later_s", "rings", "attempts"),
    [
        (0.6, False, [((48, 64), True)]),
        (2.0, True, [((48, 64), True)]),
        (2.0, False, [((64,), False), ((48, 64), True)]),
    ],
)
def test_one_of_two_notes_that_has_gone_is_no_part_of_the_next_attempt(
    later_s: float, rings: bool, attempts: list[tuple[Chord, bool]]
) -> None:
    """Of two notes one came out. Soon after, or while it rings, the other still makes it whole."""
    visit = Visit(0, frozenset({48, 64}), 2)
    strokes = stroke(0.0, (64,)), stroke(later_s, (48,), (64,) if rings else ()), stroke(later_s + 0.3, (64,), (48,))
    assert _told_of(visit, _all_of(48, 64), *strokes) == attempts


@pytest.mark.parametrize(
    ("round_", "attempts"),
    [
        ((58, 64, 48, 55), [((48, 55, 58), False), (SEVENTH, True)]),
        ((48, 55, 58, 64), [(SEVENTH, True)]),
        ((58, 64, 55), [(SEVENTH, True)]),
    ],
    ids=["turned round", "the bass again", "not all of it"],
)
def test_who_plucks_the_last_string_again_begins_a_new_round(round_: Chord, attempts: list[tuple[Chord, bool]]) -> None:
    """Evenly picked, without its top: an alternating bass goes on with the chord, but no pattern has the same string
    twice running. When all of it came in the new round, the one before was an attempt."""
    strokes = [stroke(0.4 * place, (note,)) for place, note in enumerate((48, 55, 58, *round_))]
    assert _told_of(Visit(0, frozenset(SEVENTH), 4, picks=True), _all_of(*SEVENTH), *strokes) == attempts


@pytest.mark.parametrize(
    ("last", "attempts"),
    [((55, 64), [((48, 64), False), (C, True)]), ((55,), RIGHT)],
    ids=["the rest together", "string by string"],
)
def test_the_bass_again_and_then_the_rest_of_it(last: Chord, attempts: list[tuple[Chord, bool]]) -> None:
    """With the click, evenly: bass and the rest of it, which lacked a string, and both once more, now whole. String by
    string it is one chord with an alternating bass."""
    visit = replace(VISIT, due_s=0.0)
    assert told(played((0.0, (48,)), (1.0, (64,)), (2.0, (48,)), (3.0, last, (48,)), visit=visit)) == attempts


@pytest.mark.parametrize(
    ("again", "attempts"),
    [
        (one_by_one(64, from_s=0.9), RIGHT),
        (one_by_one(*C, from_s=2.0, gap_s=0.15), [((48, 55), False), (C, True)]),
    ],
    ids=["its top, late", "all of it, a bar later"],
)
def test_with_the_click_a_roll_that_lacked_its_top(again: list[Played], attempts: list[tuple[Chord, bool]]) -> None:
    """What comes within a second is part of it; rolled again when it had died away, it is the next attempt."""
    strokes = [*one_by_one(48, 55, gap_s=0.15), *again]
    assert told(played(*strokes, visit=replace(VISIT, due_s=0.0))) == attempts


def _softly(one: Stroke, velocity: int) -> Stroke:
    return replace(one, struck=tuple(note._replace(velocity=velocity) for note in one.struck))


@pytest.mark.parametrize("before", [True, False])
@pytest.mark.parametrize(
    ("velocity", "open_", "arpeggio", "brushed"),
    [(67, True, False, True), (68, True, False, False), (50, False, False, False), (50, True, True, False)],
    ids=["brushed", "as loud", "fretted", "drill of arpeggios"],
)
def test_an_open_string_that_is_brushed_is_none_of_a_picked_chord(
    velocity: int, open_: bool, arpeggio: bool, brushed: bool, before: bool
) -> None:
    """In the rhythm of the others, before the first or after the last of them, and a foreign one: softer than the
    softest (76) by more than the loudest is louder (84), it was only brushed."""
    visit = replace(VISIT, opens=OPENS if open_ else frozenset(), one_by_one=arpeggio)
    down = (64, 55, 48)
    foreign = _softly(stroke(0.0 if before else 1.2, (45,)), velocity)
    rings = (45,) if before else ()
    loud = (80, 76, 84)
    picked = [_softly(stroke(0.4 * (place + before), (note,), rings), loud[place]) for place, note in enumerate(down)]
    strokes = [foreign, *picked] if before else [*picked, foreign]
    assert (_told_of(visit, is_right, *strokes) == RIGHT) == brushed


@pytest.mark.parametrize(
    ("gap_s", "top", "attempt"),
    [
        (0.14, 66, ((48, 52, 55, 60, 66), False)),
        (0.14, 64, ((48, 52, 55, 60, 64), True)),
        (0.50, 66, ((48, 52, 55), True)),
    ],
    ids=["a slip on top", "all of it right", "picked"],
)
def test_a_roll_goes_on_to_its_last_string(gap_s: float, top: int, attempt: tuple[Chord, bool]) -> None:
    """Where any voicing will do all tones may have come with strings to go: those of the same roll are part of it."""
    visit = Visit(0, frozenset(note for note in range(128) if note % 12 in (0, 4, 7)), 3)
    strokes = [stroke(gap_s * place, (note,)) for place, note in enumerate((48, 52, 55, 60, top))]
    assert _told_of(visit, _all_of(48, 52, 55, lax=True), *strokes) == [attempt]
