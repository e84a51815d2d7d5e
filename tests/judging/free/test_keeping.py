"""What was played, as a drill: a take of a drill is that drill again, and what was no chord is said."""

from __future__ import annotations

from collections.abc import Iterable
from dataclasses import replace
from functools import cache

import pytest
from hypothesis import given
from hypothesis import strategies as st
from lab.proving.performing import Performance, notes_of, performance, run_evidence, run_truth
from played_again import (
    FIRST_BEAT_S,
    GUITAR,
    HAND,
    again,
    bar_and_beat,
    in_bars_of,
    kept,
    one_after_the_other,
    played,
    rows_of,
    swaying,
    take_of,
    written,
)

from listener.drill.drill_file import bundled_drills, load_drill
from listener.drill.drill_text import drill_text
from listener.errors import SourceError
from listener.hearing.events import Message, on_grid
from listener.hearing.pickup import make_pickup
from listener.hearing.take_file import Mark, Take
from listener.judging.free.keeping import KeptDrill, TakeHints, keep
from listener.judging.free.transcribing import transcribed
from listener.planning.plan import Plan
from listener.planning.planner import plan_drill
from listener.simulation.converter import make_converter
from listener.simulation.player import FLAWLESS
from listener.simulation.simulated import simulate

#: Plain chords, two lengths, three in a bar, six eighths, held tones, a riff, picked and strummed, a tune on top.
A_FEW = ("mill-verse", "high-tide", "barn-waltz", "harbour-lullaby", "bell-tower", "loom-shed", "cider-fair")
#: With rests, which the simulated guitarist leaves out at its own pace: there is nothing then that bars could be read
#: from.
RESTS = frozenset({"tram-bell", "loom-shed"})
EVERY = [
    pytest.param(name, marks=() if name in A_FEW else pytest.mark.slow) for name in bundled_drills()
]  # fmt: skip


@cache
def planned(name: str) -> Plan:
    return plan_drill(load_drill(name), GUITAR, HAND)


def comes_back(found: KeptDrill, plan: Plan, starts: list[float], *, strings: bool) -> None:
    """The steps of the kept drill are those that were played: pitches, strings, bars and beats."""
    want = rows_of(plan, starts, strings=strings)
    drill = again(found)
    got = rows_of(drill, written(drill), strings=strings)
    assert [notes for _, notes in got] == [notes for _, notes in want]
    assert drill.drill.meter == plan.drill.meter
    assert in_bars_of(drill) == bar_and_beat(plan, want)


@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("pickup", ["per-string", "single"])
def test_a_drill_with_the_click_is_that_drill_again(name: str, pickup: str) -> None:
    """Every step in its bar, on its strings where the pickup tells them; tempo and meter from the click."""
    plan = planned(name)
    found = kept(played(plan, seed=3, pickup=pickup, click=True))
    comes_back(found, plan, written(plan), strings=pickup != "single")
    assert found.sketch.tempo == plan.drill.tempo
    assert not found.found
    assert found.sketch.remarks[0].startswith("From the click: ")


@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("pickup", ["per-string", "single"])
def test_a_drill_at_own_pace_is_that_drill_again(name: str, pickup: str) -> None:
    """Each chord is some six per cent longer or shorter than the next: bars are found, within a tenth of the tempo."""
    plan = planned(name)
    if name in RESTS:
        found, starts = kept(swaying(plan, seed=3, pickup=pickup)), written(plan)
    else:
        found, starts = kept(played(plan, seed=3, pickup=pickup, click=False)), one_after_the_other(plan)
    comes_back(found, plan, starts, strings=pickup != "single")
    assert found.found
    assert found.sketch.tempo == pytest.approx(plan.drill.tempo, rel=0.1)
    assert found.sketch.remarks[0].startswith("Found in the playing: ")


@pytest.mark.parametrize("name", ["mill-verse", "high-tide"])
def test_nobody_has_to_say_the_bars(name: str) -> None:
    """Without any word about tempo and meter a chord a bar is found as just that."""
    plan = planned(name)
    take = played(plan, seed=3, pickup="per-string", click=False)
    found = kept(Take(take.messages))
    assert found.beats.meter == (4, 4)
    assert found.beats.tempo == pytest.approx(plan.drill.tempo, rel=0.1)
    assert "--tempo and --meter say otherwise" in found.sketch.remarks[0]


