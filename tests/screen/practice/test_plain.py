"""Plain lines and the summary: readable aloud, ASCII, kind."""

from __future__ import annotations

import io
import re
from collections.abc import Callable
from dataclasses import replace

import pytest

from listener.judging.fill import Fill
from listener.judging.pattern.pattern import PatternVerdict
from listener.judging.remarks.take_remarks import NAMES
from listener.judging.touch.account import Degree, TouchAccount
from listener.judging.verdict import HIT, MISS, NEAR, Fault
from listener.music.pattern import Pattern
from listener.music.pattern_text import read_picks, read_strums
from listener.planning.plan import Plan
from listener.screen.practice.plain import PlainScreen, verdict_line
from listener.screen.practice.summary import summary_lines
from listener.session.take.so_far import SoFar
from listener.session.take.state import COUNT_IN, FINISHED, PAUSED, PLAYING, Snapshot

CLOSE = Fault("spacing", "right chord, but close: lift the E an octave")
LATE = Fault("late", "late by 90 ms", ms=90.0)


def test_one_line_for_each_settled_verdict(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """Start lines once, then a line per verdict, never one twice, and the end with its summary."""
    stream = io.StringIO()
    screen = PlainScreen(stream)
    first = moment(verse, verdicts=(), verdict=None, step=0)
    screen.show(first)
    screen.show(first)
    screen.show(moment(verse))
    screen.show(moment(verse))
    screen.show(moment(verse, phase=FINISHED, step=8))
    screen.close()
    assert stream.getvalue().splitlines() == [
        "A verse by the window: 8 chords, G major, 84 beats a minute.",
        "Listening to MIDI port: pickup 1.",
        "First: Am7, drop 2, third inversion, G3 C4 E4 A4.",
        " 1  Am7 drop 2: hit. 12 ms late.",
        " 2  D7 drop 2: near. Right chord, but close: lift the E an octave. Top note is D4, the plan says E4."
        " 7 ms late.",
        "Next: Gmaj7, drop 2, root position, G3 D4 F#4 B4.",
        "End of the take.",
        *summary_lines(moment(verse)),
    ]


def told_by(*moments: Snapshot) -> list[str]:
    """The lines after the start lines."""
    stream = io.StringIO()
    screen = PlainScreen(stream)
    for one in moments:
        screen.show(one)
    return stream.getvalue().splitlines()[3:]


def test_a_verdict_names_the_next_chord(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """On a line of its own, with the click though its own is still on the beat; not where the same chord may be tried
    again, nor where the take ends."""
    start = moment(verse, verdicts=(), verdict=None, step=0)
    hit, near = verdict_on(verse, 0, HIT, offset_ms=None), verdict_on(verse, 0, NEAR, (CLOSE,))
    heard = {"verdicts": (hit,), "verdict": hit}
    told = [" 1  Am7 drop 2: hit.", "Next: D7, drop 2, first inversion, F#3 C4 D4 A4."]
    assert told_by(start, moment(verse, **heard, step=0)) == told
    assert told_by(start, moment(verse, **heard, step=1)) == told
    assert told_by(start, moment(verse, **heard, step=0, last_step=0)) == [" 1  Am7 drop 2: hit."]
    slow = replace(start, tempo=None)
    assert told_by(slow, moment(verse, **heard, step=0, tempo=None)) == [" 1  Am7 drop 2: hit."]
    assert told_by(slow, moment(verse, **heard, step=1, tempo=None)) == told
    lines = told_by(start, moment(verse, verdicts=(near,), verdict=near, step=1))
    assert lines == [" 1  Am7 drop 2: near. Right chord, but close: lift the E an octave. 12 ms late.", told[1]]
    last = verdict_on(verse, len(verse.steps) - 1, HIT)
    assert len(told_by(start, moment(verse, verdicts=(last,), verdict=last, step=7))) == 1


def test_who_goes_on_with_another_passage_is_told_the_chord(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """Once, spelled out as the first one, when a key has gone there; the beat going on says nothing of the kind."""
    start = moment(verse, verdicts=(), verdict=None, step=0, tempo=None)
    for step in (0, 1, 4):
        there = replace(start, step=step, jumps=1)
        (line,) = told_by(start, there, there, replace(there, now_s=60.0))
        voicing = verse.steps[step].voicing
        assert line.startswith(f"Next: {voicing.chord}, ")
        assert line.endswith(f", {' '.join(voicing.names)}.")
    click = replace(start, tempo=84.0)
    assert told_by(click, replace(click, step=1), replace(click, step=2, now_s=60.0)) == []
    counted = replace(click, step=1, phase=COUNT_IN, jumps=1)
    assert [line[:8] for line in told_by(click, counted, replace(counted, phase=PLAYING))] == ["Next: D7"]


def test_who_plays_another_chord_is_told_when_it_is_sure(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """At own pace, after two seconds there; what is only likely for a moment, or named by a verdict, is not told."""
    start = moment(verse, verdicts=(), verdict=None, step=0, tempo=None, now_s=0.0)
    there = [replace(start, step=4, now_s=now_s) for now_s in (1.0, 2.9, 3.0, 3.1, 9.0)]
    assert [line[:12] for line in told_by(start, *there)] == ["Next: F#m7b5"]
    assert told_by(start, *there[:2], replace(start, now_s=3.0), replace(start, now_s=9.0)) == []
    assert told_by(start, *there[:2], replace(there[0], step=5, now_s=3.0), replace(start, step=5, now_s=4.9)) == []
    hit = verdict_on(verse, 3, offset_ms=None)
    settled = replace(there[1], so_far=SoFar.of(verse, (hit,)), verdict=hit)
    lines = told_by(start, *there[:2], settled, *(replace(settled, now_s=now_s) for now_s in (4.0, 6.0, 9.0)))
    assert lines == [" 4  C spread: hit.", "Next: F#m7b5, drop 2, root position, F#3 C4 E4 A4."]
    resting = [replace(one, phase=PAUSED, away="Paused: nobody is playing.") for one in there]
    assert told_by(start, *resting) == ["Paused: nobody is playing."]


def test_pauses_notes_and_an_early_end_are_told(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """Pause and going on, a note once per change, and a take that was broken off has its summary too."""
    stream = io.StringIO()
    with PlainScreen(stream) as screen:
        screen.show(moment(verse))
        screen.show(moment(verse, phase=PAUSED, note="port lost"))
        screen.show(moment(verse, phase=PAUSED, note="port lost"))
        screen.show(moment(verse))
    text = stream.getvalue()
    assert text.count("Note: port lost") == 1
    assert text.count("Paused.") == text.count("Going on.") == text.count("Ended early.") == 1


def test_a_take_that_pauses_by_itself_says_why(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """Its own words instead of a bare "Paused", said again when they change; going on is told as ever."""
    quiet, noodling = "Paused: nobody is playing. Play C to go on.", "Paused while you play something else."
    start = moment(verse, verdicts=(), verdict=None, step=2)
    paused = replace(start, phase=PAUSED, away=quiet)
    other = replace(paused, away=noodling)
    woken = replace(start, phase=COUNT_IN, jumps=1)
    lines = told_by(start, paused, paused, other, other, woken, replace(woken, phase=PLAYING))
    assert lines[:3] == [quiet, noodling, "Going on."]
    assert [line[:12] for line in lines[3:]] == ["Next: Gmaj7,"]


def test_a_roll_is_told_with_the_hit(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """From 150 ms on, and only of a hit; where the drill has the notes one by one it is nothing to speak of."""
    shown = moment(verse)
    rolled = verdict_on(verse, 0, HIT, offset_ms=None, spread_ms=612.0)
    assert verdict_line(shown, rolled) == " 1  Am7 drop 2: hit. Rolled over 0.6 s."
    assert "olled" not in verdict_line(shown, replace(rolled, spread_ms=149.0))
    assert "olled" not in verdict_line(shown, replace(rolled, grade=NEAR))
    apart = replace(verse, drill=replace(verse.drill, arpeggio=True))
    assert "olled" not in verdict_line(moment(apart), rolled)
    for pattern, is_told in ((Pattern(read_picks("1 2 3 4")), False), (Pattern(read_strums("d u")), True)):
        steps = tuple(replace(one, step=replace(one.step, pattern=pattern)) for one in verse.steps)
        assert ("olled" in verdict_line(moment(replace(verse, steps=steps)), rolled)) is is_told


def test_a_late_roll_says_how_late(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """The length of a roll is no word on the beat."""
    fault = Fault("rolled", "rolled over 0.6 s: this drill wants it together", ms=612.0)
    line = verdict_line(moment(verse), verdict_on(verse, 0, NEAR, (fault,), offset_ms=24.0, spread_ms=612.0))
    assert line == " 1  Am7 drop 2: near. Rolled over 0.6 s: this drill wants it together. 24 ms late."


def test_what_became_of_a_pattern(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """Beneath the verdict of its chord, when that was left; once, also where the verdict was told before."""
    start = moment(verse, verdicts=(), verdict=None, step=0)
    one, two = (verdict_on(verse, step, offset_ms=None) for step in (0, 1))
    whole = (0, PatternVerdict(4, 4, words=("the pattern as asked, even to within 12 ms",)))
    gap = (1, PatternVerdict(4, 3, (3,), words=("the up-stroke on 2-and was left out", "even to within 20 ms")))
    first = replace(start, so_far=SoFar.of(verse, (one,)), verdict=one)
    both = replace(first, so_far=SoFar.of(verse, (one, two)), verdict=two, asides=(whole,))
    left = replace(both, asides=(whole, gap))
    hit_1, hit_2 = " 1  Am7 drop 2: hit.", " 2  D7 drop 2: hit."
    next_1 = "Next: D7, drop 2, first inversion, F#3 C4 D4 A4."
    next_2 = "Next: Gmaj7, drop 2, root position, G3 D4 F#4 B4."
    told_1 = " 1  Am7 drop 2: the pattern as asked, even to within 12 ms."
    told_2 = " 2  D7 drop 2: the up-stroke on 2-and was left out; even to within 20 ms."
    lines = told_by(start, first, replace(first, asides=(whole,)), left)
    assert lines == [hit_1, next_1, told_1, hit_2, told_2, next_2]
    assert told_by(start, left) == [hit_1, told_1, hit_2, told_2, next_2]
    assert told_by(start, replace(first, asides=(whole, gap))) == [hit_1, told_1, told_2, next_1]
    tune, over = (0, Fill(("B4", "C5"))), " 1  Am7 drop 2: over it you played B4 C5."
    assert told_by(start, replace(both, asides=(tune, whole, gap))) == [hit_1, over, told_1, hit_2, told_2, next_2]


def test_another_take_starts_afresh(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """After a finished take the next one is told from its first verdict."""
    stream = io.StringIO()
    screen = PlainScreen(stream)
    screen.show(moment(verse, phase=FINISHED, step=8))
    screen.show(moment(verse, verdicts=(), verdict=None, step=0))
    screen.show(moment(verse))
    assert stream.getvalue().count("\n 1  Am7") == 2
    assert stream.getvalue().count("Another take.\nFirst: Am7, drop 2, ") == 1


def test_plain_is_ascii_and_one_line_each(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """Whatever titles and ports hold, lines are ASCII and unbroken."""
    drill = replace(verse.drill, title="Stürm\x1b[31m\nisch ♭")
    stream = io.StringIO()
    PlainScreen(stream).show(moment(replace(verse, drill=drill), source="Gerät\r\n2", note="♯"))
    assert stream.getvalue().isascii()
    assert all(line.isprintable() for line in stream.getvalue().splitlines())
    assert stream.getvalue().startswith("Sturm [31m isch b: 8 chords")


def test_a_closed_pipe_does_not_end_the_take(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """When nobody reads any more, the screen goes quiet."""

    class Closed(io.StringIO):
        def write(self, text: str) -> int:
            raise BrokenPipeError

    screen = PlainScreen(Closed())
    screen.show(moment(verse))
    screen.show(moment(verse, phase=PAUSED))
    screen.close()


def test_repeats_and_timing_are_said_once(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """A second try says so; a timing fault is not followed by the same number again."""
    verdict = verdict_on(verse, 3, NEAR, (LATE,), attempt=2, offset_ms=90.0)
    assert verdict_line(moment(verse), verdict) == " 4  C spread (try 2): near. Late by 90 ms."


@pytest.mark.parametrize("code", sorted(NAMES))
def test_remarks_that_count_as_faults_have_advice(code: str, verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """What to do about a parallel names the chord it leads to and is more than to play it once more."""
    verdict = verdict_on(verse, 2, NEAR, (Fault(code, "as the judge says it"),))
    first, *rest = summary_lines(moment(verse, verdicts=(verdict,)))
    assert "Gmaj7" in first
    assert "once more" not in first
    assert any(line.startswith(f"Most often: {NAMES[code]}") or code == "spacing" for line in rest)


def test_summary_by_hand(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """Counts, movement, bias and spread, the most frequent fault and one thing to do, worked out by hand."""
    top = Fault("top_note", "top note is D4, the plan says E4")
    verdicts = (
        verdict_on(verse, 0, HIT, offset_ms=10.0),
        verdict_on(verse, 1, NEAR, (top,), offset_ms=30.0, movement_score=80.0),
        verdict_on(verse, 2, MISS, (top, LATE), offset_ms=50.0, movement_score=90.0),
    )
    # A miss has no timing: mean of 10 and 30 is 20, deviation sqrt((100 + 100) / 2) = 10.
    assert summary_lines(moment(verse, verdicts=verdicts)) == [
        "Try next: sing the top line alone, then put Gmaj7 under it.",
        "1 hit, 1 near, 1 miss: 3 of 8 steps, then broken off.",
        "Movement score 85 of 100 on average; at 100 nobody could move the voices less.",
        "Timing: 20 ms late on average, give or take 10 ms.",
        "Most often: the top note (twice), for instance at step 2 (D7).",
    ]


def test_summary_with_touch(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """After the timing, a line of what a player can use; none where there is nothing."""
    verdicts = (verdict_on(verse, 0), verdict_on(verse, 1))
    plain = summary_lines(moment(verse, verdicts=verdicts))
    third = TouchAccount(changes=5, voices=15, held=11, early_ms=1000, early_cents=100, early=(Degree("3", 4, 0, 5),))
    touched = summary_lines(moment(verse, verdicts=verdicts, touch=third))
    (line,) = [line for line in touched if line not in plain]
    assert line == "Touch: the 3rd was let go early in 4 of 5 changes, a quarter of a beat before them."
    assert touched.index(line) == 1 + next(n for n, line in enumerate(touched) if line.startswith("Timing"))
    assert summary_lines(moment(verse, verdicts=verdicts, touch=TouchAccount())) == plain


def test_summary_of_a_single_chord(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """One chord has no movement yet, and its timing no spread."""
    assert summary_lines(moment(verse, verdicts=(verdict_on(verse, 0),))) == [
        "Try next: play it through to the end; it was clean as far as it went.",
        "1 hit, 0 nears, 0 misses: 1 of 8 steps, then broken off.",
        "Timing: 12 ms late on average.",
    ]


def test_summary_of_a_clean_take(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """All hits: nothing is called wrong, and the next thing is a little more of it."""
    verdicts = tuple(verdict_on(verse, index, offset_ms=None) for index in range(8))
    lines = summary_lines(moment(verse, verdicts=verdicts))
    assert lines[1] == "8 hits, 0 nears, 0 misses, of 8 chords."
    assert lines[0] == "Try next: the same at 88 beats a minute, or the next drill."
    quicker = summary_lines(moment(verse, verdicts=verdicts, tempo=120.0))
    assert quicker[0] == "Try next: the same at 126 beats a minute, or the next drill."
    own = summary_lines(moment(verse, verdicts=verdicts, tempo=None))
    assert own[0] == "Try next: the same with the click, at 84 beats a minute, or the next drill."
    assert summary_lines(moment(verse, verdicts=verdicts[:3]))[0].startswith("Try next: play it through to the end; ")
    assert not any("Timing" in line or "Most often" in line for line in lines)


def test_a_take_with_a_gap(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """To the end, but two chords were passed over: not broken off, and not all clean either."""
    verdicts = tuple(verdict_on(verse, index, offset_ms=None) for index in (0, 1, 2, 5, 6, 7))
    lines = summary_lines(moment(verse, verdicts=verdicts))
    assert lines[:2] == [
        "Try next: play it through without a break; every chord that you played was clean.",
        "6 hits, 0 nears, 0 misses: 6 of 8 steps.",
    ]


def test_late_wrong_chords_say_nothing_about_the_timing(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """Steady as a clock but for three wrong chords far too late: very steady in words, and in JSON alike."""
    steady = [verdict_on(verse, index, offset_ms=5.0) for index in range(4)]
    late = [
        verdict_on(verse, index, MISS, (Fault("other_chord", "that was Ebmaj7"),), offset_ms=400.0)
        for index in range(4, 7)
    ]
    shown = moment(verse, verdicts=(*steady, *late))
    assert "Timing: 5 ms late on average, give or take 0 ms: very steady." in summary_lines(shown)
    assert shown.account.as_json()["steadiness"] == "very steady"


def test_pain_is_spoken_of_when_shapes_are_wide(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """Only a plan near the limit of the hand brings the line about pain."""
    assert not any("hurts" in line for line in summary_lines(moment(verse)))
    wide = replace(verse.steps[0], fingering=replace(verse.steps[0].fingering, strain=0.9))
    lines = summary_lines(moment(replace(verse, steps=(wide, *verse.steps[1:]))))
    assert "stop" in lines[-1]
    assert "teacher or a clinician" in lines[-1]


def test_summary_words_are_kind_and_without_games(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """Every fault of the judge has advice in plain words; none of them shames or plays games."""
    bad = re.compile(
        r"\b(bad|poor|fail\w*|wrong again|star\w*|streak\w*|combo\w*|level\w*|lives|score!)\b", re.IGNORECASE
    )
    codes = (
        "nothing", "left_out", "octave", "spacing", "inversion", "wrong_octave", "top_note", "wrong_tone",
        "missing", "extra", "other_chord", "late", "early", "string", "rolled", "a code of tomorrow",
    )  # fmt: skip
    for code in codes:
        verdict = verdict_on(verse, 2, MISS, (Fault(code, "what the judge said"),))
        lines = summary_lines(moment(verse, verdicts=(verdict,)))
        assert lines[0].startswith("Try next: ")
        assert "{" not in "".join(lines)
        assert not bad.search(" ".join(lines)), lines
    assert summary_lines(moment(verse, verdicts=())) == ["No chord of the drill was played in this take."]


def test_a_loop_says_what_comes(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """After a hard spot the one thing to do next is what the loop goes on with, and never another drill or tempo; where
    something went wrong, what helps comes with it."""
    clean = tuple(verdict_on(verse, index) for index in (2, 3))
    coming = "next: steps 3 to 4 (Gmaj7 to C), clean 2 of 3"
    lines = summary_lines(moment(verse, verdicts=clean, coming=coming, last_step=3))
    assert lines[:2] == ["Next: steps 3 to 4 (Gmaj7 to C), clean 2 of 3.", "2 hits, 0 nears, 0 misses, of 2 chords."]
    wrong = (clean[0], verdict_on(verse, 3, MISS, (Fault("inversion", "second inversion"),)))
    lines = summary_lines(moment(verse, verdicts=wrong, coming=coming, last_step=3))
    assert lines[1] == "Try this: sing the bass of C before you play it."


def test_what_was_put_right_leads(verse: Plan, moment, verdict_on) -> None:  # type: ignore[no-untyped-def]
    """At own pace a second try that is a hit is the first thing said, and the counts are of chords, not of tries."""
    verdicts = (verdict_on(verse, 0, NEAR, (CLOSE,)), verdict_on(verse, 0, HIT, attempt=2), verdict_on(verse, 1))
    lines = summary_lines(moment(verse, verdicts=verdicts, tempo=None))
    assert lines[0] == "1 chord put right at once."
    assert "1 hit, 1 near, 0 misses: 2 of 8 steps, then broken off." in lines


def test_what_improved_comes_first(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """The summary leads with what improved since last time, then the one thing to do next."""
    lines = summary_lines(moment(verse, since="Since last time: 2 more hits (5 of 8)."))
    assert lines[0] == "Since last time: 2 more hits (5 of 8)."
    assert lines[1].startswith("Try next: ")


def test_the_pattern_is_said_once_a_passage(verse: Plan, moment: Callable[..., Snapshot]) -> None:
    """When its first chord is due, in words; again when another passage begins, and not for passages without one."""
    picks, strums = Pattern(read_picks("1 3 2 3")), Pattern(read_strums(">d . d u"))
    ways = [("verse", picks), ("verse", picks), ("chorus", strums), ("chorus", strums), ("end", None), ("end", None)]
    steps = [
        replace(one, step=replace(one.step, passage=passage, pattern=pattern))
        for one, (passage, pattern) in zip(verse.steps[:6], ways, strict=True)
    ]
    plan = replace(verse, steps=tuple(steps))
    moments = [moment(plan, step=step, verdicts=(), verdict=None) for step in range(6)]
    told = [line for line in told_by(*moments) if line.startswith("Pattern")]
    assert told == [
        "Pattern: picked in eighths, anew in each bar: 1, 3, 2, 3.",
        "Pattern: strummed in eighths, anew in each bar: down (accent), let ring, down, up.",
    ]
