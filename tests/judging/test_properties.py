"""Laws of the judge, through the whole chain from messages to verdicts."""

from __future__ import annotations

from collections.abc import Callable, Sequence
from dataclasses import replace
from functools import cache
from itertools import permutations

import pytest
from hypothesis import example, given
from hypothesis import strategies as st

from listener.data import shared_table
from listener.drill.drill import EXACT, SAME_CHORD, SAME_FINGERING, SAME_KIND
from listener.drill.drill_file import read_drill
from listener.following.pace import Anchor
from listener.guitar.hand import make_hand
from listener.guitar.instrument import make_instrument
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup, pickup_names
from listener.hearing.take_file import Take
from listener.judging.take import judge_take
from listener.judging.verdict import GRADES, HIT, MISS, Verdict
from listener.music.chord import parse_chord
from listener.music.pitch import frequency_hz, parse_pitch, parse_tone, spell
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill

#: Without delay, so that all notes of a stroke arrive together.
SINGLE = replace(make_pickup("single"), delay_periods=0.0)
SYMBOLS = ("C", "Am", "G7", "Cmaj7", "Dm7b5", "C9", "G13", "Dsus4", "C/E", "C/D", "Bdim7", "Gb", "F#m7")


@st.composite
def planned_chords(draw: st.DrawFn) -> tuple[str, tuple[int, ...]]:
    """A chord symbol and some of its tones on the guitar, three to six of them."""
    symbol = draw(st.sampled_from(SYMBOLS))
    chord = parse_chord(symbol)
    tones = [note for note in range(40, 80) if chord.tone_of(note) is not None]
    return symbol, tuple(sorted(draw(st.sets(st.sampled_from(tones), min_size=3, max_size=6))))


def near_misses(planned: Sequence[int]) -> st.SearchStrategy[tuple[int, ...]]:
    """What a hand might play instead: some notes kept, some moved, some dropped, some added."""
    moved = st.tuples(*(st.sampled_from((0, 0, 0, 0, 1, -1, 2, -2, 12, -12, 5, None)) for _ in planned))
    added = st.sets(st.integers(40, 84), max_size=2)
    return st.tuples(moved, added).map(
        lambda both: tuple(
            sorted({note + by for note, by in zip(planned, both[0], strict=True) if by is not None} | both[1])
        )
    )


@st.composite
def chords_and_what_came(draw: st.DrawFn) -> tuple[str, tuple[int, ...], tuple[int, ...]]:
    """A chord symbol, tones of it, and what might have been heard instead."""
    symbol, planned = draw(planned_chords())
    return symbol, planned, draw(near_misses(planned).filter(bool))


def what_is_said(plan: Plan, notes: Sequence[int]) -> Verdict | None:
    """The verdict on these notes, plucked together and alone; None where they are nobody's attempt."""
    messages = [Message(on_grid(1 + 0.004 * n), (0x90, note, 80)) for n, note in enumerate(notes)]
    found = judge_take(plan, SINGLE, Take(tuple(messages), (), None))
    assert len(found) <= 1
    return found[0] if found else None


def worth(verdict: Verdict | None) -> int:
    """From the best grade down; what nothing is said of is worth no more than a miss."""
    return GRADES.index(MISS if verdict is None else verdict.grade)


def _anybody_plays(notes: Sequence[int]) -> bool:
    """Every note on a string of its own in standard tuning, all 24 frets tried, no pressed ones so far apart that the
    large hand with a quarter more does not reach them; worked out here by the formula for frets alone."""
    open_strings, most_mm = (64, 59, 55, 50, 45, 40), 1.25 * make_hand("large").longest_mm

    def before_the_fret_mm(fret: int) -> float:
        return 648.0 * (1 - (2 ** (-fret / 12) + 2 ** (-(fret - 1) / 12)) / 2)

    for strings in permutations(open_strings, len(notes)):
        frets = [note - string for note, string in zip(notes, strings, strict=True)]
        pressed = [before_the_fret_mm(fret) for fret in frets if fret]
        if min(frets) >= 0 and max(frets) <= 24 and (not pressed or max(pressed) - min(pressed) <= most_mm):
            return True
    return False


def _only_the_pickup(planned: Sequence[int], heard: Sequence[int]) -> bool:
    """Whether one planned note came an octave high where nobody can have played what came."""
    gone, came = {*planned} - {*heard}, {*heard} - {*planned}
    raised = [(high, note) for high in came for note in gone if high - note == 12]
    return (
        len(raised) == 1
        and {*heard} - {raised[0][0]} == {*planned} - {raised[0][1]}
        and not _anybody_plays(heard)
        and _anybody_plays(planned)
    )


@given(chords_and_what_came())
@example(("C", (40, 48, 60), (40, 48, 72)))
@example(("C", (48, 55, 64), (48, 55, 76)))
@example(("Am", (45, 52, 57), (45, 52, 69)))
@example(("C", (43, 52, 60), (43, 52, 79)))
def test_a_hit_is_the_planned_notes_and_nothing_else(
    make_plan: Callable[..., Plan], planned_and_heard: tuple[str, tuple[int, ...], tuple[int, ...]]
) -> None:
    """With exact pitches only the planned notes are a hit, as they are or with one that only the pickup can have
    raised; whatever is none names a fault. Nothing is said only where less than half of the chord was plucked."""
    symbol, planned, heard = planned_and_heard
    verdict = what_is_said(make_plan([(symbol, planned)]), heard)
    right = heard == planned or _only_the_pickup(planned, heard)
    if verdict is None:
        assert not right
        assert 2 * len({*planned} & {*heard}) < len(planned)
        return
    assert (verdict.grade == HIT) == right
    assert (verdict.grade == HIT) == (not verdict.faults)
    assert all(fault.text for fault in verdict.faults)