def test_who_says_the_bars_is_believed() -> None:
    """Half the tempo and half the beats: the same drill, two chords to a bar."""
    take = Take(played(planned("mill-verse"), seed=3, pickup="single", click=False).messages)
    found = kept(take, TakeHints("x", tempo=31.0, meter=(4, 4)))
    assert found.sketch.tempo == 31
    assert in_bars_of(again(found))[:4] == [(1, 1.0), (1, 3.0), (2, 1.0), (2, 3.0)]
    assert found.sketch.remarks[0].startswith("As you said: 31 a minute, four beats in a bar.")


@pytest.mark.parametrize("name", EVERY)
def test_wide_strums_are_chords_all_the_same(name: str) -> None:
    """From the first string to the last a fifth of a second, which is more than the ears wait for."""
    plan = planned(name)
    wide = replace(FLAWLESS, pluck_spread_ms=45.0, strum_spread_ms=(120, 220))
    pickup = make_pickup("per-string")
    messages = simulate(
        plan, seed=4, pickup=pickup, tempo=plan.drill.tempo, first_beat_s=FIRST_BEAT_S, player=wide
    ).messages
    comes_back(kept(take_of(plan, messages, "per-string", click=True)), plan, written(plan), strings=True)


# The pickup's errors -----------------------------------------------------------------------------------------


def flawed(name: str, pickup: str, seed: int, errors: str = "typical") -> tuple[Performance, KeptDrill]:
    plan = planned(name)
    run = performance(
        plan, make_pickup(pickup), make_converter(errors), FLAWLESS, seed=seed, tempo=plan.drill.tempo, name=name
    )
    return run, kept(take_of(plan, run.messages, pickup, click=True))


def sent_otherwise(run: Performance, step: int) -> bool:
    """Whether the converter sent another pitch than was plucked, or none, for any pluck of a step."""
    pairs = zip(run.plucks, run.sent, strict=True)
    return any(pluck.step == step and sent.pitch != pluck.pitch for pluck, sent in pairs)


def silent_differences(run: Performance, found: KeptDrill) -> list[tuple[int, str]]:
    """Steps that are not as they were played although nothing is said about their time, with why; only a step of which
    the wire itself says something else may be there, as what the wire says."""
    chords = [chord for part in found.chords for chord in part]
    differences = []
    for step, (really, sent) in enumerate(zip(run_truth(run), run_evidence(run), strict=True)):
        begins = run.intents[step].due_s
        ends = run.intents[step + 1].due_s if step + 1 < len(run.intents) else begins + 30
        here = [chord for chord in chords if chord.onset_s <= begins + 0.12][-1:]
        heard = {(note.string, note.pitch) for chord in here for note in chord.notes}
        more = any(begins + 0.12 < chord.onset_s < ends - 0.12 for chord in chords)
        meant = {(note.string, note.pitch) for note in (*really.struck, *really.held)}
        wire = {(note.string, note.pitch) for note in (*sent.struck, *sent.held)}
        said = any(one.from_s <= ends and one.to_s >= begins - 0.2 for one in found.unclear)
        if (heard == meant and not more) or said:
            continue
        told = notes_of(run, really, step) == notes_of(run, sent, step) and not sent_otherwise(run, step)
        differences.append((step, "told" if told else "as sent" if heard == wire else "made up"))
    return differences


@pytest.mark.parametrize("name", EVERY)
@pytest.mark.parametrize("pickup", ["per-string", "single"])
def test_what_differs_by_the_pickups_errors_is_said(name: str, pickup: str) -> None:
    """A step that the wire tells as it was played is written so, or the report names its time. Where the pickup never
    sent a note, or sent it otherwise, nobody can know, and what is written is what was sent: nothing is made up."""
    for seed in (1, 2):
        run, found = flawed(name, pickup, seed)
        assert [why for _, why in silent_differences(run, found) if why != "as sent"] == []


def test_the_errors_that_were_set_right_are_counted() -> None:
    """What the cleaner did is said, in its own words."""
    run, found = flawed("mill-verse", "per-string", 3, "hard")
    counts = transcribed(run.messages, run.pickup).cleaned
    assert sum(counts.values()) > 0
    (line,) = [remark for remark in found.sketch.remarks if remark.startswith("Of the pickup's errors: ")]
    assert all(str(count) in line for count in counts.values() if count)


# What is no chord --------------------------------------------------------------------------------------------

Notes = Iterable[tuple[float, float, int]]


def take(notes: Notes, marks: tuple[Mark, ...] = ()) -> Take:
    """Notes as (onset, length, MIDI), all on one channel."""
    messages = []
    for onset_s, length_s, pitch in notes:
        messages.append(Message(onset_s, (0x90, pitch, 80)))
        messages.append(Message(onset_s + length_s, (0x80, pitch, 64)))
    return Take(tuple(sorted(messages, key=lambda one: (one.time_s, one.data[0]))), marks)


def chord(at_s: float, *pitches: int, length_s: float = 1.9) -> list[tuple[float, float, int]]:
    return [(at_s, length_s, pitch) for pitch in pitches]


C, F, G = (48, 52, 55), (53, 57, 60), (55, 59, 62)


@pytest.mark.parametrize(
    ("notes", "said"),
    [
        ([], "nothing was heard in it"),
        ([(1.0, 1.0, 60)], "at 0:01.0: a single note, C4: left out"),
        ([(1 + 0.25 * n, 0.24, 60 + n % 7) for n in range(60)], "single notes, C4 C#4 D4 D#4 E4 F4 F#4 C4 and 52 more"),
        # Each note rings over the two that follow it: a tune all the same.
        ([(1 + 0.25 * n, 0.6, 60 + (5 * n) % 12) for n in range(40)], "single notes, "),
        (chord(1.0, *range(40, 52)), "12 notes at once are more than 6 strings: left out"),
        (chord(1.0, 40, 41, 42), "no medium hand plays E2 F2 F#2 at once: left out"),
        (chord(1.0, 20, 24, 27), "G#0 C1 D#1 lies outside this guitar's range"),
    ],
)  # fmt: skip
def test_what_is_no_chord_is_said_instead(notes: Notes, said: str) -> None:
    """No drill, and one line about what was heard and when."""
    with pytest.raises(SourceError) as error:
        kept(take(notes))
    assert said in str(error.value)
    assert "\n" not in str(error.value)


def test_single_notes_between_chords_are_left_out_and_said() -> None:
    """The chords stand where they were played."""
    notes = [*chord(1.0, *C), *chord(3.0, *F), (5.0, 0.4, 67), (5.5, 0.4, 69), (6.0, 0.9, 71), *chord(7.0, *G)]
    found = kept(take(notes), TakeHints("x", tempo=120.0, meter=(4, 4)))
    assert found.sketch.played[0].chords.split() == ["C", "|", "F", "|", "N.C.", "|", "G"]
    (one,) = found.unclear
    assert (round(one.from_s, 1), one.heard) == (5.0, (67, 69, 71))
    assert one.text == "single notes, G4 A4 B4: left out"
    assert "At 0:05.0: single notes, G4 A4 B4: left out." in found.sketch.remarks


def test_chords_are_called_what_they_are_in_their_harmony() -> None:
    """Two tones of the chord that governs are that chord; of two names for the same notes the harmony takes one."""
    g_and_b, am7 = chord(5.0, 43, 59), chord(5.0, 45, 55, 60, 64)
    found = kept(take([*chord(1.0, *C), *chord(3.0, 43, 50, 59, 67), *g_and_b, *chord(7.0, *C)]))
    assert found.sketch.played[0].chords.replace("|", " ").split() == ["C", "G", "G", "C"]
    found = kept(take([*chord(1.0, *C), *chord(3.0, 40, 55, 59, 64), *am7, *chord(7.0, 50, 57, 62, 65)]))
    assert found.sketch.played[0].chords.replace("|", " ").split() == ["C", "Em", "Am7", "Dm"]