@pytest.mark.parametrize("strictness", [EXACT, SAME_KIND, SAME_CHORD])
@given(st.data())
def test_adding_a_wrong_tone_never_improves_the_grade(
    make_plan: Callable[..., Plan], strictness: str, data: st.DataObject
) -> None:
    """A note that is no tone of the chord never helps, in any degree of strictness."""
    symbol, planned = data.draw(planned_chords())
    heard = data.draw(near_misses(planned).filter(bool))
    chord = parse_chord(symbol)
    strangers = [note for note in range(40, 84) if chord.tone_of(note) is None and note not in heard]
    more = tuple(sorted({*heard, data.draw(st.sampled_from(strangers))}))
    plan = make_plan([(symbol, planned)], strictness=strictness)
    assert worth(what_is_said(plan, more)) >= worth(what_is_said(plan, heard))


@pytest.mark.parametrize("strictness", [EXACT, SAME_KIND, SAME_CHORD])
@given(st.data())
def test_transposing_plan_and_take_together_changes_nothing(
    make_plan: Callable[..., Plan], strictness: str, data: st.DataObject
) -> None:
    """In another key, on a guitar tuned that much higher: the same grade, the same faults about the same voices; and
    what was nobody's attempt is nobody's there too."""
    symbol, planned = data.draw(planned_chords())
    heard = data.draw(near_misses(planned).filter(bool))
    shift = data.draw(st.integers(-11, 11))
    chord = parse_chord(symbol)
    moved = chord.transposed(spell(60 + (chord.root.pitch_class + shift) % 12).tone)
    here = what_is_said(make_plan([(symbol, planned)], strictness=strictness), heard)
    plan = make_plan([(moved.symbol, tuple(note + shift for note in planned))], strictness=strictness)
    tuning = tuple(str(spell(parse_pitch(name).midi + shift)) for name in plan.tuning)
    there = what_is_said(replace(plan, tuning=tuning), tuple(note + shift for note in heard))
    if here is None or there is None:
        assert here == there
        return
    assert here.grade == there.grade
    assert [fault.code for fault in here.faults] == [fault.code for fault in there.faults]
    for one, other in zip(here.faults, there.faults, strict=True):
        assert (one.pitch is None) == (other.pitch is None)
        assert one.pitch is None or other.pitch == one.pitch + shift
        assert one.wanted is None or other.wanted == one.wanted + shift


@given(st.data(), st.sampled_from([EXACT, SAME_FINGERING, SAME_KIND, SAME_CHORD]))
def test_the_planned_notes_are_a_hit_in_every_degree(
    make_plan: Callable[..., Plan], data: st.DataObject, strictness: str
) -> None:
    """Whatever the drill asks, playing exactly the plan fulfils it, if the plan is a voicing of the chord."""
    symbol, planned = data.draw(planned_chords())
    verdict = what_is_said(make_plan([(symbol, planned)], strictness=strictness), planned)
    assert verdict is not None
    assert verdict.grade == HIT


DRILL = """
title = "Three chords"
key = "{key}"
tempo = 60

[[passage]]
name = "verse"
numerals = "I | IV | V7 | I"
kind = "any"
"""


@cache
def played_plan(tuning: str, key: str) -> Plan:
    drill = read_drill(DRILL.format(key=key), "three-chords")
    return plan_drill(drill, make_instrument(tuning), make_hand("medium"))


TUNINGS = sorted(shared_table("tunings"))


@given(
    st.sampled_from(TUNINGS),
    st.sampled_from(pickup_names()),
    st.sampled_from(("C major", "Gb major")),
    st.floats(40.0, 160.0),
    st.booleans(),
    st.integers(0, 2**32 - 1),
)
def test_a_perfect_take_is_all_hits(tuning: str, profile: str, key: str, tempo: float, click: bool, seed: int) -> None:
    """At any tempo, in every tuning, through every pickup profile: as planned and in time is a hit, and only that."""
    plan, pickup = played_plan(tuning, key), make_pickup(profile)
    if pickup.tells_strings and plan.string_count > len(pickup.channels):
        pickup = make_pickup("single")
    beat_s, messages = 60.0 / tempo, []
    for planned in plan.steps:
        start_s = 2.0 + planned.step.start_beats * beat_s
        lasts_s = 0.8 * planned.step.length_beats * beat_s
        for rank, (pitch, string) in enumerate(zip(planned.fingering.pitches, planned.fingering.strings, strict=True)):
            channel = pickup.channel_of(string)
            gap_s = (seed >> rank) % 8 / 1000
            known_s = start_s + rank * gap_s + pickup.delay_s(frequency_hz(pitch))
            messages.append(Message(on_grid(known_s), (0x90 | channel - 1, pitch, 90)))
            messages.append(Message(on_grid(known_s + lasts_s), (0x80 | channel - 1, pitch, 0)))
    messages.sort(key=lambda message: (message.time_s, message.data[0]))
    anchor = Anchor(0, 2.0, tempo) if click else None
    verdicts = judge_take(plan, pickup, Take(tuple(messages), (), None), anchor)
    assert [(v.step, v.attempt, v.grade) for v in verdicts] == [(n, 1, HIT) for n in range(len(plan.steps))]


def test_every_tuning_and_key_has_a_plan() -> None:
    """The law above is about real plans: each has four chords that can be played."""
    assert len(TUNINGS) >= 5
    for tuning in TUNINGS:
        assert len(played_plan(tuning, "C major").steps) == 4
    assert parse_tone("Gb").pitch_class == 6