def test_a_bass_by_itself_belongs_to_its_chord() -> None:
    """A comp of bass notes and chords above them, two each in a bar: one chord for each bar, from its bass on, and
    nothing that was not understood."""
    rows: list[tuple[float, float, int]] = []
    shapes = ((50, 53, 60, 64), (43, 53, 59, 64), (48, 52, 59, 62), (45, 52, 55, 61))
    for bar, (bass, *above) in enumerate(shapes * 2):
        at_s = 1.0 + 2.4 * bar
        rows += [(at_s, 1.1, bass), (at_s + 1.2, 1.1, bass)]
        rows += [(at_s + late_s, 0.4, pitch) for late_s in (0.6, 0.9, 1.8) for pitch in above]
    found = kept(take(rows))
    assert [chord.pitches for chord in found.chords[0]] == list(shapes * 2)
    assert [chord.onset_s for chord in found.chords[0]] == pytest.approx([1.0 + 2.4 * n for n in range(8)], abs=0.03)
    assert found.unclear == ()
    assert found.sketch.played[0].chords.replace("|", " ").split() == ["Dm9", "G13", "Cmaj9", "A7"]
    assert (found.sketch.key, found.sketch.played[0].times) == ("C major", 2)


def test_a_chord_that_still_sounds_is_kept() -> None:
    """The last one, of which no string has ended yet, also where it begins a bar."""
    last = 41, 53, 57, 60
    rows = [(1.0, *C), (3.0, 43, 50, 59, 67), (5.0, 45, 52, 60, 64), (7.0, *C), (9.0, *last)]
    whole = take([row for at_s, *pitches in rows for row in chord(at_s, *map(int, pitches))])
    for some in (whole, Take(whole.messages[: -len(last)])):
        found = kept(some)
        assert [len(part) for part in found.chords] == [len(rows)]
        assert [step.voicing.midi for step in again(found).steps][-2:] == [C, last]


def test_notes_without_a_name_are_written_down_as_notes() -> None:
    """A chord that no symbol covers is '?', says so, and the drill can be played."""
    found = kept(take([*chord(1.0, *C), *chord(3.0, 50, 63), *chord(5.0, *C)]))
    assert found.sketch.played[0].chords.split() == ["C", "|", "?", "|", "C"]
    assert [one.text for one in found.unclear] == ["D3 D#4 has no name; it is written ?"]
    assert [str(step.voicing.chord) for step in again(found).steps] == ["C", "?", "C"]


def test_a_passage_played_twice_is_written_once() -> None:
    """Four bars twice, then an ending."""
    bars = [C, F, G, F, C, F, G, F, C]
    found = kept(take(note for n, notes in enumerate(bars) for note in chord(1 + 2 * n, *notes)))
    assert [(passage.times, passage.chords.count("|") + 1) for passage in found.sketch.played] == [(2, 4), (1, 1)]
    assert len(again(found).steps) == 9
    assert "times = 2" in drill_text(found.sketch)


def test_a_note_that_came_only_once_is_named() -> None:
    """The same four bars, the second time without one note of a chord: a repeat that is none says why."""
    bars = [C, F, G, C, F, G[:2], C]
    found = kept(take(note for n, notes in enumerate(bars) for note in chord(1 + 2 * n, *notes)))
    assert "G3 B3; another time it is with D4 in the same place" in [one.text for one in found.unclear]


def test_a_chord_that_is_struck_again_is_one_step() -> None:
    """Strummed in eighths at 120: one chord a bar."""
    notes = [
        (1 + 2 * bar + eighth / 4, 0.24, pitch)
        for bar, pitches in enumerate((C, F, G, C))
        for eighth in range(8)
        for pitch in pitches
    ]
    found = kept(take(notes))
    assert (found.beats.tempo, found.beats.meter) == (120, (4, 4))
    assert in_bars_of(again(found)) == [(1, 1.0), (2, 1.0), (3, 1.0), (4, 1.0)]


def test_pauses_and_silences_part_passages() -> None:
    """What is played in a pause is left out; a long silence begins a new passage, which can be asked for alone."""
    notes = [*chord(1.0, *C), *chord(3.0, *F), *chord(6.0, *G), *chord(8.0, *F), *chord(30.0, *C), *chord(32.0, *G)]
    marks = (Mark(5.5, "pause"), Mark(7.5, "step 0"))
    whole = kept(take(notes, marks))
    assert [[chord.pitches for chord in part] for part in whole.chords] == [[C, F], [F], [C, G]]
    assert len(kept(take(notes, marks), TakeHints("x", part=3)).chords) == 1
    assert kept(take(notes, marks), TakeHints("x", last_part=True)).chords == whole.chords[2:]
    with pytest.raises(SourceError, match=r"has no part 4; there are 1 from 0:01\.0 to 0:04\.9, 2 from "):
        kept(take(notes, marks), TakeHints("x", part=4))


def test_ten_minutes_of_playing_are_too_much_for_one_drill() -> None:
    """It says how much there is, and how to take less."""
    notes = [
        note
        for n in range(600)
        for note in chord(1.0 + n, *((C, F, G)[n % 3] if n % 7 else (50, 53, 57)), length_s=0.9)
    ]
    with pytest.raises(SourceError, match=r"600 chords, and a drill at most 500; say from when to when, as in --from"):
        kept(take(notes))
    assert len(kept(take(notes), TakeHints("x", from_s=60, to_s=90)).chords[0]) == 30


def test_a_note_sent_an_octave_high_is_taken_down_where_the_hand_was() -> None:
    """On string 3 at fret 17 beside frets 3 to 5: nobody holds that, and the report says what was done."""
    per_string = make_pickup("per-string")
    notes = {5: 48, 4: 55, 3: 60 + 12, 2: 64}
    messages = [
        Message(1.0 + off, (kind | (string - 1), pitch, 80))
        for off, kind in ((0.0, 0x90), (2.0, 0x80))
        for string, pitch in notes.items()
    ]
    found = keep(Take(tuple(messages)), "x", per_string, GUITAR, HAND, TakeHints("x"))
    assert [(note.pitch, note.string) for note in found.chords[0][0].notes] == [(48, 5), (55, 4), (60, 3), (64, 2)]
    assert found.unclear[0].text.startswith("C5 on string 3 is taken an octave lower")


def test_the_last_chord_needs_no_end() -> None:
    """What still rings when the take is over; nobody sees infinity."""
    found = kept(Take(take([*chord(1.0, *C), *chord(3.0, *F)]).messages[:-3]))
    assert [chord.pitches for chord in found.chords[0]] == [C, F]
    assert all(chord.end_s < 10 for chord in found.chords[0])
    assert found.unclear == ()


def test_a_take_names_its_drill_in_vain() -> None:
    """The steps come from what sounded: the header says mill-verse, what was played is something else."""
    found = kept(
        take_of(planned("mill-verse"), take([*chord(2.0, *C), *chord(6.0, *G)]).messages, "single", click=True)
    )
    assert [str(step.voicing.chord) for step in again(found).steps] == ["C", "G"]


_wire = st.lists(
    st.tuples(
        st.integers(0, 300), st.integers(0, 6), st.sampled_from([0x90, 0x90, 0x80, 0xE0, 0xB0]), st.integers(50, 72),
        st.sampled_from([0, 5, 12, 40, 80, 110]),
    ),
    max_size=60,
)  # fmt: skip


@given(_wire, st.sampled_from(["single", "per-string", "zone"]))
def test_whatever_comes_over_the_wire_is_written_down(rows: list[tuple[int, int, int, int, int]], pickup: str) -> None:
    """Glitches, ghosts, bends, a pedal, notes without an end: chords in order, each of notes that were struck."""
    now, messages = 0.0, []
    for wait_ms, channel, kind, note, value in rows:
        now += wait_ms / 1000
        data = (kind | channel, 64 if kind == 0xB0 else note, value)
        messages.append(Message(on_grid(now), data))
    found = transcribed(messages, make_pickup(pickup)).chords
    onsets = [chord.onset_s for chord in found]
    assert onsets == sorted(onsets)
    assert all(len(set(chord.notes)) == len(chord.notes) > 0 for chord in found)
